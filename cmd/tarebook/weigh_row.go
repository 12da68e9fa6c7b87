package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"tarebook/inventory"
	"tarebook/inventory/indicator"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// Weighing in a row: a spool's id is typed or scanned, its gross is typed or read off the scale, and each pair is booked and
// answered at once.

// scaleWait is how long a scale may take to come to rest.
const scaleWait = 30 * time.Second

// states are what may stand behind a gross.
var states = []string{ledger.Loaded, ledger.Dried, ledger.Empty, ledger.Discarded}

// series is one run of weigh -.
type series struct {
	*weighCmd
	app     *app
	scale   *indicator.Line // nil: the gross is typed
	spool   string          // typed, and not weighed yet
	booked  []bookedWeighin // in order, those cancelled taken off
	undone  int
	refused int
	nth     int             // line of standard input
	over    bool            // quit was typed
	told    map[string]bool // conflicts
	kept    inventory.KeptUsage
}

type bookedWeighin struct {
	entry, what string
	receipt     reports.Receipt // only where one is asked for
}

func (c *weighCmd) row(a *app) (err error) {
	if c.Empty || c.Discarded || c.Dried {
		return errors.New("in a row the state stands behind the gross, as: PLA-017 180 empty")
	}
	if _, err := a.book(); err != nil {
		return err
	}
	a.memory = new(ledger.Memory)
	// Each line leaves a shelf behind. Collected half as often, a line over 45,000 weigh-ins takes 0.09 s instead of 0.11.
	defer debug.SetGCPercent(debug.SetGCPercent(200))
	r := &series{weighCmd: c, app: a, told: map[string]bool{}}
	if c.ScaleFrom != "" {
		device, err := os.Open(c.ScaleFrom)
		if err != nil {
			return fmt.Errorf("--scale-from: %w", err)
		}
		defer func() { err = errors.Join(err, device.Close()) }()
		r.scale = indicator.Open(device)
	}
	if a.typed {
		fmt.Fprintln(a.stderr, r.help())
	}
	if _, err := r.at(a); err != nil {
		return err
	}
	if err := r.read(); err != nil {
		return err
	}
	if r.refused > 0 {
		return errFlagged
	}
	return nil
}

// help says what may be typed.
func (r *series) help() string {
	hint := "type or scan a spool, then its gross"
	if r.scale != nil {
		hint = "put a spool on the scale, then type or scan its id"
	}
	return hint + "; undo takes the last one back, help says this again, quit ends"
}

// read carries out lines until there are no more, or one says quit. Only trouble with the book stops it before, not a bad line.
func (r *series) read() error {
	in := bufio.NewReader(r.app.stdin)
	var stopped error
	for stopped == nil && !r.over {
		line, err := in.ReadString('\n')
		if line != "" {
			r.nth++
			stopped = r.line(strings.TrimPrefix(line, "\ufeff"))
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
	}
	if stopped == nil && r.spool != "" {
		r.refuse(fmt.Errorf("%s was left without a gross", r.spool))
	}
	weighins := inventory.Plural(len(r.booked), "weigh-in", "weigh-ins")
	summary := "booked " + weighins
	if r.DryRun {
		summary = "dry run: " + weighins + " would be booked, nothing was written"
	}
	if r.undone > 0 {
		summary += fmt.Sprintf(", cancelled %d more", r.undone)
	}
	if r.refused > 0 {
		summary += ", refused " + inventory.Plural(r.refused, "line", "lines")
	}
	return errors.Join(stopped, r.end(summary))
}

// end says how many were booked, or gives the receipt of all.
func (r *series) end(summary string) error {
	if r.app.Format == "table" {
		return r.app.say(summary)
	}
	r.app.warn(summary)
	all := reports.NewReceipt(recording.Booking{}, r.DryRun, nil, nil)
	for _, b := range r.booked {
		all.Add(b.receipt)
	}
	return r.app.give(all)
}

// say answers a line. Where a receipt is asked for, that alone goes to standard output, at the end.
func (r *series) say(line string) error {
	if r.app.Format == "table" {
		return r.app.say(line)
	}
	r.app.warn(line)
	return nil
}

func (r *series) refuse(err error) {
	r.refused++
	for text := range strings.SplitSeq(err.Error(), "\n") {
		fmt.Fprintf(r.app.stderr, "tarebook: line %d: %s\n", r.nth, text)
	}
}

// line carries out one line; an error ends the series.
func (r *series) line(text string) error {
	if !utf8.ValidString(text) || len(text) > 1000 {
		r.refuse(errors.New("this is no spool and gross"))
		return nil
	}
	words := strings.Fields(text)
	if len(words) == 0 {
		return nil
	}
	if len(words) == 1 {
		switch strings.ToLower(words[0]) {
		case "undo":
			r.spool = ""
			return r.settled(r.undo())
		case "help":
			fmt.Fprintln(r.app.stderr, r.help())
			return nil
		case "quit":
			r.over = true
			return nil
		}
	}
	if r.spool != "" {
		if _, err := inventory.ParseMass(words[0], nil); err == nil || isState(words[0]) {
			words = append([]string{r.spool}, words...)
		} else {
			r.refuse(fmt.Errorf("%s was left without a gross", r.spool))
		}
		r.spool = ""
	}
	if len(words) == 1 && r.scale == nil {
		return r.settled(r.name(words[0]))
	}
	return r.settled(r.pair(words))
}

// settled reports a bad line and goes on; trouble with the book or its disk ends the series.
func (r *series) settled(err error) error {
	var path *fs.PathError
	var number syscall.Errno
	if errors.Is(err, ledger.ErrLocked) || errors.Is(err, ledger.ErrNoBook) || errors.Is(err, ledger.ErrInDoubt) || errors.As(err, &path) || errors.As(err, &number) {
		return fmt.Errorf("line %d: %w", r.nth, err)
	}
	if err != nil {
		r.refuse(err)
	}
	return nil
}

func isState(word string) bool { return slices.Contains(states, strings.ToLower(word)) }

// name keeps a spool until its gross is typed.
func (r *series) name(id string) error {
	v, err := r.app.view()
	if err != nil {
		return err
	}
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return err
	}
	spool, err := shelf.Find(id)
	if err != nil {
		return err
	}
	r.spool = spool.ID
	if r.app.typed {
		fmt.Fprintf(r.app.stderr, "%s %s %s: gross?\n", spool.ID, spool.Material, spool.Colour)
	}
	return nil
}

// pair books SPOOL [GROSS] [STATE].
func (r *series) pair(words []string) error {
	on := recording.TypedReading{Spool: words[0]}
	state := ledger.Loaded
	rest := words[1:]
	if i := slices.IndexFunc(rest, isState); i >= 0 {
		state, rest = strings.ToLower(rest[i]), slices.Delete(slices.Clone(rest), i, i+1)
	}
	switch {
	case len(rest) > 1:
		return fmt.Errorf("%q is no pair; write SPOOL GROSS, and behind it %s if it is", strings.Join(words, " "), strings.Join(states[1:], ", "))
	case len(rest) == 1:
		on.Gross = rest[0]
		on = inOrder(on)
	case r.scale != nil:
		gross, err := r.scale.Next(scaleWait)
		if err != nil {
			return err
		}
		on.Gross = gross.Number + gross.Unit
	case state == ledger.Loaded || state == ledger.Dried:
		return fmt.Errorf("%s has no gross behind it", words[0])
	}
	at, err := r.at(r.app)
	if err != nil {
		return err
	}
	var rows []ledger.Weighin
	var booking recording.Booking
	var answer string
	err = r.app.update(r.writeFlags, func(v *ledger.View) (ledger.Batch, error) {
		var found []recording.Finding
		if rows, found, err = recording.Weigh(v, r.typed(at, state, []recording.TypedReading{on}), r.app.bench(), &r.kept); err != nil {
			return nil, err
		}
		answer = reports.WeighedShort(found[0].Spool, found[0].Reading, found[0].Needs)
		r.tell(v.Conflicts())
		booking = recording.Booking{Batch: ledger.NewBatch[ledger.Weighin](rows), Told: []string{answer}, Facts: []recording.Fact{{Finding: &found[0]}}}
		return booking.Batch, nil
	})
	if err != nil {
		return err
	}
	booked := bookedWeighin{entry: rows[0].Entry, what: strings.Join(words, " ")}
	if r.app.Format != "table" {
		booked.receipt = r.app.receipt(booking, r.DryRun)
	}
	r.booked = append(r.booked, booked)
	return r.say(answer)
}

// tell prints each conflict once.
func (r *series) tell(conflicts []*ledger.Conflict) {
	for _, c := range conflicts {
		if text := c.Error(); !r.told[text] {
			r.told[text] = true
			fmt.Fprintln(r.app.stderr, "tarebook: "+text)
		}
	}
}

// undo cancels the last pair of this series that is not cancelled yet.
func (r *series) undo() error {
	if len(r.booked) == 0 {
		return errors.New("nothing of this row is left to undo; see: tarebook void --help")
	}
	last := r.booked[len(r.booked)-1]
	at, err := (&recordFlags{}).at(r.app)
	if err != nil {
		return err
	}
	if !r.DryRun {
		err = r.app.update(r.writeFlags, func(*ledger.View) (ledger.Batch, error) {
			return ledger.NewBatch[ledger.Void]([]ledger.Void{{Head: ledger.Head{At: at}, Target: last.entry, Why: "undone at the scale"}}), nil
		})
	}
	if err != nil {
		return err
	}
	r.booked = r.booked[:len(r.booked)-1]
	r.undone++
	return r.say("cancelled: " + last.what)
}
