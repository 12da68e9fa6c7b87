package reports

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/assign"
	"tarebook/ledger"
)

// Sheets returns the printers side by side, then what the best one does with each slot, and its order.
func (p Plan) Sheets() Pages {
	pages := Pages{p.printers()}
	if p.Best != nil {
		pages = append(pages, p.nozzles(p.Printers[0]), p.order(p.Printers[0]))
	}
	return pages
}

func (p Plan) printers() Sheet {
	total := p.Printers[0].TotalS != nil
	sheet := Sheet{Title: "Printers, the best first", Columns: slices.Concat(texts("printer"), right("loads", "swaps", "purge g", "prime g", "waste"), left(""), right("changes")),
		Spare: [][]string{{"swaps"}, {"loads"}, {"purge g", "prime g"}, {"changes"}}}
	if total {
		sheet.Columns = append(sheet.Columns, right("in all")...)
	}
	sheet.Columns = append(sheet.Columns, texts("runs short")...)
	for _, r := range p.Printers {
		cells := []string{r.Printer, "-", "-", "-", "-", "-", "", "-"}
		if r.Feasible {
			cells = []string{r.Printer, strconv.Itoa(r.Loads), strconv.Itoa(r.Swaps), r.PurgeG.StringFixed(1), r.PrimeG.StringFixed(1), r.WasteCost.String(), r.WasteCost.currency(r.Currency), seconds(r.change)}
		}
		if total {
			in := "-"
			if r.TotalS != nil {
				in = seconds(r.TotalS.Rat())
			}
			cells = append(cells, in)
		}
		sheet.Rows = append(sheet.Rows, append(cells, strings.Join(r.Short, " ")))
		sheet.Notes = append(sheet.Notes, r.Printer+": "+r.Why)
	}
	for _, r := range p.Printers {
		if r.Learned != nil {
			sheet.Notes = append(sheet.Notes, fmt.Sprintf("%s: the book's own rows come to %.0f mm3 of purge a change (2u %.0f, %d rows); %s says %s", r.Printer,
				r.Learned.PurgeMM3, 2*r.Learned.U, r.Learned.Rows, ledger.Printers, r.Learned.table))
		}
	}
	sheet.Notes = append(sheet.Notes, p.notes...)
	return sheet
}

// nozzles shows what a printer does with each slot, by nozzle.
func (p Plan) nozzles(r PlanPrinter) Sheet {
	sheet := Sheet{Title: "On " + r.Printer, Columns: slices.Concat(right("nozzle"), texts("slot"), ids("spool"), texts("filament"), right("need g", "loads", "purge g", "prime g", "waste"), left(""), right("left g", "2u g"), left("verdict")),
		Spare: [][]string{{"loads"}, {"purge g", "prime g"}, {"waste", ""}, {"filament"}}}
	var us []*float64
	for _, a := range r.Assignment {
		us = append(us, a.u)
	}
	d := known(expanded(us...)...)
	order := make([]int, len(r.Assignment))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(r.Assignment[a].Nozzle, r.Assignment[b].Nozzle) })
	for _, i := range order {
		a := r.Assignment[i]
		spool, waste := "-", Money{}
		if a.Spool != nil {
			spool = *a.Spool
		}
		if a.PurgeCost.given {
			waste = money(a.PurgeCost.Amount.Add(a.PrimeCost.Amount), r.Currency)
		}
		sheet.Rows = append(sheet.Rows, []string{strconv.Itoa(a.Nozzle), a.Slot, spool, p.filaments[i], tenthGram(a.NeedG), strconv.Itoa(a.Loads),
			a.PurgeG.StringFixed(1), a.PrimeG.StringFixed(1), waste.String(), waste.currency(r.Currency), figure(a.AfterG, d), twice(a.u, d), a.Verdict})
	}
	if r.reach != "" {
		sheet.Notes = append(sheet.Notes, r.reach)
	}
	if !r.Proven {
		sheet.Notes = append(sheet.Notes, fmt.Sprintf("more than %d slots: this is the best that was found, not proven to be the best there is", assign.Exact))
	}
	return sheet
}

// order is the sequence as the nozzles see it, with a legend of the marks that occur.
func (p Plan) order(r PlanPrinter) Sheet {
	var legend []string
	if r.Loads > 0 {
		legend = append(legend, fmt.Sprintf(">%s: the nozzle is loaded with slot %[1]s first", firstLoaded(r.steps, p.slots)))
	}
	if r.nozzles > 1 {
		legend = append(legend, "a dot: the nozzle waits")
	}
	for _, c := range chunks(r.steps) {
		if c.times > 1 {
			legend = append(legend, fmt.Sprintf("| %d x%d: from use %[1]d on, what stands below comes %[2]d times", c.start+1, c.times))
			break
		}
	}
	return Sheet{Title: "In order of use: the slot that each nozzle prints", Notes: legend, Picture: func(s Style) []string {
		return strips(r.steps, r.nozzles, p.slots, cmp.Or(s.Width, 100))
	}}
}
