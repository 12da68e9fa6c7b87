package oracle

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// need is one slot of one queued job.
type need struct {
	*row
	mg    int64
	spool *spool
	from  string // named, loaded, chosen, none
	tail  float64
	word  string // the verdict
}

type job struct {
	name  string // folded
	first *row   // its earliest live row: its place in the queue
	needs []*need
	due   *time.Time
}

// verdict is one spool held against one need.
type verdict struct {
	likely, after, u, odds, tail float64
	word                         string
	runsOut                      any
}

// outlook answers whether a spool meets a need, with so much queued ahead of it.
//
// Readings taken: an ended spool's margin is its likely 0 less tail and k need;
// the basis of a queued row changes nothing.
func outlook(f folder, s *spool, mg, aheadMG int64, tail float64) verdict {
	k := s.estimate.k
	v := verdict{likely: s.likely(aheadMG), tail: tail}
	v.after = v.likely - tail - k*grams(mg)
	if !s.ended {
		t := grams(s.sinceOtherMG + aheadMG + mg)
		v.u = math.Sqrt(square(s.baseU()) + square(t*s.estimate.u) + s.estimate.s2*t)
		switch {
		case v.u > 0:
			v.odds = math.Erfc(-v.after/v.u/math.Sqrt2) / 2
		case v.after >= 0:
			v.odds = 1
		}
	}
	switch {
	case s.ended:
		v.word = "short"
	case v.odds >= f.number("enough_odds"):
		v.word = "enough"
		return v
	case v.after < 0:
		v.word = "short"
	default:
		v.word = "marginal"
	}
	share := 0.0
	if mg > 0 {
		share = min(1, max(0, (v.likely-tail)/(k*grams(mg))))
	}
	v.runsOut = measure(share)
	return v
}

// queuedJobs gives the jobs that are not over, in order.
//
// Readings taken: a job's client, printer and due come from the rows that count
// (a correction stands in the corrected row's place); its place among jobs of
// one due is that of its earliest row, corrected or not.
func queuedJobs(l *ledgers) []*job {
	over := map[string]bool{}
	for _, r := range l.live["consumption.csv"] {
		if cmp.Or(r.get("outcome"), "finished") == "finished" {
			over[fold(r.get("job"))] = true
		}
	}
	byName := map[string]*job{}
	var jobs []*job
	for _, r := range l.live["queue.csv"] {
		name := fold(r.get("job"))
		if over[name] {
			continue
		}
		j := byName[name]
		if j == nil {
			j = &job{name: name, first: r}
			byName[name] = j
			jobs = append(jobs, j)
		}
		n := &need{row: r, mg: consumedMG(r)}
		slot := fold(r.get("slot"))
		i := slices.IndexFunc(j.needs, func(n *need) bool { return slot != "" && fold(n.get("slot")) == slot })
		if i < 0 {
			j.needs = append(j.needs, n)
		} else {
			j.needs[i] = n
		}
	}
	for _, j := range jobs {
		for _, n := range j.needs {
			if text := n.get("due"); text != "" {
				due, _ := time.Parse(time.RFC3339Nano, text)
				if j.due == nil || due.Before(*j.due) {
					j.due = &due
				}
			}
		}
	}
	slices.SortFunc(jobs, func(a, b *job) int {
		switch {
		case a.due != nil && b.due != nil:
			return cmp.Or(a.due.Compare(*b.due), compareRows(a.first, b.first))
		case a.due != nil:
			return -1
		case b.due != nil:
			return 1
		}
		return compareRows(a.first, b.first)
	})
	return jobs
}

// tail is the need's printer's tail_mm as grams of this spool.
func tail(f folder, n *need, s *spool) float64 {
	printer := f.find("printers.csv", "printer", n.get("printer"))
	if printer == nil || n.get("printer") == "" {
		return 0
	}
	return number(printer.get("tail_mm"), 0) * s.area() * s.density / 1000
}

// check is the whole queue, and the jobs with the spools that serve them; enough
// is false if any job is not.
//
// Reading taken: a row naming a spool that an earlier row of its job has is
// served by its material and colour, if it has a material, else by none.
func check(f folder, l *ledgers, spools map[string]*spool, names shown) (answer object, jobs []*job, enough bool) {
	ahead := map[*spool]int64{}
	list := records{}
	enough = true
	jobs = queuedJobs(l)
	for _, j := range jobs {
		serving := map[*spool]bool{}
		give := func(n *need, s *spool, from string) {
			n.spool, n.from, n.tail = s, from, tail(f, n, s)
			serving[s] = true
		}
		for _, n := range j.needs {
			n.from = "none"
			if s := spools[fold(n.get("spool"))]; s != nil && !serving[s] {
				give(n, s, "named")
			}
		}
		for _, n := range j.needs {
			if n.spool != nil || n.get("material") == "" || n.get("printer") == "" || n.get("slot") == "" {
				continue
			}
			s := loadedAt(l, spools, n.get("printer")+"/"+n.get("slot"))
			if s != nil && !serving[s] && fits(s, n.get("material"), n.get("colour")) {
				give(n, s, "loaded")
			}
		}
		for _, n := range j.needs {
			if n.spool != nil || n.get("material") == "" {
				continue
			}
			if able := enoughFor(f, spools, n, n.get("material"), n.get("colour"), serving, ahead); len(able) > 0 {
				give(n, able[0], "chosen")
			}
		}

		first := j.needs[0]
		o := object{
			"job":     names.name("job", first.get("job")),
			"client":  names.name("client", first.get("client")),
			"printer": names.name("printer", first.get("printer")),
			"due":     nil,
		}
		if j.due != nil {
			o["due"] = instant(*j.due)
		}
		worst := "enough"
		needs := records{}
		for _, n := range j.needs {
			described, word := describe(f, spools, n, names, serving, ahead)
			n.word = word
			needs = append(needs, described)
			if word == "short" || worst == "enough" {
				worst = word
			}
		}
		for _, n := range j.needs {
			if n.spool != nil {
				ahead[n.spool] += n.mg
			}
		}
		o["verdict"], o["needs"] = worst, needs
		enough = enough && worst == "enough"
		list = append(list, o)
	}
	return object{"jobs": list}, jobs, enough
}

func describe(f folder, spools map[string]*spool, n *need, names shown, serving map[*spool]bool, ahead map[*spool]int64) (object, string) {
	o := object{
		"slot":       n.get("slot"),
		"spool":      nil,
		"spool_from": n.from,
		"need_g":     counted(n.mg),
		"need_m":     nil, "likely_g": nil, "tail_g": nil, "after_g": nil, "u_g": nil,
		"odds": odds(0), "verdict": "short", "runs_out_at": measure(0),
		"instead": textList{},
	}
	material, colour, word := n.get("material"), n.get("colour"), "short"
	if s := n.spool; s != nil {
		v := outlook(f, s, n.mg, ahead[s], n.tail)
		material, colour, word = s.buy.get("material"), s.buy.get("colour"), v.word
		o["spool"] = s.name
		o["need_m"] = measure(s.length(grams(n.mg)))
		o["likely_g"], o["tail_g"], o["after_g"] = guessed(v.likely), guessed(v.tail), guessed(v.after)
		o["u_g"], o["odds"], o["verdict"], o["runs_out_at"] = measure(v.u), odds(v.odds), v.word, v.runsOut
	}
	o["material"], o["colour"] = names.name("material", material), names.name("colour", colour)
	if word != "enough" && material != "" {
		instead, wanted := textList{}, colour // "that colour" is the one told; a row without one takes any
		if n.get("colour") == "" {
			wanted = ""
		}
		for _, s := range enoughFor(f, spools, n, material, wanted, serving, ahead) {
			instead = append(instead, s.name)
		}
		o["instead"] = instead
	}
	return o, word
}

func fits(s *spool, material, colour string) bool {
	return fold(s.buy.get("material")) == fold(material) && (colour == "" || fold(s.buy.get("colour")) == fold(colour))
}

// enoughFor lists the spools of that material and colour (blank: any) that
// would be enough and do not serve the job, least likely net first.
func enoughFor(f folder, spools map[string]*spool, n *need, material, colour string, serving map[*spool]bool, ahead map[*spool]int64) []*spool {
	var able []*spool
	for _, s := range spools {
		if s.ended || serving[s] || !fits(s, material, colour) {
			continue
		}
		if outlook(f, s, n.mg, ahead[s], tail(f, n, s)).word == "enough" {
			able = append(able, s)
		}
	}
	slices.SortFunc(able, func(a, b *spool) int {
		la, lb := a.likely(ahead[a]), b.likely(ahead[b])
		if math.Abs(la-lb) < 1e-9 { // equal but for the last bits of a float
			return compareRows(a.buy, b.buy)
		}
		return cmp.Or(cmp.Compare(la, lb), strings.Compare(a.name, b.name))
	})
	return able
}
