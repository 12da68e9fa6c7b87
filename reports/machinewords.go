package reports

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/big"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

// machineWords says which machine suits these prints best, how sure that is, and what the figures mean.
func machineWords(m *planning.Machines) []string {
	w := machineText{m: m, queue: m.From == ""}
	if len(m.Counted) == 0 {
		w.none()
		return w.notes
	}
	if slices.ContainsFunc(m.Machines, func(u *planning.MachineUse) bool { return !u.Printer.IsOwned() }) {
		w.add("* the shop has it not.")
	}
	w.best()
	for i, u := range m.Machines {
		if !u.Printer.IsOwned() {
			w.candidate(i)
		}
	}
	w.counted()
	for i, u := range m.Machines {
		if u.OwnPrints > 0 && !w.queue {
			w.add("%s", bookedAgainst(u))
		}
		if why := whyNot(m, i); why != "" {
			w.add("%s takes %d of %d: %s", u.Printer.Printer, u.Takes, len(m.Counted), why)
		}
	}
	w.meaning()
	return w.notes
}

// machineText gathers the sentences.
type machineText struct {
	m     *planning.Machines
	queue bool
	notes []string
}

func (w *machineText) add(format string, args ...any) {
	w.notes = append(w.notes, fmt.Sprintf(format, args...))
}

func (w *machineText) money(amount *big.Rat) string {
	decimals, _ := ledger.MinorUnit(w.m.Currency)
	return money(cost.RoundHalfUp(amount, decimals), w.m.Currency).in(w.m.Currency)
}

// none says why nothing is reckoned.
func (w *machineText) none() {
	switch {
	case w.m.Prints > 0:
		w.add("None of %s can be counted%s.", inventory.Plural(w.m.Prints, "print", "prints"), w.leftWords())
		w.lacking()
	case w.queue:
		w.add("There is no job in the queue.")
	default:
		w.add("There is no finished print in this time.")
	}
}

// best names the best of the shop's own machines, by what it would have saved, then by time.
func (w *machineText) best() {
	var best *planning.MachineUse
	owned := 0
	for _, u := range w.m.Machines {
		if !u.Printer.IsOwned() {
			continue
		}
		owned++
		if u.SavesCost.Sign() > 0 && (best == nil || cmp.Or(u.SavesCost.Cmp(best.SavesCost), u.SavesSeconds.Cmp(best.SavesSeconds)) > 0) {
			best = u
		}
	}
	switch {
	case w.m.Priced == 0:
		w.add("No print has the prices of all its spools, so nothing can be said of money.")
	case best != nil:
		w.add("%s suits these prints best of the shop's machines: it takes %d of %d, and those that cost less on it than on their own %s %s and %s of changes.", best.Printer.Printer, best.Takes, len(w.m.Counted), w.would(), w.money(best.SavesCost), moreOrLess(best.SavesSeconds))
	case owned > 1:
		w.add("None of the shop's machines makes any of these prints for less than its own.")
	}
}

// candidate says what a machine that the shop has not got would save.
func (w *machineText) candidate(i int) {
	u := w.m.Machines[i]
	start := fmt.Sprintf("%s, which the shop has not, takes %d of %d", u.Printer.Printer, u.Takes, len(w.m.Counted))
	switch {
	case u.Takes == 0 || w.m.Priced == 0:
		return
	case u.SavesCost.Sign() == 0:
		w.add("%s, and on each of them a machine of the shop costs as little or less: it never pays for itself.", start)
		return
	}
	start += fmt.Sprintf(", and %s %s against the cheapest machine of the shop", w.would(), w.money(u.SavesCost))
	if !w.queue {
		start += fmt.Sprintf(", %s a month", w.money(u.Month))
	}
	if !math.IsNaN(u.PaysBack) {
		start += ": it pays for itself " + months(u.PaysBack)
	}
	w.add("%s.", start)
}

func (w *machineText) would() string {
	if w.queue {
		return "would save"
	}
	return "would have saved"
}

// months says when a machine has paid for itself. Few are used for longer than thirty years.
func months(n float64) string {
	switch n = math.Ceil(n); {
	case n > 360:
		return "in more than thirty years"
	case n <= 1:
		return "within a month"
	}
	return fmt.Sprintf("in %.0f months", n)
}

// counted says how many prints the figures stand on.
func (w *machineText) counted() {
	of := fmt.Sprintf("%d of %s", len(w.m.Counted), inventory.Plural(w.m.Prints, "print", "prints"))
	if !w.queue {
		of += fmt.Sprintf(" in %s", inventory.Plural(w.m.Days, "day", "days"))
	}
	w.add("%s could be counted, %d with prices%s.", of, w.m.Priced, w.leftWords())
	w.lacking()
	if w.m.Unboxed > 0 {
		w.add("Of %s %s knows no boxes, so it was not looked at whether the nozzles reach them.", inventory.Plural(w.m.Unboxed, "print", "prints"), ledger.SlicedFiles)
	}
}

// leftWords counts the prints that can't be counted by their reasons; blank for none.
func (w *machineText) leftWords() string {
	times := map[planning.LeftReason]int{}
	for _, p := range w.m.Left {
		times[p.Reason]++
	}
	var parts []string
	for _, reason := range slices.Sorted(maps.Keys(times)) {
		parts = append(parts, fmt.Sprintf("%d %s", times[reason], leftReasons[reason]))
	}
	if len(parts) == 0 {
		return ""
	}
	return "; left out: " + strings.Join(parts, ", ") + " (tarebook machines --prints names each)"
}

var leftReasons = [...]string{planning.NoFile: "without a sliced file", planning.FileUnknown: "with a file that " + ledger.SlicedFiles + " does not have",
	planning.NoPrinter: "without a known printer", planning.NoSlot: "with a row that has no slot", planning.NoSpool: "without one spool for each tool",
	planning.NotTaken: "that their own machine does not take by the book's tables"}

// lacking says how the ledger comes to keep what prints are counted by.
func (w *machineText) lacking() {
	if len(w.m.Lacking) > 0 && len(w.m.Left) > 0 {
		w.add("%s", recording.CannotKeep(w.m.Lacking))
	}
}

// meaning explains the columns, and says where the cost of hours counts.
func (w *machineText) meaning() {
	w.add("own machine: the same prints where each was printed, assigned as well as can be; saves: over the prints that cost less here than there, for a machine that the shop has not than on the cheapest of the shop.")
	if !w.queue {
		w.add("a month: what is saved, by the days of the time and 30.4 days a month.")
	}
	var with, without []string
	for _, u := range w.m.Machines {
		if u.Printer.HourCost.Given {
			with = append(with, u.Printer.Printer)
		} else {
			without = append(without, u.Printer.Printer)
		}
	}
	if len(with) > 0 && len(without) > 0 {
		w.add("The cost of hours is in the cost only where every machine of the shop and the machine itself have an hour_cost in %s; %s lacks it.", ledger.Printers, inventory.List(without, "and"))
	}
}

func moreOrLess(s *big.Rat) string {
	if s.Sign() < 0 {
		return "cost " + seconds(new(big.Rat).Neg(s)) + " more"
	}
	return seconds(s)
}

// bookedAgainst compares the purge that was booked for a machine's own prints with what was reckoned for them.
func bookedAgainst(u *planning.MachineUse) string {
	booked, own := u.BookedPurge.FloatString(1), u.OwnPurge.FloatString(1)
	s := fmt.Sprintf("%s: of %s the book has %s g of purge, and %s g were reckoned", u.Printer.Printer, inventory.Plural(u.OwnPrints, "print", "prints"), booked, own)
	switch off := new(big.Rat).Sub(u.OwnPurge, u.BookedPurge); {
	case booked == own:
		return s + "."
	case u.BookedPurge.Sign() == 0:
		return s + fmt.Sprintf(": %s may flush less than %s says, or purge was not booked.", u.Printer.Printer, ledger.Printers)
	case u.OwnPurge.Sign() == 0:
		return s + fmt.Sprintf(": the spools may have stood otherwise than reckoned, or %s flushes where %s says that nothing is.", u.Printer.Printer, ledger.Printers)
	default:
		share, _ := off.Quo(off, u.BookedPurge).Float64()
		switch percent := 100 * share; {
		case math.Abs(percent) < 5:
			return s + ", which is within 5 %."
		case percent < 0:
			return s + fmt.Sprintf(", %.0f %% less: %s may flush more than %s says, or the spools stood otherwise than reckoned.", -percent, u.Printer.Printer, ledger.Printers)
		default:
			return s + fmt.Sprintf(", %.0f %% more: %s may flush less than %s says.", percent, u.Printer.Printer, ledger.Printers)
		}
	}
}

// whyNot is the reason for which a machine does not take most of the prints that it does not take, and how often it stands; blank for none.
func whyNot(m *planning.Machines, machine int) string {
	times := map[string]int{}
	for _, c := range m.Counted {
		if use := c.Uses[machine]; use.Here == nil {
			times[use.Why]++
		}
	}
	whys := slices.SortedFunc(maps.Keys(times), func(a, b string) int { return cmp.Or(times[b]-times[a], strings.Compare(a, b)) })
	if len(whys) == 0 {
		return ""
	}
	s := fmt.Sprintf("%s (%s)", whys[0], inventory.Plural(times[whys[0]], "print", "prints"))
	if len(whys) > 1 {
		s += ", and others for other reasons, which tarebook machines --prints tells"
	}
	return s
}
