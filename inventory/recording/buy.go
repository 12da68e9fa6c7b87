package recording

import (
	"cmp"
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// TypedPurchase is what was typed of spools bought. Row has the texts that are recorded as they are, and names that may be
// misspelt; From is the spool that they were wound off. All else is a figure as text, blank where none was typed.
type TypedPurchase struct {
	Row                ledger.Purchase
	Net, Diameter      string
	Tare, Gross, Label string // Gross and Label are of an opened spool
	Price, Total       string // of one spool, or of all; not both
	Opened             bool
	Sure               bool // take a gross below the tare, and more wound off than there is
	Count              int  // spools that are equal but for their ids
	Numbered           bool // their ids are numbers after the one typed, also that of one spool
}

// Buy returns the purchases of equal spools.
func Buy(v *ledger.View, typed TypedPurchase, bench Bench) (b Booking, err error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return b, err
	}
	row, err := typed.row(v, shelf)
	if err := errors.Join(err, noFeed(shelf, row.Place)); err != nil {
		return b, err
	}
	prices, err := typed.prices(cmp.Or(row.Currency, shelf.Settings.Currency))
	if err != nil {
		return b, err
	}
	var opened Fact
	if typed.Opened {
		if row.Scale, err = Known(v, "scale", cmp.Or(row.Scale, bench.scale(shelf.Settings))); err != nil {
			return b, err
		}
		if prices[0], err = typed.open(shelf, &row, &opened, prices[0]); err != nil {
			return b, err
		}
		b.Told = []string{row.Note, "that is its first weigh-in: what is on it follows from it, also when a better tare is known later"}
	}
	ids, err := newIDs(v, row.Spool, typed.Count, typed.Numbered, bench.Prefix)
	if err != nil {
		return b, err
	}
	if what, mend := misread(ids[0]); what != "" {
		return b, errors.New(what + "; " + mend)
	}
	var rows []ledger.Purchase
	for i, id := range ids {
		row.Spool, row.Price = id, prices[i]
		rows = append(rows, row)
		stock := shelf.Stock(row.Material, row.DiameterMM.Float(0))
		line := fmt.Sprintf("%s: %s, net %s g, %.1f m", id, strings.TrimSpace(row.Material+" "+row.Colour), row.NetG, stock.Length(row.NetG.Float()))
		if row.Price.Given {
			line += ", " + inventory.PriceText(row.Price, cmp.Or(row.Currency, shelf.Settings.Currency))
		}
		b.Told = append(b.Told, line)
		fact := factOf(&stock, row.NetG)
		fact.Tare, fact.Label = opened.Tare, opened.Label
		if row.Price.Given {
			fact.Currency = cmp.Or(row.Currency, shelf.Settings.Currency)
		}
		b.Facts = append(b.Facts, fact)
	}
	if row.From != "" {
		left, said, err := windOff(v, shelf, &row, typed.Count, typed.Sure)
		if err != nil {
			return b, err
		}
		for i := range b.Facts {
			b.Facts[i].Source = left
		}
		b.Told = append(b.Told, said)
	}
	b.Batch = ledger.NewBatch[ledger.Purchase](rows)
	return b, nil
}

// misread says what a spreadsheet would make of a new spool's id, and what to write instead; both are blank if it leaves the id alone.
func misread(id string) (what, mend string) {
	if what = ledger.ReadBySheets(id); what == "" {
		return "", ""
	}
	return fmt.Sprintf("spool %s: a spreadsheet that opens the book would take the id for %s", id, what), "begin it with a word, as PLA-" + id
}

// row returns the purchase that all spools share. Of an opened one its net follows from the gross.
func (t *TypedPurchase) row(v *ledger.View, shelf *inventory.Shelf) (row ledger.Purchase, err error) {
	row = t.Row
	row.Currency = strings.ToUpper(row.Currency)
	diameter := t.Diameter
	if row.From != "" {
		old, err := shelf.Find(row.From)
		if err != nil {
			return row, err
		}
		row.From, row.Material, row.Colour = old.ID, cmp.Or(row.Material, old.Material), cmp.Or(row.Colour, old.Colour)
		diameter = old.Purchase.DiameterMM.Decimal.String()
	}
	if row.Material == "" {
		return row, errors.New("--material is missing; it must be one of materials.csv")
	}
	if row.Material, err = Known(v, "material", row.Material); err != nil {
		return row, err
	}
	if row.Core, err = Known(v, "core", row.Core); err != nil {
		return row, err
	}
	if row.DiameterMM, err = inventory.TypedNumber(diameter); err != nil || !row.DiameterMM.IsPositive() {
		return row, badDiameter(diameter)
	}
	if !t.Opened {
		if t.Net == "" {
			return row, errors.New("--net is missing; write the grams of filament on the label, as 1000, or --opened for a spool that was begun")
		}
		stock := shelf.Stock(row.Material, row.DiameterMM.Float(0))
		if row.NetG, err = inventory.ParseMass(t.Net, &stock); err != nil {
			return row, fmt.Errorf("--net %w", err)
		}
	}
	if t.Tare != "" {
		tare, err := inventory.ParseMass(t.Tare, nil)
		if err != nil {
			return row, fmt.Errorf("--tare %w", err)
		}
		row.TareG = ledger.Known(tare)
	}
	return row, nil
}

// open computes what is on an opened spool, and returns the share of its price. fact receives its tare and its label.
func (t *TypedPurchase) open(shelf *inventory.Shelf, row *ledger.Purchase, fact *Fact, price ledger.Number) (share ledger.Number, err error) {
	gross, err := inventory.ParseMass(t.Gross, nil)
	if err != nil {
		return share, fmt.Errorf("--gross %w", err)
	}
	row.GrossG = ledger.Known(gross)
	stock := shelf.Stock(row.Material, row.DiameterMM.Float(0))
	label, err := inventory.ParseMass(t.Label, &stock)
	if err != nil {
		return share, fmt.Errorf("--label %w", err)
	}
	tare := tareOf(shelf, row)
	if !tare.Given {
		return share, errors.New("what the empty spool weighs is not known; weigh an empty one of its kind and define it with: tarebook define core NAME tare=GRAMS, or write --tare GRAMS")
	}
	if err := ledger.CheckText("note", row.Note); err != nil { // it will no longer stand at the beginning
		return share, err
	}
	row.Price, fact.Tare, fact.Label = price, tare, ledger.Known(label)
	_, err = open(row, tare.Grams, label, shelf.Settings.Currency, t.Sure)
	return row.Price, err
}

// newIDs returns the ids of new spools: the one typed, or as many after a prefix as are bought.
func newIDs(v *ledger.View, typed string, count int, number bool, bench string) ([]string, error) {
	spools, err := v.Spools()
	if err != nil {
		return nil, err
	}
	prefix := strings.ToUpper(ledger.Trim(typed))
	if prefix != "" && !number {
		if v.Taken(prefix) {
			return nil, fmt.Errorf("spool %s is taken; ids are unique for ever", prefix)
		}
		return []string{prefix}, nil
	}
	if prefix = cmp.Or(prefix, strings.ToUpper(bench)); prefix == "" {
		return nil, errors.New("no id for the spool; write one, as PLA-017, or name this bench in $TAREBOOK_BENCH")
	}
	prefix = strings.TrimSuffix(prefix, "-")
	numbered := regexp.MustCompile("^" + regexp.QuoteMeta(prefix) + "-([0-9]{1,9})$")
	last, digits := 0, 3
	for _, id := range spools {
		if m := numbered.FindStringSubmatch(id); m != nil {
			if n, _ := strconv.Atoi(m[1]); n >= last {
				last, digits = n, len(m[1])
			}
		}
	}
	var ids []string
	for n := last + 1; n <= last+count; n++ {
		ids = append(ids, fmt.Sprintf("%s-%0*d", prefix, digits, n))
	}
	return ids, nil
}

// prices returns the price of each spool; none is given where no price was typed. A total is shared to the minor unit.
func (t *TypedPurchase) prices(currency string) ([]ledger.Number, error) {
	prices := make([]ledger.Number, t.Count)
	flag, text := "--price", t.Price
	if t.Total != "" {
		flag, text = "--total", t.Total
	}
	if text == "" {
		return prices, nil
	}
	amount, err := inventory.TypedNumber(text)
	if err != nil || !amount.Given {
		return nil, fmt.Errorf("%s %q is not an amount; write digits with a dot, as 24.90", flag, text)
	}
	decimals, ok := ledger.MinorUnit(currency)
	if !ok {
		return nil, noCurrency(currency)
	}
	if t.Total == "" {
		for i := range prices {
			prices[i] = amount
		}
		return prices, nil
	}
	if -amount.Exponent() > decimals {
		return nil, fmt.Errorf("--total %s has more decimals than %s", text, currency)
	}
	shares := make([]*big.Rat, t.Count)
	for i := range shares {
		shares[i] = new(big.Rat).Quo(amount.Rat(), big.NewRat(int64(t.Count), 1))
	}
	for i, d := range cost.Apportion(shares, decimals) {
		prices[i] = fixed(d, decimals)
	}
	return prices, nil
}

func noCurrency(code string) error {
	return fmt.Errorf("%q is not a currency of ISO 4217; write its three letters, as EUR", code)
}
