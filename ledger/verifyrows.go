package ledger

import (
	"encoding/binary"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
)

// rowCheck is the part of a verification that folds consumption, a worker's own.
type rowCheck struct {
	verification // with the problems and the number of entries of the rows alone
	judge        Judge
	columns      []string
	left         *hiddenRows // that don't count: voided or in conflict
	inFiles      idFilter    // the IDs of other files
	counts       SpoolMap[bool]
	clients      NameMap[*Client]
	printers     NameMap[*Printer]

	// Rows with a time or an entry between these are not asked about the clock.
	from, to Time
	made     string // the time of an entry
}

// checkConsumption counts and checks the rows of consumption, asks the judge about those that count, and reports whether all could be read.
func (c *verification) checkConsumption(judge Judge) bool {
	if judge == nil {
		judge = noJudge{}
	}
	r := &rowCheck{verification: *c, judge: judge, columns: columnsOf(&Consumption{}), inFiles: newIDFilter(len(c.files))}
	for id := range c.files {
		r.inFiles.add(id)
	}
	r.from, r.to = NewTime(time.Date(firstYear, time.January, 1, 0, 0, 0, 0, time.UTC)), NewTime(c.now.Add(mostAhead-time.Second))
	var limit ulid.ULID
	limit.SetTime(ulid.Timestamp(c.now.Add(clockSlip))) // else 0: every entry is asked about
	r.made = limit.String()[:10]
	r.Reset()
	err := c.v.checkAll(r)
	c.entries += r.entries
	c.problems = append(c.problems, r.problems...)
	c.behind = r.behind
	slices.SortStableFunc(c.behind, func(a, b Problem) int { return a.Line - b.Line })
	c.cancelled = r.cancelled
	c.allRead = c.read(err) && c.allRead
	return err == nil
}

// noJudge finds nothing wrong.
type noJudge struct{}

func (noJudge) Judge(*Consumption) string { return "" }
func (noJudge) Reset()                    {}
func (noJudge) Split() Judge              { return noJudge{} }
func (noJudge) Join(Judge)                {}

// Reset forgets all rows. The conflicts are known if rows repeat.
func (r *rowCheck) Reset() {
	r.entries, r.problems, r.behind, r.cancelled = 0, nil, nil, map[string]bool{}
	r.clients, r.printers = NameMap[*Client]{byFolded: r.verification.clients}, NameMap[*Printer]{byFolded: r.verification.printers}
	r.counts = NewSpoolMap(r.bought)
	left := maps.Clone(r.v.hidden)
	if left == nil {
		left = map[string]bool{}
	}
	for _, conflict := range r.v.consumption {
		left[conflict.ID] = true
	}
	r.left = newHiddenRows(left)
	r.judge.Reset()
}

// Split returns a check of the same book without rows.
func (r *rowCheck) Split() SharedFold {
	o := *r
	o.judge = r.judge.Split()
	o.Reset()
	return &o
}

// Join adds what a check that Split returned has found.
func (r *rowCheck) Join(fold SharedFold) {
	o := fold.(*rowCheck)
	r.entries += o.entries
	r.problems, r.behind = append(r.problems, o.problems...), append(r.behind, o.behind...)
	maps.Copy(r.cancelled, o.cancelled)
	r.judge.Join(o.judge)
}

// Add checks one row. No other row of consumption has its entry.
func (r *rowCheck) Add(row *Consumption) {
	h := &row.Head
	kept := func() *Head {
		return &Head{At: h.At, Line: h.Line, ID: strings.Clone(h.ID), Entry: strings.Clone(h.Entry), raw: h.raw, layout: h.layout}
	}
	if h.At.Before(r.from) || h.At.After(r.to) || h.Entry != "" && h.ID[:len(r.made)] > r.made {
		r.checkClock(ConsumptionFile, kept())
	}
	r.entries++
	if r.inFiles.mayHold(h.ID) {
		if other, ok := r.files[h.ID]; ok {
			r.entries--
			r.twoFiles(ConsumptionFile, kept(), other)
		}
	}
	if r.targets.has(h.ID) {
		r.cancelled[strings.Clone(h.ID)] = true
	}
	if r.left.has(h.ID) {
		return
	}
	if !seen(h.raw) {
		eachUnseen(r.columns, row, func(what string) { r.add(ConsumptionFile, row.Line, strings.Clone(row.Entry), what) })
	}
	if !r.counts.Get(row) && r.unbought(ConsumptionFile, kept(), "spool", row.Spool) {
		return
	}
	if row.Client != "" && r.clients.Get(row.Client) == nil || row.Printer != "" && r.printers.Get(row.Printer) == nil {
		r.checkNames(ConsumptionFile, kept(), row.Client, row.Printer)
	}
	if what := r.judge.Judge(row); what != "" {
		r.behind = append(r.behind, Problem{ConsumptionFile, row.Line, strings.Clone(row.Entry), what})
	}
}

// seen reports whether a text is of characters that everybody sees, of ASCII.
func seen(text string) bool {
	i := 0
	for ; i+8 <= len(text); i += 8 { // of each byte the highest bit tells whether it is below ' ', or 0x7f and above
		x := binary.LittleEndian.Uint64([]byte(text[i : i+8]))
		if (x|(x-' '*everyByte)|(x+everyByte))&(0x80*everyByte) != 0 && !eachSeen(text[i:i+8]) {
			return false
		}
	}
	return eachSeen(text[i:])
}

func eachSeen(text string) bool {
	for i := range len(text) {
		if c := text[i]; c >= 0x7f || c < ' ' && c != '\t' && c != '\r' && c != '\n' {
			return false
		}
	}
	return true
}
