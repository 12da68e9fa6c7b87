package cost

import (
	"cmp"
	"math"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Quote is what a job will cost before it is printed: its grams as sliced at the prices of the spools that check would take,
// what they likely come to in this shop, who carries which share, and what it costs should it fail once.
type Quote struct {
	Job                      *inventory.Job
	Date                     string   // whose rates were taken
	WasteBilled, ScrapBilled *big.Rat // the client's shares then; nil for a job without a client, which is the house's alone
	Lines                    []*QuoteLine
	Totals                   []*QuoteTotal // one a currency; currencies are never added
	Unpriced                 ledger.Grams  // in none of the totals
}

// QuoteLine is one need of the job.
type QuoteLine struct {
	Need     *inventory.Need
	Grams    [Scrap]ledger.Grams // as sliced, by kind of cost
	Estimate inventory.Estimates // how estimates of its material run
	Likely   float64             // grams that will go: K times those sliced
	U        float64             // their standard uncertainty in grams, u^2 = (T UK)^2 + S^2 T

	PerGram   *big.Rat               // nil without a price, and then there is no money below
	Currency  string                 // blank when no spool was found
	Costs     [Scrap]decimal.Decimal // of the grams as sliced, rounded so that all cells of a currency add up
	Cost      decimal.Decimal        // the sum of the rounded cells
	LikelyFor decimal.Decimal        // of the likely grams, rounded so that those of a currency add up
	Low, High decimal.Decimal        // of the likely grams less and plus 2 U, not below 0
}

// QuoteTotal is what the priced lines of one currency come to.
type QuoteTotal struct {
	Currency      string
	Costs         [Scrap]decimal.Decimal // the sums of rounded cells
	Cost          decimal.Decimal
	Client, House decimal.Decimal // of Cost: part and the billed share of normal waste, and what is left of it
	LikelyFor     decimal.Decimal
	Low, High     decimal.Decimal // of the likely grams of all lines less and plus 2 u

	// All the material of one failed print, which is abnormal waste (IAS 2.16(a)), and who carries it.
	Scrap, ScrapClient, ScrapHouse decimal.Decimal
}

// NewQuote prices a job that was checked against the shelf, by a client's rates on a date.
//
// The cost is rounded by the largest remainder over spools in their order and kinds to its total half up, so that in all it is what
// `waste` will say of the job if it takes what was sliced; a statement rounds each line, and so may differ by minor units. The client's amount is rounded once, half up; the house carries the rest, so
// that the two add up to the cost.
func NewQuote(s *inventory.Shelf, job *inventory.Job, rates *Rates, date string) *Quote {
	q := &Quote{Job: job, Date: date}
	if job.Client != "" {
		q.WasteBilled, q.ScrapBilled = rates.On(job.Client, date)
	}
	byCurrency := map[string][]*QuoteLine{}
	for _, n := range job.Needs {
		row := n.Row
		l := &QuoteLine{Need: n, Grams: [Scrap]ledger.Grams{row.PartG, row.SupportG, row.PrimeG, row.PurgeG}, Estimate: s.Estimates(n.Material)}
		T := row.Total().Float()
		l.Likely, l.U = l.Estimate.K*T, l.Estimate.Predicted(T)
		if n.Spool != nil {
			l.PerGram, l.Currency = n.Spool.Price()
		}
		if l.PerGram == nil {
			q.Unpriced += row.Total()
		} else {
			byCurrency[l.Currency] = append(byCurrency[l.Currency], l)
		}
		q.Lines = append(q.Lines, l)
	}
	for currency, lines := range byCurrency {
		q.Totals = append(q.Totals, q.total(currency, lines))
	}
	slices.SortFunc(q.Totals, func(a, b *QuoteTotal) int { return cmp.Compare(a.Currency, b.Currency) })
	return q
}

// total rounds the priced lines of one currency and adds them up.
func (q *Quote) total(currency string, lines []*QuoteLine) *QuoteTotal {
	decimals, _ := ledger.MinorUnit(currency)
	lines = slices.Clone(lines)
	slices.SortStableFunc(lines, func(a, b *QuoteLine) int { return cmp.Compare(a.Need.Spool.ID, b.Need.Spool.ID) })
	var cells, likely []*big.Rat
	all, waste := new(big.Rat), new(big.Rat)
	for _, l := range lines {
		for kind, g := range l.Grams {
			amount := costOf(l.PerGram, g)
			cells = append(cells, amount)
			if all.Add(all, amount); kind != Part {
				waste.Add(waste, amount)
			}
		}
		likely = append(likely, l.money(l.Likely))
	}
	t := &QuoteTotal{Currency: currency}
	rounded, likelyFor := Apportion(cells, decimals), Apportion(likely, decimals)
	for i, l := range lines {
		for kind := range l.Costs {
			l.Costs[kind] = rounded[i*Scrap+kind]
			t.Costs[kind] = t.Costs[kind].Add(l.Costs[kind])
			l.Cost = l.Cost.Add(l.Costs[kind])
		}
		l.LikelyFor = likelyFor[i]
		l.Low = RoundHalfUp(l.money(max(0, l.Likely-2*l.U)), decimals)
		l.High = RoundHalfUp(l.money(l.Likely+2*l.U), decimals)
		t.Cost = t.Cost.Add(l.Cost)
		t.LikelyFor = t.LikelyFor.Add(l.LikelyFor)
	}
	least, most := likelyRange(lines)
	t.Low, t.High = RoundHalfUp(least, decimals), RoundHalfUp(most, decimals)

	t.Scrap = RoundHalfUp(all, decimals)
	if q.WasteBilled != nil {
		billed := new(big.Rat).Sub(all, waste)
		billed.Add(billed, waste.Mul(waste, q.WasteBilled))
		t.Client = RoundHalfUp(billed, decimals)
		t.ScrapClient = RoundHalfUp(all.Mul(all, q.ScrapBilled), decimals)
	}
	t.House, t.ScrapHouse = t.Cost.Sub(t.Client), t.Scrap.Sub(t.ScrapClient)
	return t
}

// money is what so many grams of the line's spool cost. The shortest decimal of the float is taken, so that grams which estimates
// leave as they were sliced cost the same.
func (l *QuoteLine) money(grams float64) *big.Rat {
	amount, ok := new(big.Rat).SetString(decimal.NewFromFloat(grams).String())
	if !ok {
		return new(big.Rat)
	}
	return amount.Mul(amount, l.PerGram)
}

// likelyRange returns what the likely grams of all lines cost, less and plus twice their standard uncertainty, not below 0. Lines
// whose estimates run by the same figures share the doubt in k, which so adds up; what each print adds of its own is
// independent (JCGM 100:2008, 5.2.2 and 5.1.2).
func likelyRange(lines []*QuoteLine) (least, most *big.Rat) {
	middle := new(big.Rat)
	variance := 0.0
	var seen []inventory.Estimates
	for _, l := range lines {
		middle.Add(middle, l.money(l.Likely))
		price, _ := l.PerGram.Float64()
		variance += square(price*l.Estimate.S) * l.Need.Row.Total().Float()
		if slices.Contains(seen, l.Estimate) {
			continue
		}
		seen = append(seen, l.Estimate)
		shared := 0.0
		for _, o := range lines {
			if o.Estimate == l.Estimate {
				price, _ := o.PerGram.Float64()
				shared += price * o.Need.Row.Total().Float() * l.Estimate.UK
			}
		}
		variance += square(shared)
	}
	twice := new(big.Rat).SetFloat64(2 * math.Sqrt(variance))
	if twice == nil { // a price beyond any float
		twice = new(big.Rat)
	}
	if least = new(big.Rat).Sub(middle, twice); least.Sign() < 0 {
		least.SetInt64(0)
	}
	return least, middle.Add(middle, twice)
}

func square(x float64) float64 { return x * x }
