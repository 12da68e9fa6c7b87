package inventory

import "tarebook/ledger"

// folds passes every row to each of its folds.
type folds []ledger.ConsumptionFold

func (f folds) Add(row *ledger.Consumption) {
	for _, fold := range f {
		fold.Add(row)
	}
}

func (f folds) Reset() {
	for _, fold := range f {
		fold.Reset()
	}
}

// shared returns the folds as one fold, which several workers can share if they can share each.
func (f folds) shared() ledger.ConsumptionFold {
	for _, fold := range f {
		if _, ok := fold.(ledger.SharedFold); !ok {
			return f
		}
	}
	return sharedFolds{f}
}

// sharedFolds are folds that are all shared.
type sharedFolds struct{ folds }

func (f sharedFolds) Split() ledger.SharedFold {
	split := make(folds, len(f.folds))
	for i, fold := range f.folds {
		split[i] = fold.(ledger.SharedFold).Split()
	}
	return sharedFolds{split}
}

func (f sharedFolds) Join(o ledger.SharedFold) {
	for i, fold := range f.folds {
		fold.(ledger.SharedFold).Join(o.(sharedFolds).folds[i].(ledger.SharedFold))
	}
}
