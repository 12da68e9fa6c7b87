package recording

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Suppose puts a sliced file behind the queue of a view, as a job that is not recorded, and returns its name. row has its time, client
// and printer as typed. If it was sliced for another printer, the prime and purge of the best assignment to this one take the place of
// the file's own, and note says so.
func Suppose(v *ledger.View, f File, row ledger.Need, bench Bench, elsewhere bool) (name, note string, err error) {
	shelf, jobs, err := inventory.Queue(v)
	if err != nil {
		return "", "", err
	}
	if len(f.Sliced.Tools) == 0 {
		return "", "", fmt.Errorf("%s extrudes nothing", f.Name)
	}
	if row.Printer == "" {
		row.Printer = bench.printer(shelf.Settings)
	}
	if row.Printer, err = Known(v, "printer", row.Printer); err != nil {
		return "", "", err
	}
	if row.Client, err = Known(v, "client", row.Client); err != nil {
		return "", "", err
	}
	loads, err := f.onTools(v, shelf, nil, row.Printer)
	if err != nil {
		return "", "", err
	}
	row.Job = strings.ReplaceAll(filepath.Base(f.Name), ":", " ")
	for _, err := inventory.FindJob(jobs, row.Job); err == nil; _, err = inventory.FindJob(jobs, row.Job) {
		row.Job += " (file)"
	}
	rows := f.needs(loads, row)
	if elsewhere {
		printer := ledger.Named(shelf.Printers, row.Printer)
		if printer == nil {
			return "", "", errors.New("--sliced-elsewhere wants to know on which printer it is to be printed; name it with --printer")
		}
		tables, err := planning.TablesOf(v)
		if err != nil {
			return "", "", err
		}
		best, err := planning.Replan(shelf, f.Sliced, loads, printer, tables)
		if err != nil {
			return "", "", err
		}
		best.SetWaste(rows)
		note = fmt.Sprintf("on %s it takes %d loads; the file's own prime and purge are set aside", printer.Printer, best.Loads)
	}
	return row.Job, note, v.SupposeNeeds(rows)
}
