package planning

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Prints of the past and of the queue, as far as they can be reckoned on another machine: what each tool of the file took.

// printed is one print: the finished rows of one job, printer, file and instant, or those of a queued job.
type printed struct {
	key
	name  string // of the job, as written on the first line
	on    string // the printer, as written there
	line  int
	at    ledger.Time
	day   string // of its first row, by that row's own offset
	order string // of that row, among those of the same instant
	rows  []printedRow
	purge ledger.Grams // as booked
}

type printedRow struct {
	slot   string
	spools []*inventory.Spool
}

// key tells prints apart: job and printer folded, the file by its sum, and for the past the instant.
type key struct {
	job, printer, file string
	second             int64
	nanosecond         int
}

// Finished gathers the finished prints of a view. It is a fold over consumption.
type Finished struct {
	shelf *inventory.Shelf
	files map[string]*ledger.SlicedFile // by sum
	all   map[key]*printed
}

// NewFinished returns a fold without rows.
func NewFinished(v *ledger.View) (*Finished, error) {
	files, err := filesOf(v)
	if err != nil {
		return nil, err
	}
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	f := &Finished{shelf: shelf, files: files}
	f.Reset()
	return f, nil
}

// filesOf returns the sliced files of a view by their sums; of several rows the last counts.
func filesOf(v *ledger.View) (map[string]*ledger.SlicedFile, error) {
	rows, err := v.SlicedFiles()
	files := map[string]*ledger.SlicedFile{}
	for _, f := range rows {
		files[ledger.FileSum(f.File)] = f
	}
	return files, err
}

// Reset forgets all rows.
func (f *Finished) Reset() { f.all = map[key]*printed{} }

// Add adds one row; a failed print is left out, and what is about a spool without a purchase that counts.
func (f *Finished) Add(row *ledger.Consumption) {
	spool := f.shelf.Spool(row.Spool)
	if row.Outcome == ledger.Failed || spool == nil {
		return
	}
	at := row.At.Std()
	k := key{ledger.Fold(row.Job), ledger.Fold(row.Printer), ledger.FileSum(row.File), at.Unix(), at.Nanosecond()}
	p, day := f.all[k], row.At.Date()
	if p == nil {
		k.job, k.printer, k.file = strings.Clone(k.job), strings.Clone(k.printer), strings.Clone(k.file)
		p = &printed{key: k, name: strings.Clone(row.Job), on: strings.Clone(row.Printer), line: row.Line, at: row.At, day: day, order: strings.Clone(row.Order())}
		f.all[k] = p
	} else {
		if row.Line < p.line {
			p.name, p.on, p.line = strings.Clone(row.Job), strings.Clone(row.Printer), row.Line
		}
		if order := row.Order(); order < p.order {
			p.day, p.order = day, strings.Clone(order)
		}
	}
	if f.files[k.file] != nil { // else it is not reckoned
		p.rows = append(p.rows, printedRow{strings.Clone(row.Slot), []*inventory.Spool{spool}})
		p.purge += row.PurgeG
	}
}

// Split returns a fold of the same view without rows.
func (f *Finished) Split() ledger.SharedFold {
	o := &Finished{shelf: f.shelf, files: f.files}
	o.Reset()
	return o
}

// Join adds what a fold that Split returned has gathered.
func (f *Finished) Join(o ledger.SharedFold) {
	for k, theirs := range o.(*Finished).all {
		p := f.all[k]
		if p == nil {
			f.all[k] = theirs
			continue
		}
		if theirs.line < p.line {
			p.name, p.on, p.line = theirs.name, theirs.on, theirs.line
		}
		if theirs.order < p.order {
			p.day, p.order = theirs.day, theirs.order
		}
		p.rows = append(p.rows, theirs.rows...)
		p.purge += theirs.purge
	}
}

// between returns the prints between two days, both included, in the order of time; blank days are open.
func (f *Finished) between(from, to string) (prints []*printed) {
	for _, p := range f.all {
		if (from == "" || p.day >= from) && (to == "" || p.day <= to) {
			prints = append(prints, p)
		}
	}
	slices.SortFunc(prints, func(a, b *printed) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.job, b.job), cmp.Compare(a.printer, b.printer), cmp.Compare(a.file, b.file))
	})
	return prints
}

// queuedPrints are those that the queue still has, with the spools that check finds for them.
func queuedPrints(jobs []*inventory.Job) (prints []*printed) {
	for _, job := range jobs {
		found := map[key]*printed{}
		for _, n := range job.Needs {
			k := key{printer: ledger.Fold(n.Printer), file: ledger.FileSum(n.Row.File)}
			p := found[k]
			if p == nil {
				p = &printed{key: k, name: job.Name, on: n.Printer}
				found[k] = p
				prints = append(prints, p)
			}
			p.rows = append(p.rows, printedRow{n.Slot, n.Spools()})
		}
	}
	return prints
}

// spoolOf returns the one spool that a tool took; nil where that is not known.
func (p *printed) spoolOf(tool string) (spool *inventory.Spool) {
	for _, row := range p.rows {
		if row.slot != tool {
			continue
		}
		if len(row.spools) != 1 || spool != nil && spool != row.spools[0] {
			return nil
		}
		spool = row.spools[0]
	}
	return spool
}

// left returns why a print can't be counted by what the book has of it; nil where nothing stands against it so far.
func (r *reckoner) left(p *printed) *LeftPrint {
	file := r.files[p.file]
	switch {
	case p.file == "":
		return p.left(NoFile, "its rows name no sliced file")
	case file == nil:
		return p.left(FileUnknown, "its file is not in "+ledger.SlicedFiles)
	case p.printer == "":
		return p.left(NoPrinter, "its rows name no printer")
	case !slices.ContainsFunc(r.printers, func(m *ledger.Printer) bool { return ledger.Fold(m.Printer) == p.printer }):
		return p.left(NoPrinter, fmt.Sprintf("printer %s is not in %s", strconv.Quote(p.on), ledger.Printers))
	case slices.ContainsFunc(p.rows, func(row printedRow) bool { return row.slot == "" }):
		return p.left(NoSlot, "a row of it names no slot")
	case file.Sequence == "":
		return p.left(FileUnknown, ledger.SlicedFiles+" has no order of tools of its file")
	}
	return nil
}

func (p *printed) left(reason LeftReason, why string) *LeftPrint {
	return &LeftPrint{p.name, p.day, p.on, reason, why}
}
