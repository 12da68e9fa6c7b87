package main

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type buyCmd struct {
	Spool    string `arg:"" optional:""`
	Material string `group:"The spool"`
	Colour   string `group:"The spool"`
	Net      string `group:"The spool"`
	Diameter string `default:"1.75" group:"The spool"`
	Core     string `group:"The spool"`
	Tare     string `group:"The spool"`
	Swatch   string `group:"The spool"`
	Maker    string `group:"The spool"`
	Lot      string `group:"The spool"`
	Place    string `group:"The spool"`
	Off      string `group:"The spool"`

	Opened bool   `group:"An opened spool"`
	Gross  string `group:"An opened spool"`
	Label  string `group:"An opened spool"`

	Price    string `group:"Price"`
	Total    string `group:"Price"`
	Currency string `group:"Price"`
	Supplier string `group:"Price"`
	Count    int    `default:"1"`
	recordFlags
}

func (c *buyCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	if c.Count < 1 || c.Count > 1000 {
		return fmt.Errorf("--count %d is no number of spools; write 1 to 1000", c.Count)
	}
	if c.Price != "" && c.Total != "" {
		return errors.New("--price goes without --total")
	}
	if err := c.fits(); err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		shelf, err := inventory.LoadSpools(v)
		if err != nil {
			return nil, nil, err
		}
		row, err := c.row(shelf)
		if err != nil {
			return nil, nil, err
		}
		if c.Opened {
			if err := c.open(shelf, &row); err != nil {
				return nil, nil, err
			}
		}
		row.At = at
		ids, err := c.ids(a, v)
		if err != nil {
			return nil, nil, err
		}
		prices := []ledger.Number{row.Price}
		if !c.Opened {
			prices, err = c.prices(shelf, row.Currency)
		}
		if err != nil {
			return nil, nil, err
		}
		var rows []ledger.Purchase
		var lines []string
		if c.Opened {
			lines = []string{row.Note, "that is its first weighing; a weigh-in beside it is not needed"}
		}
		for i, id := range ids {
			row.Spool = id
			if prices != nil {
				row.Price = prices[i]
			}
			rows = append(rows, row)
			metres := shelf.Stock(row.Material, row.DiameterMM.Float(0)).Length(row.NetG.Float())
			line := fmt.Sprintf("%s: %s, net %s g, %.1f m", id, strings.TrimSpace(row.Material+" "+row.Colour), row.NetG, metres)
			if row.Price.Given {
				currency := row.Currency
				if currency == "" {
					currency = shelf.Settings.Currency
				}
				price, _ := row.Price.MarshalCSV()
				line += ", " + price + " " + currency
			}
			lines = append(lines, line)
		}
		return ledger.NewBatch[ledger.Purchase](rows), lines, nil
	})
}

// row returns the purchase that all spools share.
func (c *buyCmd) row(shelf *inventory.Shelf) (row ledger.Purchase, err error) {
	row = ledger.Purchase{Colour: c.Colour, Swatch: c.Swatch, Maker: c.Maker, Lot: c.Lot, Supplier: c.Supplier, Place: c.Place,
		Note: c.Note, Currency: strings.ToUpper(c.Currency)}
	material, diameter := c.Material, c.Diameter
	if c.Off != "" {
		old, err := shelf.Find(c.Off)
		if err != nil {
			return row, err
		}
		row.From = old.ID
		if material == "" {
			material = old.Material
		}
		if row.Colour == "" {
			row.Colour = old.Colour
		}
		diameter = old.Purchase.DiameterMM.Decimal.String()
	}
	if material == "" {
		return row, errors.New("--material is missing; it must be one of materials.csv")
	}
	if row.Material, err = known("material", material, shelf.Materials, func(m *ledger.Material) string { return m.Material }, ledger.Materials); err != nil {
		return row, err
	}
	if row.Core, err = known("core", c.Core, shelf.Cores, func(r *ledger.Core) string { return r.Core }, ledger.Cores); err != nil {
		return row, err
	}
	if row.DiameterMM, err = ledger.ParseNumber(diameter); err != nil || !row.DiameterMM.IsPositive() {
		return row, fmt.Errorf("--diameter %q is not a number above 0; write millimetres, as 1.75", diameter)
	}
	stock := shelf.Stock(row.Material, row.DiameterMM.Float(0))
	switch {
	case c.Opened: // it follows from the gross
	case c.Net == "":
		return row, errors.New("--net is missing; write the grams of filament on the label, as 1000, or --opened for a spool that was begun")
	default:
		if row.NetG, err = inventory.ParseMass(c.Net, &stock); err != nil {
			return row, fmt.Errorf("--net %w", err)
		}
	}
	if c.Tare != "" {
		tare, err := inventory.ParseMass(c.Tare, nil)
		if err != nil {
			return row, fmt.Errorf("--tare %w", err)
		}
		row.TareG = ledger.Known(tare)
	}
	return row, nil
}

// fits refuses flags that don't go together.
func (c *buyCmd) fits() error {
	switch {
	case !c.Opened && (c.Gross != "" || c.Label != ""):
		return errors.New("--gross and --label go with --opened")
	case !c.Opened:
		return nil
	case c.Count > 1 || c.Total != "":
		return errors.New("--opened is about one spool, so it goes without --count and --total")
	case c.Net != "":
		return errors.New("--opened goes without --net; write --label, and --gross for what the scale shows")
	case c.Off != "":
		return errors.New("--opened goes without --off; write --net for what was wound off")
	case c.Gross == "":
		return errors.New("--gross is missing; write what the scale shows of the spool, as 612")
	case c.Label == "":
		return errors.New("--label is missing; write the grams of filament that the spool held when it was full, as 1000")
	}
	return nil
}

// open reckons what is on an opened spool from its gross.
func (c *buyCmd) open(shelf *inventory.Shelf, row *ledger.Purchase) error {
	gross, err := inventory.ParseMass(c.Gross, nil)
	if err != nil {
		return fmt.Errorf("--gross %w", err)
	}
	stock := shelf.Stock(row.Material, row.DiameterMM.Float(0))
	label, err := inventory.ParseMass(c.Label, &stock)
	if err != nil {
		return fmt.Errorf("--label %w", err)
	}
	tare := row.TareG
	if core := ledger.Named(shelf.Cores, row.Core); !tare.Given && core != nil {
		tare = core.TareG
	}
	if !tare.Given {
		return errors.New("what the empty spool weighs is not known; weigh an empty one of its kind and define it with: tarebook define core NAME tare=GRAMS, or write --tare GRAMS")
	}
	one, err := c.prices(shelf, row.Currency)
	if err != nil {
		return err
	}
	var price ledger.Number
	if one != nil {
		price = one[0]
	}
	currency := row.Currency
	if currency == "" {
		currency = shelf.Settings.Currency
	}
	decimals, _ := ledger.MinorUnit(currency)
	opened, err := recording.Opened(gross, tare.Grams, label, price, decimals)
	if err != nil {
		return err
	}
	row.NetG, row.Price = opened.NetG, opened.Price
	if err := ledger.CheckText("note", c.Note); err != nil { // it will no longer stand at the beginning
		return err
	}
	if row.Note = opened.Note; c.Note != "" {
		row.Note += "; " + c.Note
	}
	return nil
}

// ids returns the ids of the new spools: the one typed, or as many after a prefix as are bought.
func (c *buyCmd) ids(a *app, v *ledger.View) ([]string, error) {
	spools, err := v.Spools()
	if err != nil {
		return nil, err
	}
	prefix := strings.ToUpper(ledger.Trim(c.Spool))
	if prefix == "" {
		if prefix = strings.ToUpper(a.getenv("TAREBOOK_BENCH")); prefix == "" {
			return nil, errors.New("no id for the spool; write one, as PLA-017, or name this bench in $TAREBOOK_BENCH")
		}
	} else if c.Count == 1 {
		if v.Taken(prefix) {
			return nil, fmt.Errorf("spool %s is taken; ids are unique for ever", prefix)
		}
		return []string{prefix}, nil
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
	for n := last + 1; n <= last+c.Count; n++ {
		ids = append(ids, fmt.Sprintf("%s-%0*d", prefix, digits, n))
	}
	return ids, nil
}

// prices returns the price of each spool, nil for none.
func (c *buyCmd) prices(shelf *inventory.Shelf, currency string) ([]ledger.Number, error) {
	flag, text := "--price", c.Price
	if c.Total != "" {
		flag, text = "--total", c.Total
	}
	if text == "" {
		return nil, nil
	}
	amount, err := ledger.ParseNumber(text)
	if err != nil || !amount.Given {
		return nil, fmt.Errorf("%s %q is not an amount; write digits with a dot, as 24.90", flag, text)
	}
	if currency == "" {
		currency = shelf.Settings.Currency
	}
	decimals, ok := ledger.MinorUnit(currency)
	if !ok {
		return nil, fmt.Errorf("%q is not a currency of ISO 4217; write its three letters, as EUR", currency)
	}
	prices := make([]ledger.Number, c.Count)
	if c.Total == "" {
		for i := range prices {
			prices[i] = amount
		}
		return prices, nil
	}
	if -amount.Exponent() > decimals {
		return nil, fmt.Errorf("--total %s has more decimals than %s", text, currency)
	}
	share := new(big.Rat).Quo(amount.Rat(), big.NewRat(int64(c.Count), 1))
	shares := make([]*big.Rat, c.Count)
	for i := range shares {
		shares[i] = share
	}
	for i, d := range cost.Apportion(shares, decimals) {
		if prices[i], err = ledger.ParseNumber(d.StringFixed(decimals)); err != nil {
			return nil, err
		}
	}
	return prices, nil
}
