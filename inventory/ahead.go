package inventory

import "tarebook/ledger"

// Ahead is what the needs that are printed first take of spools. The zero value is nothing, for looking only.
type Ahead struct{ of map[*Spool]taken }

// taken is what earlier needs take of one spool.
type taken struct {
	alone  ledger.Grams // by needs that it serves alone
	shared float64      // grams of needs that it serves in turn with others: an estimate
	usedUp bool         // handed over from, so as good as ended

	// Where a spool goes on behind others that were used up, nobody knows better how much is left than it was known of them: their
	// variances in g2, and the grams by which they were predicted.
	behindU2, behindT float64
}

func newAhead() Ahead { return Ahead{map[*Spool]taken{}} }

func (t taken) grams() float64 { return t.alone.Float() + t.shared }

// gone reports whether nothing is left on a spool.
func (a Ahead) gone(s *Spool) bool { return s.Ended || a.of[s].usedUp }

// likely returns the grams on a spool when the needs ahead are printed.
func (a Ahead) likely(s *Spool) float64 {
	if a.gone(s) {
		return 0
	}
	return s.likely(a.of[s].grams())
}

// doubt returns the grams by which a spool's net is predicted, and the variance of the net that this starts from.
func (a Ahead) doubt(s *Spool) (T, u2 float64) {
	t := a.of[s]
	return s.Others.Float() + t.grams() + t.behindT, s.BaseU*s.BaseU + t.behindU2
}

// take adds what a need takes of its spools. Of several in turn each but the last gives what reaches the nozzle, as far as the need
// goes, and is used up if that is not enough.
func (a Ahead) take(s *Shelf, n *Need) {
	var open []*Spool
	for _, spool := range n.Spools() {
		if !a.gone(spool) {
			open = append(open, spool)
		}
	}
	if len(open) == 1 {
		t := a.of[open[0]]
		t.alone += n.Row.Total()
		a.of[open[0]] = t
		return
	}
	left := n.Row.Total().Float()
	behindU2, behindT := 0.0, 0.0
	for i, spool := range open {
		t := a.of[spool]
		gives := max(0, (a.likely(spool)-s.Tail(n.Printer, spool))/n.Spool.Estimate.K)
		if i == len(open)-1 || gives >= left {
			t.shared += left
			t.behindU2 += behindU2
			t.behindT += behindT
			a.of[spool] = t
			return
		}
		if gives > 0 {
			T, u2 := a.doubt(spool)
			behindT, behindU2 = behindT+T+gives, behindU2+u2
		}
		left -= gives
		t.shared, t.usedUp = t.shared+gives, true
		a.of[spool] = t
	}
}
