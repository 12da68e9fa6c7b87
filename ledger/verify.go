package ledger

import (
	"cmp"
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

// Text returns the problem as a line: where it is, and what.
func (p Problem) Text() string {
	if p.Line == 0 {
		return p.File + ": " + p.What
	}
	return fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.What)
}

// Verify reads the whole book and returns the number of distinct entries in its ledgers, voided ones included, and
// every problem: rows that break a rule, references that lead nowhere, conflicts, voids of nothing, settings that
// nobody knows, and copies of the book's files in its folder. Rows are given to each as they are read.
//
// now is the clock: no row may lie more than a day ahead of it, and no entry may have been made after it. seals are the last of every ledger and month.
func (v *View) Verify(now time.Time, each func(*Consumption)) (entries int, problems []Problem, seals []*SealState, err error) {
	c := &verification{v: v, now: now, files: map[string]string{}}
	c.readTables()
	c.readLedgers()
	c.checkReferences()
	c.checkText()
	c.countEntries()
	c.checkConsumption(each)
	c.checkVoids()
	c.checkSettings()
	c.addConflicts()
	if err := errors.Join(c.addFaults(), c.checkCopies()); err != nil {
		return 0, nil, nil, err
	}
	if c.sealsRead {
		if seals, err = v.sealProblems(c.add); err != nil {
			return 0, nil, nil, err
		}
	}
	sortProblems(c.problems)
	return c.entries, slices.Compact(c.problems), seals, nil
}

// sortProblems puts problems in the order of the book's files, then of lines; those of other files come first, by name.
func sortProblems(problems []Problem) {
	slices.SortStableFunc(problems, func(a, b Problem) int {
		return cmp.Or(slices.Index(allFiles, a.File)-slices.Index(allFiles, b.File), strings.Compare(a.File, b.File), a.Line-b.Line)
	})
}

// verification is one run of Verify: what was read, and what was found so far.
type verification struct {
	v        *View
	now      time.Time
	entries  int
	problems []Problem
	errs     []error // of reading, in the order of the files

	files     map[string]string // of each ID, the file it stands in
	bought    map[string]bool   // spools with a purchase that counts
	boughtAll bool              // bought holds all of them: no row of purchases.csv is broken
	allRead   bool              // no row of the ledgers that a void can reach is broken
	sealsRead bool

	printers  map[string]*Printer
	clients   map[string]*Client
	purges    []*PairPurge
	purchases []*Purchase
	weighins  []*Weighin
	needs     []*Need
	moves     []*Move
	voids     []*Void
	bills     []*Bill
}

func (c *verification) add(file string, line int, entry, what string) {
	c.problems = append(c.problems, Problem{file, line, entry, what})
}

// read notes the error of reading a file and tells whether there was none.
func (c *verification) read(err error) bool {
	c.errs = append(c.errs, err)
	return err == nil
}

func (c *verification) readTables() {
	var err error
	_, err = c.v.Settings()
	c.read(err)
	c.printers, err = c.v.Printers()
	c.read(err)
	c.clients, err = c.v.Clients()
	c.read(err)
	_, err = c.v.Cores()
	c.read(err)
	_, err = c.v.Scales()
	c.read(err)
	_, err = c.v.Materials()
	c.read(err)
	c.purges, err = c.v.Purges()
	c.read(err)
}

func (c *verification) readLedgers() {
	var err error
	c.purchases, err = c.v.Purchases()
	c.boughtAll = c.read(err)
	c.allRead = c.boughtAll
	c.weighins, err = c.v.Weighins()
	c.allRead = c.read(err) && c.allRead
	c.needs, err = c.v.Needs()
	c.allRead = c.read(err) && c.allRead
	c.moves, err = c.v.Moves()
	c.allRead = c.read(err) && c.allRead
	c.voids, err = c.v.Voids()
	c.allRead = c.read(err) && c.allRead
	c.bills, err = c.v.Bills()
	c.allRead = c.read(err) && c.allRead
	_, err = c.v.Seals()
	c.read(err)
	c.sealsRead = faultsOf(err) == nil
	c.bought = map[string]bool{}
	for _, p := range c.purchases {
		c.bought[p.Spool] = true
	}
}

// checkReferences looks at what the small ledgers and purges.csv name.
func (c *verification) checkReferences() {
	for _, p := range c.purges {
		if _, ok := c.printers[Fold(p.Printer)]; p.Printer != "*" && !ok && c.v.printers.sure(p.Printer) {
			c.add(Purges, c.v.purges.line[p.key()], "", fmt.Sprintf("printer %s is not in %s", quoted(p.Printer), Printers))
		}
	}
	for _, p := range c.purchases {
		c.unbought(Purchases, &p.Head, "from", p.From)
		if p.Scale != "" && !p.GrossG.Given {
			c.add(Purchases, p.Line, p.Entry, fmt.Sprintf("scale %s stands without a gross_g; write what it showed, or leave it out", quoted(p.Scale)))
		}
	}
	for _, w := range c.weighins {
		c.unbought(Weighins, &w.Head, "spool", w.Spool)
	}
	for _, m := range c.moves {
		c.unbought(Moves, &m.Head, "spool", m.Spool)
	}
	for _, n := range c.needs {
		if !c.unbought(Queue, &n.Head, "spool", n.Spool) {
			c.checkNames(Queue, &n.Head, n.Client, n.Printer)
		}
	}
	for _, b := range c.bills {
		c.checkNames(Bills, &b.Head, b.Client, "")
	}
}

// checkText reports what a reader may not see in the rows that count.
func (c *verification) checkText() {
	v := c.v
	checkTableText(c, &v.materials, Materials)
	checkTableText(c, &v.cores, Cores)
	checkTableText(c, &v.scales, Scales)
	checkTableText(c, &v.printers, Printers)
	checkTableText(c, &v.purges, Purges)
	checkTableText(c, &v.clients, Clients)
	checkLedgerText(c, c.purchases)
	checkLedgerText(c, c.weighins)
	checkLedgerText(c, c.needs)
	checkLedgerText(c, c.moves)
	checkLedgerText(c, c.voids)
	checkLedgerText(c, c.bills)
}

func checkTableText[T any, R interface {
	*T
	tableRow
}](c *verification, t *table[T], file string) {
	columns := columnsOf(R(new(T)))
	for _, r := range t.rows {
		eachUnseen(columns, R(r), func(what string) { c.add(file, t.line[R(r).key()], "", what) })
	}
}

func checkLedgerText[T any, R interface {
	*T
	Row
}](c *verification, rows []*T) {
	columns := columnsOf(R(new(T)))
	for _, r := range rows {
		eachUnseen(columns, R(r), func(what string) { c.add(R(r).file(), R(r).head().Line, R(r).head().Entry, what) })
	}
}

// unbought reports a row about a spool without a purchase that counts, and tells whether it is one.
func (c *verification) unbought(file string, h *Head, column, spool string) bool {
	if !c.boughtAll || spool == "" || c.bought[spool] || !c.v.known[spool] {
		return false
	}
	c.add(file, h.Line, h.Entry, fmt.Sprintf("%s %s has no purchase that counts; the row is left out", column, spool))
	return true
}

// checkNames reports a client and a printer that the tables do not have.
func (c *verification) checkNames(file string, h *Head, client, printer string) {
	if _, ok := c.clients[Fold(client)]; client != "" && !ok && c.v.clients.sure(client) {
		c.add(file, h.Line, h.Entry, fmt.Sprintf("client %s is not in %s", quoted(client), Clients))
	}
	if _, ok := c.printers[Fold(printer)]; printer != "" && !ok && c.v.printers.sure(printer) {
		c.add(file, h.Line, h.Entry, fmt.Sprintf("printer %s is not in %s", quoted(printer), Printers))
	}
}

func (c *verification) countEntries() {
	countAll(c.v.purchases.all, Purchases, c.count)
	countAll(c.v.weighins.all, Weighins, c.count)
	countAll(c.v.needs.all, Queue, c.count)
	countAll(c.v.moves.all, Moves, c.count)
	countAll(c.v.voids.all, Voids, c.count)
	countAll(c.v.seals.all, Seals, c.count)
	countAll(c.v.bills.all, Bills, c.count)
}

// count counts the entry of a row, and reports one that stands in another file too, and times that cannot be.
func (c *verification) count(file string, h *Head) {
	if what := implausible(h, c.now); what != "" && !c.v.hidden[h.ID] {
		c.add(file, h.Line, h.Entry, what)
	}
	if what := madeAhead(h.Entry, c.now); what != "" {
		c.add(file, h.Line, h.Entry, what)
	}
	other, ok := c.files[h.ID]
	if !ok {
		c.entries++
		c.files[h.ID] = file
	} else if other != file {
		c.add(file, h.Line, h.Entry, fmt.Sprintf("entry %s stands in %s too; a row typed by hand should leave it empty", h.ID, other))
	}
}

// checkConsumption counts and checks the rows of consumption and gives each that counts to each.
func (c *verification) checkConsumption(each func(*Consumption)) {
	var conflicting map[string]bool
	columns := columnsOf(&Consumption{})
	err := c.v.watchConsumption(func(row *Consumption) {
		if conflicting == nil { // they are known before the first row comes
			conflicting = map[string]bool{}
			for _, conflict := range c.v.consumption {
				conflicting[conflict.ID] = true
			}
		}
		c.count(ConsumptionFile, &Head{At: row.At, Line: row.Line, ID: strings.Clone(row.ID), Entry: strings.Clone(row.Entry)})
		if c.v.hidden[row.ID] || conflicting[row.ID] {
			return
		}
		eachUnseen(columns, row, func(what string) { c.add(ConsumptionFile, row.Line, strings.Clone(row.Entry), what) })
		if !c.unbought(ConsumptionFile, &row.Head, "spool", row.Spool) {
			c.checkNames(ConsumptionFile, &row.Head, row.Client, row.Printer)
			each(row)
		}
	})
	c.allRead = c.read(err) && c.allRead
}

func (c *verification) checkVoids() {
	for _, void := range c.voids {
		if _, ok := c.files[void.Target]; c.allRead && !ok { // else the target may stand in a row that could not be read
			c.add(Voids, void.Line, void.Entry, fmt.Sprintf("target %s is no entry of this book", quoted(void.Target)))
		}
	}
}

func (c *verification) checkSettings() {
	if unknown, err := c.v.unknownSettings(); err == nil {
		for _, line := range unknown {
			c.add(SettingsFile, line.Line, "", fmt.Sprintf("setting %s is not known%s", quoted(line.Setting), hinted(Nearest(line.Setting, settingNames))))
		}
	}
	for _, w := range c.v.strangeWeights() {
		c.add(SettingsFile, w.Line, "", fmt.Sprintf("purge_weight names %s, which is no spool of this book", w.Value))
	}
}

func (c *verification) addConflicts() {
	for _, conflict := range c.v.Conflicts() {
		c.add(conflict.File, conflict.Lines[0], conflict.ID, conflict.What)
	}
}

// addFaults makes a problem of each row that breaks a rule. Any other error of reading is returned.
func (c *verification) addFaults() error {
	for _, err := range c.errs {
		faults := faultsOf(err)
		if err != nil && faults == nil {
			return err
		}
		for _, e := range faults {
			what := e.What
			if e.Mend != "" {
				what += "; " + e.Mend
			}
			c.add(e.File, e.Line, "", what)
		}
	}
	return nil
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
