package cost

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Billing folds consumption into what each client pays and what the house carries, by the rates of each row's own day. Grams
// stay whole and money is computed after the pass; so the order of rows does not matter, and memory grows with jobs, days
// and spools, not with rows.
type Billing struct {
	spools ledger.SpoolMap[*inventory.Spool]
	rates  *Rates
	days   days
	only   string                                                           // the folded client whose rows alone are wanted; blank: of all
	has    func(row *ledger.Consumption, client, day, currency string) bool // rows to leave out, as they are billed already; nil for none

	jobs      map[billKey]*billed
	last      billKey                // of the row before
	lastJob   []byte                 // as that row spells it
	clients   ledger.NameMap[string] // the folded names
	terms     map[clientDay]Terms
	kept      map[clientTerms]*[Kinds]*big.Rat
	ids       nameIDs
	others    nameSet             // jobs of other clients
	spellings inventory.Spellings // of clients, and of the jobs of the one that is wanted
	tables    inventory.Spellings // the spellings of clients.csv alone
}

type billKey struct{ client, job, currency string } // names folded

type clientDay struct{ client, day string }

// billed is what one job took in one currency.
type billed struct {
	grams            gramsBy[billedBy]
	finished, failed bool
	last             ledger.Time // of its rows
	date             string      // of the row before
	terms            Terms       // on that date
}

// billedBy is what all grams of one cell share: their price and the shares that are billed.
type billedBy struct {
	spool *inventory.Spool
	terms Terms
}

// Terms are a client's rates from a day on.
type Terms struct {
	From   string // as 2026-10-01; blank: always
	Listed bool   // they stand in clients.csv; else the client pays all normal waste and no scrap
}

func newBilling(v *ledger.View, shelf *inventory.Shelf, only, from, to string) (*Billing, error) {
	rates, err := LoadRates(v)
	if err != nil {
		return nil, err
	}
	b := &Billing{spools: ledger.NewSpoolMap(shelf.ByID), rates: rates, days: days{period: period{from, to}}, only: ledger.Fold(only), ids: newNameIDs()}
	clients, err := v.Clients()
	if err != nil {
		return nil, err
	}
	for _, c := range clients {
		b.tables.Table(inventory.ClientName, c.Client)
	}
	b.Reset()
	return b, nil
}

// Reset forgets all rows.
func (b *Billing) Reset() {
	b.spools, b.ids, b.clients = b.spools.Reader(), b.ids.another(), ledger.NameMap[string]{}
	b.jobs, b.terms, b.kept = map[billKey]*billed{}, map[clientDay]Terms{}, map[clientTerms]*[Kinds]*big.Rat{}
	b.last, b.lastJob, b.others, b.spellings = billKey{}, nil, nameSet{}, b.tables.Clone()
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (b *Billing) Add(row *ledger.Consumption) {
	spool := b.spools.Get(row)
	if spool == nil {
		return
	}
	client := b.clients.Get(row.Client)
	if client == "" && row.Client != "" {
		client = strings.Clone(ledger.Fold(row.Client))
		b.clients.Set(client, client)
	}
	b.spellings.Consumption(inventory.ClientName, row.Client, row)
	if b.only != "" {
		if client != b.only {
			if id, other := b.ids.of(row.Job); other {
				b.others.add(id)
			}
			return
		}
		b.spellings.Consumption(inventory.JobName, row.Job, row)
	}
	date, wanted := b.days.at(row.At)
	if !wanted || b.has != nil && b.has(row, client, date, spool.Currency()) {
		return
	}
	job := b.jobOfRow(row, client, spool.Currency())
	if job.date != date {
		job.date, job.terms = date, b.termsOn(client, date)
	}
	addKinds(job.grams.of(billedBy{spool, job.terms}), row)
	job.failed = job.failed || row.Outcome == ledger.Failed
	job.finished = job.finished || row.Outcome != ledger.Failed
	job.saw(row.At)
}

func (b *Billing) jobOfRow(row *ledger.Consumption, client, currency string) *billed {
	if string(b.lastJob) != row.Job || b.last.client != client || b.last.currency != currency {
		b.last, b.lastJob = billKey{client, strings.Clone(ledger.Fold(row.Job)), currency}, append(b.lastJob[:0], row.Job...)
	}
	return b.jobOf(b.last)
}

// jobOf returns the job of a key, whose strings are kept.
func (b *Billing) jobOf(key billKey) *billed {
	job := b.jobs[key]
	if job == nil {
		job = new(billed)
		b.jobs[key] = job
	}
	return job
}

// saw keeps the latest time. The same instant in two offsets is settled by its text, so that the order of rows does not matter.
func (j *billed) saw(at ledger.Time) {
	if c := at.Compare(j.last); j.last.IsZero() || c > 0 || c == 0 && at.String() > j.last.String() {
		j.last = at
	}
}

// termsOn returns the terms of a client on a day.
func (b *Billing) termsOn(client, date string) Terms {
	terms, ok := b.terms[clientDay{client, date}]
	if !ok {
		rate, listed := b.rates.find(client, date)
		terms = Terms{rate.from, listed}
		b.terms[clientDay{client, date}] = terms
	}
	return terms
}

// Merge adds what another billing of the same view, client and days has gathered. That one is not used any more.
func (b *Billing) Merge(o *Billing) {
	for key, theirs := range o.jobs {
		ours := b.jobOf(key)
		ours.grams.merge(&theirs.grams)
		ours.finished, ours.failed = ours.finished || theirs.finished, ours.failed || theirs.failed
		ours.saw(theirs.last)
	}
	b.others.addAll(&o.others)
	b.spellings.Merge(&o.spellings)
}

// sharing is shares, which are kept, as they are asked for at every cell.
func (b *Billing) sharing(client string, terms Terms) [Kinds]*big.Rat {
	key := clientTerms{client, terms}
	s := b.kept[key]
	if s == nil {
		of := b.shares(client, terms)
		s = &of
		b.kept[key] = s
	}
	return *s
}

type clientTerms struct {
	client string
	Terms
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

// clientName returns how a client's name is spelled. A name that is neither in clients.csv nor in any row is an error.
func (b *Billing) clientName(client string) (string, error) {
	all := b.spellings.Names(inventory.ClientName)
	if name, ok := all[ledger.Fold(client)]; ok {
		return name, nil
	}
	names := slices.Sorted(maps.Values(all))
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
