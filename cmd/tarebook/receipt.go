package main

import (
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// Receipts: what a command answers with --format json, csv or md once its rows are on disk.

// receipt returns the receipt of what was recorded last.
func (a *app) receipt(b recording.Booking, dryRun bool) reports.Receipt {
	if dryRun || b.Batch == nil || b.Batch.Len() == 0 {
		return reports.NewReceipt(b, dryRun, nil, nil)
	}
	lines, err := a.recorded.RecordedLines()
	if err != nil {
		a.warn(fmt.Sprintf("it is booked, though its lines could not be found: %v", err))
	}
	return reports.NewReceipt(b, false, lines, a.handles(b.Batch))
}

// handles returns the handles of rows just recorded. Where the book can't be read there are none: an entry is a handle too.
func (a *app) handles(b ledger.Batch) map[string]string {
	if !b.Cancels() {
		return nil
	}
	v, err := a.recorded.View(ledger.Time{})
	if err != nil {
		return nil
	}
	var entries []string
	for _, row := range ledger.RowsOf(b) {
		entries = append(entries, ledger.HeadOf(row).Entry)
	}
	handles, err := v.Handles(entries)
	if err != nil {
		return nil
	}
	return handles
}

// give writes a receipt.
func (a *app) give(r reports.Receipt) error {
	return a.heard(reports.Render(a.stdout, r, a.style()))
}
