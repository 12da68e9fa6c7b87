package recording

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"tarebook/inventory"
	"tarebook/inventory/sheet"
	"tarebook/ledger"
)

// Import is a sheet of somebody else's on its way into one ledger: which of its columns are which of ours, and what its cells
// stand for. It decides nothing that recording by hand would not: names, guards and refusals are the same, row by row.
//
// A row that the book has already is passed over, so that the same sheet may come again. Compared is what the sheet gave: of a
// day without a time the date, of a blank cell nothing, unless blank stands for something there (0 g, loaded, finished).
type Import struct {
	File string // what messages call the sheet
	Kind string // one of ImportKinds

	At       ledger.Time // of rows that have no time
	Timed    bool        // a person gave At; else it is now
	Note     string      // of rows that have none
	Now      time.Time   // in the zone in which the sheet's times are local
	Sure     bool        // weigh-ins are taken though they don't fit
	Reopened bool        // there is a reason to record into a sealed time

	find       func(v *ledger.View, kind, name string) (string, error) // Known
	named, set map[string]string                                       // our column to their header, and to a constant
	table      *sheet.Table
	forms      *sheet.Forms
	words      map[string]map[string]string // of our columns, folded words of the sheet to ours
	column     map[string]int               // our column to its place in the sheet
	unit       map[string]string
	own, left  []string // headers that were taken by their own names, and that were not taken
}

// What the rows of a sheet may be.
const (
	OfSpools   = "spools"
	OfWeighins = "weighins"
	OfJobs     = "jobs"
)

// ImportKinds are all of them.
var ImportKinds = []string{OfSpools, OfWeighins, OfJobs}

// importColumns are those that a sheet may fill: the ledger's own but for those of sliced files, and for an opened spool label_g.
func importColumns(kind string) []string {
	file := map[string]string{OfSpools: ledger.Purchases, OfWeighins: ledger.Weighins, OfJobs: ledger.ConsumptionFile}[kind]
	columns := strings.Split(strings.TrimSpace(ledger.Header(file)), ",")
	columns = slices.DeleteFunc(columns, func(c string) bool {
		return c == "entry" || kind == OfSpools && c == "gross_g" || kind == OfJobs && (c == "slot" || c == "file")
	})
	if kind == OfSpools {
		columns = slices.Insert(columns, slices.Index(columns, "net_g")+1, "gross_g", "label_g") // they go together
	}
	return columns
}

// IsNumber reports whether a column of a ledger holds numbers.
func IsNumber(column string) bool {
	return strings.HasSuffix(column, "_g") || column == "diameter_mm" || column == "price" || column == "changes"
}

// NewImport returns an import of rows of a kind, with what a person said of its columns: which header of the sheet stands for
// which of ours, and what holds for all rows.
func NewImport(kind string, named, set map[string]string) (*Import, error) {
	if !slices.Contains(ImportKinds, kind) {
		return nil, fmt.Errorf("--as %q is none of %s; write one of them", kind, strings.Join(ImportKinds, ", "))
	}
	columns := importColumns(kind)
	var errs []error
	for _, from := range []map[string]string{named, set} {
		for _, column := range slices.Sorted(maps.Keys(from)) {
			switch near := ledger.Nearest(column, columns); {
			case slices.Contains(columns, column):
			case kind == OfWeighins && column == "net_g":
				errs = append(errs, errors.New("weigh-ins have no net_g: the book stores what the scale showed; map gross_g"))
			case near != "":
				errs = append(errs, fmt.Errorf("%s have no column %q; did you mean %s?", kind, column, near))
			default:
				errs = append(errs, fmt.Errorf("%s have no column %q; they have: %s", kind, column, strings.Join(columns, ", ")))
			}
		}
	}
	for _, column := range slices.Sorted(maps.Keys(set)) {
		if _, both := named[column]; both {
			errs = append(errs, fmt.Errorf("%s is both mapped and set; leave one out", column))
		}
		if column == "at" {
			errs = append(errs, errors.New("at is not set; write --at TIME"))
		}
	}
	return &Import{Kind: kind, find: Known, named: named, set: set}, errors.Join(errs...)
}

// Read takes the sheet's text: it finds the columns and how numbers and dates are written.
func (in *Import) Read(data []byte, o sheet.Options) (err error) {
	if in.table, err = sheet.Read(data, o); err != nil {
		return err
	}
	if err := in.match(); err != nil {
		return err
	}
	var numbers, dates []int
	for column, i := range in.column {
		switch {
		case column == "at":
			dates = append(dates, i)
		case IsNumber(column):
			numbers = append(numbers, i)
		}
	}
	slices.Sort(numbers)
	in.forms, err = in.table.Forms(slices.Compact(numbers), dates, o)
	return err
}

// Told says how the sheet was read, and which columns were taken without being asked for, and left out.
func (in *Import) Told() []string {
	told := []string{in.forms.String()}
	if in.own != nil {
		told = append(told, "taken by their own names: "+strings.Join(in.own, ", "))
	}
	if in.left != nil {
		told = append(told, "left out: "+strings.Join(in.left, ", "))
	}
	return told
}

// unitAtEnd is compiled when a sheet is first read: most commands read none.
var unitAtEnd = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[(\[]\s*(\pL+|\p{Sc})\s*[)\]]$`) })

// header is a heading as it is compared: blanks and line ends in it are one blank.
func header(s string) string { return strings.Join(strings.Fields(s), " ") }

// match finds for each of our columns its place in the sheet.
func (in *Import) match() error {
	in.column, in.unit = map[string]int{}, map[string]string{}
	headers := make([]string, len(in.table.Header.Cells))
	for i, cell := range in.table.Header.Cells {
		headers[i] = header(cell)
	}
	var faults ledger.Faults
	bad := func(what, mend string) {
		faults = append(faults, &ledger.RowError{File: in.File, Line: in.table.Header.Line, What: what, Mend: mend})
	}
	find := func(name string) []int {
		var exact, folded []int
		for i, h := range headers {
			if h == header(name) {
				exact = append(exact, i)
			}
			if ledger.Fold(h) == ledger.Fold(header(name)) {
				folded = append(folded, i)
			}
		}
		if exact != nil {
			return exact
		}
		return folded
	}
	used := map[int]bool{}
	take := func(column string, places []int) {
		if len(places) > 1 {
			bad(fmt.Sprintf("%s stands twice in the header", strconv.Quote(headers[places[0]])), "rename one of them")
		}
		in.column[column] = places[0]
		used[places[0]] = true
		if unit := unitAtEnd().FindStringSubmatch(headers[places[0]]); unit != nil {
			in.unit[column] = unit[1]
		}
	}
	var columns []string
	for _, column := range importColumns(in.Kind) {
		name, asked := in.named[column]
		if places := find(name); !asked {
			columns = append(columns, column)
		} else if len(places) > 0 {
			take(column, places)
		} else if line := in.elsewhere(name); line > 0 {
			bad("the header has no "+strconv.Quote(name), fmt.Sprintf("line %d has it; if that is the header, write --header %d", line, line))
		} else {
			mend := "it has: " + strings.Join(slices.DeleteFunc(slices.Clone(headers), func(h string) bool { return h == "" }), ", ")
			if near := ledger.Nearest(name, headers); near != "" {
				mend = "did you mean " + near + "?"
			}
			bad("the header has no "+strconv.Quote(name), mend)
		}
	}
	for _, column := range columns {
		if _, set := in.set[column]; set {
			continue
		}
		if places := find(column); len(places) > 0 && !used[places[0]] {
			take(column, places)
			in.own = append(in.own, headers[places[0]])
		}
	}
	for i, h := range headers {
		if !used[i] && h != "" {
			in.left = append(in.left, h)
		}
	}
	if faults == nil {
		in.needed(bad)
	}
	if faults != nil {
		return faults
	}
	return nil
}

// elsewhere returns the first line below the header that has the text of a heading, 0 for none.
func (in *Import) elsewhere(name string) int {
	for _, row := range in.table.Rows {
		for _, cell := range row.Cells {
			if strings.Contains(ledger.Fold(header(cell)), ledger.Fold(header(name))) {
				return row.Line
			}
		}
	}
	return 0
}

// needed says what no row of that kind can do without.
func (in *Import) needed(bad func(what, mend string)) {
	lacks := func(columns ...string) bool {
		return !slices.ContainsFunc(columns, func(c string) bool {
			_, mapped := in.column[c]
			return mapped || in.set[c] != ""
		})
	}
	need := func(what string, columns ...string) {
		if lacks(columns...) {
			bad("no column is "+inventory.List(columns, "or"), "map "+what+", as --map '"+columns[0]+"=HEADER'")
		}
	}
	need("the spools' ids", "spool")
	switch in.Kind {
	case OfSpools:
		need("the material, or --set it for all", "material")
		need("the grams of filament", "net_g", "gross_g", "label_g")
		if !lacks("gross_g") && lacks("label_g") {
			bad("gross_g goes with label_g, what an opened spool held when it was full", "map it, or write --set label_g=1000")
		}
	case OfWeighins:
		need("what the scale showed", "gross_g", "state")
	case OfJobs:
		need("the jobs' names", "job")
		need("the grams", "part_g", "support_g", "prime_g", "purge_g")
	}
}
