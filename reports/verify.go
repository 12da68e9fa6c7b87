package reports

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Verify is what is wrong with a book.
type Verify struct {
	Entries  int              `json:"entries"`
	Problems []ledger.Problem `json:"problems"`
	Seals    []Seal           `json:"seals"`
	Offers   []ledger.Problem `json:"-"` // rows that break no rule, with what to write instead to gain by a newer one
}

// Seal is the last seal of one ledger and month.
type Seal struct {
	Through ledger.Time `json:"through"`
	Ledger  string      `json:"ledger"`
	Month   string      `json:"month"`
	Holds   bool        `json:"holds"`
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
