// Package reports turns what inventory knows into views, and the views into tables, CSV, JSON and Markdown.
//
// A view is a value first; every format is a rendering of that same value, so that doubts (flags) stand in all of
// them. The renderer is told colour and width and never asks the terminal. Grams print exactly as booked, estimates
// to a tenth of a gram, money in the currency's minor unit. Text from the book is cleaned of control characters.
//
// Start at [Render].
package reports
