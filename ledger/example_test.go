package ledger_test

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/shopspring/decimal"

	"tarebook/ledger"
)

// The main road: start a book, record in it what was decided on it, look at it.
func ExampleBook_Update() {
	folder, err := os.MkdirTemp("", "shelf")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	dir := filepath.Join(folder, "book")
	err = (&ledger.Book{Dir: dir}).Init(map[string]string{
		ledger.SettingsFile: ledger.Header(ledger.SettingsFile) + "currency,EUR\n",
		ledger.Materials:    ledger.Header(ledger.Materials) + "PLA,1.24,,\n",
		ledger.Purchases:    ledger.Header(ledger.Purchases),
	})
	if err != nil {
		fmt.Println(err)
		return
	}

	book, err := ledger.Find(dir, "--book", ".")
	if err != nil {
		fmt.Println(err)
		return
	}
	entry := func() string { return "01ARZ3NDEKTSV4RRFFQ69G5FAV" } // a program takes a fresh ULID for each row
	at := time.Date(2026, 11, 20, 18, 30, 0, 0, time.FixedZone("", 3600))
	err = book.Update(entry, func(v *ledger.View) (ledger.Batch, error) {
		spools, err := v.Spools()
		if err != nil {
			return nil, err
		}
		return ledger.NewBatch([]ledger.Purchase{{
			Head:       ledger.Head{At: ledger.NewTime(at)},
			Spool:      fmt.Sprintf("PLA-%d", len(spools)+1),
			Material:   "PLA",
			Colour:     "brick",
			DiameterMM: ledger.NewNumber(decimal.RequireFromString("1.75")),
			NetG:       1000_000, // thousandths
			Price:      ledger.NewNumber(decimal.RequireFromString("24.90")),
		}}), nil
	})
	if err != nil {
		fmt.Println(err)
		return
	}

	view, err := book.View(ledger.Time{})
	if err != nil {
		fmt.Println(err)
		return
	}
	purchases, err := view.Purchases()
	for _, p := range purchases {
		fmt.Println(p.Name(), p.At, p.Spool, p.Colour, p.NetG, "g")
	}
	fmt.Println(err)
	// Output:
	// 01ARZ3NDEKTSV4RRFFQ69G5FAV 2026-11-20T18:30:00+01:00 PLA-1 brick 1000 g
	// <nil>
}
