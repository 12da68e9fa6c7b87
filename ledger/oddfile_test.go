package ledger

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A ledger that a command is making is empty for a moment, and stays so if the command dies there: to a reader it is absent.
func TestALedgerThatIsBeingMadeIsAbsent(t *testing.T) {
	t.Parallel()
	b := newBook(t, map[string]string{Moves: ""})
	batch := Header(Moves) + id(50) + ",2026-11-20T18:30:00Z,PLA-1,shelf,\n"
	leave(t, b, pending{file: Moves, before: -1, batch: batch})
	b.Disk = &failing{from: 1, err: syscall.EROFS} // else the look would tidy it up
	v, err := b.View(Time{})
	if err != nil {
		t.Fatal(err)
	}
	if moves, err := v.Moves(); err != nil || moves != nil {
		t.Errorf("being made: got %v, %v", moves, err)
	}

	if v, err = b.snapshot(Time{}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.Dir, Moves), []byte(batch), 0o666); err != nil {
		t.Fatal(err)
	}
	if moves, err := v.Moves(); err != nil || moves != nil {
		t.Errorf("made since the snapshot: got %v, %v", moves, err)
	}

	b = newBook(t, map[string]string{Moves: ""})
	_, err = view(t, b).Moves()
	wantError(t, err, "moves.csv: the file is empty")
}

func TestCopyOf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, header, want string }{
		{"x.csv", contract[Weighins], Weighins},
		{"x.csv", "note,state,scale,gross_g,spool,at,entry", Weighins}, // in any order
		{"x.csv", "entry,at,spool,gross_g,scale,state", ""},            // as a report of ours may be
		{"weighins-1.csv", "entry,at,spool,gross_g,scale,state", Weighins},
		{"Weighins (1).CSV", "mine,entry,at,spool,gross_g,scale,state", Weighins},
		{"weighins-1.csv", "entry,at,spool", ""},
		{"my settings.csv", "setting,value", SettingsFile},
		{"x.csv", "", ""},
	} {
		if got := copyOf(c.name, strings.Split(c.header, ",")); got != c.want {
			t.Errorf("%s with %s: got %q, want %q", c.name, c.header, got, c.want)
		}
	}
}
