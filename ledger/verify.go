package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Problem is something wrong with a row, or with a whole file if Line is 0.
type Problem struct {
	File  string `json:"file" csv:"file"`   // file of the book, or another in its folder
	Line  int    `json:"line" csv:"line"`   // line of that file; 0 for the whole of it
	Entry string `json:"entry" csv:"entry"` // entry of the row; may be blank
	What  string `json:"what" csv:"what"`   // what is wrong, and how to mend it
}

// Text returns the problem in one line: where it is, then what it is.
func (p Problem) Text() string {
	if p.Line == 0 {
		return p.File + ": " + p.What
	}
	return fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.What)
}

// Verified is what Verify finds in a book.
type Verified struct {
	Entries  int // distinct ones in its ledgers, voided ones too
	Problems []Problem
	Seals    []*SealState // the last of each ledger and month
	Readable bool         // no row of consumption breaks a rule, so that the judge has seen all that count
}

// A Judge is asked about every row of consumption that counts. Like a SharedFold it may gather what it sees, in several goroutines.
type Judge interface {
	Judge(*Consumption) (what string) // is wrong with the row; blank: nothing
	Reset()                           // forgets all rows, because the pass starts again
	Split() Judge                     // returns a judge of the same kind without rows
	Join(Judge)                       // adds what a judge that Split returned has gathered; that one is not used any more
}

// Verify reads the whole book and returns all problems: rows that break a rule, references that lead nowhere, conflicts, voids of nothing,
// unknown settings, and copies of the book's files in its folder. What the judge, which may be nil, says of a row is one more problem, which
// stands behind all others. now is the clock: no row may be more than a day ahead of it, and no entry may have been made after it.
func (v *View) Verify(now time.Time, judge Judge) (*Verified, error) {
	c := &verification{v: v, now: now, files: map[string]string{}}
	c.readTables()
	c.readLedgers()
	c.checkReferences()
	c.checkText()
	c.countEntries()
	readable := c.checkConsumption(judge)
	c.checkVoids()
	c.checkSettings()
	c.addConflicts()
	if err := errors.Join(c.addFaults(), c.checkCopies()); err != nil {
		return nil, err
	}
	var seals []*SealState
	if c.sealsRead {
		var err error
		if seals, err = v.sealProblems(c.add); err != nil {
			return nil, err
		}
	}
	sortProblems(c.problems)
	return &Verified{c.entries, append(slices.Compact(c.problems), c.behind...), seals, readable}, nil
}

// sortProblems sorts problems by the order of the book's files, then by line. Other files come first, by name.
func sortProblems(problems []Problem) {
	slices.SortStableFunc(problems, func(a, b Problem) int {
		return cmp.Or(slices.Index(allFiles, a.File)-slices.Index(allFiles, b.File), strings.Compare(a.File, b.File), a.Line-b.Line)
	})
}

// verification is the state of one run of Verify.
type verification struct {
	v        *View
	now      time.Time
	entries  int
	problems []Problem
	errs     []error // of reading, in the order of the files

	behind    []Problem         // of rows of consumption, by the judge
	files     map[string]string // the file of each ID, but for those of consumption
	targets   *hiddenRows       // that voids name
	cancelled map[string]bool   // those of them that are in consumption
	bought    map[string]bool   // spools with a purchase that counts
	boughtAll bool              // bought is complete, as no row of purchases.csv is broken
	allRead   bool              // no row that a void could cancel is broken
	sealsRead bool

	printers  map[string]*Printer
	clients   map[string]*Client
	purges    []*PairPurge
	nozzles   []*Nozzle
	limits    []*Limit
	purchases []*Purchase
	weighins  []*Weighin
	needs     []*Need
	moves     []*Move
	sliced    []*SlicedFile
	voids     []*Void
	bills     []*Bill
}

func (c *verification) add(file string, line int, entry, what string) {
	c.problems = append(c.problems, Problem{file, line, entry, what})
}

// read keeps the error of reading a file, and reports whether there was none.
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
	c.nozzles, err = c.v.Nozzles()
	c.read(err)
	c.limits, err = c.v.Limits()
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
	c.sliced, err = c.v.SlicedFiles()
	c.allRead = c.read(err) && c.allRead
	targets := map[string]bool{}
	for _, void := range c.voids {
		targets[void.Target] = true
	}
	c.targets = newHiddenRows(targets)
	_, err = c.v.Seals()
	c.read(err)
	c.sealsRead = faultsOf(err) == nil
	c.bought = map[string]bool{}
	for _, p := range c.purchases {
		c.bought[p.Spool] = true
	}
}

// checkReferences checks the names in the small ledgers and in the tables of machines.
func (c *verification) checkReferences() {
	c.checkMachines()
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
		if c.checkTurn(n) {
			c.checkNames(Queue, &n.Head, n.Client, n.Printer)
		}
	}
	for _, b := range c.bills {
		c.checkNames(Bills, &b.Head, b.Client, "")
	}
}

// checkTurn reports spools of a need that are passed over: those without a purchase that counts, and those that cannot follow the first.
// It returns false where none is left, so that the row is left out.
func (c *verification) checkTurn(n *Need) bool {
	turn := n.Turn()
	if len(turn) <= 1 {
		return !c.unbought(Queue, &n.Head, "spool", n.Spool)
	}
	var first *Purchase
	for _, id := range turn {
		i := slices.IndexFunc(c.purchases, func(p *Purchase) bool { return p.Spool == id })
		switch {
		case i < 0:
			if c.boughtAll && c.v.known[id] {
				c.add(Queue, n.Line, n.Entry, fmt.Sprintf("spool %s has no purchase that counts; it is passed over", id))
			}
		case first == nil:
			first = c.purchases[i]
		case Fold(first.Material) != Fold(c.purchases[i].Material) || !first.DiameterMM.Equal(c.purchases[i].DiameterMM.Decimal):
			c.add(Queue, n.Line, n.Entry, fmt.Sprintf("spool %s is not of the material and diameter of %s, so it cannot follow it in turn and is passed over", id, first.Spool))
		}
	}
	if first == nil && c.boughtAll {
		c.add(Queue, n.Line, n.Entry, "none of its spools has a purchase that counts; the row is left out")
		return false
	}
	return true
}

// checkText reports misleading characters in the rows that count.
func (c *verification) checkText() {
	v := c.v
	checkTableText(c, &v.materials, Materials)
	checkTableText(c, &v.cores, Cores)
	checkTableText(c, &v.scales, Scales)
	checkTableText(c, &v.printers, Printers)
	checkTableText(c, &v.purges, Purges)
	checkTableText(c, &v.nozzles, Nozzles)
	checkTableText(c, &v.limits, Limits)
	checkTableText(c, &v.clients, Clients)
	checkLedgerText(c, c.purchases)
	checkLedgerText(c, c.weighins)
	checkLedgerText(c, c.needs)
	checkLedgerText(c, c.moves)
	checkLedgerText(c, c.sliced)
	checkLedgerText(c, c.voids)
	checkLedgerText(c, c.bills)
}

func checkTableText[T any, R tableRowOf[T]](c *verification, t *table[T], file string) {
	columns := columnsOf(R(new(T)))
	for _, r := range t.rows {
		eachUnseen(columns, R(r), func(what string) { c.add(file, t.line[R(r).key()], "", what) })
	}
}

func checkLedgerText[T any, R RowOf[T]](c *verification, rows []*T) {
	columns := columnsOf(R(new(T)))
	for _, r := range rows {
		eachUnseen(columns, R(r), func(what string) { c.add(R(r).file(), R(r).head().Line, R(r).head().Entry, what) })
	}
}

// unbought adds a problem for a row whose spool has no purchase that counts, and reports whether it has none.
func (c *verification) unbought(file string, h *Head, column, spool string) bool {
	if !c.boughtAll || spool == "" || c.bought[spool] || !c.v.known[spool] {
		return false
	}
	c.add(file, h.Line, h.Entry, fmt.Sprintf("%s %s has no purchase that counts; the row is left out", column, spool))
	return true
}

// checkNames adds problems for a client and a printer that the tables don't have.
func (c *verification) checkNames(file string, h *Head, client, printer string) {
	if _, ok := c.clients[Fold(client)]; client != "" && !ok && c.v.clients.sure(client) {
		c.add(file, h.Line, h.Entry, fmt.Sprintf("client %s is not in %s", quoted(client), Clients))
	}
	if _, ok := c.printers[Fold(printer)]; printer != "" && !ok && c.v.printers.sure(printer) {
		c.add(file, h.Line, h.Entry, fmt.Sprintf("printer %s is not in %s", quoted(printer), Printers))
	}
}

func (c *verification) countEntries() {
	count := func(file string, row Row) { c.count(file, row.head()) }
	giveRows(Purchases, c.v.purchases.all, count)
	giveRows(Weighins, c.v.weighins.all, count)
	giveRows(Queue, c.v.needs.all, count)
	giveRows(Moves, c.v.moves.all, count)
	giveRows(Voids, c.v.voids.all, count)
	giveRows(Seals, c.v.seals.all, count)
	giveRows(Bills, c.v.bills.all, count)
	giveRows(SlicedFiles, c.v.sliced.all, count)
}

// count counts the entry of a row of a small ledger. It adds problems for an entry that is in another file too, and for impossible times.
func (c *verification) count(file string, h *Head) {
	c.checkClock(file, h)
	if other, ok := c.files[h.ID]; !ok {
		c.entries++
		c.files[h.ID] = file
	} else if other != file {
		c.twoFiles(file, h, other)
	}
}

func (c *verification) checkClock(file string, h *Head) {
	if what := implausible(h, c.now); what != "" && !c.v.hidden[h.ID] {
		c.add(file, h.Line, h.Entry, what)
	}
	if what := madeAhead(h.Entry, c.now); what != "" {
		c.add(file, h.Line, h.Entry, what)
	}
}

func (c *verification) twoFiles(file string, h *Head, other string) {
	c.add(file, h.Line, h.Entry, fmt.Sprintf("entry %s stands in %s too; a row typed by hand should leave it empty", h.ID, other))
}

func (c *verification) checkVoids() {
	for _, void := range c.voids {
		if _, ok := c.files[void.Target]; c.allRead && !ok && !c.cancelled[void.Target] { // else the target may be in a row that could not be read
			c.add(Voids, void.Line, void.Entry, fmt.Sprintf("target %s is no entry of this book", quoted(void.Target)))
		}
	}
}

// checkSettings reports unknown settings, and weights of spools that no purchase has ever named.
func (c *verification) checkSettings() {
	t, err := c.v.settingsTable()
	if err != nil {
		return
	}
	for _, line := range t.rows {
		switch name := strings.ToLower(line.Setting); {
		case !slices.Contains(SettingNames, name):
			c.add(SettingsFile, line.Line, "", fmt.Sprintf("setting %s is not known%s", quoted(line.Setting), hinted(Nearest(line.Setting, SettingNames))))
		case name == "purge_weight" && c.v.known != nil && !c.v.unsure:
			for _, text := range strings.Fields(line.Value) {
				if w, err := ParsePurgeWeight(text); err == nil && !c.v.known[w.Spool] {
					c.add(SettingsFile, line.Line, "", fmt.Sprintf("purge_weight names %s, which is no spool of this book", w.Spool))
				}
			}
		}
	}
}

func (c *verification) addConflicts() {
	for _, conflict := range c.v.Conflicts() {
		c.add(conflict.File, conflict.Lines[0], conflict.ID, conflict.What)
	}
}

// addFaults adds a problem for each fault. It returns any other error of reading.
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
