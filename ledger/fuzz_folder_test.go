package ledger

import (
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Whatever stands in .tarebook, a look and a command that records change no byte outside the book, take no byte off its
// files that is not kept, and end.
func FuzzPrivateFolder(f *testing.F) {
	whole := pending{file: Moves, before: 26, entries: span{id(1), id(1), 1}, batch: oldMove, id: "1"}
	f.Add(uint8(0), whole.text(), "", "", "")
	f.Add(uint8(1), "", "4711", "1\nmoves.csv 26 66 00 - - 1\n", "torn-moves.csv-26-fcb48507")
	f.Add(uint8(0xff), strings.Replace(whole.text(), Moves, "../x", 1), "", "", "../letter")
	f.Add(uint8(2), "\x00\x00", "\n1", lastText("1", []batchAt{{Moves, 26, 66, "0", whole.entries}}), "last-new")
	f.Fuzz(func(t *testing.T, links uint8, pendingText, lock, last, torn string) {
		root := t.TempDir()
		book, away := filepath.Join(root, "book"), filepath.Join(root, "away")
		for _, dir := range []string{book, away, filepath.Join(book, privateFolder)} {
			if err := os.Mkdir(dir, 0o777); err != nil {
				t.Fatal(err)
			}
		}
		b := write(t, book, map[string]string{Moves: movesHeader + oldMove})
		letter := filepath.Join(away, "letter")
		if err := os.WriteFile(letter, []byte("dear all"), 0o666); err != nil {
			t.Fatal(err)
		}
		// Each of these is a file of that text, or a link to what lies outside.
		for i, file := range []struct{ name, text string }{
			{pendingFile, pendingText}, {lockFile, lock}, {lastFile, last}, {newLastFile, last},
			{privateFolder + "/" + filepath.Base(filepath.FromSlash("x"+torn)), torn}, {Queue, Header(Queue)},
		} {
			name := filepath.Join(book, filepath.FromSlash(file.name))
			if base := path.Base(file.name); len(base) > 200 || strings.ContainsRune(name, 0) || base == "." || base == ".." {
				continue // no name of a file
			}
			if links>>i&1 == 1 {
				_ = os.Symlink(letter, name) // not everywhere allowed
			} else if err := os.WriteFile(name, []byte(file.text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if links>>6&1 == 1 { // the ID as if it had been guessed
			if p, ok := parsePending(pendingText); ok && links&1 == 0 {
				if err := b.setPending(&p); err != nil {
					t.Fatal(err)
				}
			}
		}
		before, foreign := files(t, book), files(t, away)
		told := 0
		b.Disk = unsynced{}
		b.Tell = func(string) { told++ }
		_, _ = b.View(Time{})
		_ = record(b, ids(60), moved("mine"))
		_, _ = b.View(Time{})
		if d := cmp.Diff(foreign, files(t, away)); d != "" {
			t.Fatalf("outside the book (-before +after):\n%s", d)
		}
		after := files(t, book)
		kept := ""
		for name, text := range after {
			if strings.HasPrefix(name, filepath.FromSlash(privateFolder+"/torn-")) {
				kept += text
			}
		}
		for name, text := range before {
			if strings.HasPrefix(name, privateFolder) {
				continue
			}
			now, n := after[name], 0
			for n < len(text) && n < len(now) && text[n] == now[n] {
				n++
			}
			if taken := text[n:]; taken != "" && !(told > 0 && strings.Contains(kept, taken)) {
				t.Fatalf("%s was %q and is %q; kept is %q", name, text, now, kept)
			}
		}
	})
}

// unsynced is the disk of this machine, faster: no loss of power is tried.
type unsynced struct{ OSDisk }

func (unsynced) SyncDir(string, string) error { return nil }

func (d unsynced) OpenFile(dir, name string, flag int) (DiskFile, error) {
	f, err := d.OSDisk.OpenFile(dir, name, flag)
	if err != nil {
		return nil, err
	}
	return unsyncedFile{f}, nil
}

type unsyncedFile struct{ DiskFile }

func (unsyncedFile) Sync() error { return nil }
