// Package crash finds out what a crash can do to a book. Only tests import it.
//
// It works after the way in which SQLite tests itself ("How SQLite Is Tested", on crash testing; from memory): a layer
// under the program keeps what was not yet synced aside, and on a crash any part of it survives. A [Recorder] logs what
// commands ask of the disk; a [Machine] replays the log and, after every operation, makes every state in which a crash
// there can leave the folder; a [Checker] opens the book in each of them and holds it against what was acknowledged.
//
// What may happen to what was not synced. A write is lost, or is there up to any byte. Any of its pages of 4096 bytes may
// instead hold what stood there before; where the file has grown, zeros, or in pages that it did not have before what a
// deleted file left there. A truncation is there or not. Later ones can survive without earlier ones. A name that was made
// or removed is there or not until its folder is synced, also when the file itself is; and a file whose name is there may
// lack any of its content. A sync that fails may drop what it was to write, and let it read as if it were on disk. Other
// programs may append to a file, replace it or remove it between any two calls. Sectors that turn bad, and writes that harm
// what lies beside them, are not enumerated.
//
// Start at [Scenario] and [Checker.Check].
package crash
