package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"

	"tarebook/ledger"
	"tarebook/reports"
)

// app is one command being carried out.
type app struct {
	environment
	globals

	ulids  *ulid.MonotonicEntropy
	lastMS uint64
}

// book finds the book.
func (a *app) book() (*ledger.Book, error) {
	named, source := a.Book, "--book"
	if named == "" {
		named, source = a.getenv("TAREBOOK"), "$TAREBOOK"
	}
	book, err := ledger.Find(named, source, a.dir)
	if err != nil {
		return nil, err
	}
	return a.at(book.Dir), nil
}

// at returns the folder as a book, with all that this command brings to it.
func (a *app) at(dir string) *ledger.Book {
	return &ledger.Book{Dir: dir, Disk: a.disk, Wait: a.Wait, Tell: func(text string) {
		fmt.Fprintln(a.stderr, "tarebook: "+text)
	}}
}

// view opens the book to look at.
func (a *app) view() (*ledger.View, error) {
	book, err := a.book()
	if err != nil {
		return nil, err
	}
	var asOf ledger.Time
	if a.AsOf != "" {
		if asOf, err = a.time("--as-of", a.AsOf, true); err != nil {
			return nil, err
		}
	}
	return book.View(asOf)
}

// today is the time that a view is of, else now.
func (a *app) today(v *ledger.View) ledger.Time {
	if t := v.AsOf(); !t.IsZero() {
		return t
	}
	return ledger.NewTime(a.now())
}

// show writes a report on what the view holds, and flags it where that has conflicts.
func (a *app) show(v *ledger.View, r reports.Report) error {
	if err := reports.Render(a.stdout, r, a.style()); err != nil {
		return err
	}
	return a.flagConflicts(v)
}

// flagConflicts tells the conflicts in the files that were read; they flag what was answered.
func (a *app) flagConflicts(v *ledger.View) error {
	conflicts := v.Conflicts()
	for _, c := range conflicts {
		fmt.Fprintln(a.stderr, "tarebook: "+c.Error())
	}
	if len(conflicts) > 0 {
		return errFlagged
	}
	return nil
}

// style is what the output can show.
func (a *app) style() reports.Style {
	style := reports.Style{Format: a.Format, Colour: colour(a.terminal, a.getenv("NO_COLOR"), a.getenv("TERM"))}
	if a.terminal {
		style.Width = a.width
	}
	return style
}

// colour tells whether a table may be coloured (no-color.org: any non-empty NO_COLOR forbids it).
func colour(terminal bool, noColor, term string) bool {
	return terminal && noColor == "" && term != "dumb"
}

// local are the ways in which a time may be typed without its offset.
var local = []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"}

// time reads a typed time: RFC 3339, or local, stored with the offset of this place; where a day makes sense, a bare date
// is the end of it.
func (a *app) time(what, text string, days bool) (ledger.Time, error) {
	if t, err := ledger.ParseTime(text); err == nil && !t.IsZero() {
		return t, nil
	}
	text = ledger.Trim(text)
	here := a.now().Location()
	for _, layout := range local {
		if len(text) != len(layout) {
			continue
		}
		if t, err := time.ParseInLocation(layout, text, here); err == nil {
			return ledger.NewTime(t), nil
		}
	}
	if t, err := time.ParseInLocation(time.DateOnly, text, here); days && err == nil {
		return ledger.NewTime(t.AddDate(0, 0, 1).Add(-time.Second)), nil
	}
	return ledger.Time{}, fmt.Errorf("%s %q is not a time that exists; write 2026-11-20 18:30, or with its offset 2026-11-20T18:30:00+01:00", what, text)
}

// recordFlags are the flags of every command that records.
type recordFlags struct {
	At   string `group:"Recording"`
	Note string `group:"Recording"`
	writeFlags
}

// writeFlags are the flags of all that writes rows.
type writeFlags struct {
	Reopen string `group:"Recording"`
	DryRun bool   `group:"Recording"`
}

// at is when it happened. Now is kept to the millisecond, so that commands of one script stay in order.
func (r *recordFlags) at(a *app) (ledger.Time, error) {
	if r.At == "" {
		return ledger.NewTime(a.now().Truncate(time.Millisecond)), nil
	}
	t, err := a.time("--at", r.At, false)
	if err == nil && t.Std().After(a.now().Add(24*time.Hour)) {
		return t, fmt.Errorf("--at %s lies more than a day in the future", r.At)
	}
	return t, err
}

var errAsOf = errors.New("--as-of is for looking; a time to record goes into --at")

// update decides on the book as it is and books the rows; of a dry run nothing is written.
func (a *app) update(w writeFlags, decide func(v *ledger.View) (ledger.Batch, error)) error {
	if a.AsOf != "" {
		return errAsOf
	}
	book, err := a.book()
	if err != nil {
		return err
	}
	book.Reopen = w.Reopen
	if w.DryRun {
		return book.Try(a.entries(), decide)
	}
	return book.Update(a.entries(), decide)
}

// record is update for a command that says what it does: what is decided also says what to tell. Nothing is told before
// it is on disk.
func (a *app) record(w writeFlags, decide func(v *ledger.View) (ledger.Batch, []string, error)) error {
	var lines []string
	booked, cancel := 0, ""
	err := a.update(w, func(v *ledger.View) (ledger.Batch, error) {
		batch, told, err := decide(v)
		if err != nil {
			return nil, err
		}
		lines = told
		if batch != nil {
			booked = batch.Len()
			if batch.Cancels() {
				cancel = "; cancel with: tarebook void --last"
			}
		}
		for _, c := range v.Conflicts() {
			fmt.Fprintln(a.stderr, "tarebook: "+c.Error())
		}
		return batch, nil
	})
	if err != nil {
		return err
	}
	if w.DryRun {
		lines = append(lines, fmt.Sprintf("dry run: %d %s would be booked, nothing was written", booked, rows(booked)))
	} else if booked > 0 {
		lines = append(lines, fmt.Sprintf("booked %d %s", booked, rows(booked))+cancel)
	}
	return a.say(lines...)
}

// say writes lines to stdout.
func (a *app) say(lines ...string) error {
	for _, line := range lines {
		if _, err := fmt.Fprintln(a.stdout, reports.Clean(line)); err != nil {
			return err
		}
	}
	return nil
}

func rows(n int) string {
	if n == 1 {
		return "row"
	}
	return "rows"
}

// entries returns a maker of consecutive ULIDs of one millisecond. Those of two updates are never consecutive, so that they
// don't pass for those of one command.
func (a *app) entries() func() string {
	ms := ulid.Timestamp(a.now())
	if a.ulids == nil {
		a.ulids = ulid.Monotonic(a.entropy, 1)
	} else if ms == a.lastMS {
		ulid.MustNew(ms, a.ulids)
	}
	a.lastMS = ms
	return func() string { return ulid.MustNew(ms, a.ulids).String() }
}

// known refuses a client or a printer that the book does not know, and returns the name as its table has it.
func known[T any](what, name string, names map[string]*T, shown func(*T) string, file string) (string, error) {
	if name == "" {
		return "", nil
	}
	if row, ok := names[ledger.Fold(name)]; ok {
		return shown(row), nil
	}
	var all []string
	for _, row := range names {
		all = append(all, shown(row))
	}
	slices.Sort(all)
	near := ledger.Nearest(name, all)
	if near != "" && what != "material" {
		return "", fmt.Errorf("no %s %q; did you mean %s?", what, name, near)
	}
	mend := fmt.Sprintf("define it with: tarebook define %s %s %s", what, shell(name), needed[what])
	if near != "" { // polymers have names that are near each other: the other one may well be new
		return "", fmt.Errorf("no %s %q; did you mean %s? else %s", what, name, near, mend)
	}
	if len(all) == 0 {
		return "", fmt.Errorf("no %s %q; %s", what, name, mend)
	}
	return "", fmt.Errorf("no %s %q in %s, which has: %s; %s", what, name, file, strings.Join(all, ", "), mend)
}

// needed is what a new row of a table should not go without.
var needed = map[string]string{
	"material": "density=G_PER_CM3",
	"core":     "tare=GRAMS",
	"scale":    "division=GRAMS error=GRAMS",
	"printer":  "feeds=FEEDS",
	"client":   "name=NAME",
}

func (a *app) client(v *ledger.View, name string) (string, error) {
	clients, err := v.Clients()
	if err != nil {
		return "", err
	}
	return known("client", name, clients, func(c *ledger.Client) string { return c.Client }, ledger.Clients)
}

func (a *app) printer(v *ledger.View, name string) (string, error) {
	printers, err := v.Printers()
	if err != nil {
		return "", err
	}
	return known("printer", name, printers, func(p *ledger.Printer) string { return p.Printer }, ledger.Printers)
}

func (a *app) scale(v *ledger.View, name string) (string, error) {
	scales, err := v.Scales()
	if err != nil {
		return "", err
	}
	return known("scale", name, scales, func(s *ledger.Scale) string { return s.Scale }, ledger.Scales)
}

// bench returns a default of this bench: the environment's, else the settings'.
func (a *app) bench(variable, setting string) string {
	if name := a.getenv(variable); name != "" {
		return name
	}
	return setting
}
