package inventory

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tarebook/ledger"
)

// Billing folds consumption into what each client pays and what the house carries, by the rates of each row's own day. Grams
// stay whole and money is reckoned when the pass is over; so the order of rows cannot matter, and memory grows with jobs, days
// and spools, not with rows.
type Billing struct {
	spools   map[string]*Spool
	rates    *Rates
	from, to string // inclusive dates by each row's own offset; empty for none
	only     string // the folded client whose jobs are told apart; when blank, clients are and jobs are not

	jobs      map[billKey]*billed
	days      map[clientDay]Terms
	spellings names
	tables    names // the spellings of clients.csv alone
}

type billKey struct{ client, job, currency string } // names folded

type clientDay struct{ client, day string }

// billed is what one job took in one currency.
type billed struct {
	grams            map[billedBy]*[Kinds]ledger.Grams
	finished, failed bool
	last             ledger.Time
}

// billedBy is what all grams of one cell have in common: their price and the shares of them that are billed.
type billedBy struct {
	spool *Spool
	terms Terms
}

// Terms are a client's rates from a day on.
type Terms struct {
	From   string // as 2026-10-01; blank: always
	Listed bool   // they stand in clients.csv; else the client pays all normal waste and no scrap
}

func newBilling(v *ledger.View, spools map[string]*Spool, only, from, to string) (*Billing, error) {
	rates, err := LoadRates(v)
	if err != nil {
		return nil, err
	}
	b := &Billing{spools: spools, rates: rates, from: from, to: to, only: ledger.Fold(only)}
	clients, err := v.Clients()
	if err != nil {
		return nil, err
	}
	for _, c := range clients {
		b.tables.see(clientName, spelling{text: c.Client, rank: -1}, false)
	}
	b.Reset()
	return b, nil
}

// Reset forgets all rows.
func (b *Billing) Reset() {
	b.jobs, b.days, b.spellings = map[billKey]*billed{}, map[clientDay]Terms{}, b.tables.clone()
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (b *Billing) Add(row *ledger.Consumption) {
	spool := b.spools[row.Spool]
	if spool == nil {
		return
	}
	key := billKey{client: ledger.Fold(row.Client), currency: spool.currency}
	order := row.Order()
	b.spellings.see(clientName, spelling{row.Client, row.At, consumptionRank, order}, false)
	if b.only != "" {
		b.spellings.see(jobName, spelling{row.Job, row.At, consumptionRank, order}, false)
		if key.client != b.only {
			return
		}
		key.job = ledger.Fold(row.Job)
	}
	date := row.At.Date()
	if b.from != "" && date < b.from || b.to != "" && date > b.to {
		return
	}
	job := b.at(key)
	grams := job.at(billedBy{spool, b.on(key.client, date)})
	if row.Outcome == ledger.Failed {
		grams[Scrap] += row.Total()
		job.failed = true
	} else {
		grams[Part] += row.PartG
		grams[Support] += row.SupportG
		grams[Prime] += row.PrimeG
		grams[Purge] += row.PurgeG
		job.finished = true
	}
	job.saw(row.At)
}

func (b *Billing) at(key billKey) *billed {
	job := b.jobs[key]
	if job == nil {
		job = &billed{grams: map[billedBy]*[Kinds]ledger.Grams{}}
		key.client, key.job = strings.Clone(key.client), strings.Clone(key.job)
		b.jobs[key] = job
	}
	return job
}

func (j *billed) at(by billedBy) *[Kinds]ledger.Grams {
	grams := j.grams[by]
	if grams == nil {
		grams = &[Kinds]ledger.Grams{}
		j.grams[by] = grams
	}
	return grams
}

// saw notes the last row; of one instant told by two clocks the greater text, so that the order of rows does not matter.
func (j *billed) saw(at ledger.Time) {
	if c := at.Compare(j.last); j.last.IsZero() || c > 0 || c == 0 && at.String() > j.last.String() {
		j.last = at
	}
}

// on returns the terms of a client on a day.
func (b *Billing) on(client, date string) Terms {
	terms, ok := b.days[clientDay{client, date}]
	if !ok {
		rate, listed := b.rates.on(client, date)
		terms = Terms{rate.from, listed}
		b.days[clientDay{strings.Clone(client), date}] = terms
	}
	return terms
}

// Merge adds what another billing of the same view, client and days has gathered.
func (b *Billing) Merge(o *Billing) {
	for key, theirs := range o.jobs {
		ours := b.at(key)
		for by, grams := range theirs.grams {
			sum := ours.at(by)
			for kind, g := range grams {
				sum[kind] += g
			}
		}
		ours.finished, ours.failed = ours.finished || theirs.finished, ours.failed || theirs.failed
		ours.saw(theirs.last)
	}
	b.spellings.merge(&o.spellings)
}

// shares returns what a client pays of each kind by terms. A row without a client is the house's alone.
func (b *Billing) shares(client string, terms Terms) (shares [Kinds]*big.Rat) {
	if client == "" {
		for kind := range shares {
			shares[kind] = new(big.Rat)
		}
		return shares
	}
	waste, scrap := big.NewRat(wasteUnsaid, 1), big.NewRat(scrapUnsaid, 1)
	if terms.Listed {
		waste, scrap = b.rates.On(client, terms.From)
	}
	return [Kinds]*big.Rat{Part: big.NewRat(1, 1), Support: waste, Prime: waste, Purge: waste, Scrap: scrap}
}

// keys returns what was billed in the order in which it is shown: by the names as they are spelled, then by currency.
func (b *Billing) keys() []billKey {
	keys := make([]billKey, 0, len(b.jobs))
	for key := range b.jobs {
		keys = append(keys, key)
	}
	slices.SortFunc(keys, func(x, y billKey) int {
		return cmp.Or(cmp.Compare(b.spellings.spell(clientName, x.client), b.spellings.spell(clientName, y.client)),
			cmp.Compare(b.spellings.spell(jobName, x.job), b.spellings.spell(jobName, y.job)), cmp.Compare(x.currency, y.currency))
	})
	return keys
}

// known returns how a client's name is spelled; one that stands neither in clients.csv nor in any row is refused.
func (b *Billing) known(client string) (string, error) {
	all := b.spellings.kinds[clientName]
	if s, ok := all[ledger.Fold(client)]; ok {
		return s.text, nil
	}
	var names []string
	for _, s := range all {
		names = append(names, s.text)
	}
	slices.Sort(names)
	switch near := ledger.Nearest(client, names); {
	case near != "":
		return "", fmt.Errorf("no client %q; did you mean %s?", client, near)
	case len(names) == 0:
		return "", fmt.Errorf("no client %q; neither %s nor any row of %s names one", client, ledger.Clients, ledger.ConsumptionFile)
	case len(names) > 12: // a line is to be read
		return "", fmt.Errorf("no client %q; see them with: tarebook waste --by client", client)
	}
	return "", fmt.Errorf("no client %q; there are: %s", client, strings.Join(names, ", "))
}
