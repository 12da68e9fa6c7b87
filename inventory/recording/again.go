package recording

import (
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// again returns the command that records a row again, ready to mend: flags first, so that the figure that is most often wrong
// stands at the end of the line.
func again(row ledger.Row) string {
	head := ledger.HeadOf(row)
	var verb, object, flags []string
	flag := func(name, value string) {
		if value != "" {
			flags = append(flags, "--"+name, shellWord(value))
		}
	}
	flag("at", head.At.String())
	switch r := row.(type) {
	case *ledger.Purchase:
		verb, object = []string{"buy"}, []string{r.Spool}
		price, _ := r.Price.MarshalCSV()
		net := [][2]string{{"net", r.NetG.String()}}
		note := r.Note
		if r.GrossG.Given {
			flags = append(flags, "--opened")
			var label string
			label, price, note = openedBy(r, price)
			net = [][2]string{{"gross", r.GrossG.Grams.String()}, {"label", label}, {"scale", r.Scale}}
		}
		for _, f := range slices.Concat([][2]string{{"material", r.Material}, {"colour", r.Colour}}, net, [][2]string{{"diameter", r.DiameterMM.Decimal.String()},
			{"core", r.Core}, {"tare", massText(r.TareG)}, {"swatch", r.Swatch}, {"maker", r.Maker}, {"lot", r.Lot}, {"place", r.Place}, {"off", r.From},
			{"price", price}, {"currency", r.Currency}, {"supplier", r.Supplier}, {"note", note}}) {
			flag(f[0], f[1])
		}
	case *ledger.Weighin:
		verb, object = []string{"weigh"}, []string{r.Spool}
		if r.GrossG.Given {
			object = append(object, r.GrossG.Grams.String())
		}
		if r.State != ledger.Loaded {
			flags = append(flags, "--"+r.State)
		}
		flag("scale", r.Scale)
		flag("note", r.Note)
	case *ledger.Consumption:
		verb, object = []string{"consume"}, []string{shellWord(r.Job), shellWord(slotted(r.Slot, r.Spool) + ":" + formatMasses(r.Masses))}
		flag("client", r.Client)
		flag("printer", r.Printer)
		if r.Outcome == ledger.Failed {
			flags = append(flags, "--failed")
		}
		flag("basis", r.Basis)
		flag("file", r.File)
		flag("note", r.Note)
	case *ledger.Need:
		target := r.Spool
		if target == "" {
			target = r.Material + "/" + r.Colour
		}
		verb, object = []string{"queue", "add"}, []string{shellWord(r.Job), shellWord(r.Slot + "=" + target + ":" + formatMasses(r.Masses))}
		flag("client", r.Client)
		flag("printer", r.Printer)
		flag("due", r.Due.String())
		flag("basis", r.Basis)
		flag("file", r.File)
		flag("note", r.Note)
	case *ledger.Move:
		verb, object = []string{"move"}, []string{r.Spool, shellWord(r.Place)}
		flag("note", r.Note)
	case *ledger.Bill: // with the next number: one that was sent is never used again
		verb, object = []string{"statement"}, []string{shellWord(r.Client), "--issue"}
		flag("from", r.From)
		flag("to", r.To)
		flag("note", r.Note)
	case *ledger.SlicedFile:
		name, _, _, _ := inventory.FileReference(r.File)
		verb, object = []string{"queue", "add"}, []string{"JOB"}
		flag("from", name)
	case *ledger.Void:
		verb, object = []string{"void", "--only"}, []string{shellWord(r.Target)}
		flag("why", r.Why)
	}
	return strings.Join(slices.Concat([]string{"tarebook"}, verb, flags, object), " ")
}

// slotted is a spool behind its slot, where one is known.
func slotted(slot, spool string) string {
	if slot == "" {
		return spool
	}
	return slot + "=" + spool
}

// massText writes a mass as its column does: blank when it is not known.
func massText(m ledger.Mass) string {
	text, _ := m.MarshalCSV() // has no error
	return text
}

// shellWord quotes a word for a POSIX shell where it needs it.
func shellWord(word string) string {
	if word != "" && strings.IndexFunc(word, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./:=,+@%", r))
	}) < 0 {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
