package recording

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// Suppose puts a sliced file behind the queue of a view, as a job that is not recorded, and returns its name. row has its time, client
// and printer as typed. If it was sliced for another printer, the prime and purge of the best assignment to this one take the place of
// the file's own. The notes say so, or that the file lays no purge where the printer flushes, and where filament is changed by hand.
func Suppose(v *ledger.View, f File, row ledger.Need, bench Bench, elsewhere bool) (name string, notes []string, err error) {
	shelf, jobs, err := inventory.Queue(v)
	if err != nil {
		return "", nil, err
	}
	if len(f.Sliced.Tools) == 0 {
		return "", nil, fmt.Errorf("%s extrudes nothing", f.Name)
	}
	if row.Printer == "" {
		row.Printer = bench.printer(shelf.Settings)
	}
	if row.Printer, err = Known(v, "printer", row.Printer); err != nil {
		return "", nil, err
	}
	if row.Client, err = Known(v, "client", row.Client); err != nil {
		return "", nil, err
	}
	loads, err := f.onTools(v, shelf, nil, row.Printer)
	if err != nil {
		return "", nil, err
	}
	row.Job = strings.ReplaceAll(filepath.Base(f.Name), ":", " ")
	for _, err := inventory.FindJob(jobs, row.Job); err == nil; _, err = inventory.FindJob(jobs, row.Job) {
		row.Job += " (file)"
	}
	rows := f.needs(loads, row)
	notes = Stops(f.Sliced, loads)
	printer := ledger.Named(shelf.Printers, row.Printer)
	switch {
	case elsewhere && printer == nil:
		return "", nil, errors.New("--sliced-elsewhere wants to know on which printer it is to be printed; name it with --printer")
	case printer == nil || f.Ordered == nil:
		notes = append(notes, byHand(&f, loads, printer)...)
		return row.Job, notes, v.SupposeNeeds(rows)
	}
	tables, err := planning.TablesOf(v)
	if err != nil {
		return "", nil, err
	}
	best, err := planning.Replan(shelf, f.Ordered, loads, printer, tables)
	switch {
	case err != nil && elsewhere:
		return "", nil, err
	case elsewhere:
		best.SetWaste(rows)
		notes = append(notes, fmt.Sprintf("on %s it takes %d loads; the file's own prime and purge are set aside", printer.Printer, best.Loads))
	case err == nil && best.Loads > 0:
		notes = append(notes, unpurged(f, printer, best)...)
	}
	return row.Job, notes, v.SupposeNeeds(rows)
}

// LaysNoPurge reports whether filament is changed in a file and nothing is flushed.
func LaysNoPurge(f *inventory.Sliced) bool {
	return f.Changes > 0 && f.Use()[toolpath.Purge] == 0
}

// unpurged says what a printer would flush for a file that lays no purge; nothing where it would flush nothing.
func unpurged(f File, printer *ledger.Printer, best *planning.MachinePlan) []string {
	var all ledger.Grams
	var parts []string
	for _, n := range best.After {
		if g := n.Row.PurgeG; g > 0 {
			all += g
			parts = append(parts, fmt.Sprintf("%s g in slot %s", g, n.Slot))
		}
	}
	if all == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s changes filament %s and lays no purge; %s flushes at least %s g for it (%s), which the printer may add by itself: count that with --sliced-elsewhere",
		f.Name, inventory.Plural(f.Changes, "time", "times"), printer.Printer, all, strings.Join(parts, ", "))}
}

// byHand says what a printer would flush for a file that lays no purge and whose only changes are by hand.
func byHand(f *File, loads []inventory.OnTool, printer *ledger.Printer) []string {
	if printer == nil || f.Changes > 0 || f.Use()[toolpath.Purge] > 0 {
		return nil
	}
	var grams float64
	times := 0
	for _, p := range f.Pauses {
		at := slices.IndexFunc(loads, func(l inventory.OnTool) bool { return l.Tool == p.Tool })
		if p.Word == "M600" && at >= 0 {
			times++
			grams += printer.PurgeMM3.Float(0) / 1000 * loads[at].Filament.Density
		}
	}
	if grams == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s changes filament by hand %s and lays no purge; %s flushes %.3f g for it, which is counted nowhere",
		f.Name, inventory.Plural(times, "time", "times"), printer.Printer, grams)}
}

// mostStops is how many stops of a file are told.
const mostStops = 5

// Stops says where a file stops for a change of filament by hand, and how much of its tool lies behind each, if loads has the tool.
func Stops(f *inventory.Sliced, loads []inventory.OnTool) (notes []string) {
	for i, p := range f.Pauses {
		if i == mostStops {
			return append(notes, fmt.Sprintf("%s stops %d more times", f.Name, len(f.Pauses)-i))
		}
		stop := "stops"
		if p.Word == "M600" {
			stop = "stops for a change of filament by hand"
		}
		note := fmt.Sprintf("%s:%d: %s in layer %d %s on tool %d", f.Name, p.Line, p.Word, p.Layer, stop, p.Tool)
		if at := slices.IndexFunc(loads, func(l inventory.OnTool) bool { return l.Tool == p.Tool }); at >= 0 {
			all := inventory.MassesOf(f.Tool(p.Tool), loads[at].Filament).Total()
			before := inventory.MassesOf(toolpath.Tool{Use: p.Before}, loads[at].Filament).Total()
			note += fmt.Sprintf("; behind it lie %s of its %s g", all-before, all)
		}
		notes = append(notes, note)
	}
	return notes
}
