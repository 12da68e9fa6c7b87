package inventory

import (
	"cmp"
	"sort"

	"tarebook/ledger"
)

// KeptUsage is what consumption was folded into for one view of a book, kept for later views. Its intervals lie between the weigh-ins of
// then, and are cut at the time of those that were supposed: what is weighed later can be put only where nothing was consumed.
type KeptUsage struct {
	view  *ledger.View
	usage *Usage
}

// Keep lets a shelf without consumption take it from what was kept if it is certain to be the same, and keep it anew if not.
func (s *Shelf) Keep(k *KeptUsage) { s.kept = k }

// readKept is ReadConsumption with what was kept, if anything was.
func (s *Shelf) readKept(v *ledger.View) error {
	k := s.kept
	if k.view != nil && v.SameConsumption(k.view) {
		if usage := k.usage.by(s.Spools); usage != nil {
			s.usage, s.names = usage, cmp.Or(usage.names, s.names)
			return nil
		}
	}
	*k = KeptUsage{}
	all := s.usage
	all.cut = s.supposed
	all.allot()
	all.Reset()
	if err := v.FoldConsumption(folds{all}.shared()); err != nil {
		return err
	}
	*k = KeptUsage{v, all}
	s.usage = all.by(s.Spools) // never nil: each of their weigh-ins ends an interval
	return nil
}

// by returns the usage by the weigh-ins that the spools have now. It is nil where one stands within an interval in which something was
// consumed, since how much of it came before is not known.
func (u *Usage) by(spools []*Spool) *Usage {
	now := *u
	now.spools, now.cut = spools, ledger.Time{}
	now.allot()
	now.empty()
	for i := range u.of {
		was, is := &u.of[i], &now.of[i]
		is.first, is.beyond = was.first, was.beyond
		for n, used := range was.intervals {
			if used.count == 0 {
				continue
			}
			from, to := 0, len(is.weighed) // of the weigh-ins now: those before this interval, and those before its end
			if n > 0 {
				from = sort.Search(to, func(i int) bool { return is.weighed[i].After(was.weighed[n-1]) })
			}
			if n < len(was.weighed) {
				to = sort.Search(to, func(i int) bool { return !is.weighed[i].Before(was.weighed[n]) })
			}
			if from != to {
				return nil
			}
			is.intervals[from].add(used)
		}
	}
	return &now
}
