package recording

import (
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Recorded is one command of the past, in a few words.
type Recorded struct {
	ledger.Command
	What      string
	Cancelled int // how many of its rows are cancelled
}

// Recent returns the last n commands, those cancelled too, the latest first.
func Recent(v *ledger.View, n int) ([]Recorded, error) {
	commands, err := v.LastCommands(n)
	if err != nil {
		return nil, err
	}
	targets := map[string]ledger.Row{}
	for _, c := range commands {
		for _, row := range c.Rows {
			if void, ok := row.(*ledger.Void); ok {
				targets[void.Target] = nil
			}
		}
	}
	if len(targets) > 0 {
		found, err := v.Lookup(func(h *ledger.Head) bool { _, ok := targets[h.ID]; return ok })
		if err != nil {
			return nil, err
		}
		for _, l := range found {
			targets[ledger.HeadOf(l.Row).ID] = l.Row
		}
	}
	recorded := make([]Recorded, 0, len(commands))
	for _, c := range commands {
		r := Recorded{Command: c, What: what(c.Rows, targets)}
		for _, row := range c.Rows {
			if v.Hidden(ledger.HeadOf(row).ID) {
				r.Cancelled++
			}
		}
		recorded = append(recorded, r)
	}
	return recorded, nil
}

// mostWhat is how many rows of one command are put into words.
const mostWhat = 4

// what says in a few words what a command recorded. targets are the rows that voids cancel.
func what(rows []ledger.Row, targets map[string]ledger.Row) string {
	var verbs, words []string
	for _, row := range rows[:min(len(rows), mostWhat)] {
		verb, object := brief(row, targets)
		if !slices.Contains(verbs, verb) {
			verbs = append(verbs, verb)
			words = append(words, verb)
		}
		words = append(words, object)
	}
	if more := len(rows) - mostWhat; more > 0 {
		words = append(words, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(words, " ")
}

// brief says a row as the verb and the object of the command that recorded it; rows with the same verb share it.
func brief(row ledger.Row, targets map[string]ledger.Row) (verb, object string) {
	switch r := row.(type) {
	case *ledger.Purchase:
		return "buy", r.Spool
	case *ledger.Weighin:
		words := []string{r.Spool}
		if r.GrossG.Given {
			words = append(words, r.GrossG.Grams.String())
		}
		if r.State != ledger.Loaded {
			words = append(words, r.State)
		}
		return "weigh", strings.Join(words, " ")
	case *ledger.Consumption:
		return strings.TrimSpace("consume " + r.Job), r.Spool + ":" + r.Total().String()
	case *ledger.Need:
		target := r.Spool
		if target == "" {
			target = r.Material + "/" + r.Colour
		}
		return strings.TrimSpace("queue add " + r.Job), r.Slot + "=" + target + ":" + r.Total().String()
	case *ledger.Move:
		return "move", r.Spool + " " + r.Place
	case *ledger.Bill:
		return "statement " + r.Client + " --issue", r.Bill
	case *ledger.SlicedFile:
		name, _, _, _ := inventory.FileReference(r.File)
		return "sliced file", name
	case *ledger.Void:
		target := targets[r.Target]
		if target == nil {
			return "void", r.Target
		}
		if _, nested := target.(*ledger.Void); nested {
			return "void", "of a void"
		}
		verb, object = brief(target, nil)
		return "void: " + verb, object
	}
	return "", ""
}
