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
// # How a batch gets on disk
//
// The rows of one command are appended to one file, whole or not at all, whatever byte the power fails at:
//
//  1. The batch goes into .tarebook/pending and is synced, with the names of that file and of its folder; before it a line
//     that says which file is about to grow, its length, the batch's length and SHA-256, and a check of the line itself.
//  2. The batch is written at the end of its file with one write and synced; of a new file its name too.
//  3. .tarebook/pending is emptied and synced. Only now does the command say that it recorded.
//
// The next command, to look or to record, finds something there only if its writer died. If the file holds all of the batch,
// it is synced and counts; if it holds a part, with zeros where data had not arrived, that is kept in .tarebook/torn-... and
// cut off; if it holds anything else, other hands have changed it since, and it is left as it is. What is pending and not
// whole means that step 2 was never begun. Each step of this can be repeated, so it may itself be cut short. Where nothing can be written a reader leaves torn bytes out of
// its snapshot.
//
// Why so: CSV that people edit has no room for a mark that ends a batch, and a row cut in its middle can look like a
// shorter row, so what is torn must be known from outside the file. A copy of the file renamed into place would do too, but
// costs its whole length with every row, and breaks what others append with an open handle. Emptying pending costs a sync
// more than leaving it for the next command, and spares a batch of which a person has taken the end away since from being taken for torn.
//
// It is tested by a simulator of crashes (package crash), which loses what was not synced in every way that it can
// think of, and rests on a disk that does keep what it says it has synced.
//
// Start at [Find], then [Book.View] to look or [Book.Update] to record.
package ledger
