package oracle

import (
	"math/big"
	"slices"
)

// billOf is what a bill of a client's period comes to in one currency, as the book
// stands now.
func billOf(f folder, l *ledgers, spools map[string]*spool, client, from, to, currency string) (billed string, lines int, sum string) {
	total, text := new(big.Rat), ""
	for _, x := range linesOf(f, l, spools, func(r *row) bool {
		return fold(r.get("client")) == fold(client) && within(r, question{from: from, to: to})
	}) {
		if fold(x.spool.currency) == fold(currency) {
			total.Add(total, x.billed())
			text += x.text()
			lines++
		}
	}
	return total.FloatString(minorDigits(currency)), lines, sumOf(text)
}

// agrees says whether the book still says what a bill says.
func agrees(f folder, l *ledgers, spools map[string]*spool, bill *row) bool {
	billed, lines, sum := billOf(f, l, spools, bill.get("client"), bill.get("from"), bill.get("to"), bill.get("currency"))
	return rational(billed).Cmp(rational(bill.get("billed"))) == 0 && lines == int(number(bill.get("lines"), -1)) && sum == bill.get("sha256")
}

// hasBill says whether some bill has a row of consumption.
//
// Readings taken: a bill has the rows of its client, period and currency; a row
// came later if its entry is above the bill's; one without an entry did not.
func hasBill(bills []*row, r *row, s *spool) bool {
	return slices.ContainsFunc(bills, func(bill *row) bool {
		return fold(bill.get("client")) == fold(r.get("client")) && fold(bill.get("currency")) == fold(s.currency) &&
			within(r, question{from: bill.get("from"), to: bill.get("to")}) && r.get("entry") <= bill.get("entry")
	})
}

// unbilled is what `statement CLIENT --unbilled` answers.
func unbilled(f folder, l *ledgers, spools map[string]*spool, names shown, client string) object {
	return statement(f, l, spools, names, client, question{}, func(r *row) bool {
		return !hasBill(l.live["bills.csv"], r, spools[fold(r.get("spool"))])
	})
}
