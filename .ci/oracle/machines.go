package oracle

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"
)

// slicedFile is what sliced.csv keeps of a sliced file.
type slicedFile struct {
	sequence []string // tools in order of use, repeats joined
	boxes    map[string]*box
}

// sumOfFile is the SHA-256 that files are matched by.
func sumOfFile(file string) string {
	words := strings.Fields(file)
	if len(words) == 0 {
		return ""
	}
	return fold(words[len(words)-1])
}

// slicedFiles gives them by sum; the last live row counts.
func slicedFiles(l *ledgers) map[string]slicedFile {
	files := map[string]slicedFile{}
	for _, r := range l.live["sliced.csv"] {
		files[sumOfFile(r.get("file"))] = slicedFile{unfold(r.get("sequence")), readBoxes(r.get("boxes"))}
	}
	return files
}

// unfold reads `(1 2 0)x54` as 54 times 1 2 0, nested or not; where parts meet,
// repeats are joined.
func unfold(text string) []string {
	text = strings.NewReplacer("(", " ( ", ")", " ) ").Replace(text)
	words := strings.Fields(text)
	var read func() []string
	read = func() (list []string) {
		for len(words) > 0 {
			word := words[0]
			words = words[1:]
			switch word {
			case "(":
				inner := read()
				times, _ := strconv.Atoi(strings.TrimPrefix(words[0], "x"))
				words = words[1:]
				for range times {
					list = append(list, inner...)
				}
			case ")":
				return list
			default:
				list = append(list, word)
			}
		}
		return list
	}
	return slices.Compact(read())
}

func readBoxes(text string) map[string]*box {
	boxes := map[string]*box{}
	for _, part := range strings.Split(text, ";") {
		if w := strings.Fields(part); len(w) == 6 {
			boxes[w[0]] = &box{rational(w[1]), rational(w[2]), rational(w[3]), rational(w[4]), rational(w[5])}
		}
	}
	return boxes
}

// printed is one print: its rows, and the spools that they took.
type printed struct {
	printer, file string
	day           string
	slots         []printedSlot
}

type printedSlot struct {
	slot   string
	spools []*spool
}

// finishedPrints are those of the period.
//
// Readings taken: files are told apart by their sum; the day is that of the row
// that is first in the ledger.
func finishedPrints(l *ledgers, spools map[string]*spool, q question) []*printed {
	byKey := map[string]*printed{}
	var list []*printed
	for _, r := range l.live["consumption.csv"] {
		if r.get("outcome") == "failed" {
			continue
		}
		key := fmt.Sprint(fold(r.get("job")), "\x1f", fold(r.get("printer")), "\x1f", sumOfFile(r.get("file")), "\x1f", r.at.UTC().Format(time.RFC3339Nano))
		p := byKey[key]
		if p == nil {
			p = &printed{printer: r.get("printer"), file: sumOfFile(r.get("file")), day: r.at.Format(time.DateOnly)}
			byKey[key] = p
			list = append(list, p)
		}
		p.slots = append(p.slots, printedSlot{r.get("slot"), []*spool{spools[fold(r.get("spool"))]}})
	}
	return slices.DeleteFunc(list, func(p *printed) bool {
		return q.month != "" && p.day[:7] != q.month || q.from != "" && p.day < q.from || q.to != "" && p.day > q.to
	})
}

// queuedPrints are those that the queue still has.
func queuedPrints(jobs []*job) []*printed {
	var list []*printed
	for _, j := range jobs {
		byKey := map[string]*printed{}
		for _, n := range j.needs {
			key := fold(n.get("printer")) + "\x1f" + sumOfFile(n.get("file"))
			p := byKey[key]
			if p == nil {
				p = &printed{printer: n.get("printer"), file: sumOfFile(n.get("file"))}
				byKey[key] = p
				list = append(list, p)
			}
			p.slots = append(p.slots, printedSlot{n.get("slot"), n.spools})
		}
	}
	return list
}

// reckoning is what a print comes to on one machine.
type reckoning struct {
	purgeG, primeG, waste, cost, changeSeconds *big.Rat
}

// counted print: a planner of its sequence on the spools that it took.
type countedPrint struct {
	*planner
	own    int // of the printers
	priced bool
	known  map[string]*reckoning // by machine and whether hours count; nil: it does not take it
}

// plannerOf gives nil where the print can't be counted.
//
// Readings taken: a row without a slot spoils the print, a row of a tool outside
// the sequence may be anything else; slots are the tools' numbers as text.
func (p *printed) plannerOf(f folder, files map[string]slicedFile, printers []planPrinter) *countedPrint {
	file, ok := files[p.file]
	own := slices.IndexFunc(printers, func(x planPrinter) bool { return fold(x.get("printer")) == fold(p.printer) })
	if !ok || p.file == "" || own < 0 || slices.ContainsFunc(p.slots, func(s printedSlot) bool { return s.slot == "" }) {
		return nil
	}
	c := &countedPrint{planner: &planner{f: f, printers: printers}, own: own, known: map[string]*reckoning{}}
	index := map[string]int{}
	serving := map[*spool]bool{}
	for i, tool := range file.sequence {
		at, seen := index[tool]
		if !seen {
			var s *spool
			for _, row := range p.slots {
				if row.slot != tool {
					continue
				}
				if len(row.spools) != 1 || s != nil && s != row.spools[0] {
					return nil
				}
				s = row.spools[0]
			}
			if s == nil || serving[s] {
				return nil
			}
			serving[s] = true
			at = len(c.slots)
			index[tool] = at
			c.slots = append(c.slots, planSlot{name: tool, spool: s, spools: []*spool{s}, box: file.boxes[tool], density: s.ratDensity(f), needG: new(big.Rat), weight: count(1)})
		}
		if i > 0 {
			c.slots[at].changes++
		}
		c.sequence = append(c.sequence, at)
	}
	c.pins = slices.Repeat([]int{-1}, len(c.slots))
	c.weigh(nil)
	c.price()
	c.priced = c.byCost && fold(c.currency) == fold(f.setting("currency"))
	if len(c.slots) == 0 || c.on(own, false) == nil {
		return nil
	}
	return c
}

// on reckons the print on a machine, with hours or without; nil: it does not
// take it.
func (c *countedPrint) on(machine int, hours bool) *reckoning {
	key := fmt.Sprint(machine, hours)
	if r, ok := c.known[key]; ok {
		return r
	}
	printer := c.printers[machine]
	c.timed = hours && c.priced
	judged := map[tally]planOutcome{}
	var best *planOutcome
	c.everyAssignment(printer, func(nozzles []int) {
		moved, ok := c.possible(printer, nozzles)
		if !ok {
			return
		}
		t := c.play(nozzles)
		o, ok := judged[t]
		if !ok {
			o = c.judge(printer, t)
			o.short = nil // set aside
			judged[t] = o
		}
		o.shift = moved
		if best == nil || o.compare(*best) < 0 {
			best = &o
		}
	})
	var r *reckoning
	if best != nil {
		r = &reckoning{best.purgeG, best.primeG, new(big.Rat), new(big.Rat), best.changeSeconds}
		if c.priced {
			r.waste, r.cost = best.cost, best.cost
			if hours {
				r.cost = ratSum(best.cost, ratMul(best.changeSeconds, printer.number("hour_cost"), big.NewRat(1, 3600)))
			}
		}
	}
	c.known[key] = r
	return r
}

func owned(p planPrinter) bool { return p.get("owned") != "0" }

// machinesOf is what `machines` answers.
//
// Readings taken: hours count over a print on a machine if every owned machine, it
// and the print's own have a cost of the hour, there also for today and for the
// machine that a candidate is held against; unpriced prints count in takes, grams and seconds,
// but in no saving; today is the day of --as-of by its own offset; without any
// print a missing end is null.
func machinesOf(f folder, l *ledgers, spools map[string]*spool, q question) object {
	all := &planner{f: f}
	var names []string
	for _, r := range f["printers.csv"] {
		names = append(names, r.get("printer"))
	}
	if names != nil {
		all.choosePrinters(names)
	}
	var prints []*printed
	if q.queued {
		_, jobs, _ := check(f, l, spools, shown{})
		prints = queuedPrints(jobs)
	} else {
		prints = finishedPrints(l, spools, q)
	}
	files := slicedFiles(l)
	var list []*countedPrint
	priced := 0
	for _, p := range prints {
		if c := p.plannerOf(f, files, all.printers); c != nil {
			list = append(list, c)
			if c.priced {
				priced++
			}
		}
	}
	allHours := true
	for _, m := range all.printers {
		allHours = allHours && (!owned(m) || m.get("hour_cost") != "")
	}
	o := object{"from": nil, "to": nil, "prints": len(prints), "counted": len(list), "priced": priced}
	days := 0
	if !q.queued {
		var from, to string
		from, to, days = period(prints, q)
		o["from"], o["to"] = orNull(from), orNull(to)
	}
	told := unordered{}
	for i, m := range all.printers {
		told = append(told, machine(f, all.printers, list, i, allHours && m.get("hour_cost") != "", days, q.queued))
	}
	o["machines"] = told
	return o
}

// period gives the days that are reckoned with.
func period(prints []*printed, q question) (from, to string, days int) {
	from, to = q.from, q.to
	if q.month != "" {
		first, _ := time.Parse("2006-01", q.month)
		from, to = first.Format(time.DateOnly), first.AddDate(0, 1, -1).Format(time.DateOnly)
	}
	for _, p := range prints {
		if q.from == "" && q.month == "" && (from == "" || p.day < from) {
			from = p.day
		}
		if q.to == "" && q.month == "" && p.day > to {
			to = p.day
		}
	}
	if today := q.asOf.Format(time.DateOnly); to > today {
		to = today
	}
	if from == "" || to == "" {
		return from, to, 0
	}
	a, _ := time.Parse(time.DateOnly, from)
	b, _ := time.Parse(time.DateOnly, to)
	return from, to, int(b.Sub(a).Hours()/24+0.5) + 1
}

// machine is one of the machines, held against how the prints go today.
func machine(f folder, printers []planPrinter, prints []*countedPrint, at int, hours bool, days int, queued bool) object {
	m := printers[at]
	takes := 0
	sum := map[string]*big.Rat{}
	for _, name := range []string{"purge_g", "prime_g", "waste_cost", "cost", "change_s", "today_cost", "today_change_s", "saves_cost", "saves_change_s"} {
		sum[name] = new(big.Rat)
	}
	add := func(name string, x *big.Rat) { sum[name].Add(sum[name], x) }
	for _, c := range prints {
		hours := hours && printers[c.own].get("hour_cost") != ""
		here, today := c.on(at, hours), c.on(c.own, hours)
		if here == nil {
			continue
		}
		takes++
		add("purge_g", here.purgeG)
		add("prime_g", here.primeG)
		add("change_s", here.changeSeconds)
		add("today_change_s", today.changeSeconds)
		if !c.priced {
			continue
		}
		add("waste_cost", here.waste)
		add("cost", here.cost)
		add("today_cost", today.cost)
		against := today
		if !owned(m) {
			against = nil
			for i, other := range printers {
				if r := c.on(i, hours); owned(other) && r != nil && (against == nil || cmp.Or(r.cost.Cmp(against.cost), r.changeSeconds.Cmp(against.changeSeconds)) < 0) {
					against = r
				}
			}
		}
		if against != nil && here.cost.Cmp(against.cost) < 0 {
			add("saves_cost", new(big.Rat).Sub(against.cost, here.cost))
			add("saves_change_s", new(big.Rat).Sub(against.changeSeconds, here.changeSeconds))
		}
	}
	currency := f.setting("currency")
	places := minorDigits(currency)
	o := object{"machine": m.get("printer"), "owned": owned(m), "takes": takes, "currency": currency, "saves_a_month": nil, "price": nil, "pays_back_months": nil}
	for name, x := range sum {
		switch {
		case strings.HasSuffix(name, "_g"):
			o[name] = exact{halfUp(x, 3)}
		case strings.HasSuffix(name, "_s"):
			o[name] = exact{x}
		default:
			o[name] = exact{halfUp(x, places)}
		}
	}
	if m.get("price") != "" {
		o["price"] = exact{m.number("price")}
	}
	if queued {
		return o
	}
	month := new(big.Rat)
	if days > 0 {
		month = ratMul(sum["saves_cost"], rational("30.4375"), big.NewRat(1, int64(days)))
	}
	o["saves_a_month"] = exact{halfUp(month, places)}
	if m.get("price") != "" && month.Sign() > 0 {
		pays, _ := new(big.Rat).Quo(m.number("price"), month).Float64()
		o["pays_back_months"] = roundly(pays)
	}
	return o
}
