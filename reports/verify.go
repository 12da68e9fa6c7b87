package reports

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Verify is what is wrong with a book.
type Verify struct {
	Entries  int              `json:"entries"`  // how many distinct entries all ledgers have
	Problems []ledger.Problem `json:"problems"` // those found, in the order of files and lines
	Seals    []Seal           `json:"seals"`    // the last seal of each ledger and month
	Offers   []ledger.Problem `json:"-"`        // rows that break no rule, with what to write instead to gain by a newer one
}

// Seal is the last seal of one ledger and month.
type Seal struct {
	Through ledger.Time `json:"through"` // the time until which it holds
	Ledger  string      `json:"ledger"`  // the file
	Month   string      `json:"month"`   // month of its rows, as 2026-10; blank for clients.csv
	Holds   bool        `json:"holds"`   // whether the file still says what was sealed
}

// NewVerify returns the view of the problems found, of the seals, and of rows that could say more.
func NewVerify(entries int, problems []ledger.Problem, states []*ledger.SealState, offers []ledger.Problem) Verify {
	if problems == nil {
		problems = []ledger.Problem{}
	}
	seals := []Seal{}
	for _, s := range states {
		seals = append(seals, Seal{s.Through, s.Ledger, s.Month, s.Holds})
	}
	return Verify{entries, problems, seals, offers}
}

// CSV returns the problems.
func (v Verify) CSV() any { return v.Problems }

// Sheets returns a line a problem.
func (v Verify) Sheets() Pages {
	var sheet Sheet
	for _, p := range v.Problems {
		sheet.Notes = append(sheet.Notes, p.Text())
	}
	for _, o := range v.Offers {
		sheet.Notes = append(sheet.Notes, o.Text())
	}
	verdict := "no problem"
	if n := len(v.Problems); n > 0 {
		verdict = inventory.Plural(n, "problem", "problems")
	}
	sheet.Notes = append(sheet.Notes, inventory.Plural(v.Entries, "entry", "entries")+", "+verdict)
	if n := len(v.Seals); n > 0 {
		hold := 0
		for _, s := range v.Seals {
			if s.Holds {
				hold++
			}
		}
		sheet.Notes = append(sheet.Notes, fmt.Sprintf("%s, of which %d hold", inventory.Plural(n, "seal", "seals"), hold))
	}
	return Pages{sheet}
}
