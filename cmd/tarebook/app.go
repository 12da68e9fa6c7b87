package main

import (
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/oklog/ulid/v2"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// app is one command being carried out.
type app struct {
	environment
	globals

	ulids  *ulid.MonotonicEntropy
	lastMS uint64

	recorded *ledger.Book   // where rows were recorded last
	memory   *ledger.Memory // of the book, for a command that looks at it often; else nil

	gcPercent int // of a command that keeps more than others; else 0

	durable bool // something was recorded or written: what fails from now on is only the telling
	deaf    bool // that was told already
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

// at returns the book in a folder, with the flags and streams of this command.
func (a *app) at(dir string) *ledger.Book {
	return &ledger.Book{Dir: dir, Disk: a.disk, Wait: time.Duration(a.Wait), Memory: a.memory, Tell: func(text string) {
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
		if asOf, err = a.time("--as-of", a.AsOf, endOfDay); err != nil {
			return nil, err
		}
	}
	v, err := book.View(asOf)
	if err == nil && v.Large() {
		a.collectLate()
	}
	return v, err
}

// collectLate lets the heap grow to 16 MB, not 4, before the garbage collector runs, and as usual after that run. A stock of a million rows
// and 5,000 spools takes a tenth less time so, and as much memory. GOGC, if it asks for another percentage than usual, stays as it is.
func (a *app) collectLate() {
	usual := debug.SetGCPercent(400)
	if usual != 100 {
		debug.SetGCPercent(usual)
		return
	}
	// Nothing refers to this, so the first run finds it. Less than 16 bytes might lie in one block with what is still used.
	unused := new([32]byte)
	runtime.AddCleanup(unused, func(percent int) { debug.SetGCPercent(percent) }, cmp.Or(a.gcPercent, usual))
}

// shelf opens the book to look at and loads what is on its shelf.
func (a *app) shelf(load func(*ledger.View, ...inventory.Also) (*inventory.Shelf, error)) (*ledger.View, *inventory.Shelf, error) {
	v, err := a.view()
	if err != nil {
		return nil, nil, err
	}
	shelf, err := load(v)
	return v, shelf, err
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

// flagConflicts prints the conflicts in the files that were read. With any, the status is 1.
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

// style says what the output can show.
func (a *app) style() reports.Style {
	style := reports.Style{Format: a.Format, Colour: colour(a.terminal, a.getenv("NO_COLOR"), a.getenv("TERM"))}
	if a.terminal {
		style.Width, style.Seen, style.UTF8 = a.width, true, utf8Locale(a.getenv)
	}
	return style
}

// utf8Locale reports whether the terminal shows UTF-8: the first of three variables that is not empty says so (POSIX.1-2017, 8.2).
func utf8Locale(getenv func(string) string) bool {
	locale := strings.ToLower(cmp.Or(getenv("LC_ALL"), getenv("LC_CTYPE"), getenv("LANG")))
	return strings.HasSuffix(locale, ".utf-8") || strings.HasSuffix(locale, ".utf8")
}

// colour reports whether a table may be coloured (no-color.org: any non-empty NO_COLOR forbids it).
func colour(terminal bool, noColor, term string) bool {
	return terminal && noColor == "" && term != "dumb"
}

// recordFlags are the flags of every command that records.
type recordFlags struct {
	At   string `group:"Recording" about:"When it happened; else now." value:"TIME"`
	Note string `group:"Recording" about:"A note for the row." value:"TEXT"`
	writeFlags
}

// writeFlags are the flags of all that writes rows.
type writeFlags struct {
	Reopen string `group:"Recording" about:"Why it is recorded although that time is sealed." value:"REASON"`
	DryRun bool   `group:"Recording" about:"Show what would be booked; write nothing."`
}

// at is when it happened. Now is kept to the millisecond, so that commands of one script stay in order.
func (r *recordFlags) at(a *app) (ledger.Time, error) {
	if r.At == "" {
		now := ledger.NewTime(a.now().Truncate(time.Millisecond))
		if ledger.CheckTime(now, a.now()) != nil {
			return now, fmt.Errorf("the clock of this machine says %s; set it, or say when it was with --at", now)
		}
		return now, nil
	}
	t, err := a.time("--at", r.At, noon)
	if err != nil {
		return t, err
	}
	if err := ledger.CheckTime(t, a.now()); err != nil {
		return t, fmt.Errorf("--at %s %w; write the day with its year, as 2026-11-20 18:30, or set the clock of this machine", r.At, err)
	}
	return t, nil
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
	var notes []string
	recorded := false
	noting := func(v *ledger.View) (ledger.Batch, error) {
		batch, err := decide(v)
		if err == nil && batch != nil {
			notes, recorded = ledger.Unseen(batch), batch.Len() > 0
		}
		return batch, err
	}
	if w.DryRun {
		err = book.Try(a.entries(), noting)
	} else {
		err = book.Update(a.entries(), noting)
		a.durable = a.durable || err == nil && recorded
	}
	a.recorded = book
	if err == nil {
		a.warn(notes...)
	}
	return err
}

// record is update for a command that says what it did. It prints warnings at once, and all else only once the rows are on disk.
func (a *app) record(w writeFlags, decide func(v *ledger.View) (recording.Booking, error)) error {
	var booking recording.Booking
	var conflicts []string
	err := a.update(w, func(v *ledger.View) (batch ledger.Batch, err error) { // again, where others change the book meanwhile
		conflicts = nil
		if booking, err = decide(v); err != nil {
			return nil, err
		}
		for _, c := range v.Conflicts() {
			conflicts = append(conflicts, c.Error())
		}
		return booking.Batch, nil
	})
	a.warn(booking.Warnings...)
	a.warn(conflicts...)
	if err != nil {
		return err
	}
	if a.Format != "table" {
		return a.give(a.receipt(booking, w.DryRun))
	}
	lines := booking.Told
	if batch := booking.Batch; batch != nil && (w.DryRun || batch.Len() > 0) {
		rows := inventory.Plural(batch.Len(), "row", "rows")
		switch {
		case w.DryRun:
			lines = append(lines, "dry run: "+rows+" would be booked, nothing was written")
		case batch.Cancels():
			lines = append(lines, "booked "+rows+"; cancel with: tarebook void --last")
		default:
			lines = append(lines, "booked "+rows)
		}
	}
	return a.say(lines...)
}

// warn writes lines to stderr.
func (a *app) warn(lines ...string) {
	for _, line := range lines {
		fmt.Fprintln(a.stderr, "tarebook: "+line)
	}
}

// say writes lines to stdout. Where something was recorded before, a failure is told on stderr alone: a command that ended
// with status 2 would be typed again, and booked twice.
func (a *app) say(lines ...string) error {
	for _, line := range lines {
		_, err := fmt.Fprintln(a.stdout, ledger.Clean(line))
		if err := a.heard(err); err != nil {
			return err
		}
	}
	return nil
}

// heard makes a failure to tell what was recorded a warning.
func (a *app) heard(err error) error {
	if err == nil || !a.durable || errors.Is(err, syscall.EPIPE) {
		return err
	}
	if !a.deaf {
		a.deaf = true
		a.warn("it is booked, though it could not be told: " + err.Error())
	}
	return nil
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

// bench returns the defaults of this bench.
func (a *app) bench() recording.Bench {
	return recording.Bench{Scale: a.getenv("TAREBOOK_SCALE"), Printer: a.getenv("TAREBOOK_PRINTER"), Prefix: a.getenv("TAREBOOK_BENCH")}
}
