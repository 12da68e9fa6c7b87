package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"tarebook/inventory/recording"
	"tarebook/inventory/sheet"
	"tarebook/ledger"
	"tarebook/reports"
)

type importCmd struct {
	File      string   `arg:"" optional:"" about:"The sheet, saved as CSV; - is standard input."`
	As        string   `group:"The sheet" about:"What its rows are: spools, weighins or jobs." value:"KIND" choices:"spools,weighins,jobs"`
	Map       []string `sep:"none" group:"The sheet" about:"Our columns, each with the header that stands for it there: spool=Nr,net_g=Weight (g). A header with a comma goes in double quotes. For an opened spool map gross_g, and label_g to what it held when full." value:"OURS=THEIRS,..."`
	Set       []string `sep:"none" group:"The sheet" about:"Our columns that the sheet lacks, each with what holds for all its rows: material=PLA,currency=EUR." value:"OURS=VALUE,..."`
	Dates     string   `group:"The sheet" about:"Order of its dates: dmy, mdy or ymd; else what all its dates fit. A day without a time is 12:00 of that day here." value:"ORDER" choices:"dmy,mdy,ymd"`
	Decimal   string   `group:"The sheet" about:"Its decimal mark: comma or point; else what its numbers show." value:"MARK" choices:"comma,point"`
	Encoding  string   `group:"The sheet" about:"How its letters are written: UTF-8, Windows-1252, UTF-16, UTF-16LE or UTF-16BE; else what its first bytes show." value:"NAME" choices:"UTF-8,Windows-1252,UTF-16,UTF-16LE,UTF-16BE"`
	Columns   bool     `group:"The sheet" about:"List our columns for --as, and what each holds; the sheet may be left out."`
	MapValue  []string `sep:"none" group:"The sheet" about:"Our words for states, outcomes and bases, each by the sheet's: outcome.fertig=finished." value:"COLUMN.THEIRS=OURS,..."`
	Delimiter string   `group:"The sheet" about:"What parts its cells: comma, semicolon, tab or bar; else what its rows show." value:"MARK" choices:"comma,semicolon,tab,bar"`
	Header    int      `group:"The sheet" about:"The line of its header; else the first that is not blank." value:"N"`
	Sure      bool     `about:"Book weigh-ins, and what was wound off, though they do not fit what is known of their spools."`
	recordFlags
}

// largestSheet is more than a person's spreadsheet ever holds: half a million rows.
const largestSheet = 64 << 20

func (c *importCmd) Run(a *app) error {
	if c.Columns {
		columns, err := recording.ImportColumns(strings.ToLower(c.As))
		if err != nil {
			return err
		}
		return reports.Render(a.stdout, reports.NewImportColumns(columns), a.style())
	}
	if c.File == "" {
		return errors.New("no sheet; write its file, or - for standard input; our columns are listed by --columns")
	}
	in, options, err := c.intake()
	if err != nil {
		return err
	}
	if in.At, err = c.at(a); err != nil {
		return err
	}
	if err := ledger.CheckText("note", c.Note); err != nil { // of an opened spool it will not stand at the beginning
		return err
	}
	in.Timed, in.Note, in.Now, in.Sure, in.Reopened = c.At != "", c.Note, a.now(), c.Sure, ledger.Trim(c.Reopen) != ""
	in.File = c.File
	if c.File == "-" {
		in.File = "stdin"
	}
	data, err := c.read(a)
	if err != nil {
		return err
	}
	if err := in.Read(data, options); err != nil {
		return unread(in.File, err)
	}
	for _, line := range in.Told() {
		fmt.Fprintln(a.stderr, "tarebook: "+in.File+": "+line)
	}
	var would func() reports.Import
	decide := func(v *ledger.View) (recording.Booking, error) {
		switch in.Kind {
		case recording.OfSpools:
			return imported[ledger.Purchase](&would, in.Purchases, v)
		case recording.OfWeighins:
			return imported[ledger.Weighin](&would, in.Weighins, v)
		}
		return imported[ledger.Consumption](&would, in.Jobs, v)
	}
	if !c.DryRun {
		return a.record(c.writeFlags, decide)
	}
	talk := *a // the answer is the rows; what else there is to say goes to stderr
	talk.stdout, talk.Format = a.stderr, "table"
	if err := talk.record(c.writeFlags, decide); err != nil {
		return err
	}
	return reports.Render(a.stdout, would(), a.style())
}

func imported[T any, R ledger.RowOf[T]](would *func() reports.Import, take func(*ledger.View) (*recording.Imported[T], error), v *ledger.View) (recording.Booking, error) {
	taken, err := take(v)
	if err != nil {
		return recording.Booking{}, err
	}
	*would = func() reports.Import { return reports.NewImport[T, R](taken.Rows) } // once they say why they were reopened
	return recording.Booking{Batch: ledger.NewBatch[T, R](taken.Rows), Told: append([]string{taken.String()}, taken.Notes...)}, nil
}

// intake reads the flags.
func (c *importCmd) intake() (*recording.Import, sheet.Options, error) {
	var o sheet.Options
	if c.As == "" {
		return nil, o, errors.New("--as is missing; write what the sheet's rows are: --as spools, --as weighins or --as jobs")
	}
	named, err := pairs("--map", c.Map)
	if err != nil {
		return nil, o, err
	}
	set, err := pairs("--set", c.Set)
	if err != nil {
		return nil, o, err
	}
	in, err := recording.NewImport(strings.ToLower(c.As), named, set)
	if err != nil {
		return nil, o, err
	}
	words, err := pairs("--map-value", c.MapValue)
	if err != nil {
		return nil, o, err
	}
	if err := in.MapValues(words); err != nil {
		return nil, o, err
	}
	if o.Encoding, err = encoding(c.Encoding); err != nil {
		return nil, o, err
	}
	if o.Decimal, err = mark("--decimal", c.Decimal, map[string]rune{"comma": ',', "point": '.'}); err != nil {
		return nil, o, err
	}
	if o.Delimiter, err = mark("--delimiter", c.Delimiter, map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'}); err != nil {
		return nil, o, err
	}
	if o.Dates = sheet.Order(strings.ToLower(c.Dates)); o.Dates != "" && !slices.Contains(sheet.Orders, o.Dates) {
		return nil, o, fmt.Errorf("--dates %q is none of dmy, mdy, ymd; write one of them", c.Dates)
	}
	if o.Header = c.Header; o.Header < 0 {
		return nil, o, fmt.Errorf("--header %d is no line; the first is 1", c.Header)
	}
	return in, o, nil
}

// encoding reads the name of an encoding; blank is none.
func encoding(text string) (string, error) {
	for _, name := range sheet.Encodings {
		if strings.EqualFold(text, name) {
			return name, nil
		}
	}
	if text == "" {
		return "", nil
	}
	return "", fmt.Errorf("--encoding %q is none of %s; write one of them", text, strings.Join(sheet.Encodings, ", "))
}

// mark reads the name of a mark, or the mark itself; blank is none.
func mark(flag, text string, marks map[string]rune) (rune, error) {
	if text == "" {
		return 0, nil
	}
	for name, m := range marks {
		if strings.EqualFold(text, name) || text == string(m) {
			return m, nil
		}
	}
	return 0, fmt.Errorf("%s %q is none of %s; write one of them", flag, text, strings.Join(slices.Sorted(maps.Keys(marks)), ", "))
}

// pairs reads NAME=TEXT,NAME=TEXT. Commas in double quotes part nothing; two quotes there stand for one.
func pairs(flag string, texts []string) (map[string]string, error) {
	all := map[string]string{}
	for _, text := range texts {
		var fields []string
		var b strings.Builder
		quoted := false
		for i := 0; i < len(text); i++ {
			switch {
			case text[i] == '"' && quoted && i+1 < len(text) && text[i+1] == '"':
				b.WriteByte('"')
				i++
			case text[i] == '"':
				quoted = !quoted
			case text[i] == ',' && !quoted:
				fields = append(fields, b.String())
				b.Reset()
			default:
				b.WriteByte(text[i])
			}
		}
		if quoted {
			return nil, fmt.Errorf("%s %q has a quote that is not closed", flag, text)
		}
		for _, field := range append(fields, b.String()) {
			name, value, ok := strings.Cut(field, "=")
			name, value = strings.ToLower(ledger.Trim(name)), ledger.Trim(value)
			if !ok || name == "" || value == "" {
				return nil, fmt.Errorf("%s %q is no pair; write OURS=THEIRS, as spool=Nr, and a text with a comma in double quotes", flag, field)
			}
			if _, twice := all[name]; twice {
				return nil, fmt.Errorf("%s names %s twice; leave one out", flag, name)
			}
			all[name] = value
		}
	}
	return all, nil
}

// read returns what the file holds.
func (c *importCmd) read(a *app) ([]byte, error) {
	from := a.stdin
	if c.File != "-" {
		name := c.File
		if !filepath.IsAbs(name) {
			name = filepath.Join(a.dir, name)
		}
		f, err := os.Open(name)
		if err != nil {
			var path *os.PathError
			if errors.As(err, &path) {
				err = path.Err
			}
			return nil, fmt.Errorf("%s: %w", c.File, err)
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, largestSheet+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.File, err)
	}
	if len(data) > largestSheet {
		return nil, fmt.Errorf("%s: is larger than %d MB; import it in parts", c.File, largestSheet>>20)
	}
	return data, nil
}

// unread says where a sheet could not be read, and which flag would help.
func unread(file string, err error) error {
	var e *sheet.Error
	if !errors.As(err, &e) {
		return err
	}
	mend := e.Mend
	switch e.Settle {
	case "Encoding":
		mend = "say how its letters are written, as --encoding Windows-1252, or save it as CSV in UTF-8"
	case "Delimiter":
		mend = "say what parts them, as --delimiter semicolon"
	case "Decimal":
		mend = "say which it is, --decimal comma or --decimal point"
	case "Dates":
		mend = "say their order, --dates dmy, mdy or ymd"
	case "Header":
		mend = "say which line is the header with --header N"
	}
	return &ledger.RowError{File: file, Line: e.Line, What: e.What, Mend: mend}
}
