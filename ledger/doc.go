// Package ledger is the book: a folder of CSV files, their rows and the rules that make them count.
//
// It guarantees that every row it hands out keeps the rules of its file and names only spools, materials,
// cores and scales that the book knows; that a view is one snapshot across all files; and that what an
// [Book.Update] appends was decided on the same book it is appended to. It does not know what rows mean:
// nets, lengths and costs are the work of package inventory.
//
// Grams are exact thousandths ([Grams]); money and other counted numbers keep the text they were written
// with ([Number]); instants keep their own offset ([Time]). Errors say file:line, what, and how to mend it.
//
// Start at [Find], then [Book.View] to look or [Book.Update] to record.
package ledger
