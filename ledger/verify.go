package ledger

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Problem is what verify has to say of one row, or of one file when Line is 0.
type Problem struct {
	File  string `json:"file" csv:"file"`
	Line  int    `json:"line" csv:"line"`
	Entry string `json:"entry" csv:"entry"`
	What  string `json:"what" csv:"what"`
}

// Verify reads the whole book and returns the number of distinct entries in its ledgers, voided ones included, and
// every problem: rows that break a rule, references that lead nowhere, conflicts, voids of nothing and settings that
// nobody knows. Rows are given to each as they are read.
//
// now is the clock: no row may lie more than a day ahead of it. seals are the last of every ledger and month.
func (v *View) Verify(now time.Time, each func(*Consumption)) (entries int, problems []Problem, seals []*SealState, err error) {
	add := func(file string, line int, entry, what string) {
		problems = append(problems, Problem{file, line, entry, what})
	}
	ids := map[string]string{} // ID to file
	count := func(file string, h *Head) {
		if what := implausible(h.At, now); what != "" {
			add(file, h.Line, h.Entry, what)
		}
		other, ok := ids[h.ID]
		if !ok {
			entries++
			ids[h.ID] = file
		} else if other != file {
			add(file, h.Line, h.Entry, fmt.Sprintf("entry %s stands in %s too; a row typed by hand should leave it empty", h.ID, other))
		}
	}
	_, e1 := v.Settings()
	printers, e2 := v.Printers()
	clients, e3 := v.Clients()
	purchases, e4 := v.Purchases()
	weighins, e5 := v.Weighins()
	needs, e6 := v.Needs()
	moves, e7 := v.Moves()
	voids, e8 := v.Voids()
	_, e9 := v.Seals()
	_, e10 := v.Cores()
	_, e11 := v.Scales()
	_, e12 := v.Materials()
	purges, e14 := v.Purges()

	bought := map[string]bool{}
	for _, p := range purchases {
		bought[p.Spool] = true
	}
	unbought := func(file string, h *Head, column, spool string) bool {
		if e4 != nil || spool == "" || bought[spool] || !v.known[spool] { // of a broken purchases.csv it is not known what counts
			return false
		}
		add(file, h.Line, h.Entry, fmt.Sprintf("%s %s has no purchase that counts; the row is left out", column, spool))
		return true
	}
	unknown := func(file string, h *Head, client, printer string) {
		if _, ok := clients[Fold(client)]; client != "" && !ok && v.clients.sure(client) {
			add(file, h.Line, h.Entry, fmt.Sprintf("client %s is not in %s", quoted(client), Clients))
		}
		if _, ok := printers[Fold(printer)]; printer != "" && !ok && v.printers.sure(printer) {
			add(file, h.Line, h.Entry, fmt.Sprintf("printer %s is not in %s", quoted(printer), Printers))
		}
	}
	for _, p := range purges {
		if _, ok := printers[Fold(p.Printer)]; p.Printer != "*" && !ok && v.printers.sure(p.Printer) {
			add(Purges, v.purges.line[p.key()], "", fmt.Sprintf("printer %s is not in %s", quoted(p.Printer), Printers))
		}
	}
	for _, p := range purchases {
		unbought(Purchases, &p.Head, "from", p.From)
	}
	for _, w := range weighins {
		unbought(Weighins, &w.Head, "spool", w.Spool)
	}
	for _, m := range moves {
		unbought(Moves, &m.Head, "spool", m.Spool)
	}
	for _, n := range needs {
		if !unbought(Queue, &n.Head, "spool", n.Spool) {
			unknown(Queue, &n.Head, n.Client, n.Printer)
		}
	}
	countAll(v.purchases.all, Purchases, count)
	countAll(v.weighins.all, Weighins, count)
	countAll(v.needs.all, Queue, count)
	countAll(v.moves.all, Moves, count)
	countAll(v.voids.all, Voids, count)
	countAll(v.seals.all, Seals, count)

	e13 := v.watchConsumption(func(row *Consumption) {
		count(ConsumptionFile, &Head{At: row.At, Line: row.Line, ID: strings.Clone(row.ID), Entry: strings.Clone(row.Entry)})
		if v.hidden[row.ID] || slices.ContainsFunc(v.consumption, func(c *Conflict) bool { return c.ID == row.ID }) {
			return
		}
		if !unbought(ConsumptionFile, &row.Head, "spool", row.Spool) {
			unknown(ConsumptionFile, &row.Head, row.Client, row.Printer)
			each(row)
		}
	})
	all := errors.Join(e4, e5, e6, e7, e8, e13) == nil // else the target may stand in a row that could not be read
	for _, void := range voids {
		if _, ok := ids[void.Target]; all && !ok {
			add(Voids, void.Line, void.Entry, fmt.Sprintf("target %s is no entry of this book", quoted(void.Target)))
		}
	}
	if s, err := v.unknownSettings(); err == nil {
		for _, line := range s {
			add(SettingsFile, line.Line, "", fmt.Sprintf("setting %s is not known%s", quoted(line.Setting), hinted(Nearest(line.Setting, settingNames))))
		}
	}
	for _, w := range v.strangeWeights() {
		add(SettingsFile, w.Line, "", fmt.Sprintf("purge_weight names %s, which is no spool of this book", w.Value))
	}
	for _, c := range v.Conflicts() {
		add(c.File, c.Lines[0], c.ID, c.What)
	}
	for _, err := range []error{e1, e2, e3, e4, e5, e6, e7, e8, e9, e10, e11, e12, e13, e14} {
		var f Faults
		if errors.As(err, &f) {
			for _, e := range f {
				what := e.What
				if e.Mend != "" {
					what += "; " + e.Mend
				}
				add(e.File, e.Line, "", what)
			}
		} else if err != nil {
			return 0, nil, nil, err
		}
	}
	if faultsOf(e9) == nil {
		if seals, err = v.sealProblems(add); err != nil {
			return 0, nil, nil, err
		}
	}
	slices.SortStableFunc(problems, func(a, b Problem) int {
		if c := slices.Index(allFiles, a.File) - slices.Index(allFiles, b.File); c != 0 {
			return c
		}
		return a.Line - b.Line
	})
	return entries, slices.Compact(problems), seals, nil
}

// firstYear is before any filament was printed with: an earlier time is a slip of the pen.
const firstYear = 1980

// implausible says what is wrong with a time that no clock of a shop can have shown.
func implausible(at Time, now time.Time) string {
	switch {
	case at.utc.After(now.Add(24 * time.Hour)):
		return fmt.Sprintf("at %s lies more than a day ahead; mend the time, or the clock", at)
	case at.utc.Year() < firstYear:
		return fmt.Sprintf("at %s is before anybody printed with filament; mend the time", at)
	}
	return ""
}

var allFiles = slices.Concat(Tables, Ledgers)

func hinted(near string) string {
	if near == "" {
		return ""
	}
	return "; did you mean " + near + "?"
}

func countAll[T any, R interface {
	*T
	Row
}](rows []*T, file string, count func(string, *Head)) {
	for _, row := range rows {
		count(file, R(row).head())
	}
}

func (v *View) unknownSettings() (unknown []*Setting, err error) {
	var t table[Setting]
	if err := readTable(v, &t, SettingsFile); err != nil {
		return nil, err
	}
	for _, line := range t.rows {
		if !slices.Contains(settingNames, strings.ToLower(line.Setting)) {
			unknown = append(unknown, line)
		}
	}
	return unknown, nil
}

// strangeWeights returns the weights of the settings that name spools which no purchase has ever named, by line and spool.
func (v *View) strangeWeights() (strange []*Setting) {
	var t table[Setting]
	if readTable(v, &t, SettingsFile) != nil || v.known == nil {
		return nil
	}
	for _, line := range t.rows {
		if !strings.EqualFold(line.Setting, "purge_weight") {
			continue
		}
		for _, text := range strings.Fields(line.Value) {
			if w, err := ParsePurgeWeight(text); err == nil && !v.known[w.Spool] && !v.unsure {
				strange = append(strange, &Setting{line.Setting, w.Spool, line.Line})
			}
		}
	}
	return strange
}
