package reports

import (
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Labels is the content of the labels of some spools, in printing order.
type Labels []Label

// Label is the content of one spool's label.
type Label struct {
	Spool      string        `json:"spool" csv:"spool"`
	Material   string        `json:"material" csv:"material"`
	Colour     string        `json:"colour" csv:"colour"`
	Swatch     string        `json:"swatch" csv:"swatch"`           // its colour as #RRGGBB, or blank
	DiameterMM ledger.Number `json:"diameter_mm" csv:"diameter_mm"` // diameter of the filament
	TareG      ledger.Mass   `json:"tare_g" csv:"tare_g"`           // the empty spool, by the best tare known; null where none is
	TareFrom   string        `json:"tare_from" csv:"tare_from"`     // where the tare comes from, the best first: its own weigh-in when empty, the purchase, the core, the first weigh-in less the label
	Bought     ledger.Time   `json:"bought" csv:"bought"`           // when it was bought

	Maker, Lot string `json:"-" csv:"-"`
}

// NewLabels returns the labels of spools.
func NewLabels(spools []*inventory.Spool) Labels {
	l := make(Labels, 0, len(spools))
	for _, s := range spools {
		l = append(l, Label{s.ID, s.Material, s.Colour, s.Swatch, s.Purchase.DiameterMM, s.Tare.Grams, s.Tare.From, s.Purchase.At, s.Maker, s.Lot})
	}
	return l
}

// Sheets returns the labels as a table.
func (l Labels) Sheets() Pages {
	sheet := Sheet{Columns: slices.Concat(texts("spool", "material", "colour"), left("swatch"), right("diameter mm", "tare g"), left("tare from", "bought"))}
	for _, x := range l {
		sheet.Rows = append(sheet.Rows, []string{x.Spool, x.Material, dash(x.Colour), dash(x.Swatch), x.DiameterMM.Decimal.String(), tareText(x.TareG, "", "-"),
			x.TareFrom, day(x.Bought)})
	}
	if len(l) == 0 {
		sheet.Notes = []string{"No spool is on the shelf; book one with: tarebook buy"}
	}
	return Pages{sheet}
}

func tareText(tare ledger.Mass, unit, none string) string {
	if !tare.Given {
		return none
	}
	return tare.Grams.String() + unit
}
