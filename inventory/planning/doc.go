// Package planning chooses printer, nozzle and spool for a print. It reads what is to be printed from a sliced file or a sequence,
// joins it to the spools of the book, and has package assign find the assignment that wastes least on each printer. It also says
// what the book's own rows show of the purge that a change takes.
//
// Start at [Plan].
package planning
