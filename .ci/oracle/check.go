package oracle

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// need is one slot of one queued job.
type need struct {
	*row
	mg     int64
	spools []*spool // in turn; one for most
	spool  *spool   // the first
	from   string   // named, loaded, chosen, none
	word   string   // the verdict
}

type job struct {
	name  string // folded
	first *row   // its earliest live row: its place in the queue
	needs []*need
	due   *time.Time
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

// tailBy is the need's printer's tail_mm as grams of a spool.
func (n *need) tailBy(f folder) func(*spool) float64 {
	printer := f.find("printers.csv", "printer", n.get("printer"))
	return func(s *spool) float64 {
		if printer == nil || n.get("printer") == "" {
			return 0
		}
		return number(printer.get("tail_mm"), 0) * s.area() * s.density / 1000
	}
}

// named are the spools of a row, in turn, that do not serve the job yet.
//
// Reading taken: spools without a live purchase go first, then the first one left
// says of which material and diameter the others must be.
func named(r *row, spools map[string]*spool, serving map[*spool]bool) []*spool {
	var list []*spool
	for _, id := range strings.Split(r.get("spool"), "+") {
		if s := spools[fold(trim(id))]; s != nil {
			list = append(list, s)
		}
	}
	return slices.DeleteFunc(slices.Clone(list), func(s *spool) bool {
		return serving[s] || !fits(s, list[0].buy.get("material"), "") || s.diameter != list[0].diameter
	})
}

// check is the whole queue, and the jobs with the spools that serve them; enough
// is false if any job is not.
//
// Reading taken: a row naming only spools that earlier rows of its job have is
// served by its material and colour, if it has a material, else by none.
func check(f folder, l *ledgers, spools map[string]*spool, names shown) (answer object, jobs []*job, enough bool) {
	p := nothingPromised()
	list := records{}
	enough = true
	jobs = queuedJobs(l)
	for _, j := range jobs {
		serving := map[*spool]bool{}
		give := func(n *need, from string, list ...*spool) {
			n.spools, n.spool, n.from = list, list[0], from
			for _, s := range list {
				serving[s] = true
			}
		}
		for _, n := range j.needs {
			n.from = "none"
			if list := named(n.row, spools, serving); len(list) > 0 {
				give(n, "named", list...)
			}
		}
		for _, n := range j.needs {
			if n.spool != nil || n.get("material") == "" || n.get("printer") == "" || n.get("slot") == "" {
				continue
			}
			s := loadedAt(l, spools, n.get("printer")+"/"+n.get("slot"), p.gone)
			if s != nil && !serving[s] && fits(s, n.get("material"), n.get("colour")) {
				give(n, "loaded", s)
			}
		}
		for _, n := range j.needs {
			if n.spool != nil || n.get("material") == "" {
				continue
			}
			if able := enoughFor(f, spools, n, n.get("material"), n.get("colour"), serving, p); len(able) > 0 {
				give(n, "chosen", able[0])
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
			described, word := describe(f, spools, n, names, serving, p)
			n.word = word
			needs = append(needs, described)
			if word == "short" || worst == "enough" {
				worst = word
			}
		}
		for _, n := range j.needs {
			p.promise(n.spools, n.mg, n.tailBy(f))
		}
		o["verdict"], o["needs"] = worst, needs
		enough = enough && worst == "enough"
		list = append(list, o)
	}
	return object{"jobs": list}, jobs, enough
}

func describe(f folder, spools map[string]*spool, n *need, names shown, serving map[*spool]bool, p *promised) (object, string) {
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
	inTurnIDs, handsOver := idsOf(n.spools), records{}
	if s := n.spool; s != nil {
		v := outlook(f, n.spools, n.mg, p, n.tailBy(f))
		material, colour, word = s.buy.get("material"), s.buy.get("colour"), v.word
		o["spool"] = s.name
		o["need_m"] = measure(s.length(grams(n.mg)))
		o["likely_g"], o["tail_g"], o["after_g"] = guessed(v.likely), guessed(v.tail), guessed(v.after)
		o["u_g"], o["odds"], o["verdict"], o["runs_out_at"] = measure(v.u), odds(v.odds), v.word, v.runsOut
		for i, at := range v.handsOver {
			handsOver = append(handsOver, object{"spool": n.spools[i+1].name, "at": measure(at)})
		}
	}
	o["spools"], o["hands_over"] = inTurn.then(inTurnIDs), inTurn.then(handsOver)
	o["material"], o["colour"] = names.name("material", material), names.name("colour", colour)
	offer := textList{}
	if word != "enough" && material != "" {
		wanted := colour // "that colour" is the one told; a row without one takes any
		if n.get("colour") == "" {
			wanted = ""
		}
		instead := idsOf(enoughFor(f, spools, n, material, wanted, serving, p))
		o["instead"] = instead
		if len(instead) == 0 {
			offer = idsOf(inTurnFor(f, spools, n, serving, p))
		}
	}
	o["in_turn"] = inTurn.then(offer)
	return o, word
}

func idsOf(list []*spool) textList {
	ids := textList{}
	for _, s := range list {
		ids = append(ids, s.name)
	}
	return ids
}
