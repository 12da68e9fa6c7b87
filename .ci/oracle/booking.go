package oracle

import (
	"math"
	"math/big"
)

// masses are thousandths of a gram by kind: part, support, prime, purge.
type masses [4]int64

func (m masses) sum() int64 { return m[0] + m[1] + m[2] + m[3] }

// bookInTurn divides what a need took among its spools, as `consume` books it: on
// each but the last what it holds above its tail, on the last that is not ended
// the rest. Spools on which nothing is booked are left out.
//
// Reading taken: the queue does not count, for the job has been printed.
func bookInTurn(list []*spool, need masses, weighed bool, tail func(*spool) float64) map[*spool]masses {
	booked := map[*spool]masses{}
	var open []*spool
	for _, s := range list {
		if !s.ended {
			open = append(open, s)
		}
	}
	left := need
	for i, s := range open {
		take := left
		if i < len(open)-1 {
			k := s.estimate.k
			if weighed {
				k = 1
			}
			mg := int64(math.Floor(max(0, s.likely()-tail(s))/k*1000 + 0.5))
			take = proRata(left, min(mg, left.sum()))
		}
		for kind := range left {
			left[kind] -= take[kind]
		}
		if take.sum() > 0 {
			booked[s] = take
		}
	}
	return booked
}

// proRata takes so much of what is left, of each kind its share, by the largest
// remainder.
func proRata(left masses, mg int64) (take masses) {
	if mg == 0 {
		return take
	}
	var cells []*cell
	for kind, of := range left {
		cells = append(cells, &cell{amount: new(big.Rat).SetFrac64(of*mg, left.sum()), kind: kind})
	}
	apportionTo(cells, big.NewRat(mg, 1), 0)
	for kind, c := range cells {
		take[kind] = c.rounded.Num().Int64()
	}
	return take
}
