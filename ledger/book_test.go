package ledger

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestFind(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	deep := filepath.Join(b.Dir, "prints", "vase")
	if err := os.MkdirAll(deep, 0o777); err != nil {
		t.Fatal(err)
	}
	// Half a book is none, nor is a folder named like one of its files.
	half := filepath.Join(b.Dir, "half")
	if err := os.MkdirAll(filepath.Join(half, Purchases), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(half, SettingsFile), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	other := newBook(t, nil)
	for _, c := range []struct {
		name, named, start string
		want               string // "" for an error
		parts              []string
	}{
		{"here", "", b.Dir, b.Dir, nil},
		{"above", "", deep, b.Dir, nil},
		{"above half a book", "", half, b.Dir, nil},
		{"named", other.Dir, deep, other.Dir, nil},
		{"named and none is never passed over", deep, b.Dir, "", []string{"no book at " + deep + " (from --book)", "tarebook init " + deep}},
		{"named and half", half, b.Dir, "", []string{"settings.csv and purchases.csv are not both there"}},
		{"none", "", t.TempDir(), "", []string{"no book here or above; start one with: tarebook init"}},
	} {
		got, err := Find(c.named, "--book", c.start)
		if c.want == "" {
			wantError(t, err, c.parts...)
			if !errors.Is(err, ErrNoBook) || got != nil {
				t.Errorf("%s: got %v and %v, want no book and ErrNoBook", c.name, got, err)
			}
			continue
		}
		if err != nil || got.Dir != c.want {
			t.Errorf("%s: got %v, %v, want %s", c.name, got, err, c.want)
		}
	}
	if _, err := Find(deep, "TAREBOOK", b.Dir); err == nil {
		t.Error("TAREBOOK at no book is passed over")
	} else {
		wantError(t, err, "(from TAREBOOK)")
	}
}

func TestInit(t *testing.T) {
	t.Parallel()
	files := map[string]string{SettingsFile: lines(SettingsFile, "currency,EUR"), Purchases: Header(Purchases), Materials: lines(Materials, "PLA,1.24,,")}
	dir := filepath.Join(t.TempDir(), "new", "shelf")
	if err := (&Book{Dir: dir}).Init(files); err != nil {
		t.Fatal(err)
	}
	b, err := Find("", "", dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(files, contents(t, b)); d != "" {
		t.Errorf("the new book (-want +got):\n%s", d)
	}
	wantError(t, (&Book{Dir: dir}).Init(files), dir+" holds a book already; name another folder with --book DIR")
	if d := cmp.Diff(files, contents(t, b)); d != "" {
		t.Errorf("the book was changed (-want +got):\n%s", d)
	}

	// What stands in the folder already stays as it is.
	dir = t.TempDir()
	mine := map[string]string{Materials: "mine", "notes.csv": "also mine"}
	for name, text := range mine {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := (&Book{Dir: dir}).Init(files); err != nil {
		t.Fatal(err)
	}
	want := map[string]string{SettingsFile: files[SettingsFile], Purchases: files[Purchases], Materials: "mine", "notes.csv": "also mine"}
	if d := cmp.Diff(want, contents(t, &Book{Dir: dir})); d != "" {
		t.Errorf("the folder (-want +got):\n%s", d)
	}
}
