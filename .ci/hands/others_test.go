package hands

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// another is another program at work on moves.csv, which knows nothing of locks.
type another struct {
	path     string
	mu       sync.Mutex // its appends and saves are one person's, one after the other
	appended []string   // marks
}

// append adds a row, as a shell does with >>.
func (a *another) append(mark string) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	f, err := os.OpenFile(a.path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, ",2026-11-20T18:30:00+01:00,C-001,by hand,%s\n", mark)
	a.appended = append(a.appended, mark)
	return errors.Join(err, f.Close())
}

// save is an editor that has read the file a moment ago and saves it with a row more: by another file that it renames, or in
// place. What commands recorded since it read, it saves away.
func (a *another) save(mark string, inPlace bool) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	text, err := os.ReadFile(a.path)
	if err != nil {
		return err
	}
	time.Sleep(2 * time.Millisecond) // it is typed
	saved := string(text) + ",2026-11-20T18:30:00+01:00,C-002,by hand," + mark + "\n"
	if !strings.HasSuffix(string(text), "\n") {
		return fmt.Errorf("half a line at the end of what is there: %q", text[max(0, len(text)-80):])
	}
	if inPlace {
		err = os.WriteFile(a.path, []byte(saved), 0o666)
	} else {
		aside := a.path + "~"
		if err = os.WriteFile(aside, []byte(saved), 0o666); err == nil {
			err = os.Rename(aside, a.path)
		}
	}
	a.appended = append(a.appended, mark)
	return err
}

// TestOthers records from several processes beside a shell that appends and an editor that saves. None of the rows of those is
// lost. A row that was acknowledged is there, or the editor has saved it away, which the next command tells.
func TestOthers(t *testing.T) {
	p := theProgram(t)
	rows, saves, seed := setting(t, "HANDS_OTHERS", 5000), setting(t, "HANDS_SAVES", 40), uint64(setting(t, "HANDS_SEED", 1))
	book := filepath.Join(t.TempDir(), "book")
	newBook(t, p, book, 12)
	p.must(t, "--book", book, "move", "C-001", "rack 1")
	a := &another{path: filepath.Join(book, moves)}

	faults := &faults{t: t}
	var ended atomic.Bool
	var acknowledged, refused, doubtful, missed atomic.Int64
	marks := &sync.Map{} // of recordings: what became of them
	var recorders, others sync.WaitGroup
	for n := range 3 {
		recorders.Go(func() {
			random := rand.New(rand.NewPCG(seed, uint64(n)))
			for i := 0; !ended.Load(); i++ {
				mark := fmt.Sprintf("mine-%d-%05d", n, i)
				o := p.run("--book", book, "move", ids("C", 12)[random.IntN(12)], "rack 2", "--note", mark)
				if strings.Contains(o.stderr, "no longer in it") {
					missed.Add(1)
				}
				switch {
				case o.failed(0) == nil:
					acknowledged.Add(1)
					marks.Store(mark, "acknowledged")
				case o.status == 2 && strings.Contains(o.stderr, "in doubt"):
					doubtful.Add(1)
					marks.Store(mark, "in doubt")
				case o.status == 2 && (strings.Contains(o.stderr, "changed while the command ran") || strings.Contains(o.stderr, "is never closed") || strings.Contains(o.stderr, moves+":")):
					refused.Add(1)
					marks.Store(mark, "refused")
				default:
					faults.add("a recording", o.String())
				}
			}
		})
	}
	others.Go(func() {
		for i := range rows {
			if err := a.append(fmt.Sprintf("theirs-%05d", i)); err != nil {
				faults.add("an append", err.Error())
			}
			time.Sleep(4 * time.Millisecond)
		}
	})
	others.Go(func() {
		for i := range saves {
			if err := a.save(fmt.Sprintf("saved-%05d", i), i%2 == 0); err != nil {
				faults.add("a save", err.Error())
			}
			time.Sleep(100 * time.Millisecond)
		}
	})
	others.Wait()
	ended.Store(true)
	recorders.Wait()
	last := p.run("--book", book, "move", "C-003", "rack 3", "--note", "the-last")
	if strings.Contains(last.stderr, "no longer in it") {
		missed.Add(1)
	}
	if err := last.failed(0); err != nil {
		t.Fatal(err)
	}
	faults.tell()

	text, err := os.ReadFile(a.path)
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]int{}
	for line := range strings.Lines(string(text)) {
		fields := strings.Split(strings.TrimSuffix(line, "\n"), ",")
		if len(fields) != 5 || !strings.HasSuffix(line, "\n") {
			t.Errorf("a line that nobody wrote so: %q", line)
			continue
		}
		there[fields[4]]++
	}
	for _, mark := range a.appended {
		if there[mark] != 1 {
			t.Errorf("%s of the other program is there %d times", mark, there[mark])
		}
	}
	savedAway := 0
	marks.Range(func(mark, what any) bool {
		n := there[mark.(string)]
		switch {
		case n > 1, n == 1 && what == "refused":
			t.Errorf("%s was %s, and is there %d times", mark, what, n)
		case n == 0 && what == "acknowledged":
			savedAway++
		}
		return true
	})
	if savedAway > 0 && missed.Load() == 0 {
		t.Errorf("%d rows were saved away by the editor, and no command said so", savedAway)
	}
	if savedAway > 3*saves {
		t.Errorf("%d rows are gone, more than %d saves in %d recorders can have saved away", savedAway, saves, 3)
	}
	if acknowledged.Load() == 0 {
		t.Error("nothing was recorded")
	}
	p.sound(t, book)
	t.Logf("%d rows appended and %d saved by others beside %d recordings (%d refused, %d in doubt): none of theirs lost; %d saved away, told %d times",
		rows, saves, acknowledged.Load(), refused.Load(), doubtful.Load(), savedAway, missed.Load())
}
