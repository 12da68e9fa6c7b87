package main

import (
	"reflect"
	"strings"

	"github.com/alecthomas/kong"
)

// printHelp puts summary, examples and statuses between usage and flags, and says what each argument and flag is for.
func (c *command) printHelp(grammar any, options kong.HelpOptions, ctx *kong.Context) error {
	ctx.Model.Help = c.summary + "\n\nExamples:\n\n  $ " + strings.Join(c.examples, "\n  $ ") + "\n\n" + c.statuses
	texts, names := helpTexts(), fieldNames(grammar)
	explain := func(v *kong.Value) {
		if name, ok := names[v.Target.Addr().Pointer()]; ok { // --help is kong's own
			v.Help = texts[name]
		}
	}
	for _, flag := range ctx.Model.Flags {
		explain(flag.Value)
	}
	for _, argument := range ctx.Model.Positional {
		explain(argument)
	}
	return kong.DefaultHelpPrinter(options, ctx)
}

// fieldNames returns the fields of a grammar by address, each as the name of its struct and its own.
func fieldNames(grammar any) map[uintptr]string {
	names := map[uintptr]string{}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if _, embedded := f.Tag.Lookup("embed"); embedded || f.Anonymous {
				walk(v.Field(i))
			} else if f.IsExported() {
				names[v.Field(i).Addr().Pointer()] = v.Type().Name() + "." + f.Name
			}
		}
	}
	walk(reflect.ValueOf(grammar).Elem())
	return names
}

// helpTexts are what each argument and flag is for, by struct and field. They are no tags of those fields: kong reads tags letter by
// letter at every start, and that took a twentieth of the time in which a small book is told.
func helpTexts() map[string]string {
	return map[string]string{
		"recording.At":   "When it happened; else now.",
		"recording.Note": "A note for the row.",

		"writing.Reopen": "Why it is recorded although that time is sealed.",
		"writing.DryRun": "Show what would be booked; write nothing.",

		"buyCmd.Spool":    "The new spool's id; with --count what the ids begin with, else $TAREBOOK_BENCH.",
		"buyCmd.Material": "Its material, one of materials.csv.",
		"buyCmd.Colour":   "Its colour.",
		"buyCmd.Net":      "Filament on it by the label, as 1000, 0.75kg or 330m.",
		"buyCmd.Diameter": "Diameter in mm.",
		"buyCmd.Core":     "What it is wound on, one of cores.csv.",
		"buyCmd.Tare":     "What the empty spool weighs, where that is known.",
		"buyCmd.Swatch":   "Its colour as #RRGGBB.",
		"buyCmd.Maker":    "Who made it.",
		"buyCmd.Lot":      "Its lot.",
		"buyCmd.Place":    "Where it is.",
		"buyCmd.Off":      "The spool it was wound off; material, colour and diameter are then that one's.",
		"buyCmd.Opened":   "It was begun already: what is on it, and that share of its price, follow from --gross.",
		"buyCmd.Gross":    "What the scale shows now.",
		"buyCmd.Label":    "Filament on it by the label when it was full.",
		"buyCmd.Price":    "What one spool cost in all, with its share of shipping, less taxes you get back.",
		"buyCmd.Total":    "What all spools cost together; shared to the cent.",
		"buyCmd.Currency": "ISO 4217; else that of the settings.",
		"buyCmd.Supplier": "Who sold it.",
		"buyCmd.Count":    "How many equal spools; their ids are numbered.",

		"consumeCmd.Job":       "The job's name.",
		"consumeCmd.Spools":    "SPOOL:part=182.4,support=0,prime=3.1,purge=14.9,changes=12 or SPOOL:182.4; SLOT=SPOOL books what the queue says for that slot. Without: what the queue says.",
		"consumeCmd.Client":    "Who it was for; else the queue's.",
		"consumeCmd.Printer":   "Which printer; else the queue's, else $TAREBOOK_PRINTER, else that of the settings.",
		"consumeCmd.Failed":    "The print failed: all of it is scrap, and the job stays in the queue.",
		"consumeCmd.ToPercent": "How far a failed print came; so much of each mass is booked, or with --from what the file takes up to there.",
		"consumeCmd.ToLayer":   "With --from: the last layer that a failed print came to; so much is booked.",
		"consumeCmd.Basis":     "What the masses rest on: sliced, path or weighed; else the queue's, else sliced.",
		"consumeCmd.After":     "The print did end after the weigh-in of its spool.",

		"defineCmd.Kind":   "What it is: material, core, scale, printer, purge, client or setting.",
		"defineCmd.Name":   "Its name.",
		"defineCmd.Values": "Columns of its table, with or without their unit; of a setting its value alone.",
		"defineCmd.DryRun": "Show what would be booked; write nothing.",

		"importCmd.File":      "The sheet, saved as CSV; - is standard input.",
		"importCmd.As":        "What its rows are: spools, weighins or jobs.",
		"importCmd.Map":       "Our columns, each with the header that stands for it there: spool=Nr,net_g=Weight (g). A header with a comma goes in double quotes. For an opened spool map gross_g, and label_g to what it held when full.",
		"importCmd.Set":       "Our columns that the sheet lacks, each with what holds for all its rows: material=PLA,currency=EUR.",
		"importCmd.Dates":     "Order of its dates: dmy, mdy or ymd; else what all its dates fit. A day without a time is 12:00 of that day here.",
		"importCmd.Decimal":   "Its decimal mark: comma or point; else what its numbers show.",
		"importCmd.Delimiter": "What parts its cells: comma, semicolon, tab or bar; else what its rows show.",
		"importCmd.Header":    "The line of its header; else the first that is not blank.",
		"importCmd.Sure":      "Book weigh-ins though they do not fit what is known of their spools.",

		"initCmd.Dir": "Folder of the new book; else --book, else this one.",

		"labelCmd.Spools": "Spools to label, in this order: ids, or beginnings that fit one alone.",
		"labelCmd.All":    "Every spool on the shelf, by id; those that have ended are left out.",
		"labelCmd.Grid":   "Columns x rows of a sheet, which prints on A4 and Letter; else 3x8.",
		"labelCmd.SVG":    "One label alone, as a drawing for a label printer.",
		"labelCmd.Size":   "With --svg: width x height in mm; else 62x29.",

		"stockCmd.Spools":   "Spools, or beginnings of ids; else all.",
		"stockCmd.Material": "Only of this material.",
		"stockCmd.Colour":   "Only of this colour.",
		"stockCmd.Place":    "Only at this place: PRINTER/SLOT, a printer alone, or where on the shelf.",
		"stockCmd.Low":      "Only what likely holds no more, as 200g or 60m.",
		"stockCmd.Flag":     "Only with this flag, as 'no tare'.",
		"stockCmd.All":      "Show the ended spools too.",
		"stockCmd.Sort":     "By spool, material, place, net, length, value or weighed; the least or oldest first.",

		"reconcileCmd.Spools": "Spools to show; else all.",

		"checkCmd.Jobs": "Jobs to show; else all. All are counted.",

		"cardCmd.Spool": "The spool's id, or an unambiguous beginning of it.",

		"wasteCmd.By": "What a row is: client, printer, material, spool, job or month.",

		"moveCmd.Spool": "The spool.",
		"moveCmd.Place": "Where it now is: PRINTER/SLOT when loaded, else free text.",

		"output.Out": "The file to write; else it goes to standard output.",

		"period.Month": "One calendar month, as 2026-10.",
		"period.From":  "First day, as 2026-10-01.",
		"period.To":    "Last day.",

		"planCmd.File":         "A sliced file (G-code), plain or gzip; - is standard input.",
		"planCmd.Printer":      "Only on these printers; else on all of the book.",
		"planCmd.BaseTime":     "How long the print takes without its changes, as 2h48m.",
		"planCmd.SequenceFile": "Instead of a sliced file: a CSV with the columns slot and grams, a line for each use in order.",
		"planCmd.Pin":          "Hold a slot to a nozzle, counted from 1; once for each.",
		"planCmd.Weight":       "Let what is wasted of a spool count so many times; beside the setting purge_weight.",
		"planCmd.TrySpools":    "Also try other spools for slots loaded as MATERIAL/COLOUR, so that remnants are finished first.",

		"queueAddCmd.Job":     "The job's name.",
		"queueAddCmd.Slots":   "SLOT=SPOOL:part=182.4,prime=3.1,purge=14.9,changes=12 or SLOT=MATERIAL/COLOUR:182.4; MATERIAL/ is any colour.",
		"queueAddCmd.Client":  "Who it is for.",
		"queueAddCmd.Printer": "Which printer; else $TAREBOOK_PRINTER, else that of the settings.",
		"queueAddCmd.Due":     "When it is due; a date is the end of that day.",
		"queueAddCmd.Basis":   "What the masses rest on: sliced, path or weighed; else sliced.",

		"queueDropCmd.Job": "The job's name.",
		"queueDropCmd.Why": "Why.",
		"queueDropCmd.At":  "When; else now.",

		"quoteCmd.Job":    "A queued job.",
		"quoteCmd.Client": "With --from: for which client.",

		"reorderCmd.Window": "How many days of use to look back on, the last of them included.",

		"globals.Book":   "Folder of the book; else $TAREBOOK, else the nearest at or above this folder.",
		"globals.Format": "How to write the answer: table, csv, json or md.",
		"globals.AsOf":   "Look at the book as it was at this time.",
		"globals.Wait":   "How long to wait while another command records.",

		"sealCmd.Through": "Seal all that happened up to this day or time.",
		"sealCmd.Again":   "Seal anew, as they are now, months that no longer hold.",
		"sealCmd.DryRun":  "Show what would be booked; write nothing.",

		"slicing.Load":     "What stands on a tool of the file: TOOL=SPOOL, or TOOL=MATERIAL/COLOUR; once for each.",
		"slicing.Diameter": "Diameter in mm of what is loaded as MATERIAL/COLOUR.",

		"fromFile.From": "Take the masses from this sliced file; - is standard input.",

		"statementCmd.Client": "The client, as in clients.csv.",
		"statementCmd.House":  "What no client pays: shares that are not billed, jobs of nobody, losses of spools.",
		"statementCmd.HTML":   "Write the client's statement as a page to print.",

		"supposed.Printer":         "With --from: which printer; else $TAREBOOK_PRINTER, else that of the settings.",
		"supposed.SlicedElsewhere": "The file was sliced for another printer: instead of its own prime and purge count what the best assignment to this one takes, as plan tells it.",

		"toolpathCmd.Files":    "Sliced files (G-code), plain or gzip; - is standard input.",
		"toolpathCmd.Sequence": "List the tools in order of use.",
		"toolpathCmd.ByLayer":  "Write a CSV line for each tool of each layer, for plotting.",
		"toolpathCmd.Density":  "Density in g/cm3 of all tools, where nothing is loaded.",

		"voidCmd.Entries": "Entries to cancel, as card, reconcile and verify show them.",
		"voidCmd.Last":    "All rows of the last command that is not cancelled yet.",
		"voidCmd.Why":     "Why.",
		"voidCmd.At":      "When; else now.",

		"weighCmd.Readings":  "Spools, each with what the scale showed in grams (or as 0.8kg); - reads them in a row from standard input.",
		"weighCmd.Empty":     "Only the core is on the scale: the spool ends, and its tare is now measured.",
		"weighCmd.Discarded": "The spool ends with filament left on it.",
		"weighCmd.Dried":     "As loaded, after drying: a variance is water, not a loss. Dry at the maker's temperature, and leave no heated spool alone.",
		"weighCmd.Scale":     "Which scale; else $TAREBOOK_SCALE, else that of the settings.",
		"weighCmd.ScaleFrom": "With -: read the grams off this serial or USB line of a scale.",
		"weighCmd.Sure":      "Book it though it does not fit what is known of the spool.",
	}
}
