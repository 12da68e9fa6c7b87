package recording

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Define returns a row of a table. What the table has already as it was typed needs no row; where it has other content, the error shows
// the line to write with an editor.
func Define(v *ledger.View, kind, name string, values []ledger.Value) (b Booking, err error) {
	kind, name = strings.ToLower(kind), ledger.Trim(name)
	if kind == "client" {
		if err := dated(v, name, values); err != nil {
			return b, err
		}
	}
	if kind == "setting" && (strings.EqualFold(name, "scale") || strings.EqualFold(name, "printer")) {
		for i := range values {
			if values[i].Text, err = Known(v, strings.ToLower(name), ledger.Trim(values[i].Text)); err != nil {
				return b, err
			}
		}
	}
	b.Batch, err = v.Define(kind, name, values, inventory.Dotted)
	var stands *ledger.StandsError
	if errors.As(err, &stands) {
		if stands.New == "" {
			b.Told = []string{fmt.Sprintf("%s %s stands so in %s:%d already: %s", kind, stands.Name, stands.File, stands.Line, stands.Old)}
			return b, nil
		}
		return b, errors.New(strings.Join(editLine(v, kind, stands), "\n"))
	}
	if err != nil {
		return b, err
	}
	defined := ledger.Defined(b.Batch)
	if kind == "setting" && defined[1].Text == "" {
		return b, fmt.Errorf("setting %s has its default, as it is not in %s; write its value behind it to change that", defined[0].Text, ledger.SettingsFile)
	}
	var said []string
	for _, value := range defined[1:] {
		if value.Text != "" {
			said = append(said, value.Column+" "+value.Text)
		}
	}
	rest := "; its other columns are blank"
	if len(said) > 0 {
		rest = ": " + strings.Join(said, ", ")
	}
	b.Told = []string{kind + " " + defined[0].Text + " is defined" + rest}
	b.Facts = []Fact{{Name: defined[0].Text}}
	if kind == "printer" {
		b.Warnings = printerDoubts(defined)
	}
	return b, nil
}

// editLine says which line of a table to replace, and what follows from that.
func editLine(v *ledger.View, kind string, e *ledger.StandsError) []string {
	lines := []string{fmt.Sprintf("%s:%d: %s %s stands there already, and no command changes a table's row; with an editor, put the new line in place of the old:", e.File, e.Line, kind, e.Name),
		"  old: " + e.Old, "  new: " + e.New}
	if e.Adds != "" {
		lines = append(lines, "  and "+e.Adds+" at the end of line 1, the header")
	}
	typed := func(columns ...string) (words []string) {
		for _, value := range e.Changed {
			if slices.Contains(columns, value.Column) {
				words = append(words, value.Column+"="+shellWord(value.Text))
			}
		}
		return words
	}
	if tare := typed("tare_g", "tare_u_g"); kind == "core" && tare != nil {
		lines = append(lines, "if the tare was wrong, that mends it: every net on this core follows, those of past weigh-ins too",
			"if the core itself changed, as with another make, leave the line and name the new one: tarebook define core "+shellWord(otherCore(v, e.Name))+" "+strings.Join(tare, " "))
	}
	if rates := typed("waste_billed", "scrap_billed"); kind == "client" && rates != nil {
		lines = append(lines, "if the rates were wrong, that mends them, in past months too",
			"if they are new, give the day from which they hold: tarebook define client "+shellWord(e.Name)+" "+strings.Join(rates, " ")+" from=YYYY-MM-DD")
	}
	return lines
}

// otherCore returns a name like that of a core which no core has.
func otherCore(v *ledger.View, name string) string {
	cores, _ := v.Cores() // they were read already
	for n := 2; ; n++ {
		if other := fmt.Sprintf("%s-%d", name, n); ledger.Named(cores, other) == nil {
			return other
		}
	}
}

// dated refuses rates without a date for a client whose rates have dates: they would hold in the time before those alone.
func dated(v *ledger.View, name string, values []ledger.Value) error {
	if slices.ContainsFunc(values, func(value ledger.Value) bool { return value.Column == "from" && ledger.Trim(value.Text) != "" }) {
		return nil
	}
	rows, err := v.ClientRows()
	if err != nil {
		return err
	}
	var days []string
	for _, r := range rows {
		if ledger.Fold(r.Client) == ledger.Fold(name) {
			if r.From == "" {
				days = append(days, "the beginning")
			} else {
				days = append(days, r.From)
			}
		}
	}
	if len(days) == 0 || len(days) == 1 && days[0] == "the beginning" {
		return nil
	}
	slices.Sort(days)
	return fmt.Errorf("client %s has rates from %s on; say from which day these hold, as from=2027-01-01", name, inventory.List(days, "and"))
}

// printerFigures are those that a printer should not go without, as they are typed, and what their absence does.
var printerFigures = []struct{ column, typed, absent string }{
	{"purge_mm3", "purge=MM3", "plan takes a change of filament in a nozzle to flush nothing"},
	{"prime_mm3", "prime=MM3", "plan takes a change to lay nothing on the tower"},
	{"swap_s", "swap=SECONDS", "plan takes going to another nozzle to need no time"},
	{"load_s", "load=SECONDS", "plan takes bringing another filament to a nozzle to need no time"},
	{"tail_mm", "tail=MM", "check takes a spool to last to its very end, as if no filament stayed between spool and nozzle"},
}

// printerDoubts says which figures of a new printer are missing and what that does, and whether it flushes nothing though it should.
func printerDoubts(defined []ledger.Value) (doubts []string) {
	says := map[string]string{}
	for _, value := range defined {
		says[value.Column] = value.Text
	}
	name := says["printer"]
	var add []string
	for _, f := range printerFigures {
		if says[f.column] == "" {
			doubts, add = append(doubts, fmt.Sprintf("printer %s: %s is missing and counts as 0: %s", name, f.column, f.absent)), append(add, f.typed)
		}
	}
	purge, _ := ledger.ParseNumber(says["purge_mm3"]) // its row was read
	for feeds := range strings.SplitSeq(says["feeds"], "+") {
		if feeds = ledger.Trim(feeds); feeds != "1" && purge.Given && !purge.IsPositive() {
			doubts = append(doubts, fmt.Sprintf("printer %s: purge_mm3 is 0, though a nozzle has %s feeds and must be flushed when another filament comes", name, feeds))
			break
		}
	}
	if add != nil {
		doubts = append(doubts, fmt.Sprintf("the line to write with what is missing is shown by: tarebook define printer %s %s", shellWord(name), strings.Join(add, " ")))
	}
	return doubts
}
