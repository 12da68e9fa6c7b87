package reports

import (
	"fmt"

	"tarebook/ledger"
)

// Verify is what is wrong with a book.
type Verify struct {
	Entries  int              `json:"entries"`
	Problems []ledger.Problem `json:"problems"`
	Seals    []struct{}       `json:"seals"`
}

// NewVerify returns the view of the problems found.
func NewVerify(entries int, problems []ledger.Problem) Verify {
	if problems == nil {
		problems = []ledger.Problem{}
	}
	return Verify{entries, problems, []struct{}{}}
}

// JSON returns the value of the contract.
func (v Verify) JSON() any { return v }

// CSV returns the problems.
func (v Verify) CSV() any { return v.Problems }

// Sheets returns a line a problem.
func (v Verify) Sheets() Pages {
	var sheet Sheet
	for _, p := range v.Problems {
		where := p.File
		if p.Line > 0 {
			where = fmt.Sprintf("%s:%d", p.File, p.Line)
		}
		sheet.Notes = append(sheet.Notes, where+": "+p.What)
	}
	verdict := "no problem"
	if n := len(v.Problems); n > 0 {
		verdict = count(n, "problem", "problems")
	}
	sheet.Notes = append(sheet.Notes, count(v.Entries, "entry", "entries")+", "+verdict)
	return Pages{sheet}
}
