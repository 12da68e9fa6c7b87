package ledger

import (
	"os"
	"path/filepath"
	"sync"
	"testing"
)

// TestOpenExchanged opens a file while another program saves it again and again by putting a new file in its place, as
// editors and sync services do: it is a plain file at every moment, so each opening succeeds.
func TestOpenExchanged(t *testing.T) {
	dir := t.TempDir()
	const name = "moves.csv"
	path := filepath.Join(dir, name)
	save := func() error {
		next := filepath.Join(dir, "next")
		if err := os.WriteFile(next, []byte("day\n"), 0o666); err != nil {
			return err
		}
		return os.Rename(next, path)
	}
	if err := save(); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	var saving sync.WaitGroup
	saving.Go(func() {
		for {
			select {
			case <-done:
				return
			default:
			}
			if err := save(); err != nil {
				t.Error(err)
				return
			}
		}
	})
	for range 5000 {
		f, err := OSDisk{}.OpenFile(dir, name, os.O_RDONLY)
		if err != nil {
			t.Error(err)
			break
		}
		if err := f.Close(); err != nil {
			t.Error(err)
			break
		}
	}
	close(done)
	saving.Wait()
}
