package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A row typed by hand is named by the SHA-256 of its canonical form: the file's name and the contract's columns in
// table order as trimmed text, joined by U+001F and ended by LF.
func TestNameOfARowTypedByHand(t *testing.T) {
	t.Parallel()
	const canonical = "weighins.csv\x1f\x1f2026-11-20T18:30:00+01:00\x1fpla-1\x1f812.50\x1fbench\x1f\x1fsay \"hi\",\ntwice\n"
	sum := sha256.Sum256([]byte(canonical))
	want := hex.EncodeToString(sum[:])[:26]
	for name, content := range map[string]string{
		"as the contract has it": weighHeader + ",2026-11-20T18:30:00+01:00,pla-1,812.50,bench,,\"say \"\"hi\"\",\ntwice\"\n",
		"with blanks":            weighHeader + " , 2026-11-20T18:30:00+01:00\t,  pla-1,812.50 ,bench, ,\" say \"\"hi\"\",\ntwice \"\n",
		"in another order":       "note,mine,state,scale,gross_g,spool,at,entry\n\"say \"\"hi\"\",\r\ntwice\",x,,bench,812.50,pla-1,2026-11-20T18:30:00+01:00,\n",
		"below blank lines":      weighHeader + "\n \n,2026-11-20T18:30:00+01:00,pla-1,812.50,bench,,\"say \"\"hi\"\",\ntwice\"\n",
	} {
		rows, err := view(t, newBook(t, map[string]string{Weighins: content})).Weighins()
		if err != nil || len(rows) != 1 {
			t.Errorf("%s: %d rows, %v", name, len(rows), err)
			continue
		}
		if got := rows[0].Name(); got != want {
			t.Errorf("%s: the row is called %s, want %s", name, got, want)
		}
	}
	// Absent columns are empty ones.
	const short = "weighins.csv\x1f\x1f2026-11-20T18:30:00+01:00\x1fPLA-1\x1f1\x1f\x1f\x1f\n"
	sum = sha256.Sum256([]byte(short))
	want = hex.EncodeToString(sum[:])[:26]
	rows, err := view(t, newBook(t, map[string]string{Weighins: "entry,at,spool,gross_g,scale,state\n,2026-11-20T18:30:00+01:00,PLA-1,1,,\n"})).Weighins()
	if err != nil || names(rows) != want {
		t.Errorf("the row without note is called %q, %v, want %s", names(rows), err, want)
	}
	// FIPS 180-4, the example "abc".
	if got := contentID("abc"); got != "ba7816bf8f01cfea414140de5d" {
		t.Errorf(`contentID("abc") = %s`, got)
	}
}

// nameOf returns what a row of the contract's own order, typed without an entry and without quotes, is called.
func nameOf(file, row string) string {
	sum := sha256.Sum256([]byte(file + "\x1f" + strings.ReplaceAll(row, ",", "\x1f") + "\n"))
	return hex.EncodeToString(sum[:])[:26]
}

func TestOrder(t *testing.T) {
	t.Parallel()
	const a, b = ",2026-11-20T18:30:00Z,PLA-1,1,,,a", ",2026-11-20T18:30:00Z,PLA-1,1,,,b"
	rows, err := view(t, newBook(t, map[string]string{Weighins: lines(Weighins,
		id(3)+",2026-11-20T18:30:00Z,PLA-1,1,,,",
		id(9)+",2026-11-20T18:29:59.999999999Z,PLA-1,1,,,",
		strings.ToLower(id(2))+",2026-11-20T18:30:00Z,PLA-1,1,,,",
		b, a,
		id(4)+",2026-11-20T19:29:00+01:00,PLA-1,1,,,", // 18:29 UTC, though its text is the greatest
	)})).Weighins()
	want := strings.Join([]string{id(4), id(9), nameOf(Weighins, a), nameOf(Weighins, b), id(2), id(3)}, " ")
	if err != nil || names(rows) != want {
		t.Errorf("got %s, %v, want %s", names(rows), err, want)
	}
}

// A book's files and what counts in them; the same in weighins.csv, which is read whole, and in consumption.csv, which
// is streamed, must come out alike.
func TestWhatCounts(t *testing.T) {
	t.Parallel()
	const at, later, latest = "2026-11-20T18:30:00Z", "2026-11-20T19:00:00Z", "2026-11-20T20:00:00Z"
	typed := func(file, note string) string {
		if file == Weighins {
			return "," + at + ",PLA-1,1,,," + note
		}
		return "," + at + ",,,,PLA-1,1,,,,,,," + note
	}
	row := func(file, entry, at, note string) string {
		if file == Weighins {
			return entry + "," + at + ",PLA-1,1,,," + note
		}
		return entry + "," + at + ",,,,PLA-1,1,,,,,,," + note
	}
	for _, file := range []string{Weighins, ConsumptionFile} {
		byHand := nameOf(file, typed(file, "x"))
		void := nameOf(Voids, ","+at+","+id(1)+",")
		for _, c := range []struct {
			name      string
			rows      []string
			voids     []string
			asOf      string
			want      string // names of the rows that count, sorted
			conflicts string // lines of each
		}{
			{"one row", []string{row(file, id(1), at, "")}, nil, "", id(1), ""},
			{"twice is once", []string{row(file, id(1), at, ""), row(file, id(2), at, ""), row(file, id(1), at, "")}, nil, "", id(1) + " " + id(2), ""},
			{"twice in other letters and blanks is once", []string{row(file, id(1), at, "a"), row(file, strings.ToLower(id(1)), at, " a ")}, nil, "", id(1), ""},
			{"A B C D B", []string{row(file, id(1), at, ""), row(file, id(2), at, ""), row(file, id(3), at, ""), row(file, id(4), at, ""), row(file, id(2), at, "")}, nil, "",
				strings.Join([]string{id(1), id(2), id(3), id(4)}, " "), ""},
			{"A B C D B in conflict", []string{row(file, id(1), at, ""), row(file, id(2), at, ""), row(file, id(3), at, ""), row(file, id(4), at, ""), row(file, id(2), at, "x")}, nil, "",
				strings.Join([]string{id(1), id(3), id(4)}, " "), "[3 6]"},
			{"three contents", []string{row(file, id(1), at, "a"), row(file, id(1), at, "b"), row(file, id(1), at, "c")}, nil, "", "", "[2 3 4]"},
			{"two alike and one other", []string{row(file, id(1), at, "a"), row(file, id(1), at, "a"), row(file, id(1), at, "c")}, nil, "", "", "[2 3 4]"},
			{"an other text of the same instant is a conflict", []string{row(file, id(1), "2026-11-20T18:30:00Z", ""), row(file, id(1), "2026-11-20T19:30:00+01:00", "")}, nil, "", "", "[2 3]"},
			{"typed twice is once", []string{typed(file, "x"), typed(file, "x")}, nil, "", byHand, ""},
			{"a void hides", []string{row(file, id(1), at, ""), row(file, id(2), at, "")}, []string{id(11) + "," + later + "," + id(1) + ","}, "", id(2), ""},
			{"an earlier void hides too", []string{row(file, id(1), later, "")}, []string{id(11) + "," + at + "," + id(1) + ","}, "", "", ""},
			{"the target in lower case", []string{row(file, id(1), at, "")}, []string{id(11) + "," + later + "," + strings.ToLower(id(1)) + ","}, "", "", ""},
			{"the entry in lower case", []string{row(file, strings.ToLower(id(1)), at, "")}, []string{id(11) + "," + later + "," + id(1) + ","}, "", "", ""},
			{"a void hides both of a pair", []string{row(file, id(1), at, ""), row(file, id(1), at, "")}, []string{id(11) + "," + later + "," + id(1) + ","}, "", "", ""},
			{"a void settles a conflict", []string{row(file, id(1), at, "a"), row(file, id(1), at, "b"), row(file, id(2), at, "")}, []string{id(11) + "," + later + "," + id(1) + ","}, "", id(2), ""},
			{"a void of a void", []string{row(file, id(1), at, "")}, []string{id(11) + "," + at + "," + id(1) + ",", id(12) + "," + later + "," + id(11) + ","}, "", id(1), ""},
			{"a void of a void of a conflict brings it back", []string{row(file, id(1), at, "a"), row(file, id(1), at, "b")}, []string{id(11) + "," + at + "," + id(1) + ",", id(12) + "," + later + "," + id(11) + ","}, "", "", "[2 3]"},
			{"an earlier void does not reach a later one", []string{row(file, id(1), at, "")}, []string{id(12) + "," + at + "," + id(11) + ",", id(11) + "," + later + "," + id(1) + ","}, "", "", ""},
			{"of two at one instant the greater entry is the later", []string{row(file, id(1), at, "")}, []string{id(11) + "," + at + "," + id(1) + ",", id(12) + "," + at + "," + id(11) + ","}, "", id(1), ""},
			{"and the lesser the earlier", []string{row(file, id(1), at, "")}, []string{id(11) + "," + at + "," + id(12) + ",", id(12) + "," + at + "," + id(1) + ","}, "", "", ""},
			{"a void of a void of a void", []string{row(file, id(1), at, "")},
				[]string{id(11) + "," + at + "," + id(1) + ",", id(12) + "," + later + "," + id(11) + ",", id(13) + "," + latest + "," + id(12) + ","}, "", "", ""},
			{"a void of itself is no void of it", []string{row(file, id(1), at, "")}, []string{id(11) + "," + at + "," + id(11) + ","}, "", id(1), ""},
			{"voids in conflict hide nothing", []string{row(file, id(1), at, ""), row(file, id(2), at, "")}, []string{id(11) + "," + at + "," + id(1) + ",", id(11) + "," + at + "," + id(2) + ","}, "", id(1) + " " + id(2), "[2 3]"},
			{"a row typed by hand, by its 26 digits", []string{typed(file, "x"), typed(file, "y"), typed(file, "x")}, []string{id(11) + "," + later + "," + byHand + ","}, "", nameOf(file, typed(file, "y")), ""},
			{"in upper case", []string{typed(file, "x")}, []string{id(11) + "," + later + "," + strings.ToUpper(byHand) + ","}, "", "", ""},
			{"a void typed by hand", []string{row(file, id(1), at, "")}, []string{"," + at + "," + id(1) + ","}, "", "", ""},
			{"which is voided", []string{row(file, id(1), at, "")}, []string{"," + at + "," + id(1) + ",", id(12) + "," + at + "," + void + ","}, "", id(1), ""},
			{"a void of nothing", []string{row(file, id(1), at, "")}, []string{id(11) + "," + at + "," + id(99) + ","}, "", id(1), ""},
			{"as of then", []string{row(file, id(1), at, ""), row(file, id(2), later, ""), row(file, id(3), latest, "")}, nil, later, id(1) + " " + id(2), ""},
			{"as of before the void", []string{row(file, id(1), at, "")}, []string{id(11) + "," + latest + "," + id(1) + ","}, later, id(1), ""},
			{"as of before the void of the void", []string{row(file, id(1), at, "")}, []string{id(11) + "," + later + "," + id(1) + ",", id(12) + "," + latest + "," + id(11) + ","}, later, "", ""},
			{"as of before the second content", []string{row(file, id(1), at, ""), row(file, id(2), at, ""), row(file, id(1), latest, "")}, nil, later, id(1) + " " + id(2), ""},
			{"as of after the second content", []string{row(file, id(1), at, ""), row(file, id(2), at, ""), row(file, id(1), latest, "")}, nil, latest, id(2), "[2 4]"},
		} {
			b := newBook(t, map[string]string{file: lines(file, c.rows...), Voids: lines(Voids, c.voids...)})
			v := view(t, b)
			if c.asOf != "" {
				v = viewAsOf(t, b, c.asOf)
			}
			var got []string
			if file == Weighins {
				rows, err := v.Weighins()
				if err != nil {
					t.Errorf("%s, %s: %v", file, c.name, err)
				}
				got = strings.Fields(names(rows))
			} else {
				for name, n := range consumed(t, v).rows {
					for range n { // a row given twice shows
						got = append(got, name)
					}
				}
			}
			slices.Sort(got)
			if got := strings.Join(got, " "); got != c.want {
				t.Errorf("%s, %s: what counts is %q, want %q", file, c.name, got, c.want)
			}
			if got := conflictLines(v); got != c.conflicts {
				t.Errorf("%s, %s: conflicts on lines %q, want %q", file, c.name, got, c.conflicts)
			}
		}
	}
}

func conflictLines(v *View) string {
	var all []string
	for _, c := range v.Conflicts() {
		all = append(all, "["+strings.ReplaceAll(joinLines(c.Lines), " and ", " ")+"]")
	}
	return strings.Join(all, " ")
}

func TestConflictNamesBothLines(t *testing.T) {
	t.Parallel()
	for _, file := range []string{Moves, ConsumptionFile} {
		row := id(5) + ",2026-11-20T18:30:00Z,PLA-1,%,"
		if file == ConsumptionFile {
			row = id(5) + ",2026-11-20T18:30:00Z,%,,,PLA-1,1,,,,,,,"
		}
		v := view(t, newBook(t, map[string]string{file: lines(file, strings.ReplaceAll(row, "%", "a"), "", strings.ReplaceAll(row, "%", "b"))}))
		if _, err := v.Moves(); err != nil {
			t.Fatal(err)
		}
		consumed(t, v)
		if len(v.Conflicts()) != 1 {
			t.Errorf("%s: %d conflicts, want 1", file, len(v.Conflicts()))
			continue
		}
		c := v.Conflicts()[0]
		wantError(t, c, file+":2: ", "lines 2 and 4", "tarebook void --only "+id(5))
		if c.ID != id(5) || c.File != file {
			t.Errorf("%s: conflict of %s in %s", file, c.ID, c.File)
		}
	}
}

// The same spool bought under two entries: the earlier counts, and it is told.
func TestSpoolBoughtTwice(t *testing.T) {
	t.Parallel()
	files := map[string]string{Purchases: lines(Purchases,
		id(7)+",2026-10-02T09:00:00Z,pla-1,PLA,,,,,1.75,500,,,,,,,,",
		id(8)+",2026-10-01T09:00:00Z,PLA-1,PLA,,,,,1.75,1000,,,,,,,,")}
	v := view(t, newBook(t, files))
	rows, err := v.Purchases()
	if err != nil || names(rows) != id(8) || !rows[0].Twice {
		t.Errorf("what counts is %s, %v, want %s, marked as bought twice", names(rows), err, id(8))
	}
	if len(v.Conflicts()) != 1 {
		t.Fatalf("%d conflicts, want 1", len(v.Conflicts()))
	}
	wantError(t, v.Conflicts()[0], "spool PLA-1 is bought on lines 2 and 3", "tarebook void --only "+id(7))
	files[Voids] = lines(Voids, id(11)+",2026-10-03T09:00:00Z,"+id(8)+",")
	v = view(t, newBook(t, files))
	if rows, err := v.Purchases(); err != nil || names(rows) != id(7) || rows[0].Twice || len(v.Conflicts()) != 0 {
		t.Errorf("after the void of the earlier %s counts, %v, %d conflicts", names(rows), err, len(v.Conflicts()))
	}
}

// shop draws the rows of a small book: entries that come twice, in conflict, voided, typed by hand.
func shop(t *rapid.T) map[string][]string {
	at := rapid.SampledFrom([]string{"2026-11-20T18:30:00Z", "2026-11-20T19:30:00+01:00", "2026-11-20T18:30:01Z", "2026-11-21T08:00:00Z"})
	entry := rapid.Custom(func(t *rapid.T) string {
		if rapid.IntRange(0, 3).Draw(t, "typed") == 0 {
			return ""
		}
		return id(rapid.IntRange(20, 29).Draw(t, "entry"))
	})
	note := rapid.SampledFrom([]string{"", "x", "\"a, b\""})
	rows := func(name string, row func(entry, at, note string) string) []string {
		return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) string {
			return row(entry.Draw(t, "entry"), at.Draw(t, "at"), note.Draw(t, "note"))
		}), 0, 8).Draw(t, name)
	}
	spool := func(note string) string { return []string{"PLA-1", "PLA-2"}[len(note)%2] }
	files := map[string][]string{
		Weighins:        rows("weighins", func(e, at, n string) string { return e + "," + at + "," + spool(n) + ",900,,," + n }),
		ConsumptionFile: rows("consumption", func(e, at, n string) string { return e + "," + at + ",,,," + spool(n) + ",1,,,,,,," + n }),
		Moves:           rows("moves", func(e, at, n string) string { return e + "," + at + "," + spool(n) + ",," + n }),
		Queue:           rows("queue", func(e, at, n string) string { return e + "," + at + ",j,,,0," + spool(n) + ",,,1,,,,,,,," + n }),
		Purchases: append(rows("purchases", func(e, at, n string) string {
			return e + "," + at + "," + spool(n) + ",PLA,,,,,1.75,1000,,,,,,,," + n
		}), bought...),
	}
	files[Voids] = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) string {
		return entry.Draw(t, "entry") + "," + at.Draw(t, "at") + "," + id(rapid.IntRange(18, 31).Draw(t, "target")) + ","
	}), 0, 5).Draw(t, "voids")
	return files
}

// whatCounts tells all rows of a book that count, and its conflicts without their lines.
func whatCounts(t *rapid.T, dir string, files map[string][]string, asOf Time) string {
	content := map[string]string{}
	for _, file := range Ledgers { // all of them: the folder is used again
		content[file] = lines(file, files[file]...)
	}
	for name, text := range map[string]string{SettingsFile: lines(SettingsFile), Materials: lines(Materials, "PLA,1.24,,"), Cores: lines(Cores, "card,148,,")} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			content[name] = text
		}
	}
	for name, text := range content {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	v, err := (&Book{Dir: dir}).View(asOf)
	if err != nil {
		t.Fatal(err)
	}
	purchases, e1 := v.Purchases()
	weighins, e2 := v.Weighins()
	needs, e3 := v.Needs()
	moves, e4 := v.Moves()
	voids, e5 := v.Voids()
	f := &tally{}
	f.Reset()
	e6 := v.FoldConsumption(f)
	if err := JoinFaults(e1, e2, e3, e4, e5, e6); err != nil {
		t.Fatalf("%v in %q", err, content)
	}
	var conflicts []string
	for _, c := range v.Conflicts() {
		conflicts = append(conflicts, c.File+" "+c.ID)
	}
	slices.Sort(conflicts)
	var taken []string
	for name, n := range f.rows {
		for range n {
			taken = append(taken, name)
		}
	}
	slices.Sort(taken)
	twice := ""
	for _, p := range purchases {
		if p.Twice {
			twice += " " + p.Spool
		}
	}
	return strings.Join([]string{names(purchases), twice, names(weighins), names(needs), names(moves), names(voids), strings.Join(taken, " "), f.grams.String(), strings.Join(conflicts, ", ")}, "\n")
}

// Order of lines never matters.
func TestOrderOfLinesNeverMatters(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		files := shop(t)
		asOf := rapid.SampledFrom([]Time{{}, mustTime("2026-11-20T18:30:00Z"), mustTime("2026-11-20T18:30:01Z")}).Draw(t, "as of")
		want := whatCounts(t, dir, files, asOf)
		shuffled := map[string][]string{}
		for _, file := range Ledgers {
			if len(files[file]) > 0 {
				shuffled[file] = rapid.Permutation(files[file]).Draw(t, file)
			}
		}
		if got := whatCounts(t, dir, shuffled, asOf); got != want {
			t.Fatalf("shuffled\n%s\nwant\n%s", got, want)
		}
	})
}

// A voided entry equals one never written, and rows that stand twice equal rows that stand once: both at once, as
// each book costs a dozen files.
func TestVoidedEqualsNeverWritten(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		files := shop(t)
		target := rapid.IntRange(20, 29).Draw(t, "target")
		void := id(99) + ",2026-12-01T00:00:00Z," + id(target) + ","
		voided, without := map[string][]string{}, map[string][]string{}
		for _, file := range Ledgers {
			voided[file] = slices.Concat(files[file], files[file])
			without[file] = slices.DeleteFunc(slices.Clone(files[file]), func(row string) bool { return strings.HasPrefix(row, id(target)) })
		}
		voided[Voids] = append(slices.Clone(voided[Voids]), void)
		without[Voids] = append(slices.Clone(without[Voids]), void)
		got, want := whatCounts(t, dir, voided, Time{}), whatCounts(t, dir, without, Time{})
		if got != want {
			t.Fatalf("every row twice and one voided\n%s\nnever written\n%s", got, want)
		}
	})
}
