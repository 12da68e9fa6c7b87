package ledger

import (
	"encoding/csv"
	"slices"
	"strings"
)

// WithGross returns the purchase as it stands in its file but with a gross, as a line of CSV to write in its place; and what its header
// lacks for that, to be added to its end, or "". The purchase must have been read from a book, without a gross.
func (p *Purchase) WithGross(gross Grams) (line, adds string) {
	record := slices.Clone(p.record())
	for len(record) < len(p.layout.header) {
		record = append(record, "")
	}
	if i := p.layout.place[slices.Index(p.layout.columns, "gross_g")]; i >= 0 {
		record[i] = gross.String()
	} else {
		record, adds = append(record, gross.String()), ",gross_g"
		if !slices.Contains(p.layout.header, "scale") {
			adds += ",scale"
		}
	}
	for i := range record {
		record[i] = oneLine(record[i])
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(record) // a Builder takes all
	w.Flush()
	return strings.TrimSuffix(b.String(), "\n"), adds
}
