package ledger

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A book is data from strangers: whatever stands in its folder, nothing outside it is touched, and in it only what this
// program made. Each attack came about by git, an archive or a copy of a folder.

// outside is a folder beside the book, with a file that must stay as it is.
func outside(t *testing.T, b *Book) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "letter"), []byte("dear all"), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// files returns all that stands in a folder, by name: contents, or where a link leads.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		if d.Type()&fs.ModeSymlink != 0 {
			all[name], err = os.Readlink(path)
			return err
		}
		if !d.Type().IsRegular() {
			all[name] = d.Type().String()
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		if info.Size() > 1<<20 { // sparse
			all[name] = "large"
			return nil
		}
		text, err := os.ReadFile(path)
		all[name] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestHostileFolder(t *testing.T) {
	t.Parallel()
	if runtime.GOOS == "windows" {
		t.Skip("making symbolic links wants a privilege there")
	}
	rows := movesHeader + oldMove
	in := func(b *Book, name string) string { return filepath.Join(b.Dir, filepath.FromSlash(name)) }
	link := func(b *Book, to, name string) error { return os.Symlink(to, in(b, name)) }
	folder := func(b *Book) error { return os.Mkdir(in(b, privateFolder), 0o777) }
	own := func(b *Book, p pending) error { // with the right ID, as if it had been guessed
		return errors.Join(folder(b), b.setPending(&p))
	}
	for _, c := range []struct {
		name   string
		attack func(b *Book, outside string) error
		look   string // part of the error, or of what a look is told; blank: it says nothing
		record string // the same of recording
	}{
		{"a pending batch that came in an archive", func(b *Book, _ string) error {
			p := pending{file: Moves, before: int64(len(movesHeader)), batch: oldMove + "more\n", id: "1"}
			return errors.Join(folder(b), os.WriteFile(in(b, pendingFile), []byte(p.text()), 0o666))
		}, "it came here in a copy of the folder", "it came here in a copy of the folder"},
		{"pending of another file's name", func(b *Book, _ string) error {
			return errors.Join(os.WriteFile(in(b, "README"), nil, 0o666), own(b, pending{file: "README", before: -1, batch: "x\n"}))
		}, "it names what no command records", "it names what no command records"},
		{"pending of a file outside", func(b *Book, outside string) error {
			return own(b, pending{file: "../" + filepath.Base(outside) + "/letter", before: -1, batch: "x\n"})
		}, "it names what no command records", "it names what no command records"},
		{"pending of a ledger that is a link", func(b *Book, outside string) error {
			return errors.Join(link(b, filepath.Join(outside, "letter"), Queue), own(b, pending{file: Queue, before: 4, batch: " all and more\n"}))
		}, "queue.csv is a symbolic link", "queue.csv is a symbolic link"},
		{"pending is a link", func(b *Book, outside string) error {
			return errors.Join(folder(b), link(b, filepath.Join(outside, "letter"), pendingFile))
		}, ".tarebook/pending is a symbolic link", ".tarebook/pending is a symbolic link"},
		{"pending is a link within the book", func(b *Book, _ string) error {
			return errors.Join(folder(b), link(b, "../"+Moves, pendingFile))
		}, ".tarebook/pending is a symbolic link", ".tarebook/pending is a symbolic link"},
		{"pending is a folder", func(b *Book, _ string) error {
			return os.MkdirAll(in(b, pendingFile), 0o777)
		}, ".tarebook/pending is a folder", ".tarebook/pending is a folder"},
		{"pending is 8 GB of nothing", func(b *Book, _ string) error {
			return errors.Join(folder(b), os.WriteFile(in(b, pendingFile), nil, 0o666), os.Truncate(in(b, pendingFile), 8<<30))
		}, "more than a command may record", "more than a command may record"},
		{"the lock is a link", func(b *Book, outside string) error {
			return errors.Join(folder(b), link(b, filepath.Join(outside, "letter"), lockFile))
		}, ".tarebook/lock is a symbolic link", ".tarebook/lock is a symbolic link"},
		{"the lock is a link to what is not there", func(b *Book, outside string) error {
			return errors.Join(folder(b), link(b, filepath.Join(outside, "made"), lockFile))
		}, ".tarebook/lock is a symbolic link", ".tarebook/lock is a symbolic link"},
		{"the private folder is a link", func(b *Book, outside string) error {
			return link(b, outside, privateFolder)
		}, ".tarebook is a symbolic link", ".tarebook is a symbolic link"},
		{"the private folder is a file", func(b *Book, _ string) error {
			return os.WriteFile(in(b, privateFolder), nil, 0o666)
		}, ".tarebook is a file", ".tarebook is a file"},
		{"what was recorded last is a link", func(b *Book, outside string) error {
			return errors.Join(folder(b), link(b, filepath.Join(outside, "letter"), lastFile))
		}, "", ".tarebook/last is a symbolic link"},
		{"its new state is a link", func(b *Book, outside string) error {
			return errors.Join(folder(b), link(b, filepath.Join(outside, "letter"), newLastFile))
		}, "", ".tarebook/last-new is a symbolic link"},
		{"a torn file is a link", func(b *Book, outside string) error {
			p := pending{file: Moves, before: int64(len(movesHeader)), batch: oldMove + "more\n"}
			return errors.Join(own(b, p), link(b, filepath.Join(outside, "made"), tornName(p, oldMove)))
		}, tornName(pending{file: Moves, before: int64(len(movesHeader))}, oldMove) + " is a symbolic link",
			tornName(pending{file: Moves, before: int64(len(movesHeader))}, oldMove) + " is a symbolic link"},
		{"a ledger is a link", func(b *Book, outside string) error {
			return link(b, filepath.Join(outside, "letter"), Weighins)
		}, "weighins.csv: a symbolic link stands here", ""},
		{"a ledger is a link to what is not there", func(b *Book, outside string) error {
			return link(b, filepath.Join(outside, "made"), Weighins)
		}, "weighins.csv: a symbolic link stands here", ""},
		{"a ledger is a folder", func(b *Book, _ string) error {
			return os.Mkdir(in(b, Weighins), 0o777)
		}, "weighins.csv: a folder stands here", ""},
		{"the ledger that is recorded in is a link", func(b *Book, outside string) error {
			return errors.Join(os.Remove(in(b, Moves)), link(b, filepath.Join(outside, "letter"), Moves))
		}, "", "moves.csv: a symbolic link stands here"},
	} {
		for _, command := range []string{"look", "record"} {
			b := newBook(t, map[string]string{Moves: rows})
			away := outside(t, b)
			if err := c.attack(b, away); err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			before, foreign := files(t, b.Dir), files(t, away)
			var told []string
			b.Tell = func(text string) { told = append(told, text) }
			var err error
			want := c.look
			if command == "look" {
				var v *View
				if v, err = b.View(Time{}); err == nil {
					_, e1 := v.Weighins()
					_, e2 := v.Needs()
					err = JoinFaults(e1, e2)
				}
			} else {
				want = c.record
				err = record(b, ids(60), moved("mine"))
			}
			said := strings.Join(told, "\n")
			if err != nil {
				said += err.Error()
			}
			if !strings.Contains(said, want) || want == "" && said != "" {
				t.Errorf("%s, %s: it says %q, want %q", c.name, command, said, want)
			}
			if strings.Contains(said, "\n") && err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("%s, %s: more than one line: %q", c.name, command, err)
			}
			if d := cmp.Diff(foreign, files(t, away)); d != "" {
				t.Errorf("%s, %s: outside the book (-before +after):\n%s", c.name, command, d)
			}
			after := files(t, b.Dir)
			for name, text := range before {
				now, there := after[name]
				switch {
				case strings.HasPrefix(name, privateFolder) && (err == nil || want == c.record): // may be put aside
				case command == "record" && err == nil && name == Moves && strings.HasPrefix(now, text) && strings.Contains(now, "mine"):
				case !there || now != text:
					t.Errorf("%s, %s: %s was %q and is %q", c.name, command, name, text, now)
				}
			}
		}
	}
}

// tornName is the name under which recovery keeps torn bytes.
func tornName(p pending, torn string) string {
	return privateFolder + fmt.Sprintf("/torn-%s-%d-%s", p.file, p.before, sum(torn)[:8])
}
