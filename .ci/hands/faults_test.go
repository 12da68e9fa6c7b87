package hands

import (
	"maps"
	"slices"
	"sync"
	"testing"
)

// faults tells each kind of fault a few times, so that one does not bury the others.
type faults struct {
	t     *testing.T
	mu    sync.Mutex
	kinds map[string]int
}

func (f *faults) add(kind, text string) {
	f.t.Helper()
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.kinds == nil {
		f.kinds = map[string]int{}
	}
	if f.kinds[kind]++; f.kinds[kind] <= 5 {
		f.t.Errorf("%s: %s", kind, text)
	}
}

func (f *faults) tell() {
	f.t.Helper()
	for _, kind := range slices.Sorted(maps.Keys(f.kinds)) {
		f.t.Errorf("%d times %s", f.kinds[kind], kind)
	}
}
