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
//  1. The batch goes into .tarebook/pending and is synced, with the names of that file and of its folder. A line before it
//     names the file that is about to grow, its length, the batch's length, SHA-256 and entries, the inode of
//     .tarebook/pending, and a check of the line itself.
//  2. The batch is written with one write to a handle that was opened with O_APPEND, and synced; of a new file its name too.
//  3. .tarebook/last names the batch: what void --last cancels.
//  4. .tarebook/pending is emptied and synced. Only now does the command say that it recorded.
//
// The next command, to look or to record, finds something pending only if its writer died. If the file holds all of the
// batch, the batch is written once more, synced and counts. If it holds a part, that part is kept in .tarebook/torn-... and
// cut off. If it holds anything else, others have changed the file since, and it is left as it is. A pending batch that is
// not whole means that step 2 never began. What is done is told before pending is emptied. Each step can be repeated, so it
// may itself be cut short. Where nothing can be written, a reader leaves torn bytes out of its snapshot.
//
// Why so: CSV that people edit has no room for a mark that ends a batch, and a row cut in its middle can look like a
// shorter row, so what is torn must be known from outside the file. A copy of the file renamed into place would do too, but
// costs its whole length with every row, and breaks what others append with an open handle. Emptying pending costs one sync
// more than leaving it for the next command, but a batch of which a person has since removed the end is then never taken
// for torn.
//
// # Other programs and hostile folders
//
// Editors, git and sync services take no lock. The handle that is written to is compared with what the command saw, by
// inode, length and time, right before the write, and the file under its name is read right after it. Where it differs the
// command decides again; what it can't settle it tells. Nothing of others is ever written over or cut off. Rows that another
// program has saved away are missed by the next command that records, which finds in .tarebook/last what should be there.
//
// A book is data from strangers. Files are opened below its folder only, never through a symbolic link and only if they are
// regular. A pending batch is acted on only if it names a file of the book and bears the inode of the very file it stands
// in: one that came by git, in an archive or with a copy of the folder does not, and is put aside and named. A file system
// that numbers its files anew each time it is mounted makes a batch of before the crash look like that too.
//
// All this is tested by a simulator of crashes (package crash), which loses what was not synced in every way that it can
// think of, lets syncs fail and puts others to work between any two calls; it rests on a disk that does keep what it says it
// has synced.
//
// Start at [Find], then [Book.View] to look or [Book.Update] to record.
package ledger
