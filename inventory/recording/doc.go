// Package recording decides what may be recorded: typed words, the cells of a sheet or a sliced file become rows of a ledger. The
// commands that record by hand and the import of a sheet share its names, guards and refusals.
//
// It writes nothing: it returns rows, for [ledger.Book.Update] to append.
package recording
