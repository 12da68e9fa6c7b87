package planning

import (
	"math"
	"math/big"

	"tarebook/ledger"
)

// A MachineUse is what the counted prints come to on one machine. Amounts are exact.
type MachineUse struct {
	Printer *ledger.Printer
	Takes   int // prints

	PurgeG, PrimeG, WasteCost, Cost, Seconds *big.Rat // of those that it takes
	TodayCost, TodaySeconds                  *big.Rat // of the same on their own machines
	SavesCost, SavesSeconds                  *big.Rat // over the prints that cost less on it
	Month                                    *big.Rat // saved in an average month; nil for the queue
	PaysBack                                 float64  // months; NaN where there is no price, or nothing is saved

	BookedPurge, OwnPurge *big.Rat // of prints on this machine that are counted: as booked, and as reckoned
	OwnPrints             int
}

// daysOfMonth is the average length of a month of the Gregorian calendar, 146 097 days in 400 years.
var daysOfMonth = big.NewRat(304375, 10000)

// sum adds up what the counted prints come to on each machine.
func (m *Machines) sum(r *reckoner, queue bool) {
	for _, c := range m.Counted {
		if c.Priced {
			m.Priced++
		}
	}
	for i, printer := range r.printers {
		u := &MachineUse{Printer: printer, PaysBack: math.NaN()}
		for _, amount := range []**big.Rat{&u.PurgeG, &u.PrimeG, &u.WasteCost, &u.Cost, &u.Seconds, &u.TodayCost, &u.TodaySeconds, &u.SavesCost, &u.SavesSeconds, &u.BookedPurge, &u.OwnPurge} {
			*amount = new(big.Rat)
		}
		for _, c := range m.Counted {
			u.add(c, &c.Uses[i])
		}
		m.Machines = append(m.Machines, u)
		if queue {
			continue
		}
		u.Month = new(big.Rat)
		if m.Days > 0 {
			u.Month.Mul(u.SavesCost, daysOfMonth).Quo(u.Month, big.NewRat(int64(m.Days), 1))
		}
		if printer.Price.Given && u.Month.Sign() > 0 {
			u.PaysBack, _ = new(big.Rat).Quo(printer.Price.Rat(), u.Month).Float64()
		}
	}
}

func (u *MachineUse) add(c *CountedPrint, use *PrintUse) {
	if c.Own == u.Printer {
		u.OwnPrints++
		u.BookedPurge.Add(u.BookedPurge, c.booked.Decimal().Rat())
		u.OwnPurge.Add(u.OwnPurge, use.Today.PurgeG)
	}
	if use.Here == nil {
		return
	}
	u.Takes++
	u.PurgeG.Add(u.PurgeG, use.Here.PurgeG)
	u.PrimeG.Add(u.PrimeG, use.Here.PrimeG)
	u.Seconds.Add(u.Seconds, use.Here.Seconds)
	u.TodaySeconds.Add(u.TodaySeconds, use.Today.Seconds)
	if !c.Priced {
		return
	}
	u.WasteCost.Add(u.WasteCost, use.Here.Waste)
	u.Cost.Add(u.Cost, use.Here.Cost)
	u.TodayCost.Add(u.TodayCost, use.Today.Cost)
	if use.Against != nil && use.Here.Cost.Cmp(use.Against.Cost) < 0 {
		u.SavesCost.Add(u.SavesCost, new(big.Rat).Sub(use.Against.Cost, use.Here.Cost))
		u.SavesSeconds.Add(u.SavesSeconds, new(big.Rat).Sub(use.Against.Seconds, use.Here.Seconds))
	}
}
