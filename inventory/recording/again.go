package recording

import (
	"strings"

	"tarebook/ledger"
)

// again returns the command that records a row again, ready to mend.
func again(row ledger.Row) string {
	head := ledger.HeadOf(row)
	words := []string{"tarebook"}
	flag := func(name, value string) {
		if value != "" {
			words = append(words, "--"+name, shellWord(value))
		}
	}
	note := ""
	switch r := row.(type) {
	case *ledger.Purchase:
		words = append(words, "buy", r.Spool)
		price, _ := r.Price.MarshalCSV()
		for _, f := range [][2]string{{"material", r.Material}, {"colour", r.Colour}, {"net", r.NetG.String()}, {"diameter", r.DiameterMM.Decimal.String()},
			{"core", r.Core}, {"tare", massText(r.TareG)}, {"swatch", r.Swatch}, {"maker", r.Maker}, {"lot", r.Lot}, {"place", r.Place}, {"off", r.From},
			{"price", price}, {"currency", r.Currency}, {"supplier", r.Supplier}} {
			flag(f[0], f[1])
		}
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
		words = append(words, "consume", shellWord(r.Job), shellWord(r.Spool+":"+formatMasses(r.Masses)))
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
		words = append(words, "queue", "add", shellWord(r.Job), shellWord(r.Slot+"="+target+":"+formatMasses(r.Masses)))
		flag("client", r.Client)
		flag("printer", r.Printer)
		flag("due", r.Due.String())
		flag("basis", r.Basis)
		note = r.Note
	case *ledger.Move:
		words = append(words, "move", r.Spool, shellWord(r.Place))
		note = r.Note
	case *ledger.Void:
		words = append(words, "void", shellWord(r.Target))
		flag("why", r.Why)
	}
	flag("note", note)
	flag("at", head.At.String())
	return strings.Join(words, " ")
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
