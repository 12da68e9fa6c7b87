package reports

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Machines is what the prints of a period would have wasted on each machine.
type Machines struct {
	From     *string      `json:"from"`
	To       *string      `json:"to"`
	Prints   int          `json:"prints"`
	Counted  int          `json:"counted"`
	Priced   int          `json:"priced"`
	Machines []MachineRow `json:"machines"`

	currency string
	by       []MachinePrint // print by print, where that is wanted
	notes    []string
}

// MachineRow is one machine. Sums are exact and rounded once.
type MachineRow struct {
	Machine      string        `json:"machine" csv:"machine"`
	Owned        bool          `json:"owned" csv:"owned"`
	Takes        int           `json:"takes" csv:"takes"`
	PurgeG       Rounded       `json:"purge_g" csv:"purge_g"`
	PrimeG       Rounded       `json:"prime_g" csv:"prime_g"`
	WasteCost    Money         `json:"waste_cost" csv:"waste_cost"` // of purge and prime
	Cost         Money         `json:"cost" csv:"cost"`             // with the machine's hours, where they count
	Currency     string        `json:"currency" csv:"currency"`
	ChangeS      Rounded       `json:"change_s" csv:"change_s"`
	TodayCost    Money         `json:"today_cost" csv:"today_cost"` // of the prints that it takes, each on its own machine
	TodayChangeS Rounded       `json:"today_change_s" csv:"today_change_s"`
	SavesCost    Money         `json:"saves_cost" csv:"saves_cost"` // over the prints that cost less on it
	SavesChangeS Rounded       `json:"saves_change_s" csv:"saves_change_s"`
	SavesAMonth  Money         `json:"saves_a_month" csv:"saves_a_month"`
	Price        ledger.Number `json:"price" csv:"price"`
	PaysBack     *float64      `json:"pays_back_months" csv:"pays_back_months"`

	seconds float64
}

// MachinePrint is one print on one machine.
type MachinePrint struct {
	Day     string  `csv:"day"`
	Job     string  `csv:"job"`
	Printed string  `csv:"printed_on"`
	Machine string  `csv:"machine"`
	Why     string  `csv:"why_not"`
	PurgeG  Rounded `csv:"purge_g"`
	PrimeG  Rounded `csv:"prime_g"`
	Cost    Money   `csv:"cost"`
	ChangeS Rounded `csv:"change_s"`

	takes bool
}

// NewMachines returns the view of what was reckoned, with each print if that is wanted.
func NewMachines(m *planning.Machines, prints bool) Machines {
	out := Machines{From: orNull(m.From), To: orNull(m.To), Prints: m.Prints, Counted: len(m.Counted), Priced: m.Priced, Machines: []MachineRow{}, currency: m.Currency}
	for _, u := range m.Machines {
		out.Machines = append(out.Machines, machineUse(u, m.Currency))
	}
	if prints {
		for _, c := range m.Counted {
			for i, use := range c.Uses {
				out.by = append(out.by, machinePrint(c, &use, m.Machines[i].Printer, m.Currency))
			}
		}
	}
	out.notes = machineWords(m)
	return out
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func machineUse(u *planning.MachineUse, currency string) MachineRow {
	decimals, _ := ledger.MinorUnit(currency)
	in := func(amount *big.Rat) Money { return money(cost.RoundHalfUp(amount, decimals), currency) }
	row := MachineRow{Machine: u.Printer.Printer, Owned: u.Printer.IsOwned(), Takes: u.Takes, PurgeG: rounded(u.PurgeG), PrimeG: rounded(u.PrimeG), WasteCost: in(u.WasteCost),
		Cost: in(u.Cost), Currency: currency, ChangeS: rounded(u.Seconds), TodayCost: in(u.TodayCost), TodayChangeS: rounded(u.TodaySeconds), SavesCost: in(u.SavesCost),
		SavesChangeS: signed(u.SavesSeconds), Price: u.Printer.Price}
	row.seconds, _ = u.Seconds.Float64()
	if u.Month != nil {
		row.SavesAMonth = in(u.Month)
	}
	if !math.IsNaN(u.PaysBack) {
		row.PaysBack = number(u.PaysBack)
	}
	return row
}

func rounded(amount *big.Rat) Rounded { return Rounded{cost.RoundHalfUp(amount, 3)} }

// signed rounds an amount of either sign, half away from 0.
func signed(amount *big.Rat) Rounded {
	if amount.Sign() < 0 {
		return Rounded{cost.RoundHalfUp(new(big.Rat).Neg(amount), 3).Neg()}
	}
	return rounded(amount)
}

func machinePrint(c *planning.CountedPrint, use *planning.PrintUse, printer *ledger.Printer, currency string) MachinePrint {
	row := MachinePrint{Day: c.Day, Job: c.Job, Printed: c.Own.Printer, Machine: printer.Printer, Why: use.Why}
	if use.Here == nil {
		return row
	}
	row.takes, row.PurgeG, row.PrimeG, row.ChangeS = true, rounded(use.Here.PurgeG), rounded(use.Here.PrimeG), rounded(use.Here.Seconds)
	if c.Priced {
		decimals, _ := ledger.MinorUnit(currency)
		row.Cost = money(cost.RoundHalfUp(use.Here.Cost, decimals), currency)
	}
	return row
}

// JSON returns the value of the contract.
func (m Machines) JSON() any { return m }

// CSV returns the machines, or each print on each of them.
func (m Machines) CSV() any {
	if m.by != nil {
		return m.by
	}
	return m.Machines
}

// Sheets returns the machines, pictures of waste and hours, and each print if that is wanted.
func (m Machines) Sheets() Pages {
	title := "The queue's prints on each machine"
	if m.From != nil && m.To != nil {
		title = fmt.Sprintf("The prints from %s to %s on each machine", *m.From, *m.To)
	}
	sheet := Sheet{Title: title, Columns: slices.Concat(texts("machine"), right("takes", "purge g", "prime g", "cost", "changes", "now", "saves", "a month", "pays back"), left("")),
		Spare: [][]string{{"purge g", "prime g"}, {"now"}, {"changes"}, {"a month"}}, Notes: m.notes}
	candidates := false
	for _, r := range m.Machines {
		name := r.Machine
		if !r.Owned {
			name += "*"
			candidates = true
		}
		back := "-"
		if r.PaysBack != nil {
			back = strconv.FormatFloat(*r.PaysBack, 'f', 1, 64) + " months"
		}
		sheet.Rows = append(sheet.Rows, []string{name, strconv.Itoa(r.Takes), r.PurgeG.StringFixed(1), r.PrimeG.StringFixed(1), r.Cost.String(), seconds(r.ChangeS.Rat()), r.TodayCost.String(),
			r.SavesCost.String(), r.SavesAMonth.String(), back, r.Cost.currency(r.Currency)})
	}
	if candidates {
		sheet.Notes = slices.Concat([]string{"* the shop has it not"}, sheet.Notes)
	}
	pages := Pages{sheet}
	for _, b := range m.bars() {
		pages = append(pages, Sheet{Picture: b.plot})
	}
	if m.by != nil {
		pages = append(pages, m.printByPrint())
	}
	return pages
}

// bars are what is wasted by machine, in money where a print has prices, else in grams, and the hours of its changes.
func (m Machines) bars() []bars {
	waste := bars{what: "waste of the prints that each machine takes", unit: "g"}
	hours := bars{what: "hours of changes of the prints that each machine takes", unit: "h", plain: true}
	for _, r := range m.Machines {
		prime, purge := r.PrimeG.InexactFloat64(), r.PurgeG.InexactFloat64()
		waste.rows = append(waste.rows, bar{r.Machine, [...]float64{1: prime, 2: purge, 3: 0}, prime + purge, r.PurgeG.Add(r.PrimeG.Decimal).StringFixed(1)})
		hours.rows = append(hours.rows, bar{r.Machine, [...]float64{2: r.seconds / 3600, 3: 0}, r.seconds / 3600, strconv.FormatFloat(r.seconds/3600, 'f', 2, 64)})
	}
	return []bars{waste.greatest(mostBars), hours.greatest(mostBars)}
}

// printByPrint shows what each print costs on each machine, grams of waste where it has no price.
func (m Machines) printByPrint() Sheet {
	sheet := Sheet{Title: "Print by print: cost on each machine, or grams of waste; - where it does not take it", Columns: slices.Concat(left("day"), texts("job", "printed on")), Spare: [][]string{{"printed on"}}}
	for _, r := range m.Machines {
		sheet.Columns = append(sheet.Columns, Column{Name: r.Machine, Right: true, Named: true})
	}
	for i := 0; i < len(m.by); i += len(m.Machines) {
		first := m.by[i]
		row := []string{dash(first.Day), first.Job, first.Printed}
		for _, p := range m.by[i : i+len(m.Machines)] {
			switch {
			case !p.takes:
				row = append(row, "-")
			case p.Cost.given:
				row = append(row, p.Cost.in(m.currency))
			default:
				row = append(row, decimal.Sum(p.PurgeG.Decimal, p.PrimeG.Decimal).StringFixed(1)+" g")
			}
		}
		sheet.Rows = append(sheet.Rows, row)
	}
	return sheet
}

// machineWords says which machine suits these prints best and how sure that is.
func machineWords(m *planning.Machines) (notes []string) {
	add := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if len(m.Counted) == 0 {
		if m.Prints == 0 {
			add("There is no finished print in this time.")
			return notes
		}
		add("None of %s can be counted: that takes slot and file on every row, as consume --from books them, and the file in %s.", inventory.Plural(m.Prints, "print", "prints"), ledger.SlicedFiles)
		return notes
	}
	decimals, _ := ledger.MinorUnit(m.Currency)
	in := func(amount *big.Rat) string {
		return money(cost.RoundHalfUp(amount, decimals), m.Currency).in(m.Currency)
	}
	var best *planning.MachineUse
	for _, u := range m.Machines {
		if u.SavesCost.Sign() > 0 && (best == nil || u.SavesCost.Cmp(best.SavesCost) > 0) {
			best = u
		}
	}
	switch {
	case best == nil && m.Priced == 0:
		add("No print has the prices of all its spools, so nothing can be said of money.")
	case best == nil:
		add("No machine would have cost less than how the prints went.")
	case best.Printer.IsOwned():
		add("%s suits these prints best: it takes %d of %d, and those that cost less on it would have saved %s and %s of changes.", best.Printer.Printer, best.Takes, len(m.Counted), in(best.SavesCost), moreOrLess(best.SavesSeconds))
	default:
		add("%s, which the shop has not, would suit these prints best: it takes %d of %d, and would have saved %s against the cheapest machine of the shop%s.", best.Printer.Printer, best.Takes, len(m.Counted), in(best.SavesCost), payback(best, in))
	}
	add("%d of %s could be counted, %d with prices; the others lack slot or file, a known printer, or a file in %s.", len(m.Counted), inventory.Plural(m.Prints, "print", "prints"), m.Priced, ledger.SlicedFiles)
	for i, u := range m.Machines {
		if u.OwnPrints > 0 {
			add("%s", bookedAgainst(u))
		}
		if why := whyNot(m, i); why != "" {
			add("%s takes %d of %d: %s", u.Printer.Printer, u.Takes, len(m.Counted), why)
		}
	}
	return notes
}

func moreOrLess(s *big.Rat) string {
	if s.Sign() < 0 {
		return "cost " + seconds(new(big.Rat).Neg(s)) + " more"
	}
	return seconds(s)
}

func payback(u *planning.MachineUse, in func(*big.Rat) string) string {
	if u.Month == nil || math.IsNaN(u.PaysBack) {
		return ""
	}
	return fmt.Sprintf(", %s a month, so that it pays for itself in %.0f months", in(u.Month), math.Ceil(u.PaysBack))
}

// bookedAgainst compares the purge that was booked for a machine's own prints with what was reckoned for them.
func bookedAgainst(u *planning.MachineUse) string {
	booked, own := u.BookedPurge.FloatString(1), u.OwnPurge.FloatString(1)
	s := fmt.Sprintf("%s: of %s the book has %s g of purge, and %s g were reckoned", u.Printer.Printer, inventory.Plural(u.OwnPrints, "print", "prints"), booked, own)
	if u.BookedPurge.Sign() == 0 || u.OwnPurge.Sign() == 0 {
		return s + "."
	}
	off, _ := new(big.Rat).Quo(u.OwnPurge, u.BookedPurge).Float64()
	switch off = 100 * (off - 1); {
	case math.Abs(off) < 5:
		return s + ", which is within 5 %."
	case off < 0:
		return s + fmt.Sprintf(", %.0f %% less: %s may flush more than %s says.", -off, u.Printer.Printer, ledger.Printers)
	}
	return s + fmt.Sprintf(", %.0f %% more: %s may flush less than %s says.", off, u.Printer.Printer, ledger.Printers)
}

// whyNot is the reason for which a machine does not take most of the prints that it does not take, and how often it stands; blank for none.
func whyNot(m *planning.Machines, machine int) string {
	times := map[string]int{}
	for _, c := range m.Counted {
		if use := c.Uses[machine]; use.Here == nil {
			times[use.Why]++
		}
	}
	var whys []string
	for why := range times {
		whys = append(whys, why)
	}
	slices.SortFunc(whys, func(a, b string) int {
		if times[a] != times[b] {
			return times[b] - times[a]
		}
		return strings.Compare(a, b)
	})
	if len(whys) == 0 {
		return ""
	}
	s := fmt.Sprintf("%s (%s)", whys[0], inventory.Plural(times[whys[0]], "print", "prints"))
	if len(whys) > 1 {
		s += ", and others for other reasons; see --prints"
	}
	return s
}
