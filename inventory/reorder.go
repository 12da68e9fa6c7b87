package inventory

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"slices"

	"tarebook/ledger"
)

// Reordering. Daily use is the grams booked on one calendar day, by each row's own offset as the costs count it: waste
// and failed jobs count, and spools that have ended since. A day without use counts as 0.

// A shorter history says nothing on the spread of use. Choices of this program, no source: two weeks hold each day of the
// week twice, and one day of use has no spread.
const (
	LeastDays    = 14
	leastUseDays = 2
)

// farOff is the number of days from which on no date to buy is given.
const farOff = 100 * 365

// Demand folds consumption into the daily use of each material and colour within a window of days.
type Demand struct {
	first, last int                  // days of the window, both included; ledger.Time.Day
	key         ledger.SpoolMap[int] // of each spool which of uses, from 1 on
	uses        []dailyUse
	began       int // the first day of any use in the book
}

// dailyUse is what was used of one material and colour.
type dailyUse struct {
	grams map[int]ledger.Grams // by day of the window
	began int                  // the first day of use, also before the window
}

// never stands for a day that has not come.
const never = math.MaxInt

// Add adds one row; one about a spool without a purchase that counts is left out.
func (d *Demand) Add(row *ledger.Consumption) {
	key := d.key.Get(row)
	if key == 0 {
		return
	}
	day := row.At.Day()
	use := &d.uses[key-1]
	d.began, use.began = min(d.began, day), min(use.began, day)
	if grams := row.Total(); grams > 0 && d.first <= day && day <= d.last {
		use.grams[day] += grams
	}
}

// Merge adds what another fold over the same shelf and window has gathered.
func (d *Demand) Merge(o *Demand) {
	d.began = min(d.began, o.began)
	for i := range d.uses {
		use, theirs := &d.uses[i], o.uses[i]
		use.began = min(use.began, theirs.began)
		for day, grams := range theirs.grams {
			use.grams[day] += grams
		}
	}
}

// Split returns a fold over the same shelf and window without rows.
func (d *Demand) Split() ledger.SharedFold {
	o := *d
	o.uses = make([]dailyUse, len(d.uses))
	o.Reset()
	return &o
}

// Join is Merge with a fold that Split returned.
func (d *Demand) Join(o ledger.SharedFold) { d.Merge(o.(*Demand)) }

// Reset forgets all rows.
func (d *Demand) Reset() {
	d.key, d.began = d.key.Reader(), never
	for i := range d.uses {
		d.uses[i] = dailyUse{map[int]ledger.Grams{}, never}
	}
}

// Supply is one material and colour: how much there is, how much is used, and when to buy. A blank colour is a colour of its own.
type Supply struct {
	Material, Colour string
	Spools           int          // unended
	OnHand           float64      // likely grams on them; a book below 0 is an empty spool
	Queued           ledger.Grams // that the queue wants, as queued

	Days, UseDays int          // of history within the window; those with use among them
	Used          ledger.Grams // in them
	Why           string       // why the history is too short for all below; else blank
	Mean, SD      float64      // of daily use in grams
	Point         float64      // the reorder point in grams
	Buy           float64      // grams that OnHand less Queued lies below it
	By            string       // the day on which it is reached; blank when that is a lifetime off

	Last      *Spool      // the spool last bought full: neither wound off another nor opened before; nil for none
	SpoolG    ledger.Mass // its net
	BuySpools int         // spools of that size that make up for Buy; 0 where that size is not known

	bought  int     // day of the first purchase
	reaches float64 // days until the reorder point is reached; below 0 when that is past
}

// Free returns the likely grams that the queue leaves, below 0 when it needs more than there is.
func (s *Supply) Free() float64 { return s.OnHand - s.Queued.Float() }

// Lacking reports whether the queue alone needs more than there is.
func (s *Supply) Lacking() bool { return s.Free() < 0 }

// Cover returns the days for which what the queue leaves lasts at mean daily use.
func (s *Supply) Cover() float64 { return max(0, s.Free()) / s.Mean }

// Reorder is what to buy and by when.
type Reorder struct {
	From, To     string // first and last day of the window
	LeadDays     float64
	ServiceLevel float64
	Supplies     []*Supply // what must be bought first stands first
}

// ReorderPoint returns the grams at which to buy: mean x lead days + z(service level) x sd x sqrt(lead days), for daily use of
// that mean and standard deviation and a lead time that does not vary (W. J. Stevenson, Operations Management, chapter 12:
// reorder point with variable demand and constant lead time). Days are taken as independent and normal.
func ReorderPoint(mean, sd, leadDays, serviceLevel float64) float64 {
	return mean*leadDays + quantile(serviceLevel)*sd*math.Sqrt(leadDays)
}

// NewReorder returns a Supply for every material and colour that is on the shelf, queued, or was used in the given number of days up
// to today. Today counts as a day, though it is not over. A history begins with the first purchase or use of that material and colour,
// but not before the book's first use of all: shelves are older than books.
func NewReorder(v *ledger.View, today ledger.Time, days int) (*Reorder, error) {
	last := today.Day()
	first := last - days + 1
	var demand *Demand
	var supplies []*Supply
	byKey := map[string]int{}
	of := func(material, colour string) int {
		key := ledger.Fold(material) + "/" + ledger.Fold(colour) // no colour holds a /
		i, ok := byKey[key]
		if !ok {
			i = len(supplies)
			byKey[key] = i
			supplies = append(supplies, &Supply{bought: never})
		}
		return i
	}
	shelf, jobs, err := Check(v, func(s *Shelf) (ledger.ConsumptionFold, error) {
		keys := map[string]int{}
		for _, spool := range s.Spools {
			keys[spool.ID] = of(spool.Material, spool.Colour) + 1
		}
		demand = &Demand{first: first, last: last, key: ledger.NewSpoolMap(keys)}
		demand.uses = make([]dailyUse, len(supplies))
		demand.Reset()
		return demand, nil
	})
	if err != nil {
		return nil, err
	}
	for _, spool := range shelf.Spools {
		s := supplies[of(spool.Material, spool.Colour)]
		s.Material, s.Colour = spool.Material, spool.Colour
		s.bought = min(s.bought, spool.Purchase.At.Day())
		if spool.Purchase.From == "" && !Opened(spool.Purchase) {
			s.Last, s.SpoolG = spool, ledger.Known(spool.Purchase.NetG)
		}
		if !spool.Ended {
			s.Spools++
			s.OnHand += max(0, spool.Likely())
		}
	}
	for _, job := range jobs {
		for _, n := range job.Needs {
			s := supplies[of(n.Material, n.Colour)]
			s.Material, s.Colour = n.Material, n.Colour
			s.Queued += n.Row.Total()
		}
	}
	r := &Reorder{From: ledger.DateOf(first), To: ledger.DateOf(last), LeadDays: shelf.Settings.LeadDays, ServiceLevel: shelf.Settings.ServiceLevel}
	for i, s := range supplies {
		use := dailyUse{nil, never}
		if i < len(demand.uses) { // else it is queued alone
			use = demand.uses[i]
		}
		begins := max(first, demand.began, min(s.bought, use.began))
		s.addUse(last-min(begins, last+1)+1, use.grams)
		if s.Why == "" {
			s.decide(r.LeadDays, r.ServiceLevel, last)
		}
		if s.Spools > 0 || s.Queued > 0 || s.Used > 0 {
			r.Supplies = append(r.Supplies, s)
		}
	}
	slices.SortStableFunc(r.Supplies, func(a, b *Supply) int {
		return cmp.Or(cmp.Compare(a.reaches, b.reaches), cmp.Compare(ledger.Fold(a.Material), ledger.Fold(b.Material)), cmp.Compare(ledger.Fold(a.Colour), ledger.Fold(b.Colour)))
	})
	return r, nil
}

// addUse adds what was used in so many days.
func (s *Supply) addUse(days int, grams map[int]ledger.Grams) {
	s.Days, s.UseDays = days, len(grams)
	for _, g := range grams {
		s.Used += g
	}
	switch {
	case days < LeastDays:
		s.Why = fmt.Sprintf("%s of history, %d are wanted", Plural(days, "day", "days"), LeastDays)
	case s.UseDays < leastUseDays:
		s.Why = fmt.Sprintf("used on %s of %d, %d are wanted", Plural(s.UseDays, "day", "days"), days, leastUseDays)
	default:
		s.Mean, s.SD = daily(days, grams)
		return
	}
	if s.reaches = math.Inf(1); s.Lacking() {
		s.reaches = math.Inf(-1)
	}
}

// daily returns the mean and the sample standard deviation (n - 1), in grams, of the use of n days, of which those not named
// had none. Sums are of integers and exact: sd^2 = (n sum x^2 - (sum x)^2)/(n (n - 1)) would else lose what large use has in
// common (NIST StRD, NumAcc).
func daily(n int, grams map[int]ledger.Grams) (mean, sd float64) {
	sum, squares := new(big.Int), new(big.Int)
	for _, g := range grams {
		x := big.NewInt(int64(g))
		sum.Add(sum, x)
		squares.Add(squares, x.Mul(x, x))
	}
	days := big.NewInt(int64(n))
	mean, _ = new(big.Rat).SetFrac(sum, new(big.Int).Mul(days, big.NewInt(1000))).Float64()
	over := new(big.Int).Sub(squares.Mul(squares, days), sum.Mul(sum, sum))
	under := new(big.Int).Mul(days, big.NewInt(int64(n-1)))
	variance, _ := new(big.Rat).SetFrac(over, under.Mul(under, big.NewInt(1e6))).Float64()
	return mean, math.Sqrt(variance)
}

// decide computes when to buy, and how much is missing to the reorder point now.
func (s *Supply) decide(leadDays, serviceLevel float64, today int) {
	s.Point = ReorderPoint(s.Mean, s.SD, leadDays, serviceLevel)
	s.Buy = max(0, s.Point-s.Free())
	s.reaches = math.Round((s.Free()-s.Point)/s.Mean*1e6) / 1e6 // equal values may differ in the last bits of a float
	if s.reaches < farOff {
		s.By = ledger.DateOf(today + int(math.Floor(max(0, s.reaches))))
	}
	if s.SpoolG.Given {
		s.BuySpools = int(min(math.Ceil(s.Buy/s.SpoolG.Float()-1e-9), math.MaxInt32)) // a whole spool but for the last bits of a float
	}
}
