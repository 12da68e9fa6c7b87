package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tarebook/inventory"
	"tarebook/inventory/sheet"
	"tarebook/ledger"
)

// Imported is what a sheet comes to: the rows that are new to the book, in the sheet's order.
type Imported[T any] struct {
	Rows    []T
	All     int // rows of the sheet
	Already int // of them in the book
	Notes   []string
}

// String counts the rows.
func (t *Imported[T]) String() string {
	return fmt.Sprintf("%s: %d to book, %d in the book already", inventory.Plural(t.All, "row", "rows"), len(t.Rows), t.Already)
}

// line is one row of the sheet and what becomes of it.
type line[T any] struct {
	in     *Import
	view   *ledger.View
	cells  sheet.Row
	row    T
	faults ledger.Faults
	there  bool // the book has it
	day    bool // it has a date without a time

	opened string // facts of an opened spool; blank for a full one
}

// lines reads every row of the sheet.
func lines[T any](in *Import, v *ledger.View, read func(*line[T])) []*line[T] {
	all := make([]*line[T], len(in.table.Rows))
	for i, cells := range in.table.Rows {
		l := &line[T]{in: in, view: v, cells: cells}
		if all[i] = l; cells.Fault != nil {
			l.refuse(cells.Fault.What, cells.Fault.Mend)
			continue
		}
		read(l)
	}
	return all
}

func (l *line[T]) refuse(what, mend string) {
	l.faults = append(l.faults, &ledger.RowError{File: l.in.File, Line: l.cells.Line, What: what, Mend: mend})
}

// refuseCell names the column as the sheet does.
func (l *line[T]) refuseCell(column string, err error) {
	var e *sheet.Error
	if errors.As(err, &e) {
		l.refuse(l.where(column)+": "+e.What, e.Mend)
		return
	}
	l.refuse(l.where(column)+": "+err.Error(), "")
}

// where is what a person calls a column: its heading, or the flag.
func (l *line[T]) where(column string) string {
	if i, ok := l.in.column[column]; ok {
		return header(l.in.table.Header.Cells[i])
	}
	return "--set " + column
}

// cell returns what the sheet has for a column, blank where it has none, and whether it is a constant.
func (l *line[T]) cell(column string) (text string, constant bool) {
	if i, ok := l.in.column[column]; ok {
		return l.cells.Cells[i], false
	}
	return ledger.Trim(l.in.set[column]), true
}

// longest is how long text of one cell may be: a cell that holds more was torn, or is no name. Common practice, no source.
const longest = 1000

// widest is the same of a number.
const widest = 60

func (l *line[T]) text(column string) string {
	text, _ := l.cell(column)
	if n := utf8.RuneCountInString(text); n > longest {
		l.refuseCell(column, fmt.Errorf("is %d characters long, more than %d; shorten it", n, longest))
		return ""
	}
	text = strings.NewReplacer("\r\n", " ", "\r", " ", "\n", " ").Replace(text)
	if err := ledger.CheckText(l.where(column), text); err != nil {
		l.refuse(err.Error(), "")
		return ""
	}
	return text
}

// name finds what the book knows under the name in a cell.
func (l *line[T]) name(column string) string {
	text := l.text(column)
	if text == "" {
		return ""
	}
	name, err := l.in.find(l.view, column, text)
	if err != nil {
		l.refuseCell(column, err)
	}
	return name
}

// mass reads grams, as 812,5 or 0,75 kg; lengths where the spool's filament is known. A unit in the header holds for cells
// without one.
func (l *line[T]) mass(column string, spool *inventory.Spool) (m ledger.Mass) {
	text, constant := l.cell(column)
	if text == "" {
		return m
	}
	if !constant {
		n, err := l.digits(text)
		if err != nil {
			l.refuseCell(column, err)
			return m
		}
		unit := strings.ToLower(n.Unit)
		if head := strings.ToLower(l.in.unit[column]); unit == "" && slices.Contains([]string{"g", "gr", "kg", "m", "mm"}, head) {
			unit = head
		}
		if unit == "gr" {
			unit = "g"
		}
		if text = n.Text; strings.Contains(text, ".") {
			text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".") // 182.4000 has one decimal
		}
		text += unit
	}
	var err error
	if spool != nil {
		m.Grams, err = inventory.ParseMass(text, &spool.Filament)
	} else {
		m.Grams, err = inventory.ParseMass(text, nil)
	}
	if m.Given = err == nil; err != nil {
		l.refuseCell(column, err)
	}
	return m
}

func (l *line[T]) digits(text string) (sheet.Number, error) {
	if n := utf8.RuneCountInString(text); n > widest {
		return sheet.Number{}, fmt.Errorf("is %d characters long, more than %d; write a number", n, widest)
	}
	return l.in.forms.Number(text)
}

// number reads a number and the unit beside it.
func (l *line[T]) number(column string) (n ledger.Number, unit string) {
	text, constant := l.cell(column)
	if text == "" {
		return n, ""
	}
	if !constant {
		read, err := l.digits(text)
		if err != nil {
			l.refuseCell(column, err)
			return n, ""
		}
		text, unit = read.Text, read.Unit
	}
	n, err := ledger.ParseNumber(text)
	if err != nil {
		l.refuseCell(column, fmt.Errorf("%s %w", strconv.Quote(text), err))
	}
	return n, unit
}

func (l *line[T]) count(column string) (c ledger.Count) {
	n, unit := l.number(column)
	if unit != "" {
		l.refuseCell(column, fmt.Errorf("it is in %s; write a count, as 12", strconv.Quote(unit)))
		return c
	}
	text, err := n.MarshalCSV()
	if err == nil {
		err = c.UnmarshalCSV(text)
	}
	if err != nil {
		l.refuseCell(column, fmt.Errorf("%s %w", strconv.Quote(text), err))
	}
	return c
}

// when reads the time of the row. A day without a time is noon there: nothing of that day is then wrong by more than half of it.
func (l *line[T]) when() ledger.Time {
	in := l.in
	text, _ := l.cell("at")
	if text == "" {
		if _, mapped := in.column["at"]; mapped && !in.Timed {
			l.refuseCell("at", errors.New("is blank; write the day, or give all such rows a time with --at"))
		}
		return in.At
	}
	d, err := in.forms.Date(text)
	if err != nil {
		l.refuseCell("at", err)
		return in.At
	}
	if l.day = !d.Timed; l.day {
		d.Hour = 12
	}
	zone := in.Now.Location()
	if d.Zoned {
		zone = time.FixedZone("", d.Offset)
	}
	t := time.Date(d.Year, time.Month(d.Month), d.Day, d.Hour, d.Minute, d.Second, d.Nano, zone)
	if t.Hour() != d.Hour || t.Minute() != d.Minute {
		l.refuseCell("at", fmt.Errorf("%s does not exist here, where clocks were put forward; write another time, or its offset", strconv.Quote(text)))
		return ledger.NewTime(t)
	}
	if err := ledger.CheckTime(ledger.NewTime(t), in.Now); err != nil {
		l.refuseCell("at", fmt.Errorf("%s %w; write when it was, or say the order of dates with --dates", strconv.Quote(text), err))
	}
	return ledger.NewTime(t)
}

// note is what the row says, else what all rows say.
func (l *line[T]) note() string { return cmp.Or(l.text("note"), l.in.Note) }

// check refuses what may not be recorded, by rules of the file and by seals.
func check[T any, R ledger.RowOf[T]](l *line[T], sealed ledger.Time) {
	if l.faults != nil {
		return
	}
	if err := ledger.CheckRow[T, R](l.row); err != nil {
		for text := range strings.SplitSeq(err.Error(), "\n") {
			l.refuse(text, "")
		}
		return
	}
	if at := ledger.HeadOf(R(&l.row)).At; !l.there && !l.in.Reopened && !sealed.IsZero() && !at.After(sealed) {
		l.refuse(fmt.Sprintf("that time is sealed through %s", sealed.Through()), "if it must be, give a reason with --reopen")
	}
}

// taken gathers what is new, or all that is refused.
func taken[T any](all []*line[T]) (*Imported[T], error) {
	t := &Imported[T]{All: len(all)}
	var faults ledger.Faults
	refused := 0
	for _, l := range all {
		switch {
		case l.faults != nil:
			faults = append(faults, l.faults...)
			refused++
		case l.there:
			t.Already++
		default:
			t.Rows = append(t.Rows, l.row)
		}
	}
	if refused > 0 {
		return nil, fmt.Errorf("%w\n%d of %d rows refused, nothing was written", faults, refused, t.All)
	}
	return t, nil
}

// seal is the instant up to which a ledger is sealed, the zero Time when it is not.
func seal(v *ledger.View, file string) (ledger.Time, error) {
	through, err := v.SealedThrough()
	return through[file], err
}
