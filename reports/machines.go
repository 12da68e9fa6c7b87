package reports

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"

	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Machines is what the prints of a period would have wasted on each machine.
type Machines struct {
	From     *string      `json:"from"`     // first day that was reckoned with; null for the queue, and without a print
	To       *string      `json:"to"`       // last day that was reckoned with; null for the queue, and without a print
	Prints   int          `json:"prints"`   // how many prints there are, of the time or in the queue
	Counted  int          `json:"counted"`  // how many of them are known well enough to be reckoned
	Priced   int          `json:"priced"`   // how many of those have a price, in the settings' currency, for all their spools
	Machines []MachineRow `json:"machines"` // those owned and those that might be

	currency string
	by       []MachinePrint // print by print; nil where that is not wanted
	left     []planning.LeftPrint
	notes    []string
}

// MachineRow is one machine. Sums are exact and rounded once.
type MachineRow struct {
	Machine      string        `json:"machine" csv:"machine"`                   // a printer of printers.csv
	Owned        bool          `json:"owned" csv:"owned"`                       // false for a candidate, or one that is gone
	Takes        int           `json:"takes" csv:"takes"`                       // how many of the counted prints it takes
	PurgeG       Rounded       `json:"purge_g" csv:"purge_g"`                   // what those would have flushed on it
	PrimeG       Rounded       `json:"prime_g" csv:"prime_g"`                   // what those would have laid on the tower
	WasteCost    Money         `json:"waste_cost" csv:"waste_cost"`             // cost of purge_g and prime_g
	Cost         Money         `json:"cost" csv:"cost"`                         // the same with the machine's hours, where they count
	Currency     string        `json:"currency" csv:"currency"`                 // currency of the settings, ISO 4217
	ChangeS      Rounded       `json:"change_s" csv:"change_s"`                 // time that their changes would have taken
	TodayCost    Money         `json:"today_cost" csv:"today_cost"`             // cost of the same prints, each on its own machine
	TodayChangeS Rounded       `json:"today_change_s" csv:"today_change_s"`     // time of their changes there
	SavesCost    Money         `json:"saves_cost" csv:"saves_cost"`             // what it saves, over the prints that cost less on it
	SavesChangeS Rounded       `json:"saves_change_s" csv:"saves_change_s"`     // time that it saves over those; below 0 where they take longer
	SavesAMonth  Money         `json:"saves_a_month" csv:"saves_a_month"`       // saves_cost a month; null for the queue, and without a print
	Price        ledger.Number `json:"price" csv:"price"`                       // what the machine costs; null where printers.csv does not say
	PaysBack     *float64      `json:"pays_back_months" csv:"pays_back_months"` // how long until it has saved its price; null without a price or a saving

	seconds float64
}

// MachinePrint is one print on one machine.
type MachinePrint struct {
	Day     string   `csv:"day"`
	Job     string   `csv:"job"`
	Printed string   `csv:"printed_on"`
	Machine string   `csv:"machine"`
	Why     string   `csv:"why_not"`
	PurgeG  *Rounded `csv:"purge_g"` // these are nil where it does not take the print
	PrimeG  *Rounded `csv:"prime_g"`
	Cost    Money    `csv:"cost"`
	ChangeS *Rounded `csv:"change_s"`
}

// NewMachines returns the view of what was reckoned, with each print if that is wanted.
func NewMachines(m *planning.Machines, prints bool) Machines {
	out := Machines{From: orNull(m.From), To: orNull(m.To), Prints: m.Prints, Counted: len(m.Counted), Priced: m.Priced, Machines: []MachineRow{}, currency: m.Currency}
	for _, u := range m.Machines {
		out.Machines = append(out.Machines, machineUse(u, m.Currency))
	}
	if prints {
		out.by, out.left = []MachinePrint{}, m.Left
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
	purge, prime, change := rounded(use.Here.PurgeG), rounded(use.Here.PrimeG), rounded(use.Here.Seconds)
	row.PurgeG, row.PrimeG, row.ChangeS = &purge, &prime, &change
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
	if m.Counted == 0 {
		pages := Pages{{Notes: m.notes}}
		if len(m.left) > 0 {
			pages = append(pages, m.leftOut())
		}
		return pages
	}
	title := "The queue's prints on each machine"
	if m.From != nil && m.To != nil {
		title = fmt.Sprintf("The prints from %s to %s on each machine", *m.From, *m.To)
	}
	sheet := Sheet{Title: title, Columns: slices.Concat(texts("machine"), right("takes", "purge g", "prime g", "cost", "changes", "own machine", "saves", "a month", "pays back"), left("")),
		Spare: [][]string{{"purge g", "prime g"}, {"own machine"}, {"changes"}, {"a month"}}, Notes: m.notes}
	for _, r := range m.Machines {
		back := "-"
		if r.PaysBack != nil {
			back = strconv.FormatFloat(*r.PaysBack, 'f', 1, 64) + " months"
		}
		sheet.Rows = append(sheet.Rows, []string{r.name(), strconv.Itoa(r.Takes), r.PurgeG.StringFixed(1), r.PrimeG.StringFixed(1), r.Cost.String(), seconds(r.ChangeS.Rat()), r.TodayCost.String(),
			r.SavesCost.String(), r.SavesAMonth.String(), back, r.Cost.currency(r.Currency)})
	}
	pages := Pages{sheet}
	for _, b := range m.bars() {
		pages = append(pages, Sheet{Picture: b.plot})
	}
	if m.by != nil {
		pages = append(pages, m.printByPrint())
	}
	if len(m.left) > 0 {
		pages = append(pages, m.leftOut())
	}
	return pages
}

// name is the machine's, marked where the shop has not got it.
func (r *MachineRow) name() string {
	if r.Owned {
		return r.Machine
	}
	return r.Machine + "*"
}

// bars are what is wasted by machine, in money where a print has prices, else in grams, and the hours of its changes.
func (m Machines) bars() []bars {
	waste := bars{what: "waste of the prints that each machine takes", unit: "g"}
	hours := bars{what: "hours of changes of the prints that each machine takes", unit: "h", plain: true}
	for _, r := range m.Machines {
		prime, purge := r.PrimeG.InexactFloat64(), r.PurgeG.InexactFloat64()
		waste.rows = append(waste.rows, bar{r.name(), [...]float64{1: prime, 2: purge, 3: 0}, prime + purge, r.PurgeG.Add(r.PrimeG.Decimal).StringFixed(1)})
		hours.rows = append(hours.rows, bar{r.name(), [...]float64{2: r.seconds / 3600, 3: 0}, r.seconds / 3600, strconv.FormatFloat(r.seconds/3600, 'f', 2, 64)})
	}
	return []bars{waste.greatest(mostBars), hours.greatest(mostBars)}
}

// printByPrint shows what each print comes to on each machine.
func (m Machines) printByPrint() Sheet {
	sheet := Sheet{Title: "Print by print", Columns: slices.Concat(left("day"), texts("job", "printed on", "machine"), right("purge g", "prime g", "cost", "changes"), texts("why it does not take it")),
		Spare: [][]string{{"printed on"}, {"purge g", "prime g"}}}
	for _, p := range m.by {
		row := []string{dash(p.Day), p.Job, p.Printed, p.Machine}
		if p.PurgeG == nil {
			row = append(row, "-", "-", "-", "-", p.Why)
		} else {
			row = append(row, p.PurgeG.StringFixed(1), p.PrimeG.StringFixed(1), p.Cost.in(m.currency), seconds(p.ChangeS.Rat()), "")
		}
		sheet.Rows = append(sheet.Rows, row)
	}
	return sheet
}

// leftOut lists the prints that can't be counted.
func (m Machines) leftOut() Sheet {
	sheet := Sheet{Title: "Prints that cannot be counted", Columns: slices.Concat(left("day"), texts("job", "printed on", "why"))}
	for _, p := range m.left {
		sheet.Rows = append(sheet.Rows, []string{dash(p.Day), p.Job, dash(p.Printer), p.Why})
	}
	return sheet
}
