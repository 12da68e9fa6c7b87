package inventory

import (
	"slices"
	"strings"

	"tarebook/ledger"
)

// barredBy returns why no nozzle of the need's printer takes its material; blank if one does, or where the printer is not known. Materials
// that only can't share a nozzle bar nothing here: that is for a plan to arrange.
func (s *Shelf) barredBy(n *Need, limits []*ledger.Limit) string {
	printer := ledger.Named(s.Printers, n.Printer)
	if printer == nil {
		return ""
	}
	var whys []string
	for i := range printer.FeedsOf() {
		barred := false
		for _, l := range limits {
			if l.Beside == "" && l.Of(n.Printer) && (l.At() == 0 || l.At() == i+1) && ledger.Fold(l.Material) == ledger.Fold(n.Material) {
				barred = true
				if !slices.Contains(whys, l.Why) {
					whys = append(whys, l.Why)
				}
			}
		}
		if !barred {
			return ""
		}
	}
	return strings.Join(whys, "; ")
}
