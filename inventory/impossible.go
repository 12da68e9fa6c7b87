package inventory

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/ledger"
)

// Figures that cannot be. A spreadsheet set to a country that writes a decimal comma reads a dot before three digits as grouping
// thousands and saves 11.334 as 11334: a number that keeps every rule of the file, a thousand times too great. Fewer or more
// digits behind the dot it leaves alone. So each figure is held against what it can be at most; what only seems great is not named.

const (
	densest       = 22.6 // g/cm3; osmium, the densest element, has 22.59 (CRC Handbook of Chemistry and Physics)
	thickest      = 10   // mm of a filament; usual are 1.75 and 2.85. Common practice, no source
	mostDoubt     = 0.2  // of a density: its standard uncertainty at most. Common practice, no source
	mostTimesNet  = 2    // of a spool's net, that a scale can find on it. Common practice, no source
	wholePath     = 4    // grams without decimals, read from sliced files, from which on they are told
	wholePathPart = 20   // and that are more than one in so many; by chance one in 1000 has none
)

const lostDot = "if a spreadsheet saved the file, look for numbers that lost their dot"

// Impossible returns the figures of the shelf and its tables that cannot be.
func (s *Shelf) Impossible() (problems []ledger.Problem) {
	problems = append(impossibleMaterials(s.Materials), impossibleSettings(s.Settings)...)
	for i, spool := range s.Spools {
		p := spool.Purchase
		add := func(format string, args ...any) {
			problems = append(problems, ledger.Problem{File: ledger.Purchases, Line: p.Line, Entry: p.Entry, What: fmt.Sprintf(format, args...) + "; " + lostDot})
		}
		if p.DiameterMM.GreaterThan(decimal.New(thickest, 0)) {
			add("diameter_mm %s of %s is no filament's", p.DiameterMM.Decimal, spool.ID)
		}
		if net := spool.Net.Float(); net < -2*spool.NetU() {
			add("%s holds %s g by the book, further below 0 than its uncertainty (2u %.0f g) allows", spool.ID, spool.Net, 2*spool.NetU())
		}
		for _, r := range spool.Readings {
			if r.Measured.Given && r.Measured.Grams > mostTimesNet*p.NetG {
				problems = append(problems, ledger.Problem{File: ledger.Weighins, Line: r.Weighin.Line, Entry: r.Weighin.Entry,
					What: fmt.Sprintf("gross_g %s leaves %s g on %s, which was bought with %s g; %s", r.Weighin.GrossG.Grams, r.Measured.Grams, spool.ID, p.NetG, lostDot)})
			}
		}
		problems = append(problems, s.usage.of[i].beyond.problems(spool)...)
	}
	return append(problems, s.usage.path.problems(ledger.ConsumptionFile)...)
}

func impossibleMaterials(materials map[string]*ledger.Material) (problems []ledger.Problem) {
	for _, m := range slices.SortedFunc(maps.Values(materials), func(a, b *ledger.Material) int { return cmp.Compare(a.Line, b.Line) }) {
		add := func(format string, args ...any) {
			problems = append(problems, ledger.Problem{File: ledger.Materials, Line: m.Line, What: fmt.Sprintf(format, args...) + "; " + lostDot})
		}
		switch rho, u := m.Density(); {
		case rho > densest:
			add("density_g_cm3 %s of %s is more than any metal's", m.DensityGCM3.Decimal, m.Material)
		case m.DensityUGCM3.Given && u > mostDoubt*rho:
			add("density_u_g_cm3 %s of %s is more than a fifth of its density %s", m.DensityUGCM3.Decimal, m.Material, m.DensityGCM3.Decimal)
		}
	}
	return problems
}

func impossibleSettings(s *ledger.Settings) (problems []ledger.Problem) {
	for _, share := range []struct {
		name  string
		value float64
	}{{"estimate_u", s.EstimateU}, {"label_u", s.LabelU}} {
		if share.value > 1 {
			problems = append(problems, ledger.Problem{File: ledger.SettingsFile, What: fmt.Sprintf("%s %g is more than the whole; %s", share.name, share.value, lostDot)})
		}
	}
	return problems
}

// mostOf returns the grams that a row of consumption can take of a spool at most: what the label says, and twice how well it is known.
func (s *Spool) mostOf() ledger.Grams {
	return s.Purchase.NetG + ledger.Grams(2*s.labelU()*1000)
}

// beyond is the rows of one spool that take more than it was bought with: how many, and the first of them.
type beyond struct {
	rows  int
	line  int
	grams ledger.Grams
	entry string
}

func beyondOf(row *ledger.Consumption) *beyond {
	return &beyond{1, row.Line, row.Total(), strings.Clone(row.Entry)}
}

// and returns both together; either may be nil.
func (b *beyond) and(o *beyond) *beyond {
	if b == nil || o == nil {
		return cmp.Or(b, o)
	}
	first := *b
	if o.line < b.line {
		first = *o
	}
	first.rows = b.rows + o.rows
	return &first
}

func (b *beyond) problems(spool *Spool) []ledger.Problem {
	if b == nil {
		return nil
	}
	what := fmt.Sprintf("%s g are more than %s held when it was bought, %s g", b.grams, spool.ID, spool.Purchase.NetG)
	if b.rows > 1 {
		what += fmt.Sprintf(", here and in %d more rows", b.rows-1)
	}
	return []ledger.Problem{{File: ledger.ConsumptionFile, Line: b.line, Entry: b.entry, What: what + "; " + lostDot}}
}

// pathGrams counts, by column, the grams above 0 that were read from sliced files, which are known to 0.001 g, and how many of them
// have no decimals.
type pathGrams struct{ all, whole [4]int }

var gramColumns = [4]string{"part_g", "support_g", "prime_g", "purge_g"}

func (p *pathGrams) add(grams ...ledger.Grams) {
	for i, g := range grams {
		if g > 0 {
			p.all[i]++
			if g%1000 == 0 {
				p.whole[i]++
			}
		}
	}
}

func (p *pathGrams) merge(o *pathGrams) {
	for i := range p.all {
		p.all[i] += o.all[i]
		p.whole[i] += o.whole[i]
	}
}

func (p *pathGrams) problems(file string) (problems []ledger.Problem) {
	for i, column := range gramColumns {
		if whole := p.whole[i]; whole >= wholePath && whole*wholePathPart > p.all[i] {
			problems = append(problems, ledger.Problem{File: file, What: fmt.Sprintf("column %s has whole grams in %d of %d rows read from sliced files, which are known to 0.001 g; %s",
				column, whole, p.all[i], lostDot)})
		}
	}
	return problems
}

// queuedPath returns what cannot be in the queue's rows.
func queuedPath(needs []*ledger.Need) []ledger.Problem {
	var p pathGrams
	for _, n := range needs {
		if n.Basis == ledger.Path {
			p.add(n.PartG, n.SupportG, n.PrimeG, n.PurgeG)
		}
	}
	return p.problems(ledger.Queue)
}
