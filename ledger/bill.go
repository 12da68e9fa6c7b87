package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
)

// Bill is one currency of a bill that was issued to a client: what it came to, how many lines it had, and their SHA-256.
type Bill struct {
	Head
	Bill     string `csv:"bill"` // its number
	Client   string `csv:"client"`
	From     string `csv:"from"` // the first day, as 2026-10-01; blank: since ever
	To       string `csv:"to"`   // the last day
	Currency string `csv:"currency"`
	Billed   Number `csv:"billed"`
	Lines    Count  `csv:"lines"`
	SHA256   string `csv:"sha256"`
	Note     string `csv:"note"`
}

func (*Bill) file() string { return Bills }

func (b *Bill) columns() []field {
	return []field{text(&b.Entry), &b.At, text(&b.Bill), text(&b.Client), text(&b.From), text(&b.To), text(&b.Currency), &b.Billed, &b.Lines,
		text(&b.SHA256), text(&b.Note)}
}

func (b *Bill) check(c *checker) {
	c.head(&b.Head)
	c.needed("bill", b.Bill != "")
	c.name("bill", b.Bill)
	c.needed("client", b.Client != "")
	c.name("client", b.Client)
	c.date("from", b.From)
	c.date("to", b.To)
	if c.needed("to", b.To != ""); b.To != "" && b.To < b.From {
		c.bad("to", quoted(b.To)+" is before from", "write the last day of the bill")
	}
	c.needed("currency", b.Currency != "")
	c.currency(&b.Currency)
	c.needed("billed", b.Billed.Given)
	c.needed("lines", b.Lines.Given)
	c.sum(&b.SHA256)
}

func (c *checker) date(column, value string) {
	if _, err := time.Parse(time.DateOnly, value); value != "" && err != nil {
		c.bad(column, quoted(value)+" is not a date", "write year-month-day, as 2026-10-01")
	}
}

func (c *checker) sum(value *string) {
	if sum, err := hex.DecodeString(*value); err != nil || len(sum) != sha256.Size {
		c.bad("sha256", quoted(*value)+" is no SHA-256", "write its 64 hex digits")
	}
	*value = strings.ToLower(*value)
}

// Holds reports whether a bill is of a client, its name folded, and of a day.
func (b *Bill) Holds(client, day string) bool {
	return Fold(b.Client) == client && b.From <= day && day <= b.To
}

// Before reports whether the bill was issued before a row was recorded. A row typed by hand does not say when that was, and
// counts as recorded in time.
func (b *Bill) Before(h *Head) bool {
	return h.Entry != "" && strings.ToUpper(h.Entry) > b.issued()
}

// issued returns the greatest entry that a row can have which was recorded before the bill was issued. The time of a bill typed by hand
// is its at.
func (b *Bill) issued() string {
	if b.Entry != "" {
		return b.ID
	}
	id := ulid.ULID{}
	if err := id.SetTime(ulid.Timestamp(b.At.utc())); err != nil {
		return "" // a time before 1970 or after 10889
	}
	return id.String()[:10] + strings.Repeat("Z", 16)
}

// Bills returns the bills that count, in the order of the ledger. Rows of one number that are of different clients or periods, or of
// one currency, are in conflict; all of them count.
func (v *View) Bills() ([]*Bill, error) {
	if v.bills.read {
		return v.bills.live, v.bills.err
	}
	_, err1 := v.Voids()
	live, err := readLedger[Bill](v, &v.bills, Bills, nil)
	if v.bills.err = JoinFaults(err1, err); v.bills.err != nil {
		return nil, v.bills.err
	}
	byNumber := map[string][]*Bill{}
	for _, b := range live {
		number := Fold(b.Bill)
		byNumber[number] = append(byNumber[number], b)
	}
	for _, b := range live {
		group := byNumber[Fold(b.Bill)]
		if group[0] != b || !clash(group) {
			continue
		}
		var lines []int
		for _, row := range group {
			lines = append(lines, row.Line)
		}
		where := joinLines(slices.Clone(lines))
		v.bills.conflicts = append(v.bills.conflicts, &Conflict{Bills, b.ID, lines,
			fmt.Sprintf("bill %s stands on lines %s for more than one client, period or time; settle it with: tarebook void --only %s --why REASON", quoted(b.Bill), where, b.ID)})
	}
	return live, nil
}

// clash reports whether rows of one number are not of one bill.
func clash(rows []*Bill) bool {
	currencies := map[string]bool{}
	for _, b := range rows {
		first := rows[0]
		if Fold(b.Client) != Fold(first.Client) || b.From != first.From || b.To != first.To || currencies[b.Currency] {
			return true
		}
		currencies[b.Currency] = true
	}
	return false
}

// BillNumbers returns, folded, the numbers of all bills that were ever issued, those cancelled too.
func (v *View) BillNumbers() (map[string]bool, error) {
	_, err := v.Bills()
	numbers := map[string]bool{}
	for _, b := range v.bills.all {
		numbers[Fold(b.Bill)] = true
	}
	return numbers, err
}
