package ledger

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// record appends moves, the rows of the fewest columns.
func record(b *Book, newEntry func() string, moves ...Move) error {
	return b.Update(newEntry, func(*View) (Batch, error) { return NewBatch(moves), nil })
}

func moved(note string) Move {
	return Move{Head: Head{At: mustTime("2026-11-20T18:30:00+01:00")}, Spool: "PLA-1", Place: "P1/2", Note: note}
}

const movesHeader = "entry,at,spool,place,note\n"

func TestUpdateAppends(t *testing.T) {
	t.Parallel()
	row := func(n int, note string) string { return id(n) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2," + note + "\n" }
	const absent = "\x00"
	for _, c := range []struct{ name, before, note, want string }{
		{"a new file gets its header", absent, "", movesHeader + row(50, "")},
		{"after the header", movesHeader, "x", movesHeader + row(50, "x")},
		{"after a row", movesHeader + row(7, ""), "x", movesHeader + row(7, "") + row(50, "x")},
		{"a last line without its end gets one first", movesHeader + strings.TrimSuffix(row(7, "y"), "\n"), "", movesHeader + row(7, "y") + row(50, "")},
		{"a header without its end too", strings.TrimSuffix(movesHeader, "\n"), "", movesHeader + row(50, "")},
		{"in the header's own order", "note,place,mine,spool,at,entry\n", "x", "note,place,mine,spool,at,entry\nx,P1/2,,PLA-1,2026-11-20T18:30:00+01:00," + id(50) + "\n"},
		{"under a BOM, quotes, blanks and CRLF", "\ufeff\"entry\", at ,spool,place,note\r\n", "x", "\ufeff\"entry\", at ,spool,place,note\r\n" + row(50, "x")},
		{"a blank value needs no column", "entry,at,spool,place\n", "", "entry,at,spool,place\n" + id(50) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2\n"},
		{"what CSV must quote", movesHeader, `a, "b"`, movesHeader + row(50, `"a, ""b"""`)},
		{"line ends become a space", movesHeader, "a\r\nb\nc\rd", movesHeader + row(50, "a b c d")},
	} {
		b := newBook(t, nil)
		if c.before != absent {
			b = newBook(t, map[string]string{Moves: c.before})
		}
		if err := record(b, ids(50), moved(c.note)); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if d := cmp.Diff(c.want, read(t, b, Moves)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		if rows, err := view(t, b).Moves(); err != nil || !strings.HasSuffix(names(rows), id(50)) {
			t.Errorf("%s: what was recorded reads as %s, %v", c.name, names(rows), err)
		} else if got, err := b.RecordedLines(); err != nil || !slices.Equal(got, []int{rows[len(rows)-1].Line}) {
			t.Errorf("%s: recorded on lines %d, %v; it reads as line %d", c.name, got, err, rows[len(rows)-1].Line)
		}
	}
}

func TestUpdateCallsForOneEntryARow(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	if err := record(b, ids(50), moved("a"), moved("b"), moved("c")); err != nil {
		t.Fatal(err)
	}
	rows, err := view(t, b).Moves()
	if want := id(50) + " " + id(51) + " " + id(52); err != nil || names(rows) != want {
		t.Errorf("recorded %s, %v, want %s", names(rows), err, want)
	}
}

// Every refusal leaves every file as it was.
func TestUpdateRefuses(t *testing.T) {
	t.Parallel()
	trouble := errors.New("thought better of it")
	consumption := func(c Consumption) func(*View) (Batch, error) {
		c.At, c.Spool = mustTime("2026-11-20T18:30:00Z"), "PLA-1"
		return func(*View) (Batch, error) { return NewBatch([]Consumption{{Head: c.Head, Spool: "PLA-1"}, c}), nil }
	}
	moves := func(rows ...Move) func(*View) (Batch, error) {
		return func(*View) (Batch, error) { return NewBatch(slices.Clone(rows)), nil }
	}
	for _, c := range []struct {
		name   string
		before string // of moves.csv
		decide func(*View) (Batch, error)
		want   []string // parts of the message; nil: no error
	}{
		{"an error of decide", movesHeader, func(*View) (Batch, error) { return NewBatch([]Move{moved("")}), trouble }, []string{trouble.Error()}},
		{"no batch", movesHeader, func(*View) (Batch, error) { return nil, nil }, nil},
		{"no rows", movesHeader, moves(), nil},
		{"a value without its column", "entry,at,spool,place\n", moves(moved(""), moved("x")), []string{"moves.csv:1: the header has no column for note; add ,note to its end"}},
		{"a broken header", "entry,at,place\n", moves(moved("")), []string{"moves.csv:1: the header lacks spool"}},
		{"a column twice", "entry,at,spool,place,at\n", moves(moved("")), []string{`moves.csv:1: column "at" stands twice`}},
		{"a quote never closed", "entry,\"at\nspool", moves(moved("")), []string{"moves.csv:1: a quote that opens in this row is never closed"}},
		{"a last row whose quote is never closed", movesHeader + id(7) + ",2026-11-20T18:30:00+01:00,PLA-1,\"P1/2,\n", moves(moved("")), []string{"moves.csv: a quote in it is never closed"}},
		{"rows that break rules, all named", movesHeader, moves(moved(""), Move{Spool: "a b"}), []string{"at is blank", `spool "a b" is no spool's id`}},
		{"an outcome that is none", movesHeader, consumption(Consumption{Outcome: "half"}), []string{`outcome "half" is none of`}},
		{"grams below nought", movesHeader, consumption(Consumption{Masses: Masses{PartG: -1}}), []string{`part_g "-0.001" is not a number`}},
		{"grams beyond all spools", movesHeader, consumption(Consumption{Masses: Masses{PartG: MaxGrams + 1}}), []string{"part_g", "more than any spool"}},
		{"text that is not UTF-8", movesHeader, consumption(Consumption{Note: "\xff"}), []string{"not UTF-8"}},
	} {
		b := newBook(t, map[string]string{Moves: c.before})
		before := contents(t, b)
		err := b.Update(ids(50), c.decide)
		if c.want == nil && err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if c.want != nil {
			wantError(t, err, c.want...)
		}
		if d := cmp.Diff(before, contents(t, b)); d != "" {
			t.Errorf("%s: the book changed (-before +after):\n%s", c.name, d)
		}
		again := b.Try(ids(50), c.decide)
		if fmt.Sprint(again) != fmt.Sprint(err) {
			t.Errorf("%s: Try says %v, Update %v", c.name, again, err)
		}
	}
}

// contents returns the files of a book, without those that are no part of it.
func contents(t *testing.T, b *Book) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(b.Dir, "*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, name := range files {
		all[filepath.Base(name)] = read(t, b, filepath.Base(name))
	}
	return all
}

// An editor that saves while a command thinks holds no lock: the command decides again, on what is there by then.
func TestUpdateDecidesOnWhatItAppendsTo(t *testing.T) {
	t.Parallel()
	row := func(n int, note string) string { return id(n) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2," + note + "\n" }
	for _, c := range []struct {
		name  string
		saves []string // what the editor saves while the command decides, by attempt; the last one for all after it
		calls int
		want  string
		err   string
	}{
		{"a file that was not there", []string{movesHeader}, 2, movesHeader + row(51, "mine"), ""},
		{"a row, once", []string{movesHeader + row(7, "")}, 2, movesHeader + row(7, "") + row(51, "mine"), ""},
		{"a row each time", []string{movesHeader + row(7, ""), movesHeader + row(7, "") + row(8, ""), movesHeader + row(7, "") + row(8, "") + row(9, ""),
			movesHeader + row(7, "") + row(8, "") + row(9, "") + row(10, "")}, 4, movesHeader + row(7, "") + row(8, "") + row(9, "") + row(10, "") + row(53, "mine"), ""},
		{"a shorter file each time", []string{movesHeader + row(7, "abcd"), movesHeader + row(7, "abc"), movesHeader + row(7, "ab"), movesHeader + row(7, "a")},
			4, movesHeader + row(7, "a"), "moves.csv changed while the command ran; try again"},
		{"another header at last", []string{movesHeader + row(7, "a"), movesHeader + row(7, "ab"), movesHeader + row(7, "abc"), "at,entry,spool,place,note\n" + strings.Repeat("\n", 99)},
			4, "at,entry,spool,place,note\n" + strings.Repeat("\n", 99) + "2026-11-20T18:30:00+01:00," + id(53) + ",PLA-1,P1/2,mine\n", ""},
		{"half a line at last", []string{movesHeader + row(7, "a"), movesHeader + row(7, "ab"), movesHeader + row(7, "abc"), movesHeader + row(7, "abc") + "half"},
			4, movesHeader + row(7, "abc") + "half", "moves.csv changed while the command ran; try again"},
	} {
		b := newBook(t, nil)
		calls := 0
		err := b.Update(ids(50), func(*View) (Batch, error) {
			calls++
			if calls <= len(c.saves) {
				if err := os.WriteFile(filepath.Join(b.Dir, Moves), []byte(c.saves[calls-1]), 0o666); err != nil {
					t.Error(err)
				}
			}
			return NewBatch([]Move{moved("mine")}), nil
		})
		if c.err != "" {
			wantError(t, err, c.err)
		} else if err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if got := read(t, b, Moves); got != c.want || calls != c.calls {
			t.Errorf("%s: after %d calls moves.csv is %q, want %d and %q", c.name, calls, got, c.calls, c.want)
		}
	}
}

func TestASnapshotStaysAsItWas(t *testing.T) {
	t.Parallel()
	b := newBook(t, map[string]string{Moves: movesHeader})
	v := view(t, b) // reads nothing yet
	if err := record(b, ids(50), moved("")); err != nil {
		t.Fatal(err)
	}
	taken := []Consumption{{Head: Head{At: mustTime("2026-11-20T18:30:00Z")}, Spool: "PLA-1", Masses: Masses{PartG: 1000}}}
	if err := b.Update(ids(60), func(*View) (Batch, error) { return NewBatch(taken), nil }); err != nil {
		t.Fatal(err)
	}
	if rows, err := v.Moves(); err != nil || len(rows) != 0 {
		t.Errorf("the view of before sees %d moves, %v", len(rows), err)
	}
	if f := consumed(t, v); len(f.rows) != 0 {
		t.Errorf("the view of before sees consumption: %v", f.rows)
	}
	v = view(t, b)
	if rows, err := v.Moves(); err != nil || len(rows) != 1 {
		t.Errorf("the view of after sees %d moves, %v", len(rows), err)
	}
	if f := consumed(t, v); f.grams != 1000 {
		t.Errorf("the view of after sees %s g", f.grams)
	}
}

const appendsHere = "TAREBOOK_TEST_APPENDS_HERE" // set in the processes that the next test starts

// Two processes and two goroutines append to one file: none of their rows is lost, and the file is whole.
func TestNoAppendIsLost(t *testing.T) {
	const each = 100
	appendAll := func(dir string, from int64) error {
		newEntry := ids(from)
		for n := range each {
			if err := record(&Book{Dir: dir, Wait: 5 * time.Minute}, newEntry, moved(fmt.Sprint(n))); err != nil {
				return err
			}
		}
		return nil
	}
	if dir := os.Getenv(appendsHere); dir != "" {
		var from int64
		if _, err := fmt.Sscan(os.Getenv(appendsHere+"_FROM"), &from); err != nil {
			t.Fatal(err)
		}
		if err := appendAll(dir, from); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Parallel()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b := newBook(t, nil)
	done := make(chan error)
	for i := range 2 {
		go func() { done <- appendAll(b.Dir, int64(1000+1000*i)) }()
		go func() {
			c := exec.Command(self, "-test.run=^TestNoAppendIsLost$")
			c.Env = append(os.Environ(), appendsHere+"="+b.Dir, fmt.Sprintf("%s_FROM=%d", appendsHere, 3000+1000*i))
			out, err := c.CombinedOutput()
			if err != nil {
				err = fmt.Errorf("%w: %s", err, out)
			}
			done <- err
		}()
	}
	for range 4 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	rows, err := view(t, b).Moves()
	if err != nil || len(rows) != 4*each {
		t.Fatalf("%d rows, %v, want %d", len(rows), err, 4*each)
	}
	want := map[string]bool{}
	for i := range 4 {
		for n := range each {
			want[id(1000+1000*i+n)] = true
		}
	}
	for _, row := range rows {
		delete(want, row.Name())
	}
	if len(want) > 0 {
		t.Errorf("%d rows are lost", len(want))
	}
	if got := strings.Count(read(t, b, Moves), "\n"); got != 4*each+1 {
		t.Errorf("%d lines, want %d", got, 4*each+1)
	}
}

// A command that ends without recording gives the lock back.
func TestLockIsGivenBack(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	for range 3 {
		if err := b.Update(ids(50), func(*View) (Batch, error) { return nil, errors.New("no") }); err == nil {
			t.Error("an error of decide is lost")
		}
	}
	if err := record(b, ids(50), moved("")); err != nil {
		t.Errorf("recording after refusals: %v", err)
	}
}

func TestABookThatMayOnlyBeRead(t *testing.T) {
	t.Parallel()
	b := newBook(t, map[string]string{Moves: movesHeader})
	if _, err := view(t, b).Moves(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(b.Dir, privateFolder)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("looking left %s behind: %v", privateFolder, err)
	}
}
