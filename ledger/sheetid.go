package ledger

import (
	"regexp"
	"slices"
	"sync"
)

// Ids that a spreadsheet does not leave as they are when it opens a CSV file: as a number, a date or a truth value they come back
// from its save as others, and every row that names them is then about another spool. What is taken for a date differs by program
// and country; tried were LibreOffice 7.4 in English and German, and the rest follows what is known of gene names turned to dates
// (Ziemann, Eren and El-Osta, Genome Biology 17:177, 2016).

// months are the names of months, and what they are cut to, in English, German, French, Spanish, Italian, Portuguese and Dutch.
const months = `JANUARY|FEBRUARY|MARCH|APRIL|MAY|JUNE|JULY|AUGUST|SEPTEMBER|OCTOBER|NOVEMBER|DECEMBER|` +
	`JAN|FEB|MAR|APR|JUN|JUL|AUG|SEP|SEPT|OCT|NOV|DEC|` +
	`JANUAR|FEBRUAR|MAERZ|MRZ|MAI|JUNI|JULI|OKTOBER|OKT|DEZEMBER|DEZ|` +
	`JANVIER|JANV|FEVRIER|FEVR|MARS|AVRIL|AVR|JUIN|JUILLET|JUIL|AOUT|SEPTEMBRE|OCTOBRE|NOVEMBRE|DECEMBRE|` +
	`ENERO|ENE|FEBRERO|MARZO|ABRIL|ABR|MAYO|JUNIO|JULIO|AGOSTO|AGO|SEPTIEMBRE|OCTUBRE|NOVIEMBRE|DICIEMBRE|DIC|` +
	`GENNAIO|GEN|FEBBRAIO|APRILE|MAGGIO|MAG|GIUGNO|GIU|LUGLIO|LUG|SETTEMBRE|SET|OTTOBRE|OTT|DICEMBRE|` +
	`JANEIRO|FEVEREIRO|FEV|MARCO|MAIO|JUNHO|JULHO|SETEMBRO|OUTUBRO|OUT|DEZEMBRO|` +
	`JANUARI|FEBRUARI|MAART|MRT|MEI|AUGUSTUS`

// keywords are truth values and what stands for no value, in the same languages.
var keywords = []string{"TRUE", "FALSE", "WAHR", "FALSCH", "VRAI", "FAUX", "VERDADERO", "FALSO", "VERO", "VERDADEIRO", "WAAR", "ONWAAR",
	"NA", "N-A", "NAN", "NULL", "NONE", "INF", "INFINITY"}

// sheetForms are compiled when the first spool is bought: most commands buy none.
var sheetForms = sync.OnceValue(func() (forms []struct {
	form *regexp.Regexp
	what string
}) {
	for _, f := range []struct{ form, what string }{
		{`0\d+`, "a number, and drop its zeros in front"},
		{`\d{10,}`, "a long number, and round it"},
		{`\d+E-?\d+`, "a number with an exponent"},
		{`\d+-`, "a number below 0"},
		{`\d{1,4}(-\d{1,4}){1,2}`, "a date"},
		{`(\d{1,4}-?)?(` + months + `)-?\d{1,4}|\d{1,4}-?(` + months + `)(-?\d{1,4})?`, "a date"},
	} {
		forms = append(forms, struct {
			form *regexp.Regexp
			what string
		}{regexp.MustCompile(`^(` + f.form + `)$`), f.what})
	}
	return forms
})

// ReadBySheets says what a spreadsheet takes a spool's id, in upper case, for; blank when it leaves the id alone.
func ReadBySheets(id string) string {
	if slices.Contains(keywords, id) {
		return "a truth value or no value"
	}
	for _, f := range sheetForms() {
		if f.form.MatchString(id) {
			return f.what
		}
	}
	return ""
}
