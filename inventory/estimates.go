package inventory

import (
	"math"

	"tarebook/ledger"
)

// Estimates relates booked grams to those that the scale finds: where c grams were booked, w went, and w = K c on average. The
// estimator is that of development factors in claims reserving: T. Mack, ASTIN Bulletin 23 (1993) 213-225 and 29
// (1999) 361-366. The grams that go for T booked ones have the variance (T UK)^2 + S^2 T.
type Estimates struct {
	K, UK float64
	S     float64 // g^(1/2)
	N     int     // intervals it rests on; 0 for the settings' own
}

// Predicted returns the standard uncertainty in grams of K T, the prediction for T booked grams.
func (e Estimates) Predicted(T float64) float64 { return math.Hypot(T*e.UK, e.S*math.Sqrt(T)) }

// booked returns the standard uncertainty of T itself as the prediction: the bias (K - 1) T is added.
func (e Estimates) booked(T float64) float64 { return math.Hypot(e.Predicted(T), (e.K-1)*T) }

// pair is one interval between weigh-ins: the drop in net and what was booked.
type pair struct{ w, c ledger.Grams }

// pairs returns the intervals of a spool that count for estimates: from a loaded or dried weigh-in, or an opened spool's purchase, to a loaded or
// discarded one, nothing weighed or wound off between, something booked.
func (s *Spool) pairs() []pair {
	var pairs []pair
	var before *Reading
	if s.opening != nil && s.Tare.Grams.Given {
		before = &Reading{Weighin: s.opening, Measured: ledger.Known(s.Start())}
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if !r.Measured.Given || r.AfterEnd || r.Early {
			continue
		}
		if before != nil && (r.Weighin.State == ledger.Loaded || r.Weighin.State == ledger.Discarded) &&
			r.since.exact == 0 && r.since.other > 0 {
			pairs = append(pairs, pair{before.Measured.Grams - r.Measured.Grams, r.since.other})
		}
		before = r
	}
	return pairs
}

// estimator collects pairs. Their sums are integers: drops that cancel decide whether k is above 0.
type estimator struct {
	pairs []pair
	w, c  ledger.Grams
	found *Estimates // once estimates was called; every spool of a material asks for them
}

func (e *estimator) add(p pair) {
	e.pairs = append(e.pairs, p)
	e.w += p.w
	e.c += p.c
	e.found = nil
}

// estimates returns k = sum w/sum c, s^2 = sum((w - k c)^2/c)/(n - 1) and u_k = s/sqrt(sum c), for two pairs or more.
func (e *estimator) estimates() Estimates {
	if e.found != nil {
		return *e.found
	}
	k := e.w.Float() / e.c.Float()
	sum := 0.0
	for _, p := range e.pairs {
		sum += square(p.w.Float()-k*p.c.Float()) / p.c.Float()
	}
	s := math.Sqrt(sum / float64(len(e.pairs)-1))
	e.found = &Estimates{K: k, UK: s / math.Sqrt(e.c.Float()), S: s, N: len(e.pairs)}
	return *e.found
}

// Estimates returns the estimates for a material: from its own intervals if there are enough, else from all intervals of the shop,
// else from the settings.
func (s *Shelf) Estimates(material string) Estimates {
	enough := max(2, s.Settings.MinIntervals)
	own := ledger.Named(s.byMat, material)
	for _, e := range []*estimator{own, s.shop} {
		if e == nil || len(e.pairs) < enough {
			continue
		}
		if found := e.estimates(); found.K > 0 {
			return found
		}
		break
	}
	return Estimates{K: 1, UK: s.Settings.EstimateU}
}
