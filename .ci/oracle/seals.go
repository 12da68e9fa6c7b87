package oracle

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"
)

// numeric are the columns whose text may be spelt in many ways.
var numeric = map[string]bool{
	"diameter_mm": true, "net_g": true, "tare_g": true, "price": true, "gross_g": true, "part_g": true, "support_g": true,
	"prime_g": true, "purge_g": true, "changes": true, "waste_billed": true, "scrap_billed": true,
}

// shortest spells numbers as an ordinary spreadsheet saves them.
func shortest(column, text string) string {
	if !numeric[column] || text == "" {
		return text
	}
	return shortestNumber(text)
}

func shortestNumber(text string) string {
	whole, fraction, _ := strings.Cut(text, ".")
	whole, fraction = cmp.Or(strings.TrimLeft(whole, "0"), "0"), strings.TrimRight(fraction, "0")
	if fraction == "" {
		return whole
	}
	return whole + "." + fraction
}

func asTyped(_, text string) string { return text }

// sealed gives the rows of a ledger's month until an instant: how many they are,
// and the SHA-256 of their canonical forms as so spelt.
//
// Readings taken: a month is one of UTC; all rows count, void or in conflict,
// but the same row once; rows stand in the order of the ledger as typed. Of
// clients.csv those count whose `from` is blank or no later than the day of
// `through` by its own offset, ordered by their canonical form.
func sealed(f folder, ledger, month string, through time.Time, spell func(column, text string) string) (rows int, sum string) {
	var list []*row
	seen := map[string]bool{}
	for _, r := range f[ledger] {
		in := r.at.UTC().Format("2006-01") == month && !r.at.After(through)
		if ledger == "clients.csv" {
			in = r.get("from") <= through.Format(time.DateOnly)
		}
		if in && !seen[r.content()] {
			seen[r.content()] = true
			list = append(list, r)
		}
	}
	slices.SortFunc(list, compareRows)
	text := ""
	for _, r := range list {
		text += r.contentBy(spell)
	}
	return len(list), sumOf(text)
}

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// holds says whether a seal still does: its rows are as many, and either spelling
// gives its sum.
func holds(f folder, seal *row) bool {
	through, _ := time.Parse(time.RFC3339Nano, seal.get("through"))
	for _, spell := range []func(column, text string) string{shortest, asTyped} {
		rows, sum := sealed(f, seal.get("ledger"), seal.get("month"), through, spell)
		if rows == int(number(seal.get("rows"), -1)) && sum == seal.get("sha256") {
			return true
		}
	}
	return false
}
