package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/ledger"
)

type voidCmd struct {
	Entries []string `arg:"" optional:"" name:"entry"`
	Last    bool
	Why     string `group:"Recording"`
	At      string `group:"Recording"`
	writeFlags
}

func (c *voidCmd) Run(a *app) error {
	if c.Last == (len(c.Entries) > 0) {
		return errors.New("write the entries to cancel, or --last alone")
	}
	at, err := (&recordFlags{At: c.At}).at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		var found []ledger.Located
		var err error
		if c.Last {
			found, err = v.LastCommand()
		} else {
			found, err = c.named(v)
		}
		if err != nil {
			return nil, nil, err
		}
		if err := keepsBought(v, found); err != nil {
			return nil, nil, err
		}
		var voids []ledger.Void
		var lines []string
		for _, l := range found {
			voids = append(voids, ledger.Void{Head: ledger.Head{At: at}, Target: ledger.HeadOf(l.Row).Name(), Why: c.Why})
			lines = append(lines, fmt.Sprintf("cancelled %s:%d; record it again, mended, with:", l.File, ledger.HeadOf(l.Row).Line))
			lines = append(lines, "  "+again(l.Row))
		}
		return ledger.NewBatch[ledger.Void](voids), lines, nil
	})
}

// named finds the rows of the entries typed; an entry in conflict names no row, but can be cancelled too.
func (c *voidCmd) named(v *ledger.View) ([]ledger.Located, error) {
	wanted := map[string]bool{}
	for _, e := range c.Entries {
		wanted[strings.ToUpper(ledger.Trim(e))] = true
	}
	found, err := v.Lookup(func(h *ledger.Head) bool { return wanted[h.ID] })
	if err != nil {
		return nil, err
	}
	var errs []error
	for _, e := range c.Entries {
		id := strings.ToUpper(ledger.Trim(e))
		if v.Hidden(id) {
			errs = append(errs, fmt.Errorf("entry %s is cancelled already", e))
		} else if !slices.ContainsFunc(found, func(l ledger.Located) bool { return ledger.HeadOf(l.Row).ID == id }) {
			errs = append(errs, fmt.Errorf("no entry %q in this book; find it with: tarebook card SPOOL", e))
		}
	}
	seen := map[string]bool{}
	found = slices.DeleteFunc(found, func(l ledger.Located) bool {
		id := ledger.HeadOf(l.Row).ID
		twice := seen[id]
		seen[id] = true
		return twice
	})
	return found, errors.Join(errs...)
}

// keepsBought refuses to cancel the last purchase of a spool that other rows name.
func keepsBought(v *ledger.View, found []ledger.Located) error {
	live, err := v.Purchases()
	if err != nil {
		return err
	}
	going := map[string]bool{}
	spools := map[string]bool{}
	for _, l := range found {
		going[ledger.HeadOf(l.Row).ID] = true
		// A purchase in conflict does not count: cancelling it takes nothing away.
		if p, ok := l.Row.(*ledger.Purchase); ok && slices.Contains(live, p) && !p.Twice && !v.BoughtTwice(p) {
			spools[p.Spool] = true
		}
	}
	if len(spools) == 0 {
		return nil
	}
	used, err := v.Naming(spools, going)
	if err != nil {
		return err
	}
	var errs []error
	for _, l := range used {
		errs = append(errs, fmt.Errorf("%s:%d names %s, so its purchase cannot be cancelled; cancel that row first", l.File, ledger.HeadOf(l.Row).Line, l.Spool))
	}
	if len(errs) > 5 {
		errs = append(errs[:5], fmt.Errorf("and %d rows more", len(used)-5))
	}
	return errors.Join(errs...)
}

// again is the command that records a row again, ready to mend.
func again(row ledger.Row) string {
	h := ledger.HeadOf(row)
	words := []string{"tarebook"}
	flag := func(name, value string) {
		if value != "" {
			words = append(words, "--"+name, shell(value))
		}
	}
	masses := func(part, support, prime, purge ledger.Grams, changes ledger.Count) string {
		m := []string{"part=" + part.String()}
		for _, k := range []struct {
			name string
			g    ledger.Grams
		}{{"support", support}, {"prime", prime}, {"purge", purge}} {
			if k.g != 0 {
				m = append(m, k.name+"="+k.g.String())
			}
		}
		if changes.Given {
			m = append(m, fmt.Sprintf("changes=%d", changes.N))
		}
		return strings.Join(m, ",")
	}
	note := ""
	switch r := row.(type) {
	case *ledger.Purchase:
		words = append(words, "buy", r.Spool)
		flag("material", r.Material)
		flag("colour", r.Colour)
		flag("net", r.NetG.String())
		flag("diameter", r.DiameterMM.Decimal.String())
		flag("core", r.Core)
		if r.TareG.Given {
			flag("tare", r.TareG.Grams.String())
		}
		flag("swatch", r.Swatch)
		flag("maker", r.Maker)
		flag("lot", r.Lot)
		flag("place", r.Place)
		flag("off", r.From)
		if price, _ := r.Price.MarshalCSV(); r.Price.Given {
			flag("price", price)
		}
		flag("currency", r.Currency)
		flag("supplier", r.Supplier)
		note = r.Note
	case *ledger.Weighin:
		words = append(words, "weigh", r.Spool)
		if r.GrossG.Given {
			words = append(words, r.GrossG.Grams.String())
		}
		if r.State != ledger.Loaded {
			words = append(words, "--"+r.State)
		}
		flag("scale", r.Scale)
		note = r.Note
	case *ledger.Consumption:
		words = append(words, "consume", shell(r.Job), shell(r.Spool+":"+masses(r.PartG, r.SupportG, r.PrimeG, r.PurgeG, r.Changes)))
		flag("client", r.Client)
		flag("printer", r.Printer)
		if r.Outcome == ledger.Failed {
			words = append(words, "--failed")
		}
		flag("basis", r.Basis)
		note = r.Note
	case *ledger.Need:
		target := r.Spool
		if target == "" {
			target = r.Material + "/" + r.Colour
		}
		words = append(words, "queue", "add", shell(r.Job), shell(r.Slot+"="+target+":"+masses(r.PartG, r.SupportG, r.PrimeG, r.PurgeG, r.Changes)))
		flag("client", r.Client)
		flag("printer", r.Printer)
		flag("due", r.Due.String())
		flag("basis", r.Basis)
		note = r.Note
	case *ledger.Move:
		words = append(words, "move", r.Spool, shell(r.Place))
		note = r.Note
	case *ledger.Void:
		words = append(words, "void", r.Target)
		flag("why", r.Why)
	}
	flag("note", note)
	flag("at", h.At.String())
	return strings.Join(words, " ")
}

// shell quotes a word for a POSIX shell where it needs it.
func shell(word string) string {
	if word != "" && strings.IndexFunc(word, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./:=,+@%", r))
	}) < 0 {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
