// Package inventory is what the rows of a book mean: spools and what is on them, the book against the scale, the
// queue against the shelf, and what jobs cost.
//
// What is counted is exact: grams as ledger.Grams, money as big.Rat until it is rounded. What is estimated is
// float64 and carries a standard uncertainty (JCGM 100:2008). Formulas stand beside their sources.
// Consumption is a commutative fold: the order of its rows never matters, and folds can be merged.
//
// Start at [Load] for the shelf, [Shelf.Check] for the queue, [NewCosting] for costs.
package inventory
