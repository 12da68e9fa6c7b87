package oracle

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// shownDifferences keeps a systematic fault from burying the others.
const shownDifferences = 12

// TestProgram holds the built program against this calculation over random
// books. ORACLE_BOOKS and ORACLE_SEED choose how many and which.
func TestProgram(t *testing.T) { holdBooks(t, program(t), holdBook) }

// TestPlan does the same with plans: over other books, each with prints of its
// own.
func TestPlan(t *testing.T) {
	var seen planCases
	holdBooks(t, program(t), func(dir string, seed uint64, binary string) (int, []fault) {
		return holdPlans(dir, seed, binary, &seen)
	})
	seen.report(t)
}

func holdBooks(t *testing.T, binary string, hold func(dir string, seed uint64, binary string) (asked int, faults []fault)) {
	books, seed := setting(t, "ORACLE_BOOKS", 300), uint64(setting(t, "ORACLE_SEED", 1))
	root, err := os.MkdirTemp("", "oracle-books-")
	if err != nil {
		t.Fatal(err)
	}
	var comparisons, wrongBooks atomic.Int64
	habits := map[string]int{} // differences by command and field
	first := map[string]string{}
	var mu sync.Mutex
	seeds := make(chan uint64)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			for s := range seeds {
				dir := filepath.Join(root, fmt.Sprint("book-", s))
				asked, faults := hold(dir, s, binary)
				comparisons.Add(int64(asked))
				if len(faults) == 0 {
					os.RemoveAll(dir)
					continue
				}
				wrongBooks.Add(1)
				mu.Lock()
				for i, f := range faults {
					if habits[f.habit()]++; first[f.habit()] == "" {
						first[f.habit()] = fmt.Sprintf("seed %d: tarebook --book %s --format json %s\n    %s", s, dir, strings.Join(f.args, " "), f)
					}
					if i < shownDifferences && wrongBooks.Load() <= shownDifferences {
						t.Errorf("seed %d: tarebook --book %s --format json %s\n    %s", s, dir, strings.Join(f.args, " "), f)
					}
				}
				mu.Unlock()
			}
		})
	}
	for i := range books {
		seeds <- seed + uint64(i)
	}
	close(seeds)
	workers.Wait()

	t.Logf("%d books, %d comparisons, %d books with a difference", books, comparisons.Load(), wrongBooks.Load())
	if wrongBooks.Load() == 0 {
		os.RemoveAll(root)
		return
	}
	names := make([]string, 0, len(habits))
	for h := range habits {
		names = append(names, h)
	}
	slices.SortFunc(names, func(a, b string) int { return habits[b] - habits[a] })
	for _, h := range names {
		t.Errorf("%d x %s, first at\n  %s", habits[h], h, first[h])
	}
}

// fault is a difference and the command that showed it.
type fault struct {
	difference
	args []string
}

// habit leaves out which record it was.
func (f fault) habit() string {
	command := f.args[slices.IndexFunc(f.args, func(a string) bool {
		return slices.Contains([]string{"stock", "reconcile", "check", "waste", "reorder", "quote", "plan"}, a)
	})]
	path := []byte{}
	skip := false
	for i := range len(f.path) {
		switch c := f.path[i]; {
		case c == '[' && i+1 < len(f.path) && f.path[i+1] >= '0' && f.path[i+1] <= '9':
			skip = true
		case skip && c == ']':
			skip = false
		case !skip:
			path = append(path, c)
		}
	}
	return command + " " + string(path)
}

// holdBook makes the book of a seed, asks the program and compares.
func holdBook(dir string, seed uint64, binary string) (asked int, faults []fault) {
	fail := func(err error) (int, []fault) {
		return asked, append(faults, fault{difference{"book", err.Error(), "an answer"}, []string{"stock"}})
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fail(err)
	}
	instants, err := writeRandomBook(dir, seed)
	if err != nil {
		return fail(err)
	}
	f, err := readFolder(dir)
	if err != nil {
		return fail(err)
	}
	for _, q := range append(questions(f, seed, instants), plans(f, seed, instants)...) {
		want, status := calculate(f, q)
		got, gotStatus, stderr, err := ask(binary, dir, q.args())
		asked++
		if err != nil {
			faults = append(faults, fault{difference{"output", fmt.Sprintf("%v, status %d, stderr %q", err, gotStatus, stderr), "one JSON value"}, q.args()})
			continue
		}
		if gotStatus != status {
			faults = append(faults, fault{difference{"status", fmt.Sprintf("%d, stderr %q", gotStatus, stderr), status}, q.args()})
		}
		for _, d := range compare("", got, want) {
			faults = append(faults, fault{d, q.args()})
		}
	}
	return asked, faults
}

// questions asks everything now, and everything once more as of some instant.
func questions(f folder, seed uint64, instants []string) []question {
	r := rand.New(rand.NewPCG(seed, 7))
	var list []question
	for _, command := range []string{"stock", "reconcile", "check"} {
		list = append(list, question{command: command})
	}
	bys := []string{"client", "printer", "material", "spool", "job", "month"}
	for _, by := range bys {
		list = append(list, question{command: "waste", by: by})
	}
	month := fmt.Sprintf("2026-%02d", 6+r.IntN(6))
	if bills.on() {
		bys = append(bys, "lot", "maker", "colour")
		for _, f := range filters(f, r) {
			list = append(list, question{command: "waste", by: bys[r.IntN(len(bys))], filter: f})
		}
		list = append(list, question{command: "waste", by: bys[6+r.IntN(3)]})
	}
	list = append(list,
		question{command: "waste", by: bys[r.IntN(len(bys))], month: month},
		question{command: "waste", by: bys[r.IntN(len(bys))], from: month + "-10"},
		question{command: "waste", by: bys[r.IntN(len(bys))], from: month + "-02", to: month + "-28"},
		question{command: "waste", to: month + "-15"})
	for _, q := range slices.Clone(list) {
		text := instants[r.IntN(len(instants))]
		if q.by != "" && r.IntN(3) > 0 {
			continue
		}
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			panic(err)
		}
		q.asOf, q.asOfText = &at, text
		list = append(list, q)
	}
	return list
}

// filters are some that a book's rows meet.
func filters(f folder, r *rand.Rand) []filter {
	cell := func(file, column string) string {
		if rows := f[file]; len(rows) > 0 {
			return rows[r.IntN(len(rows))].get(column)
		}
		return ""
	}
	return []filter{
		{client: cell("consumption.csv", "client")}, {spool: cell("consumption.csv", "spool")}, {lot: cell("purchases.csv", "lot")},
		{maker: cell("purchases.csv", "maker"), material: cell("purchases.csv", "material")},
	}
}

// severalInTurn: what such a job costs, and of which colour it takes, the contract
// does not say.
func severalInTurn(j *job) bool {
	return slices.ContainsFunc(j.needs, func(n *need) bool { return strings.Contains(n.get("spool"), "+") })
}

// plans asks what to buy, and what jobs will cost, as of some instants: both
// depend on the day.
func plans(f folder, seed uint64, instants []string) []question {
	r := rand.New(rand.NewPCG(seed, 8))
	var list []question
	for range 3 {
		text := instants[r.IntN(len(instants))]
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			panic(err)
		}
		jobs := queuedJobs(liveLedgers(f, &at))
		window := []int{14, 30, 90, 90, 365}[r.IntN(5)]
		if !slices.ContainsFunc(jobs, severalInTurn) {
			list = append(list, question{command: "reorder", window: window, asOf: &at, asOfText: text})
		}
		if len(jobs) > 0 {
			i := r.IntN(len(jobs))
			if job := jobs[i].first.get("job"); job != "" && !severalInTurn(jobs[i]) {
				list = append(list, question{command: "quote", job: job, asOf: &at, asOfText: text})
			}
		}
	}
	return list
}

// environment is this one's without what the program heeds.
func environment() []string {
	return slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "TAREBOOK") })
}

// ask runs the program and decodes the one JSON value on its stdout.
func ask(binary, dir string, args []string) (answer any, status int, stderr string, err error) {
	cmd := exec.Command(binary, append([]string{"--book", dir, "--format", "json"}, args...)...)
	cmd.Env = environment()
	var out, talk bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &talk
	err = cmd.Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		status, err = exit.ExitCode(), nil
	}
	if err != nil {
		return nil, status, talk.String(), err
	}
	decoder := json.NewDecoder(&out)
	decoder.UseNumber()
	if err := decoder.Decode(&answer); err != nil {
		return nil, status, talk.String(), fmt.Errorf("stdout: %w", err)
	}
	if err := decoder.Decode(new(any)); err != io.EOF {
		return nil, status, talk.String(), errors.New("stdout: more than one value")
	}
	return answer, status, talk.String(), nil
}

// program is $TAREBOOK_BIN, else built from the repository two folders up.
func program(t *testing.T) string {
	if binary := os.Getenv("TAREBOOK_BIN"); binary != "" {
		if !filepath.IsAbs(binary) {
			t.Fatalf("TAREBOOK_BIN %q: give an absolute path", binary)
		}
		return binary
	}
	binary := filepath.Join(t.TempDir(), "tarebook")
	build := exec.Command("go", "build", "-o", binary, "./cmd/tarebook")
	build.Dir = filepath.Join("..", "..")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return binary
}

func setting(t *testing.T, name string, otherwise int) int {
	text := os.Getenv(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s: %q is not a number", name, text)
	}
	return n
}
