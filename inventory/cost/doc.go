// Package cost says what filament cost and who pays for it: cost cells, bills and quotes of jobs, the statements of clients and of
// the house.
//
// Grams are exact, and money is an exact fraction until a report needs it rounded; then its cells add up to the rounded total (see
// [Apportion]). Each gram has the price of its very spool (IAS 2.23). Currencies are never added together. Costing and Billing are
// folds: the order of consumption never matters.
//
// Start at [Load] for costs by client, printer and more, [NewStatement] for what a client pays, [NewQuote] for a job to come.
package cost
