package reports

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// hostile is a report whose text would do harm where it is taken at its word. The formulas are the two examples of OWASP,
// "CSV Injection".
type hostile struct{}

type hostileRow struct {
	Text string       `json:"text" csv:"text"`
	G    ledger.Grams `json:"g" csv:"g"`
}

var hostileRows = []hostileRow{
	{"=1+2\";=1+2", -1500}, {"=1+2'\" ;,=1+2", 0}, {"@cmd", 1}, {"a\x1b[31mb", 2}, {"left\u202eright", 3}, {"nul\x00", 4}, {"-5", 5},
	{"<script>alert(1)</script>", 6}, {"![p](//x.example/p.png)", 7},
}

func (hostile) JSON() any { return hostileRows }
func (hostile) CSV() any  { return hostileRows }
func (hostile) Sheets() Pages {
	s := Sheet{Title: "t\u2066\x07", Columns: append(left("text"), right("g")...), Notes: []string{"n\x1b]0;x\x07"}}
	for _, r := range hostileRows {
		s.Rows = append(s.Rows, []string{r.Text, r.G.String()})
	}
	return Pages{s}
}

func render(t *testing.T, r Report, s Style) string {
	t.Helper()
	var b strings.Builder
	if err := Render(&b, r, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// No control or bidi character of the book reaches a terminal, a table or md.
func TestClean(t *testing.T) {
	t.Parallel()
	for _, format := range []string{"table", "md"} {
		got := render(t, hostile{}, Style{Format: format})
		for _, r := range got {
			if r != '\n' && ledger.Forbidden(r) {
				t.Errorf("%s holds %U:\n%q", format, r, got)
			}
		}
		if format == "md" { // which is shown so
			for _, markup := range []string{"<script", "![p]("} {
				if strings.Contains(got, markup) {
					t.Errorf("md holds %s:\n%s", markup, got)
				}
			}
			got = strings.NewReplacer("&lt;", "<", `\[`, "[").Replace(got)
		}
		for _, text := range []string{"<script>alert(1)</script>", "![p](//x.example/p.png)"} {
			if !strings.Contains(got, text) {
				t.Errorf("%s does not show %s:\n%s", format, text, got)
			}
		}
		if !strings.Contains(got, "a<001B>[31mb") || !strings.Contains(got, "left<202E>right") {
			t.Errorf("%s does not show what stood there:\n%s", format, got)
		}
	}
}

// Text stays the text that it is in Markdown: CommonMark 0.31.2, 2.4 (a backslash before punctuation), 2.5 (no entities), 4.2, 4.3, 5.1
// and 5.2 (what begins a line), 6.1 to 6.4; of GFM 4.10 (a bar in a cell, which may follow a backslash).
func TestLiteral(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ text, note, cell string }{
		{"mill-floor 1", "mill-floor 1", "mill-floor 1"},
		{"Quillet & Daughter", "Quillet & Daughter", "Quillet & Daughter"},
		{`\[x](//x.example)`, `\\\[x](//x.example)`, `\\\[x](//x.example)`}, // else the first backslash takes the second's meaning: a link
		{`c\|d`, `c\\|d`, `c\\\|d`},                                         // else the bar begins a cell
		{"&#x202e;flip &copy;", `\&#x202e;flip \&copy;`, `\&#x202e;flip \&copy;`},
		{"`id` *a* __b__", "\\`id\\` \\*a\\* \\_\\_b\\_\\_", "\\`id\\` \\*a\\* \\_\\_b\\_\\_"},
		{"# big", `\# big`, "# big"},
		{"---", `\---`, "---"},
		{"> said", `\> said`, "> said"},
		{"~~~", `\~~~`, "~~~"},
		{"12. owl", `12\. owl`, "12. owl"},
		{"3) owl", `3\) owl`, "3) owl"},
		{"3 owls", "3 owls", "3 owls"},
	} {
		sheet := Sheet{Columns: left("text"), Rows: [][]string{{test.text}}, Notes: []string{test.text}}
		want := "| text |\n| --- |\n| " + test.cell + " |\n\n" + test.note + "\n"
		if got := render(t, sheets{sheet}, Style{Format: "md"}); got != want {
			t.Errorf("%s: got\n%s, want\n%s", test.text, got, want)
		}
	}
}

// sheets are a report of nothing else.
type sheets Pages

func (s sheets) JSON() any     { return nil }
func (s sheets) CSV() any      { return nil }
func (s sheets) Sheets() Pages { return Pages(s) }

func TestCSVGuard(t *testing.T) {
	t.Parallel()
	records, err := csv.NewReader(strings.NewReader(render(t, hostile{}, Style{Format: "csv"}))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct{ text, g string }{{"'=1+2\";=1+2", "-1.5"}, {"'=1+2'\" ;,=1+2", "0"}, {"'@cmd", "0.001"}} {
		if got := records[i+1]; got[0] != want.text || got[1] != want.g {
			t.Errorf("row %d is %q, want %q", i, got, want)
		}
	}
}

// JSON carries the text unharmed, but its marks as escapes, so that a terminal does not see them.
func TestJSONEscapes(t *testing.T) {
	t.Parallel()
	got := render(t, hostile{}, Style{Format: "json"})
	var rows []struct{ Text string }
	if err := json.Unmarshal([]byte(got), &rows); err != nil {
		t.Fatal(err)
	}
	for i, r := range rows {
		if r.Text != hostileRows[i].Text {
			t.Errorf("row %d came back as %q, want %q", i, r.Text, hostileRows[i].Text)
		}
	}
	for _, r := range got {
		if r != '\n' && ledger.Forbidden(r) {
			t.Errorf("JSON holds %U", r)
		}
	}
}

// Colour lifts a word that stands there without it too.
func TestColour(t *testing.T) {
	t.Parallel()
	for cell, want := range map[string]string{"short": "\x1b[1;31mshort\x1b[0m", "marginal": "\x1b[33mmarginal\x1b[0m", "enough": "enough"} {
		if got := coloured(cell, true); got != want {
			t.Errorf("coloured(%q) = %q, want %q", cell, got, want)
		}
		if got := coloured(cell, false); got != cell {
			t.Errorf("without colour %q became %q", cell, got)
		}
	}
}

func TestValues(t *testing.T) {
	t.Parallel()
	amount := func(text, currency string) string { return money(decimal.RequireFromString(text), currency).String() }
	for _, c := range []struct{ what, got, want string }{
		{"two decimals", amount("12.5", "EUR"), "12.50"},
		{"none", amount("1200", "JPY"), "1200"},
		{"three", amount("1.5", "KWD"), "1.500"},
		{"no amount", Money{}.String(), "-"},
		{"no minus on nought", tenth(-0.04), "0.0"}, // General Decimal Arithmetic keeps -0.0; a statement must not
		{"a tenth", tenth(-0.06), "-0.1"},
		{"sure", odds(0.99999), "> 99.9 %"},
		{"hopeless", odds(1e-9), "< 0.1 %"},
		{"in between", odds(0.7786), "77.9 %"},
		{"one", inventory.Plural(1, "spool has", "spools have"), "1 spool has"},
		{"more", inventory.Plural(0, "spool has", "spools have"), "0 spools have"},
		{"list", inventory.List([]string{"a", "b", "c"}, "or"), "a, b or c"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", c.what, c.got, c.want)
		}
	}
}

// Every report is [] and a header when there is nothing to show, never null and never nothing.
func TestEmpty(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		report Report
		json   string
	}{
		"stock":     {Stock{Rows: []StockRow{}}, "[]"},
		"reconcile": {Reconcile{}, "[]"},
		"check":     {NewCheck(nil, nil), `{"jobs":[]}`},
		"waste":     {Waste{By: "client", Rows: wasteRows(nil), Totals: wasteRows(nil)}, `{"by":"client","rows":[],"totals":[]}`},
		"verify":    {NewVerify(0, nil, nil, nil), `{"entries":0,"problems":[],"seals":[]}`},
		"queue":     {NewQueue(nil), "[]"},
	} {
		var compact strings.Builder
		for _, r := range render(t, c.report, Style{Format: "json"}) {
			if r != ' ' && r != '\n' {
				compact.WriteRune(r)
			}
		}
		if compact.String() != c.json {
			t.Errorf("%s is %s, want %s", name, compact.String(), c.json)
		}
		if got := render(t, c.report, Style{Format: "csv"}); strings.Count(got, "\n") != 1 {
			t.Errorf("%s as csv is %q, want a header alone", name, got)
		}
		if got := render(t, c.report, Style{Format: "table"}); strings.TrimSpace(got) == "" {
			t.Errorf("%s says nothing at all", name)
		}
	}
}

func TestTypedPrice(t *testing.T) {
	t.Parallel()
	// The decimals are those of ISO 4217, list one, published 2024-06-25.
	for _, c := range [][3]string{{"21", "EUR", "21.00 EUR"}, {"2150", "EUR", "2150.00 EUR"}, {"21.9", "EUR", "21.90 EUR"}, {"21.905", "EUR", "21.905 EUR"}, {"500", "JPY", "500 JPY"}, {"6", "KWD", "6.000 KWD"}} {
		price, err := ledger.ParseNumber(c[0])
		if err != nil {
			t.Fatal(err)
		}
		if got := inventory.PriceText(price, c[1]); got != c[2] {
			t.Errorf("PriceText(%s, %s) = %s, want %s", c[0], c[1], got, c[2])
		}
	}
}
