package recording

import (
	"strings"
	"testing"

	"tarebook/inventory/booktest"
	"tarebook/ledger"
)

func TestOpened(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, gross, tare, label, price string
		currency                        string
		net, share, note                string
	}{
		// 24.90 x 367/1000 = 9.1383
		{"to the cent", "612", "245", "1000", "24.90", "EUR", "367", "9.14", "opened: gross 612 g, label 1000 g, price 24.90, tare 245 g"},
		{"half up", "1000", "500", "1000", "0.01", "EUR", "500", "0.01", "opened: gross 1000 g, label 1000 g, price 0.01, tare 500 g"},
		{"all decimals are kept", "545", "145", "1000", "22.75", "EUR", "400", "9.10", "opened: gross 545 g, label 1000 g, price 22.75, tare 145 g"},
		// 2480 x 250.5/750 = 828.32
		{"a currency without cents", "446.5", "196", "750", "2480", "JPY", "250.5", "828", "opened: gross 446.5 g, label 750 g, price 2480, tare 196 g"},
		{"no price", "612", "245", "1000", "", "EUR", "367", "", "opened: gross 612 g, label 1000 g, tare 245 g"},
		{"a generous maker", "1170", "148", "1000", "21.64", "EUR", "1022", "21.64", "opened: gross 1170 g, label 1000 g, price 21.64, tare 148 g"},
		{"below its tare, if one is sure", "140", "148", "1000", "24.90", "EUR", "1000", "24.90", "opened: gross 140 g, label 1000 g, price 24.90, tare 148 g"},
		{"5 % more than its label", "1198", "148", "1000", "", "EUR", "1050", "", "opened: gross 1198 g, label 1000 g, tare 148 g"},
	} {
		price, err := ledger.ParseNumber(c.price)
		if err != nil {
			t.Fatal(err)
		}
		got := ledger.Purchase{Price: price, GrossG: ledger.Known(booktest.Grams(c.gross))}
		_, err = open(&got, booktest.Grams(c.tare), booktest.Grams(c.label), c.currency, strings.HasSuffix(c.name, "if one is sure"))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		share, _ := got.Price.MarshalCSV()
		if got.NetG != booktest.Grams(c.net) || share != c.share || got.Price.Given != (c.share != "") || got.Note != c.note {
			t.Errorf("%s: got %s g, %q, %q, want %s g, %q, %q", c.name, got.NetG, share, got.Note, c.net, c.share, c.note)
		}
		if err := ledger.CheckText("note", got.Note); err != nil {
			t.Errorf("%s: the note cannot be recorded: %v", c.name, err)
		}
	}
	for _, c := range []struct{ name, gross, tare, label, want string }{
		{"lighter than its core", "140", "148", "1000", "gross 140 g is no more than the empty spool weighs, 148 g"},
		{"nothing on it", "148", "148", "1000", "gross 148 g is no more than the empty spool weighs"},
		{"more than its label", "1198.001", "148", "1000", "is 1050.001 g, more than the 1000 g of its label"},
		{"no label", "612", "245", "0", "the label's net is blank or 0"},
	} {
		if _, err := open(&ledger.Purchase{GrossG: ledger.Known(booktest.Grams(c.gross))}, booktest.Grams(c.tare), booktest.Grams(c.label), "EUR", false); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
	}
}
