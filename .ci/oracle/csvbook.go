// Package oracle calculates again what the program answers, from the book's
// design alone: it shares no code with it, reads the CSV files by itself and
// prefers clarity to speed.
//
// Start from calculate: a folder, a command and perhaps an instant go in, the
// expected JSON and exit status come out; writeRandomBook makes the folders, and
// contract.go says what the program is held to.
//
// Grams that are counted are int64 thousandths, money is big.Rat, estimates are
// float64.
package oracle

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// columns are the contract's, in table order: the canonical form of a row and
// the generator's headers both follow it.
var columns = map[string][]string{
	"settings.csv":    {"setting", "value"},
	"materials.csv":   {"material", "density_g_cm3", "density_u_g_cm3", "note"},
	"cores.csv":       {"core", "tare_g", "tare_u_g", "note"},
	"scales.csv":      {"scale", "division_g", "error_g", "repeat_g", "note"},
	"printers.csv":    {"printer", "feeds", "purge_mm3", "prime_mm3", "swap_s", "load_s", "tail_mm", "hour_cost", "price", "owned", "note"},
	"purges.csv":      {"printer", "from_material", "from_colour", "to_material", "to_colour", "purge_mm3"},
	"nozzles.csv":     {"printer", "nozzle", "x_min_mm", "x_max_mm", "y_min_mm", "y_max_mm", "z_max_mm", "note"},
	"limits.csv":      {"printer", "nozzle", "material", "beside", "why"},
	"clients.csv":     {"client", "name", "waste_billed", "scrap_billed", "from", "note"},
	"purchases.csv":   {"entry", "at", "spool", "material", "colour", "swatch", "maker", "lot", "diameter_mm", "net_g", "core", "tare_g", "price", "currency", "supplier", "place", "from", "gross_g", "scale", "note"},
	"weighins.csv":    {"entry", "at", "spool", "gross_g", "scale", "state", "note"},
	"consumption.csv": {"entry", "at", "job", "client", "printer", "spool", "part_g", "support_g", "prime_g", "purge_g", "changes", "outcome", "basis", "slot", "file", "note"},
	"queue.csv":       {"entry", "at", "job", "client", "printer", "slot", "spool", "material", "colour", "part_g", "support_g", "prime_g", "purge_g", "changes", "due", "basis", "file", "note"},
	"moves.csv":       {"entry", "at", "spool", "place", "note"},
	"voids.csv":       {"entry", "at", "target", "why"},
	"seals.csv":       {"entry", "at", "through", "ledger", "month", "rows", "sha256"},
	"sliced.csv":      {"entry", "at", "file", "layers", "sequence", "boxes", "note"},
	"bills.csv":       {"entry", "at", "bill", "client", "from", "to", "currency", "billed", "lines", "sha256", "note"},
}

// lateColumns came later: the canonical form has those that are not blank at
// its end, so that older rows keep their names.
var lateColumns = map[string][]string{
	"purchases.csv":   {"gross_g", "scale"},
	"consumption.csv": {"slot", "file"},
}

// ledgerFiles stand in the order that rows of one instant take across ledgers.
var ledgerFiles = []string{"purchases.csv", "weighins.csv", "consumption.csv", "queue.csv", "moves.csv", "voids.csv"}

// row is one record: its cells are trimmed and found by the contract's names.
type row struct {
	file string
	cell map[string]string
	at   time.Time // ledgers only
}

func (r *row) get(column string) string { return r.cell[column] }

// content is the canonical form: what two rows must share to be the same.
func (r *row) content() string {
	return r.contentBy(asTyped)
}

// contentBy is the canonical form of a row whose cells are spelt so.
func (r *row) contentBy(spell func(column, text string) string) string {
	parts := []string{r.file}
	for _, c := range columns[r.file] {
		if !slices.Contains(lateColumns[r.file], c) {
			parts = append(parts, spell(c, r.get(c)))
		}
	}
	for _, c := range lateColumns[r.file] {
		if r.get(c) != "" {
			parts = append(parts, c+"="+spell(c, r.get(c)))
		}
	}
	return strings.Join(parts, "\x1f") + "\n"
}

// name is what a void calls the row, and its entry in JSON.
func (r *row) name() string {
	if e := r.get("entry"); e != "" {
		return e
	}
	return sumOf(r.content())[:26]
}

// compareRows orders rows of one ledger. A blank entry sorts first by itself.
func compareRows(a, b *row) int {
	return cmp.Or(a.at.Compare(b.at), strings.Compare(a.get("entry"), b.get("entry")), strings.Compare(a.content(), b.content()))
}

// folder is the book as read, before anything is decided about its rows.
type folder map[string][]*row

func readFolder(dir string) (folder, error) {
	f := folder{}
	for file := range columns {
		rows, err := readFile(dir, file)
		if err != nil {
			return nil, err
		}
		f[file] = rows
	}
	return f, nil
}

func readFile(dir, file string) ([]*row, error) {
	header, records, err := readRecords(filepath.Join(dir, file))
	if err != nil {
		return nil, err
	}
	var rows []*row
	for _, record := range records {
		r := &row{file: file, cell: map[string]string{}}
		for i, column := range header {
			if i < len(record) {
				r.cell[column] = trim(record[i])
			}
		}
		if at := r.get("at"); at != "" {
			if r.at, err = time.Parse(time.RFC3339Nano, at); err != nil {
				return nil, fmt.Errorf("%s: %w", file, err)
			}
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// readRecords gives an absent file as an empty one.
func readRecords(path string) (header []string, records [][]string, err error) {
	data, err := os.ReadFile(path)
	if os.IsNotExist(err) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	r.FieldsPerRecord = -1
	for {
		record, err := r.Read()
		if err == io.EOF {
			return header, records, nil
		}
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", path, err)
		}
		if header == nil {
			header = record
			continue
		}
		records = append(records, record)
	}
}

func trim(s string) string { return strings.Trim(s, " \t") }
