package ledger

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// What a view reads with a Memory, whatever was in a file before, is what one without reads.
func TestMemoryReadsTheSame(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	b.Memory = new(Memory)
	head := lines(Weighins)
	row := func(n, day int, rest string) string {
		return fmt.Sprintf("%s,2026-10-%02dT09:00:00+02:00,%s\n", id(n), day, rest)
	}
	a, c := row(10, 2, "PLA-1,900,bench,,"), row(12, 4, `PLA-2,800,,,"two`+"\n"+`lines, one row"`)
	for _, text := range []string{
		head, head + a, head + a, head + a + c, head + a + c + row(13, 3, "PLA-1,700,bench,,"), head + a + "\r\n" + c, head + a + c,
		head + a + c + row(10, 2, "PLA-1,901,bench,,") /* conflict */, head + a + c + strings.TrimSuffix(row(14, 5, "PLA-1,1,,,"), "\n"),
		head + a + c + row(14, 5, "PLA-1,1,,,"), head + a + c + row(14, 5, "PLA-1,x,,,"), head + a + c + row(14, 5, "PLA-9,1,,,"),
		head + a + row(14, 5, `PLA-1,1,,,"never closed`), head + a + row(14, 5, `PLA-1,1,,,"never closed`) + c, head + a + "\ufeff" + c,
		"\ufeff" + head + a, "\ufeff" + head + a + c, head, "", head + c + a, head + c + a + row(15, 6, "PLA-1,600,kitchen,,") /* unknown scale */, head + a,
	} {
		write(t, b.Dir, map[string]string{Weighins: text})
		for range 2 { // the second one finds what the first has read
			remembers, alone := view(t, b), view(t, &Book{Dir: b.Dir})
			got, err := remembers.Weighins()
			want, wantErr := alone.Weighins()
			if fmt.Sprint(err) != fmt.Sprint(wantErr) {
				t.Fatalf("%q: %v, want %v", text, err, wantErr)
			}
			if names(got) != names(want) || fmt.Sprint(remembers.Conflicts()) != fmt.Sprint(alone.Conflicts()) {
				t.Errorf("%q: %s %v, want %s %v", text, names(got), remembers.Conflicts(), names(want), alone.Conflicts())
			}
			for i := range want {
				if diff := cmp.Diff(want[i], got[i], cmp.AllowUnexported(Head{}, Time{}, layout{}, Mass{})); diff != "" {
					t.Errorf("%q: %s", text, diff)
				}
			}
		}
	}
}

// Consumption counts as the same only where nothing can have changed it, or what its rows mean.
func TestSameConsumption(t *testing.T) {
	t.Parallel()
	const late = "2026-10-07T09:00:00+02:00"
	weigh := func(t *testing.T, b *Book) {
		update(t, b, 30, NewBatch[Weighin]([]Weighin{{Head: Head{At: mustTime(late)}, Spool: "PLA-1", GrossG: Known(900_000), State: Loaded}}))
	}
	void := func(target string) func(*testing.T, *Book) {
		return func(t *testing.T, b *Book) {
			update(t, b, 40, NewBatch[Void]([]Void{{Head: Head{At: mustTime(late)}, Target: target, Why: "so"}}))
		}
	}
	change := func(file, from, to string) func(*testing.T, *Book) {
		return func(t *testing.T, b *Book) {
			if err := os.WriteFile(filepath.Join(b.Dir, file), []byte(strings.Replace(read(t, b, file), from, to, 1)), 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	timeKept := func(do func(*testing.T, *Book)) func(*testing.T, *Book) {
		return func(t *testing.T, b *Book) {
			name := filepath.Join(b.Dir, ConsumptionFile)
			info, err := os.Stat(name)
			if err != nil {
				t.Fatal(err)
			}
			do(t, b)
			if err := os.Chtimes(name, time.Time{}, info.ModTime()); err != nil {
				t.Fatal(err)
			}
		}
	}
	exchange := func(t *testing.T, b *Book) {
		name := filepath.Join(b.Dir, ConsumptionFile)
		if err := os.WriteFile(name+".new", []byte(read(t, b, ConsumptionFile)), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(name+".new", name); err != nil {
			t.Fatal(err)
		}
	}
	row := id(21) + ",2026-10-05T09:00:00+02:00,clip,,,PLA-1,5,,,,,finished,,\n"
	for what, c := range map[string]struct {
		do   func(*testing.T, *Book)
		same bool
	}{
		"nothing":                              {func(*testing.T, *Book) {}, true},
		"a weigh-in is recorded":               {weigh, true},
		"that weigh-in is voided":              {func(t *testing.T, b *Book) { weigh(t, b); void(id(30))(t, b) }, true},
		"another weigh-in is edited":           {change(Weighins, ",950,", ",951,"), true},
		"another weigh-in is voided":           {void(id(22)), false},
		"a row of consumption is voided":       {void(id(20)), false},
		"a void is taken out":                  {change(Voids, id(24), id(25)), false},
		"a row is appended":                    {change(ConsumptionFile, "finished,,\n", "finished,,\n"+row), false},
		"a row is edited, as long as before":   {change(ConsumptionFile, ",5,", ",6,"), false},
		"a row is edited, and the time set so": {timeKept(change(ConsumptionFile, ",5,", ",6,")), runtime.GOOS != "linux" && runtime.GOOS != "darwin"},
		"it is cut":                            {change(ConsumptionFile, row, ""), false},
		"it is exchanged for a copy":           {timeKept(exchange), false},
		"a spool is bought":                    {change(Purchases, id(1), id(3)+",2026-10-01T09:00:00+02:00,PLA-3,PLA,white,,,,1.75,1000,card,,20,,,,,\n"+id(1)), false},
		"a material is edited":                 {change(Materials, "1.24", "1.25"), false},
	} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			b := newBook(t, map[string]string{
				Weighins:        lines(Weighins, id(22)+",2026-10-02T09:00:00+02:00,PLA-1,950,,,"),
				Voids:           lines(Voids, id(23)+",2026-10-03T09:00:00+02:00,"+id(24)+",so"),
				ConsumptionFile: lines(ConsumptionFile, strings.TrimSuffix(strings.Replace(row, id(21), id(20), 1), "\n")),
			})
			b.Memory = new(Memory)
			look := func(b *Book) *View {
				v := view(t, b)
				if _, err := v.Weighins(); err != nil {
					t.Fatal(err)
				}
				return v
			}
			update(t, b, 26, NewBatch[Void]([]Void{{Head: Head{At: mustTime(late)}, Target: id(27), Why: "so"}}))
			if young := look(b); look(b).SameConsumption(young) { // it may have changed again within one step of the disk's clock
				t.Error("a file that is as young as the look at it counts as the same")
			}
			time.Sleep(diskClock + 300*time.Millisecond)
			update(t, b, 28, NewBatch[Void]([]Void{{Head: Head{At: mustTime(late)}, Target: id(29), Why: "so"}}))
			before := look(b)
			c.do(t, b)
			if got := look(b).SameConsumption(before); got != c.same {
				t.Errorf("the same %v, want %v", got, c.same)
			}
			if look(b).SameConsumption(look(&Book{Dir: b.Dir})) {
				t.Error("the same as in a view without a memory")
			}
		})
	}
}

func update(t *testing.T, b *Book, n int64, batch Batch) {
	t.Helper()
	if err := b.Update(ids(n), func(*View) (Batch, error) { return batch, nil }); err != nil {
		t.Fatal(err)
	}
}
