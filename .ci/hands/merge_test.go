package hands

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// asOf is later than all that is recorded here.
const asOf = "2100-01-01T00:00:00Z"

// TestMerge lets two benches log apart and merges them with git: every answer is that of one book in which the same
// entries were recorded one after the other.
func TestMerge(t *testing.T) {
	p := theProgram(t)
	seed := uint64(setting(t, "HANDS_SEED", 1))
	root := t.TempDir()
	origin, base := newShelf(t, p, root)
	started := shelve(t, p, base)
	commit(t, origin, "the shelf as both benches know it")
	git(t, origin, "check-ignore", "shelf/.tarebook/lock")

	const entries = 200
	var benches sync.WaitGroup
	repositories, books, logged := [2]string{}, [2]string{}, [2]int{}
	var faults [2]error
	for i, name := range []string{"a", "b"} {
		repositories[i], books[i] = clone(t, root, origin, name)
		benches.Go(func() { // at once, so that their rows lie mixed in time
			b := &bench{p: p, book: books[i], name: name, random: rand.New(rand.NewPCG(seed, uint64(i))), base: started}
			logged[i], faults[i] = b.log(entries)
		})
	}
	benches.Wait()
	for i := range books {
		if faults[i] != nil {
			t.Fatal(faults[i])
		}
		p.sound(t, books[i])
		commit(t, repositories[i], "what was logged apart")
	}

	// One book with the rows of both, in the order in which they were recorded.
	reference := filepath.Join(root, "reference")
	union := inOrder(t, reference, base, books, logged)
	want := answers(t, p, reference)
	if n := p.sound(t, reference); n != union {
		t.Errorf("verify counts %d entries, want %d", n, union)
	}
	for i, book := range books {
		for j, own := range answers(t, p, book) {
			if name := want[j].name; slices.Contains([]string{"stock --all", "reconcile", "queue list", "waste --by client", "verify"}, name) && own == want[j] {
				t.Errorf("bench %d alone answers %s as both together do, so this shows nothing", i, name)
			}
		}
	}
	compared := 0
	for _, way := range []struct {
		name, into, from string
		flags            []string
	}{
		{"b into a", "a", "b", []string{"--no-rebase", "--no-edit"}},
		{"a into b", "b", "a", []string{"--no-rebase", "--no-edit"}},
		{"a after b", "a", "b", []string{"--rebase"}},
	} {
		repository, merged := clone(t, root, filepath.Join(root, way.into), strings.ReplaceAll(way.name, " ", "-"))
		pull(t, repository, filepath.Join(root, way.from), way.flags...)
		for _, file := range ledgers {
			if got, want := lines(t, merged, file), lines(t, reference, file); !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(want))) {
				t.Errorf("%s: git left %d lines in %s, want the %d of the union", way.name, len(got), file, len(want))
			}
		}
		for i, got := range answers(t, p, merged) {
			if compared++; got != want[i] {
				t.Errorf("%s: %s differs from the book in order:\n%s", way.name, got.name, difference(got, want[i]))
			}
		}
	}
	t.Logf("%d + %d entries logged apart, %d in the union, %d answers compared byte by byte", logged[0], logged[1], union, compared)
}

// started are the spools and the earlier entries that both benches know.
type started struct {
	spools []string
	marks  map[string]string // mark to file, of entries that both benches cancel
}

func shelve(t *testing.T, p *program, book string) started {
	t.Helper()
	must := func(args ...string) { t.Helper(); p.must(t, slices.Concat([]string{"--book", book}, args)...) }
	must("buy", "PLA", "--count", "5", "--total", "110.03", "--material", "PLA", "--colour", "ash", "--net", "1kg", "--core", "card 1 kg")
	must("buy", "PETG", "--count", "4", "--price", "24.90", "--material", "PETG", "--colour", "clear", "--net", "1kg", "--core", "plastic 1 kg")
	must("buy", "ASA", "--count", "3", "--material", "ASA", "--colour", "brick", "--net", "0.75kg", "--tare", "211") // no price
	s := started{marks: map[string]string{"base-weigh": weighins, "base-consume": consumption, "base-queue": queue, "base-move": moves}}
	s.spools = slices.Concat(ids("PLA", 5), ids("PETG", 4), ids("ASA", 3))
	for i, spool := range s.spools {
		must("weigh", spool, fmt.Sprintf("%d.5", []int{1175, 1230, 958}[min(2, i/5+i/9)]), "--scale", "bench")
	}
	must("weigh", "PLA-001", "1171", "--note", "base-weigh")
	must("consume", "early", "PLA-002:part=40,purge=4.5", "--client", "wendle", "--after", "--note", "base-consume")
	must("queue", "add", "early-plan", "0=PLA-003:12.5", "--note", "base-queue")
	must("move", "PLA-004", "TWIN/0", "--note", "base-move")
	for n := range 6 {
		must("queue", "add", fmt.Sprintf("to-come-%d", n), fmt.Sprintf("0=%s:part=30,purge=6.2", s.spools[n]), "1=PETG/:part=15", "--client", "pellam", "--printer", "TWIN", "--due", fmt.Sprintf("2099-12-%02d", 20-n))
	}
	return s
}

// bench logs apart from the other.
type bench struct {
	p      *program
	book   string
	name   string
	random *rand.Rand
	base   started
	made   int
	rows   int
	own    []*command // not cancelled yet
}

// log records so many rows or a few more, at random, with what both benches do to the same earlier entries and jobs strewn in.
func (b *bench) log(wanted int) (rows int, err error) {
	var strewn [][]string
	for _, mark := range []string{"base-weigh", "base-consume", "base-queue", "base-move"} {
		entries, err := entriesOf(b.book, b.base.marks[mark], mark, 1)
		if err != nil {
			return 0, err
		}
		strewn = append(strewn, []string{"void", entries[0], "--why", "both benches cancel it"})
	}
	last := []string{"weigh", "PETG-004", "251.5", "--empty", "--sure"}
	if b.name == "a" {
		strewn = append(strewn,
			[]string{"consume", "to-come-1", "PLA-002:31", "PETG-001:14.5", "--after"},
			[]string{"queue", "add", "to-come-2", "0=PLA-003:part=44"},
			[]string{"queue", "add", "to-come-3", "0=PLA-004:part=45,prime=1"},
			[]string{"consume", "to-come-4", "PLA-005:30", "--after"},
			[]string{"weigh", "PETG-001", "1111", "--dried"},
			[]string{"buy", "A-NEW", "--material", "PLA", "--colour", "ash", "--net", "1kg", "--core", "card 1 kg", "--price", "19.95"})
	} else {
		strewn = append(strewn,
			[]string{"queue", "add", "to-come-1", "1=PETG-002:part=16"},
			[]string{"queue", "add", "to-come-2", "0=PLA-003:part=46", "--due", "2099-11-01"},
			[]string{"queue", "drop", "to-come-3"},
			[]string{"consume", "to-come-4", "PLA-005:33", "--after", "--failed"},
			[]string{"buy", "B-NEW", "--off", "PLA-001", "--net", "120", "--tare", "180"})
		last = []string{"weigh", "ASA-003", "400", "--discarded"}
	}
	for b.rows < wanted {
		if len(strewn) > 0 && b.random.IntN(10) == 0 {
			if err := b.run(&command{args: strewn[0]}); err != nil {
				return 0, err
			}
			strewn = strewn[1:]
			continue
		}
		c, err := b.next()
		if err == nil {
			err = b.run(c)
		}
		if err != nil {
			return 0, err
		}
	}
	for _, args := range append(strewn, last) {
		if err := b.run(&command{args: args}); err != nil {
			return 0, err
		}
	}
	return b.rows, nil
}

func (b *bench) run(c *command) error {
	o := b.p.run(slices.Concat([]string{"--book", b.book}, c.args)...)
	if err := o.failed(0); err != nil {
		return err
	}
	var n int
	for line := range strings.Lines(o.stdout) {
		if k, _ := fmt.Sscanf(line, "booked %d row", &n); k == 1 {
			break
		}
	}
	if n == 0 {
		return fmt.Errorf("does not say how many rows it booked: %s", o)
	}
	b.rows += n
	if c.mark != "" {
		c.rows = make([]row, n)
		b.own = append(b.own, c)
	}
	return nil
}

// next makes up a recording; weigh-ins fall as filament goes, on spools that the other bench weighs and prints from too.
func (b *bench) next() (*command, error) {
	b.made++
	c := &command{mark: fmt.Sprintf("bench-%s-%05d", b.name, b.made)}
	some := func(n int) []string {
		var list []string
		for _, i := range b.random.Perm(8)[:n] { // the last four are for single benches
			list = append(list, b.base.spools[i])
		}
		return list
	}
	grams := func() string { return fmt.Sprintf("%d.%d", b.random.IntN(9), b.random.IntN(1000)) }
	pick := func(words ...string) string { return words[b.random.IntN(len(words))] }
	switch n := b.random.IntN(20); {
	case n < 6:
		c.file, c.args = weighins, []string{"weigh", "--scale", pick("bench", "kitchen")}
		for _, spool := range some(1 + b.random.IntN(3)) {
			c.args = append(c.args, spool, fmt.Sprintf("%d.%d", 1160-2*b.made-b.random.IntN(30), b.random.IntN(10)))
		}
		c.args = append(c.args, "--note", c.mark)
	case n < 12:
		c.file, c.args = consumption, []string{"consume", fmt.Sprintf("%s-%d", pick("lantern", "mill", "gate"), b.random.IntN(30)), "--after"}
		for _, spool := range some(1 + b.random.IntN(4)) {
			c.args = append(c.args, fmt.Sprintf("%s:part=%s,support=%s,prime=%s,purge=%s", spool, grams(), grams(), grams(), grams()))
		}
		if client := pick("pellam", "wendle", ""); client != "" {
			c.args = append(c.args, "--client", client)
		}
		if b.random.IntN(5) == 0 {
			c.args = append(c.args, "--failed")
		}
		c.args = append(c.args, "--printer", pick("TWIN", "SHARED"), "--basis", pick("sliced", "sliced", "path", "weighed"), "--note", c.mark)
	case n < 14:
		spools := some(2)
		c.file, c.args = queue, []string{"queue", "add", fmt.Sprintf("plan-%s-%d", b.name, b.made), "0=" + spools[0] + ":" + grams(), "1=" + spools[1] + ":" + grams(), "2=PLA/:" + grams(), "--note", c.mark}
	case n < 17 || len(b.own) == 0:
		c.file, c.args = moves, []string{"move", some(1)[0], pick("TWIN/0", "TWIN/1", "SHARED/2", "dry box", "rack 3"), "--note", c.mark}
	default: // now and then an earlier void
		i := b.random.IntN(len(b.own))
		earlier := b.own[i]
		b.own = slices.Delete(b.own, i, i+1)
		entries, err := entriesOf(b.book, earlier.file, earlier.mark, len(earlier.rows))
		if err != nil {
			return nil, err
		}
		c.file, c.args = voids, slices.Concat([]string{"void"}, entries, []string{"--why", c.mark})
	}
	return c, nil
}

func lines(t *testing.T, book, file string) []string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(book, file))
	if err != nil || !strings.HasSuffix(string(text), "\n") {
		t.Fatalf("%s ends with a torn line: %v", file, err)
	}
	return strings.Split(strings.TrimSuffix(string(text), "\n"), "\n")
}

// inOrder writes the book of both benches' rows, each ledger in the order of (at, entry), and returns how many entries it
// has: those of the base, and what each bench has logged since, all of them once.
func inOrder(t *testing.T, dir, base string, books [2]string, logged [2]int) (entries int) {
	t.Helper()
	copyBook(t, base, dir)
	for _, file := range ledgers {
		common := lines(t, base, file)
		header := common[0]
		set := map[string]bool{}
		for _, book := range books {
			l := lines(t, book, file)
			if l[0] != header || !slices.Equal(l[:len(common)], common) {
				t.Fatalf("%s: the rows of the base are not what %s begins with", book, file)
			}
			for _, line := range l[1:] {
				set[line] = true
			}
		}
		type key struct {
			at    time.Time
			entry string
			line  string
		}
		var order []key
		for line := range set {
			fields, err := csv.NewReader(strings.NewReader(line)).Read()
			if err != nil {
				t.Fatal(err)
			}
			at, err := time.Parse(time.RFC3339Nano, fields[1])
			if err != nil || ulid(fields[0]) == nil {
				t.Fatalf("%s: %q: %v", file, line, err)
			}
			order = append(order, key{at, fields[0], line})
		}
		slices.SortFunc(order, func(a, b key) int { return cmp.Or(a.at.Compare(b.at), strings.Compare(a.entry, b.entry)) })
		text := header + "\n"
		for _, k := range order {
			text += k.line + "\n"
		}
		if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		entries += len(order)
		logged[0] += len(common) - 1 // of the base, counted once
	}
	if want := logged[0] + logged[1]; entries != want {
		t.Fatalf("the union has %d entries, want %d", entries, want)
	}
	return entries
}

// answer is what one look command says.
type answer struct {
	name           string
	status         int
	stdout, stderr string
}

// answers asks a book everything, as of one instant.
func answers(t *testing.T, p *program, book string) (list []answer) {
	t.Helper()
	questions := [][]string{{"stock"}, {"stock", "--all"}, {"reconcile"}, {"check"}, {"queue", "list"}, {"verify"}}
	for _, by := range []string{"client", "printer", "material", "spool", "job", "month"} {
		questions = append(questions, []string{"waste", "--by", by})
	}
	var spools []struct{ Spool string }
	if _, err := p.asked(book, &spools, "stock", "--all"); err != nil || len(spools) < 12 {
		t.Fatalf("%d spools: %v", len(spools), err)
	}
	for _, s := range spools {
		questions = append(questions, []string{"card", s.Spool})
	}
	for _, q := range questions {
		o := p.run(slices.Concat([]string{"--book", book, "--format", "json", "--as-of", asOf}, q)...)
		if o.status != 0 && !(o.status == 1 && q[0] == "check") || o.err != nil || o.stderr != "" || len(o.stdout) < 3 {
			t.Errorf("%s", o)
		}
		list = append(list, answer{strings.Join(q, " "), o.status, o.stdout, o.stderr})
	}
	return list
}

// difference shows the first lines that differ.
func difference(got, want answer) string {
	if got.status != want.status || got.stderr != want.stderr {
		return fmt.Sprintf("status %d, stderr %q, want %d, %q", got.status, got.stderr, want.status, want.stderr)
	}
	g, w := strings.Split(got.stdout, "\n"), strings.Split(want.stdout, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return fmt.Sprintf("line %d:\n got %s\nwant %s", i+1, strings.Join(g[max(0, i-6):i+1], "\n     "), w[i])
		}
	}
	return fmt.Sprintf("%d lines, want %d", len(g), len(w))
}
