package main

import (
	"bytes"
	"context"
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

	"tarebook/ledger"
	"tarebook/samples"
)

// A book that a real spreadsheet has opened and saved, once set to English and once to German: what it changed is named, and
// nothing is answered wrong in silence. It wants LibreOffice (Debian's libreoffice-calc) and is skipped without, unless
// SHEETS=required. What a person does in the dialogue on opening is given as the options of its filters (LibreOffice help, "Filter
// Options for CSV": token 4 is the first line, 6 the language, 8 whether numbers of all kinds are looked for).
func TestSpreadsheetSavesABook(t *testing.T) {
	t.Parallel()
	office, err := exec.LookPath("soffice")
	if err != nil {
		if os.Getenv("SHEETS") == "required" {
			t.Fatal(err)
		}
		t.Skip("no soffice")
	}
	book := sheetBook(t)
	before := answers(t, book)
	for _, c := range []struct {
		name, language string
		changed        []string // files whose text is another after it
		named          []string // what verify then says; nil: nothing, as nothing but the form of numbers was changed
	}{
		{"English", "1033", []string{ledger.Materials, ledger.Purchases, ledger.Weighins, ledger.ConsumptionFile}, nil},
		{"German", "1031", []string{ledger.Materials, ledger.Weighins, ledger.ConsumptionFile}, []string{
			"materials.csv:2: density_u_g_cm3 12 of PLA is more than a fifth of its density 1.24",
			"weighins.csv:78: gross_g 412125 leaves 411977 g on PLA-12, which was bought with 1000 g",
			"consumption.csv:150: 11334 g are more than PLA-12 held when it was bought, 1000 g",
			"consumption.csv: column part_g has whole grams in ",
			"seals.csv:", // of November: its rows were changed
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			saved := saveBySheet(t, office, book, c.language)
			for _, file := range slices.Concat(ledger.Tables, ledger.Ledgers) {
				if same := bytes.Equal(readFile(t, filepath.Join(book, file)), readFile(t, filepath.Join(saved, file))); same == slices.Contains(c.changed, file) {
					t.Errorf("%s: the same after the save: %v", file, same)
				}
			}
			status, out, _ := runIn(t, saved, "verify")
			for _, want := range c.named {
				if !strings.Contains(out, want) {
					t.Errorf("verify does not say %q:\n%s", want, out)
				}
			}
			after := answers(t, saved)
			if c.named == nil {
				if status != 0 {
					t.Errorf("verify: status %d, want 0:\n%s", status, out)
				}
				for command, want := range before {
					if d := cmp.Diff(want, after[command]); d != "" {
						t.Errorf("%s answers otherwise (-before +after):\n%s", command, d)
					}
				}
				return
			}
			if status != 1 {
				t.Errorf("verify: status %d, want 1", status)
			}
			for _, command := range []string{"stock", "check"} {
				if _, _, notes := runIn(t, saved, command); !strings.Contains(notes, "lost their dot") {
					t.Errorf("%s says nothing of it: %s", command, notes)
				}
			}
		})
	}
}

// sheetBook returns the demo book with rows that a spreadsheet writes otherwise, sealed.
func sheetBook(t *testing.T) string {
	t.Helper()
	book := filepath.Join(t.TempDir(), "book")
	if err := samples.CopyDemo(book); err != nil {
		t.Fatal(err)
	}
	for file, rows := range map[string]string{
		ledger.Weighins: "01M59Q4WZQ4VP0D3ZF9JA7Z8S7,2026-11-09T09:30:00+01:00,PLA-09,640.50,bench,loaded,\n,2026-11-10T09:30:00+01:00,PLA-12,412.125,bench,loaded,\n",
		ledger.ConsumptionFile: ",2026-11-09T10:00:00+01:00,owl,pellam,WINDOW,PLA-12,11.334,,,,,finished,path,\n" +
			",2026-11-09T11:00:00+01:00,owl,pellam,WINDOW,PLA-12,1.236,,,,,finished,path,\n" +
			",2026-11-09T12:00:00+01:00,owl,pellam,WINDOW,PLA-12,0.859,,,,,finished,path,\n" +
			",2026-11-09T13:00:00+01:00,owl,pellam,WINDOW,PLA-12,4.007,,,,,finished,path,\n",
	} {
		f, err := os.OpenFile(filepath.Join(book, file), os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteString(rows); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if status, _, notes := runIn(t, book, "seal", "--through", "2026-11-12"); status != 0 {
		t.Fatalf("seal: status %d: %s", status, notes)
	}
	if status, out, _ := runIn(t, book, "verify"); status != 0 {
		t.Fatalf("the book is not sound before: %s", out)
	}
	return book
}

// saveBySheet returns a book of which every file was opened and saved by a spreadsheet set to a language, by its number in
// Windows' list of locales.
func saveBySheet(t *testing.T, office, book, language string) string {
	t.Helper()
	saved := filepath.Join(t.TempDir(), "book")
	form := "44,34,76,1,,%s,false,true"
	args := []string{"-env:UserInstallation=file://" + filepath.ToSlash(filepath.Join(t.TempDir(), "profile")), "--headless",
		"--infilter=CSV:" + fmt.Sprintf(form, language), "--convert-to", "csv:Text - txt - csv (StarCalc):" + fmt.Sprintf(form, language), "--outdir", saved}
	for _, file := range slices.Concat(ledger.Tables, ledger.Ledgers) {
		if _, err := os.Stat(filepath.Join(book, file)); err == nil {
			args = append(args, filepath.Join(book, file))
		}
	}
	sliced, err := filepath.Glob(filepath.Join(book, "*.gcode"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(saved, 0o777); err != nil {
		t.Fatal(err)
	}
	for _, file := range sliced {
		if err := os.WriteFile(filepath.Join(saved, filepath.Base(file)), readFile(t, file), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	if out, err := exec.CommandContext(ctx, office, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return saved
}

// answers returns what commands say of a book.
func answers(t *testing.T, book string) map[string]string {
	t.Helper()
	said := map[string]string{}
	for _, command := range []string{"stock", "reconcile", "check", "waste"} {
		_, out, notes := runIn(t, book, command, "--format", "json")
		said[command] = out + notes
	}
	return said
}

// runIn runs a command on a book, on a day some time after its last row.
func runIn(t *testing.T, book string, args ...string) (status int, out, notes string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	env := system()
	env.stdout, env.stderr, env.terminal = &stdout, &stderr, false
	env.getenv = func(string) string { return "" }
	env.now = func() time.Time { return instant("", 0) }
	status = run(append([]string{"--book", book}, args...), env)
	return status, stdout.String(), stderr.String()
}

func readFile(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return b
}
