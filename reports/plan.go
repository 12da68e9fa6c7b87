package reports

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/assign"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Plan is a print on each printer, the best first.
type Plan struct {
	Printers []PlanPrinter `json:"printers"` // the best first
	Best     *string       `json:"best"`     // the best printer; null where none can do it
	Tried    int           `json:"tried"`    // how many choices of spools were tried beside the first

	slots     []string // their names
	filaments []string // of each slot, material and colour
	notes     []string // on what could not be found, and what was tried
}

// PlanPrinter is the best that one printer can do with the print.
type PlanPrinter struct {
	Printer    string     `json:"printer" csv:"printer"`
	Feasible   bool       `json:"feasible" csv:"feasible"`     // whether it can do the print
	Why        string     `json:"why" csv:"why"`               // what makes it the best, or worse than the best, or what is in the way
	Assignment []PlanSlot `json:"assignment" csv:"-"`          // a nozzle for each slot; none where it is not feasible
	Loads      int        `json:"loads" csv:"loads"`           // how many changes bring another filament to a nozzle
	Swaps      int        `json:"swaps" csv:"swaps"`           // how many changes go from one nozzle to another
	PurgeG     Rounded    `json:"purge_g" csv:"purge_g"`       // what is flushed
	PrimeG     Rounded    `json:"prime_g" csv:"prime_g"`       // what is laid on the tower
	WasteCost  Money      `json:"waste_cost" csv:"waste_cost"` // cost of purge_g and prime_g; null where it is not feasible, a price is missing or currencies differ
	Currency   string     `json:"currency" csv:"currency"`     // currency of its money, ISO 4217
	ChangeS    Rounded    `json:"change_s" csv:"change_s"`     // time of all changes
	Short      IDs        `json:"short" csv:"short"`           // spools that would run short; of a slot without one its material and colour
	Shift      *PlanShift `json:"shift" csv:"-"`               // shift of the whole print on the plate; null when not feasible

	TimeCost Money    `json:"time_cost" csv:"time_cost"` // cost of the time of changes; null where the cost of an hour is not weighed
	TotalS   *Rounded `json:"total_s" csv:"total_s"`     // time of the whole print; null without --base-time
	Proven   bool     `json:"proven" csv:"proven"`       // whether it is proven that no assignment on this printer is better
	Learned  *Learned `json:"learned,omitempty" csv:"-"` // what its own rows say of a change; left out where they do not differ from its table

	change  *big.Rat // seconds of all changes, exactly
	steps   []assign.Step
	nozzles int
	reach   string // what is to be said of where the nozzles reach
}

// PlanShift is how far a print is moved on the plate, in mm.
type PlanShift struct {
	XMM float64 `json:"x_mm"` // to the right, below 0 to the left
	YMM float64 `json:"y_mm"` // to the back, below 0 to the front
}

// PlanSlot is a slot on its nozzle, counted from 1, and what it takes of its spool there.
type PlanSlot struct {
	Slot      string       `json:"slot"`       // tool of the sliced file, or a name in the file of the sequence
	Nozzle    int          `json:"nozzle"`     // its nozzle, counted from 1
	Spool     *string      `json:"spool"`      // the spool, several in turn joined by +; null where none was found
	Loads     int          `json:"loads"`      // how often it is loaded
	NeedG     ledger.Grams `json:"need_g"`     // grams of part and support
	PurgeG    Rounded      `json:"purge_g"`    // what is flushed to bring it to the nozzle
	PrimeG    Rounded      `json:"prime_g"`    // what is laid of it on the tower
	PurgeCost Money        `json:"purge_cost"` // cost of purge_g; null where waste_cost is
	PrimeCost Money        `json:"prime_cost"` // cost of prime_g; null where waste_cost is
	AfterG    *float64     `json:"after_g"`    // what is likely left then, the margin; null without a spool
	Verdict   string       `json:"verdict"`    // whether the spool lasts

	u *float64 // standard uncertainty of AfterG
}

// Learned is what a change purges by the rows of a printer, where its table says otherwise.
type Learned struct {
	PurgeMM3 float64 `json:"purge_mm3"` // what a change purges, on the average
	U        float64 `json:"u_mm3"`     // its standard uncertainty
	Rows     int     `json:"rows"`      // how many rows it rests on

	table string // what the table says instead
}

// Rounded is a figure of three decimals at most.
type Rounded struct{ decimal.Decimal }

// MarshalJSON writes a number.
func (r Rounded) MarshalJSON() ([]byte, error) { return []byte(r.String()), nil }

// MarshalCSV writes a number.
func (r Rounded) MarshalCSV() (string, error) { return r.String(), nil }

// NewPlan returns the view of plans. learned are figures of the book's own; base is the time without changes, 0 where it is not known.
func NewPlan(plans *planning.Plans, learned map[*ledger.Printer]planning.Flushed, base time.Duration) Plan {
	p := Plan{Printers: []PlanPrinter{}, Tried: plans.Tried}
	for _, m := range plans.Printers {
		row := planPrinter(plans, m, base)
		if found, ok := learned[m.Printer]; ok && found.Differs(m.Printer) {
			row.Learned = &Learned{found.MM3, found.U, found.Rows, m.Printer.PurgeMM3.String()}
		}
		p.Printers = append(p.Printers, row)
	}
	if best := plans.Best(); best != nil {
		p.Best = &best.Printer.Printer
	}
	for i, slot := range plans.Slots {
		filament := strings.TrimSpace(slot.On.Material + " " + slot.On.Colour)
		p.slots, p.filaments = append(p.slots, slot.Slot), append(p.filaments, filament)
		if plans.Spools[i] == nil {
			p.notes = append(p.notes, fmt.Sprintf("slot %s: no spool of %s is enough; buy one, or name one with --load %s=SPOOL", slot.Slot, filament, slot.Slot))
		}
	}
	if p.Tried > 0 {
		p.notes = append(p.notes, fmt.Sprintf("spools: %d other choices were tried, one slot at a time; not every one there is", p.Tried))
	}
	return p
}

func planPrinter(plans *planning.Plans, m *planning.MachinePlan, base time.Duration) PlanPrinter {
	row := PlanPrinter{Printer: m.Printer.Printer, Why: m.Why, Assignment: []PlanSlot{}, Currency: plans.Currency, Short: IDs{}}
	if m.Plan == nil {
		return row
	}
	seconds := cost.RoundHalfUp(m.Seconds, 3)
	row.change, row.steps, row.nozzles = m.Seconds, m.Steps, len(m.Printer.FeedsOf())
	row.Feasible, row.Why, row.Proven = true, why(plans, m), m.Proven
	row.Loads, row.Swaps = m.Loads, m.Swaps
	row.Shift, row.reach = &PlanShift{m.Shift.X, m.Shift.Y}, reachWords(plans, m)
	row.PurgeG, row.PrimeG = Rounded{decimal.Sum(decimal.Zero, m.PurgeG...)}, Rounded{decimal.Sum(decimal.Zero, m.PrimeG...)}
	row.ChangeS = Rounded{seconds}
	if plans.Priced {
		row.WasteCost = money(m.WasteCost, plans.Currency)
	}
	if m.TimeCost != nil {
		decimals, _ := ledger.MinorUnit(plans.Currency)
		row.TimeCost = money(cost.RoundHalfUp(m.TimeCost, decimals), plans.Currency)
	}
	if base > 0 {
		row.TotalS = &Rounded{seconds.Add(decimal.NewFromInt(base.Milliseconds()).Shift(-3))}
	}
	for i, n := range m.After {
		slot := PlanSlot{Slot: n.Slot, Nozzle: m.Nozzle[i] + 1, Loads: m.LoadsOf[i], NeedG: n.Row.PartG + n.Row.SupportG,
			PurgeG: Rounded{m.PurgeG[i]}, PrimeG: Rounded{m.PrimeG[i]}, Verdict: n.Verdict}
		if n.Spool != nil {
			ids := inventory.IDs(n.Spools())
			slot.Spool, slot.AfterG, slot.u = &ids, number(n.Margin), number(n.U)
		}
		if plans.Priced {
			slot.PurgeCost, slot.PrimeCost = money(m.PurgeCost[i], plans.Currency), money(m.PrimeCost[i], plans.Currency)
		}
		row.Assignment = append(row.Assignment, slot)
	}
	for _, i := range m.Short {
		row.Short = append(row.Short, plans.Slots[i].On.Name())
	}
	return row
}

// reachWords says how the print is shifted so that the nozzles reach, and what reach leaves out; blank where nothing is known of it.
func reachWords(plans *planning.Plans, m *planning.MachinePlan) string {
	boxes := slices.ContainsFunc(plans.Slots, func(s planning.PrintSlot) bool { return s.Box != nil })
	switch {
	case !m.Bounded:
		return ""
	case !boxes:
		return "where the print lies is not known, so it was not looked at whether the nozzles reach"
	case m.Shift.X == 0 && m.Shift.Y == 0:
		return "the nozzles reach part and support where they lie; towers and purge lines were not looked at"
	}
	return fmt.Sprintf("shift the print on the plate by x %s mm, y %s mm, so that the nozzles reach part and support; towers and purge lines were not looked at",
		shiftText(m.Shift.X), shiftText(m.Shift.Y))
}

func shiftText(mm float64) string { return strconv.FormatFloat(mm, 'f', -1, 64) }

// why says in one sentence what makes a plan the best, or worse than the best.
func why(plans *planning.Plans, m *planning.MachinePlan) string {
	best := m == plans.Best()
	if m.Against == nil {
		only := "it is the only printer that can do it"
		if len(plans.Printers) == 1 {
			only = "it is the only printer asked for"
		}
		return only + flushless(plans, m)
	}
	other := m.Against.Printer.Printer
	var s string
	switch {
	case m.Decided == "short" && best:
		s = fmt.Sprintf("%s, on %s %s", runShort(plans, m), other, runShort(plans, m.Against))
	case m.Decided == "short":
		s = runShort(plans, m)
	case m.Decided == "waste":
		s = wasteAgainst(plans, m, best)
	case m.Decided == "time" && best:
		s = fmt.Sprintf("it wastes the same as %s, and its changes take %s less", other, seconds(difference(m.Against.Seconds, m.Seconds)))
	case m.Decided == "time":
		s = fmt.Sprintf("it wastes the same as %s, but its changes take %s more", other, seconds(difference(m.Seconds, m.Against.Seconds)))
	case m.Decided == "shift" && best:
		s = fmt.Sprintf("it is as good as %s, and the print is shifted less", other)
	case m.Decided == "shift":
		s = fmt.Sprintf("it is as good as %s, but the print is shifted more", other)
	case best:
		s = fmt.Sprintf("it is as good as %s, and stands before it in %s", other, ledger.Printers)
	default:
		s = fmt.Sprintf("it is as good as %s, but stands after it in %s", other, ledger.Printers)
	}
	if best {
		s += flushless(plans, m)
	}
	return s
}

func difference(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }

// wasteAgainst compares what is wasted with the other plan, in the unit in which plans are compared.
func wasteAgainst(plans *planning.Plans, m *planning.MachinePlan, best bool) string {
	other := m.Against.Printer.Printer
	switch {
	case plans.Weighted:
		if best {
			return "its waste is the least as it is weighted; next comes " + other
		}
		return "its waste is more, as it is weighted, than on " + other
	case m.TimeCost != nil:
		decimals, _ := ledger.MinorUnit(plans.Currency)
		cost := func(m *planning.MachinePlan) string {
			return money(cost.RoundHalfUp(m.Plan.Waste, decimals), plans.Currency).in(plans.Currency)
		}
		return against("its waste and the time of its changes cost ", cost(m), other, cost(m.Against), best)
	case plans.Priced:
		cost := func(m *planning.MachinePlan) string { return money(m.WasteCost, plans.Currency).in(plans.Currency) }
		return against("its waste costs ", cost(m), other, cost(m.Against), best)
	}
	grams := func(m *planning.MachinePlan) string {
		return decimal.Sum(decimal.Zero, slices.Concat(m.PurgeG, m.PrimeG)...).String() + " g"
	}
	return against("it wastes ", grams(m), other, grams(m.Against), best)
}

// against compares an amount with that of the other plan, also where rounding has made them equal.
func against(what, ours, other, theirs string, best bool) string {
	switch {
	case ours != theirs:
		return what + ours + ", on " + other + " " + theirs
	case best:
		return what + ours + ", a trifle less than on " + other
	}
	return what + ours + ", a trifle more than on " + other
}

func runShort(plans *planning.Plans, m *planning.MachinePlan) string {
	if len(m.Short) == 0 {
		return "no spool runs short"
	}
	var names []string
	for _, i := range m.Short {
		names = append(names, plans.Slots[i].On.Name())
	}
	if len(names) == 1 {
		return names[0] + " runs short"
	}
	return inventory.List(names, "and") + " run short"
}

// flushless names the spools that are never flushed, where some are.
func flushless(plans *planning.Plans, m *planning.MachinePlan) string {
	var names []string
	for i, loads := range m.LoadsOf {
		if loads == 0 {
			names = append(names, plans.Slots[i].On.Name())
		}
	}
	switch len(names) {
	case 0:
		return "; every spool is flushed"
	case len(m.LoadsOf):
		return "; nothing is flushed"
	case 1:
		return "; " + names[0] + " is never flushed"
	}
	return "; " + inventory.List(names, "and") + " are never flushed"
}

// seconds writes a time as people do.
func seconds(s *big.Rat) string {
	whole := cost.RoundHalfUp(s, 0).IntPart()
	switch h, m, s := whole/3600, whole/60%60, whole%60; {
	case h > 0:
		return fmt.Sprintf("%d h %02d min", h, m)
	case m > 0:
		return fmt.Sprintf("%d min %02d s", m, s)
	default:
		return fmt.Sprintf("%d s", s)
	}
}

// Flagged reports whether the best plan runs short, or none is possible.
func (p Plan) Flagged() bool { return p.Best == nil || len(p.Printers[0].Short) > 0 }

// CSV returns the printers.
func (p Plan) CSV() any { return p.Printers }
