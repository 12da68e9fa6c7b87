// Package inventory is what the rows of a book mean: which spools there are and where, what is on them by the book and by the
// scale, whether they last for the queue, and when to buy more. What may be recorded, what it cost and what to print on are in
// packages recording, cost and planning.
//
// What is counted is exact (ledger.Grams). What is estimated is float64 and has a standard uncertainty beside it (JCGM 100:2008).
// Formulas stand beside their sources. Consumption is a commutative fold: the order of its rows never matters, and folds can be
// merged.
//
// Start at [Load] for the shelf, [Check] for the queue.
package inventory
