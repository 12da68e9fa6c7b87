package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/oklog/ulid/v2"
	"pgregory.net/rapid"
)

var now = mustTime("2026-11-25T12:00:00Z").Std()

// entryAt returns an entry made at an instant.
func entryAt(text string, n byte) string {
	var id ulid.ULID
	if err := id.SetTime(ulid.Timestamp(mustTime(text).Std())); err != nil {
		panic(err)
	}
	id[15] = n
	return id.String()
}

// form is a canonical form, written as the contract says, by hand.
func form(fields ...string) string { return strings.Join(fields, "\x1f") + "\n" }

func sumOf(forms ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(forms, "")))
	return hex.EncodeToString(sum[:])
}

var sealEntries atomic.Int32 // no two seals of a test book have the same entry

// seal records seals through an instant, as made at another.
func seal(t *testing.T, b *Book, through, at string, again bool) ([]Seal, error) {
	t.Helper()
	var made []Seal
	err := b.Update(func() string { return entryAt(at, byte(sealEntries.Add(1))) }, func(v *View) (Batch, error) {
		seals, err := v.SealThrough(mustTime(through), again, mustTime(at).Std())
		for i := range seals {
			seals[i].At = mustTime(at)
		}
		made = seals
		return NewBatch[Seal](seals), err
	})
	return made, err
}

// looksOver returns what verify says of a book, a problem a line, and how many seals hold.
func looksOver(t *testing.T, b *Book) (problems string, hold int) {
	t.Helper()
	found, err := view(t, b).Verify(now, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, p := range found.Problems {
		lines = append(lines, p.File+" "+p.Entry+" "+p.What)
	}
	for _, s := range found.Seals {
		if s.Holds {
			hold++
		}
	}
	return strings.Join(lines, "\n"), hold
}

// The digest by the contract's words: distinct rows of the month, voided ones too, in ledger order, each as file and columns
// joined by U+001F and ended by LF; SHA-256 as FIPS 180-4 has it (crypto/sha256 is the standard library's).
func TestSealIsOfTheCanonicalRowsInLedgerOrder(t *testing.T) {
	t.Parallel()
	a, b, c := entryAt("2026-10-05T08:00:00Z", 1), entryAt("2026-10-05T08:00:00Z", 2), entryAt("2026-10-20T08:00:00Z", 3)
	header := "note,entry,mine,spool,at,place\r\n"
	rows := []string{
		"later," + c + ",x,pla-1,2026-10-20T10:00:00+02:00, shelf \r\n",
		"\"two\r\nlines\"," + b + ",,PLA-2,2026-10-05T08:00:00Z,P1/2\r\n",
		"," + a + ",,PLA-1,2026-10-05T08:00:00Z,\r\n",
		"," + a + ",,PLA-1,2026-10-05T08:00:00Z,\r\n", // one entry twice
		"by hand,,,PLA-2,2026-10-05T08:00:00Z,z\r\n",
		",,,PLA-1,2026-10-31T23:30:00-02:00,november by UTC\r\n",
		",,,PLA-1,2026-10-31T23:59:59.5Z,\r\n",
	}
	october := []string{
		form(Moves, "", "2026-10-05T08:00:00Z", "PLA-2", "z", "by hand"),
		form(Moves, a, "2026-10-05T08:00:00Z", "PLA-1", "", ""),
		form(Moves, b, "2026-10-05T08:00:00Z", "PLA-2", "P1/2", "two\nlines"),
		form(Moves, c, "2026-10-20T10:00:00+02:00", "pla-1", "shelf", "later"),
		form(Moves, "", "2026-10-31T23:59:59.5Z", "PLA-1", "", ""),
	}
	november := form(Moves, "", "2026-10-31T23:30:00-02:00", "PLA-1", "november by UTC", "")
	rapid.Check(t, func(r *rapid.T) {
		text := header + strings.Join(rapid.Permutation(rows).Draw(r, "rows"), "")
		book := newBook(t, map[string]string{Moves: text, Voids: lines(Voids, entryAt("2026-10-06T08:00:00Z", 4)+",2026-10-06T08:00:00Z,"+a+",")})
		seals, err := seal(t, book, "2026-11-03T23:59:59Z", "2026-11-04T08:00:00Z", false)
		if err != nil {
			r.Fatal(err)
		}
		got := map[string]Seal{}
		for _, s := range seals {
			got[s.Ledger+" "+s.Month] = s
		}
		if len(got) != len(Sealable)*2+1 || len(seals) != len(got) { // and that of clients.csv
			r.Fatalf("%d seals, want one for each of %d ledgers and 2 months", len(seals), len(Sealable))
		}
		for key, want := range map[string]digest{
			"moves.csv 2026-10":     {5, sumOf(october...)},
			"moves.csv 2026-11":     {1, sumOf(november)},
			"weighins.csv 2026-11":  {0, sumOf()},
			"purchases.csv 2026-10": {2, got["purchases.csv 2026-10"].SHA256},
			"voids.csv 2026-10":     {1, sumOf(form(Voids, entryAt("2026-10-06T08:00:00Z", 4), "2026-10-06T08:00:00Z", a, ""))},
		} {
			if s := got[key]; s.Rows.N != want.rows || s.SHA256 != want.sum {
				r.Errorf("%s: sealed %d rows, %s, want %d, %s", key, s.Rows.N, s.SHA256, want.rows, want.sum)
			}
		}
		if problems, hold := looksOver(t, book); problems != "" || hold != len(seals) {
			r.Errorf("%d of %d seals hold: %s", hold, len(seals), problems)
		}
	})
}

// A spreadsheet writes 812.50 as 812.5 when it saves a file, whose meaning is the same. Seals made now hold after that; one of
// before was of the text as typed, and holds as long as that stands.
func TestSealOutlivesASpreadsheetsSave(t *testing.T) {
	t.Parallel()
	const at = "2026-10-05T08:00:00Z"
	a := entryAt(at, 1)
	typed := lines(Weighins, a+","+at+",PLA-1,0812.50,bench,loaded,1.50", ","+at+",PLA-2,900.000,,,", ","+at+",PLA-2,90,,,")
	saved := lines(Weighins, a+","+at+",PLA-1,812.5,bench,loaded,1.50", ","+at+",PLA-2,900,,,", ","+at+",PLA-2,90,,,")
	// By hand, in ledger order: rows without entry first, by content.
	asTyped := sumOf(form(Weighins, "", at, "PLA-2", "90", "", "", ""), form(Weighins, "", at, "PLA-2", "900.000", "", "", ""), form(Weighins, a, at, "PLA-1", "0812.50", "bench", "loaded", "1.50"))
	shortest := sumOf(form(Weighins, "", at, "PLA-2", "90", "", "", ""), form(Weighins, "", at, "PLA-2", "900", "", "", ""), form(Weighins, a, at, "PLA-1", "812.5", "bench", "loaded", "1.50"))

	b := newBook(t, map[string]string{Weighins: typed})
	seals, err := seal(t, b, "2026-10-31T23:59:59Z", "2026-11-04T08:00:00Z", false)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range seals {
		if s.Ledger == Weighins && (s.SHA256 != shortest || s.Rows.N != 3) {
			t.Errorf("sealed %d rows, %s, want 3, %s", s.Rows.N, s.SHA256, shortest)
		}
	}
	write(t, b.Dir, map[string]string{Weighins: saved})
	if problems, hold := looksOver(t, b); problems != "" || hold != len(seals) {
		t.Errorf("saved by a spreadsheet: %d of %d seals hold: %s", hold, len(seals), problems)
	}

	before := lines(Seals, entryAt("2026-11-04T08:00:00Z", 9)+",2026-11-04T08:00:00Z,2026-10-31T23:59:59Z,weighins.csv,2026-10,3,"+asTyped)
	for _, c := range []struct {
		weighins string
		holds    int
	}{{typed, 1}, {saved, 0}} {
		if _, hold := looksOver(t, newBook(t, map[string]string{Weighins: c.weighins, Seals: before})); hold != c.holds {
			t.Errorf("a seal of before: %d hold, want %d", hold, c.holds)
		}
	}
}

func TestShortestNumber(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ typed, want string }{{"", ""}, {"0", "0"}, {"000", "0"}, {"0.50", "0.5"}, {"00.5", "0.5"}, {"12.000", "12"}, {"1200", "1200"}, {"007.10", "7.1"}, {"0.0", "0"}} {
		if got := shortestNumber(c.typed); got != c.want {
			t.Errorf("%q: got %q, want %q", c.typed, got, c.want)
		}
	}
}

// What was changed after a seal is found, and told as far as it can be known.
func TestSealFindsWhatWasChanged(t *testing.T) {
	t.Parallel()
	early, late := entryAt("2026-10-05T08:00:00Z", 1), entryAt("2026-10-20T08:00:00Z", 2)
	forged := entryAt("2026-11-10T08:00:00Z", 3)
	moves := lines(Moves, early+",2026-10-05T08:00:00Z,PLA-1,shelf,", late+",2026-10-20T08:00:00Z,PLA-2,drawer,")
	consumption := lines(ConsumptionFile,
		entryAt("2026-10-06T08:00:00Z", 4)+",2026-10-06T08:00:00Z,pot,,,PLA-1,10,,,,,,,",
		entryAt("2026-10-07T08:00:00Z", 5)+",2026-10-07T08:00:00Z,lid,,,PLA-1,20,,,,,,,")
	for _, c := range []struct {
		name, file, text string
		want             []string // parts of the problems, in order; nil: none
	}{
		{"nothing", Moves, moves, nil},
		{"lines put elsewhere", Moves, lines(Moves, late+",2026-10-20T08:00:00Z,PLA-2,drawer,", early+",2026-10-05T08:00:00Z,PLA-1,shelf,"), nil},
		{"a row of November", Moves, moves + forged + ",2026-11-10T08:00:00Z,PLA-1,P1/2,\n", nil},
		{"one byte of one row", Moves, strings.Replace(moves, "shelf", "shelg", 1), []string{"seals.csv  2026-10 no longer holds for moves.csv, sealed through 2026-10-31: of 2 rows one or more were changed"}},
		{"one byte of an offset", Moves, strings.Replace(moves, "05T08:00:00Z", "05T08:00:01Z", 1), []string{"of 2 rows one or more were changed"}},
		{"a row removed", Moves, lines(Moves, late+",2026-10-20T08:00:00Z,PLA-2,drawer,"), []string{"moves.csv, sealed through 2026-10-31: of 2 rows 1 are gone"}},
		{"a row moved to November", Moves, strings.Replace(moves, "2026-10-20", "2026-11-20", 1), []string{"of 2 rows 1 are gone"}},
		{"a file removed", Moves, "", []string{"of 2 rows 2 are gone"}},
		{"a backdated row", Moves, moves + forged + ",2026-10-10T08:00:00Z,PLA-1,P1/2,\n",
			[]string{"moves.csv " + forged + " recorded on 2026-11-10T08:00:00Z, after 2026-10 was sealed", "seals.csv  2026-10 no longer holds for moves.csv, sealed through 2026-10-31: 2 rows were sealed and 3 are there now"}},
		{"a backdated row without an entry", Moves, moves + ",2026-10-10T08:00:00Z,PLA-1,P1/2,\n", []string{"2 rows were sealed and 3 are there now"}},
		{"a row backdated before all months", Moves, moves + forged + ",2026-08-10T08:00:00Z,PLA-1,P1/2,\n", []string{"moves.csv " + forged + " recorded on 2026-11-10T08:00:00Z into a time before 2026-10, the first month that was sealed"}},
		{"a byte of a print", ConsumptionFile, strings.Replace(consumption, ",20,", ",21,", 1), []string{"consumption.csv, sealed through 2026-10-31: of 2 rows one or more were changed"}},
		{"a print backdated", ConsumptionFile, consumption + forged + ",2026-10-10T08:00:00Z,pot,,,PLA-1,10,,,,,,,\n",
			[]string{"consumption.csv " + forged + " recorded on 2026-11-10", "seals.csv  2026-10 no longer holds for consumption.csv"}},
	} {
		b := newBook(t, map[string]string{Moves: moves, ConsumptionFile: consumption, Purchases: lines(Purchases,
			entryAt("2026-10-01T08:00:00Z", 7)+",2026-10-01T09:00:00+02:00,PLA-1,PLA,white,,,,1.75,1000,card,,20,,,,,", entryAt("2026-10-01T08:00:00Z", 8)+",2026-10-01T09:00:00+02:00,PLA-2,pla,black,,,,1.75,1000,,180,20,,,,,")})
		if _, err := seal(t, b, "2026-10-31T23:59:59.999999999Z", "2026-11-02T08:00:00Z", false); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(b.Dir, c.file)
		if err := os.WriteFile(name, []byte(c.text), 0o666); err != nil {
			t.Fatal(err)
		}
		if c.text == "" {
			if err := os.Remove(name); err != nil {
				t.Fatal(err)
			}
		}
		// The seals' own entries differ from run to run of the text only: they are blanked.
		problems, hold := looksOver(t, b)
		var got []string
		for line := range strings.Lines(problems) {
			if words := strings.SplitN(strings.TrimSuffix(line, "\n"), " ", 3); words[0] == Seals {
				line = Seals + "  " + words[2]
			}
			got = append(got, strings.TrimSuffix(line, "\n"))
		}
		ok := len(got) == len(c.want)
		for i := range min(len(got), len(c.want)) {
			ok = ok && strings.Contains(got[i], c.want[i])
		}
		broken := 0
		if strings.Contains(problems, "no longer holds") {
			broken = 1
		}
		if !ok || hold != len(Sealable)+1-broken { // one is of clients.csv
			t.Errorf("%s: %d seals hold, verify says\n%s\nwant\n%s", c.name, hold, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
	}
}

// Recording into a sealed time wants a reason, which stands in the row; then that month can be sealed again.
func TestReopen(t *testing.T) {
	t.Parallel()
	old := entryAt("2026-10-05T08:00:00Z", 1)
	b := newBook(t, map[string]string{Moves: lines(Moves, old+",2026-10-05T08:00:00Z,PLA-1,shelf,")})
	if _, err := seal(t, b, "2026-10-31T23:59:59.999999999Z", "2026-11-02T08:00:00Z", false); err != nil {
		t.Fatal(err)
	}
	before := contents(t, b)
	row := func(at, note string) Move {
		return Move{Head: Head{At: mustTime(at)}, Spool: "PLA-1", Place: "P1/2", Note: note}
	}
	newEntry := func() string { return entryAt("2026-11-10T08:00:00Z", 9) }
	void := func(target string) func(*View) (Batch, error) {
		return func(*View) (Batch, error) {
			return NewBatch([]Void{{Head: Head{At: mustTime("2026-11-10T08:00:00Z")}, Target: target}}), nil
		}
	}
	const sealed = "moves.csv is sealed through 2026-10-31, and 2026-10-"
	for _, at := range []string{"2026-10-05T08:00:00Z", "2026-10-31T23:59:59.9Z", "2026-11-01T00:30:00+01:00"} {
		wantError(t, record(b, newEntry, row(at, "")), "moves.csv is sealed through 2026-10-31, and "+at+" lies before", "--reopen")
	}
	wantError(t, record(b, newEntry, row("2026-08-01T08:00:00Z", "")), "moves.csv is sealed through 2026-10-31")
	wantError(t, b.Update(newEntry, void(old)), sealed)
	wantError(t, b.Try(newEntry, void(old)), sealed)
	if d := cmp.Diff(before, contents(t, b)); d != "" {
		t.Fatalf("the book changed (-before +after):\n%s", d)
	}
	if err := record(b, newEntry, row("2026-11-01T00:00:00Z", "")); err != nil {
		t.Fatal(err)
	}

	b.Reopen = "a reading found on paper"
	if err := record(b, func() string { return entryAt("2026-11-10T08:00:00Z", 10) }, row("2026-10-06T08:00:00Z", "by the window")); err != nil {
		t.Fatal(err)
	}
	if err := b.Update(func() string { return entryAt("2026-11-10T08:00:00Z", 11) }, void(old)); err != nil {
		t.Fatal(err)
	}
	if got := contents(t, b); !strings.HasSuffix(got[Moves], ",PLA-1,P1/2,reopened: a reading found on paper; by the window\n") || !strings.HasSuffix(got[Voids], old+",reopened: a reading found on paper\n") {
		t.Errorf("recorded %q and %q", got[Moves], got[Voids])
	}
	problems, _ := looksOver(t, b)
	if !strings.Contains(problems, "2026-10 no longer holds for moves.csv, sealed through 2026-10-31: reopened for 1 row; seal it again with: tarebook seal --through 2026-10-31") ||
		!strings.Contains(problems, "moves.csv "+entryAt("2026-11-10T08:00:00Z", 10)+" recorded on 2026-11-10T08:00:00Z, after 2026-10 was sealed") {
		t.Errorf("verify says %s", problems)
	}
	b.Reopen = ""
	seals, err := seal(t, b, "2026-10-31T23:59:59.999999999Z", "2026-11-11T08:00:00Z", false)
	if err != nil || len(seals) != 1 || seals[0].Ledger != Moves || seals[0].Rows.N != 2 {
		t.Fatalf("sealed again %+v, %v", seals, err)
	}
	if problems, hold := looksOver(t, b); problems != "" || hold != len(Sealable)+1 {
		t.Errorf("%d seals hold: %s", hold, problems)
	}
}

func TestSealThrough(t *testing.T) {
	t.Parallel()
	row := func(at string, n byte) string { return entryAt(at, n) + "," + at + ",PLA-1,shelf," }
	moves := []string{row("2026-08-20T08:00:00Z", 1), row("2026-10-05T08:00:00Z", 2), row("2026-10-25T08:00:00Z", 3)}
	b := newBook(t, map[string]string{Moves: lines(Moves, moves...), Purchases: lines(Purchases,
		entryAt("2026-08-01T08:00:00Z", 7)+",2026-08-01T09:00:00Z,PLA-1,PLA,white,,,,1.75,1000,card,,20,,,,,")})
	months := func(seals []Seal) string {
		var got []string
		for _, s := range seals {
			if s.Ledger == Moves {
				got = append(got, s.Month+":"+string(rune('0'+s.Rows.N)))
			}
		}
		return strings.Join(got, " ")
	}
	for _, c := range []struct{ through, want string }{
		{"2026-07-31T23:59:59Z", ""},
		{"2026-08-31T23:59:59.999999999Z", "2026-08:1"},
		{"2026-10-15T23:59:59Z", "2026-09:0 2026-10:1"}, // an empty month too, and half of one
		{"2026-10-15T23:59:59Z", ""},
		{"2026-09-15T23:59:59Z", ""},
		{"2026-10-31T23:59:59.999999999Z", "2026-10:2"}, // the rest of it
		{"2026-11-10T00:00:00Z", "2026-11:0"},
	} {
		seals, err := seal(t, b, c.through, "2026-11-20T08:00:00Z", false)
		if err != nil || months(seals) != c.want {
			t.Errorf("through %s: sealed %s, %v, want %s", c.through, months(seals), err, c.want)
		}
		if problems, _ := looksOver(t, b); problems != "" {
			t.Errorf("through %s: %s", c.through, problems)
		}
	}
	// As of a time before a seal reaches, its rows do not all exist: it is left out.
	v, err := b.View(mustTime("2026-10-10T00:00:00Z"))
	if err != nil {
		t.Fatal(err)
	}
	if states, err := v.SealStates(); err != nil || len(states) != 0 {
		t.Errorf("as of October: %d seals, %v", len(states), err)
	}

	write(t, b.Dir, map[string]string{Moves: lines(Moves, strings.Replace(moves[0], "shelf", "door", 1), moves[1], moves[2])})
	if seals, err := seal(t, b, "2026-11-15T00:00:00Z", "2026-11-20T09:00:00Z", false); err == nil {
		t.Errorf("a forged month was sealed: %+v", seals)
	} else {
		wantError(t, err, "2026-08 no longer holds for moves.csv", "seal it as it is now with --again")
	}
	if seals, err := seal(t, b, "2026-11-15T00:00:00Z", "2026-11-20T09:00:00Z", true); err != nil || months(seals) != "2026-08:1 2026-11:0" {
		t.Errorf("sealed again %s, %v", months(seals), err)
	}
	if problems, _ := looksOver(t, b); problems != "" {
		t.Error(problems)
	}

	write(t, b.Dir, map[string]string{Moves: lines(Moves, append(moves, strings.Replace(moves[2], "shelf", "door", 1))...)})
	_, err = seal(t, b, "2026-11-18T00:00:00Z", "2026-11-20T10:00:00Z", true)
	wantError(t, err, "a ledger with a conflict cannot be sealed", "moves.csv:4: entry")
	write(t, b.Dir, map[string]string{Moves: lines(Moves, append(moves, "x,,,,")...)})
	_, err = seal(t, b, "2026-11-18T00:00:00Z", "2026-11-20T10:00:00Z", true)
	wantError(t, err, "moves.csv:5: ")
}

func TestEndOfDay(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"2026-10-31T00:00:00+01:00":           "2026-10-31T23:59:59.999999999+01:00",
		"2026-10-31T23:59:59.999999999-03:30": "2026-10-31T23:59:59.999999999-03:30",
		"2026-02-28T12:00:00Z":                "2026-02-28T23:59:59.999999999Z",
	} {
		end := mustTime(text).EndOfDay()
		if end.String() != want || end.Through() != text[:len(time.DateOnly)] {
			t.Errorf("%s: the day ends at %s (%s), want %s", text, end, end.Through(), want)
		}
	}
	if got := mustTime("2026-10-31T12:00:00Z").Through(); got != "2026-10-31T12:00:00Z" {
		t.Errorf("noon reads %s", got)
	}
}
