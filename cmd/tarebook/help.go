package main

import (
	"cmp"
	"reflect"
	"strings"

	"github.com/alecthomas/kong"
)

// printHelp puts summary, examples and statuses between usage and flags, and says what each argument and flag is for.
func (c *command) printHelp(grammar any, options kong.HelpOptions, ctx *kong.Context) error {
	ctx.Model.Help = c.summary + "\n\nExamples:\n\n  $ " + strings.Join(c.examples, "\n  $ ") + "\n\n" + c.statuses
	helps, names := helpTexts(), fieldNames(grammar)
	for _, flag := range ctx.Model.Flags {
		if name, ok := names[flag.Target.Addr().Pointer()]; ok { // --help is kong's own
			flag.Help, flag.PlaceHolder = helps[name].text, cmp.Or(helps[name].value, flag.PlaceHolder)
		}
	}
	for _, argument := range ctx.Model.Positional {
		argument.Help = helps[names[argument.Target.Addr().Pointer()]].text
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

// help is what help says of an argument or a flag.
type help struct {
	text  string // what it is for
	value string // what stands for the flag's value; of one that is required, kong needs it as a tag, to say that it is missing
}

// helpTexts are what help says of each argument and flag, by struct and field. They are no tags of those fields: kong reads tags letter
// by letter at every start, which took a few hundredths of the time in which a small book is told.
func helpTexts() map[string]help {
	return map[string]help{
		"recordFlags.At":   {"When it happened; else now.", "TIME"},
		"recordFlags.Note": {"A note for the row.", "TEXT"},

		"writeFlags.Reopen": {"Why it is recorded although that time is sealed.", "REASON"},
		"writeFlags.DryRun": {text: "Show what would be booked; write nothing."},

		"buyCmd.Spool":    {text: "The new spool's id; with --count what the ids begin with, else $TAREBOOK_BENCH."},
		"buyCmd.Material": {"Its material, one of materials.csv.", "NAME"},
		"buyCmd.Colour":   {"Its colour.", "NAME"},
		"buyCmd.Net":      {"Filament on it by the label, as 1000, 0.75kg or 330m.", "MASS"},
		"buyCmd.Diameter": {"Diameter in mm.", "MM"},
		"buyCmd.Core":     {"What it is wound on, one of cores.csv.", "NAME"},
		"buyCmd.Tare":     {"What the empty spool weighs, where that is known.", "MASS"},
		"buyCmd.Swatch":   {"Its colour as #RRGGBB.", "#RRGGBB"},
		"buyCmd.Maker":    {"Who made it.", "NAME"},
		"buyCmd.Lot":      {"Its lot.", "TEXT"},
		"buyCmd.Place":    {"Where it is.", "PLACE"},
		"buyCmd.Off":      {"The spool it was wound off; material, colour and diameter are then that one's.", "SPOOL"},
		"buyCmd.Opened":   {text: "It was begun already: what is on it, and that share of its price, follow from --gross."},
		"buyCmd.Gross":    {"What the scale shows now.", "MASS"},
		"buyCmd.Label":    {"Filament on it by the label when it was full.", "MASS"},
		"buyCmd.Price":    {"What one spool cost in all, with its share of shipping, less taxes you get back.", "AMOUNT"},
		"buyCmd.Total":    {"What all spools cost together; shared to the cent.", "AMOUNT"},
		"buyCmd.Currency": {"ISO 4217; else that of the settings.", "CODE"},
		"buyCmd.Supplier": {"Who sold it.", "NAME"},
		"buyCmd.Count":    {"How many equal spools; their ids are numbered.", "N"},

		"consumeCmd.Job":       {text: "The job's name."},
		"consumeCmd.Spools":    {text: "SPOOL:part=182.4,support=0,prime=3.1,purge=14.9,changes=12 or SPOOL:182.4; SLOT=SPOOL books what the queue says for that slot. Without: what the queue says."},
		"consumeCmd.Client":    {"Who it was for; else the queue's.", "NAME"},
		"consumeCmd.Printer":   {"Which printer; else the queue's, else $TAREBOOK_PRINTER, else that of the settings.", "NAME"},
		"consumeCmd.Failed":    {text: "The print failed: all of it is scrap, and the job stays in the queue."},
		"consumeCmd.ToPercent": {"How far a failed print came; so much of each mass is booked, or with --from what the file takes up to there.", "N"},
		"consumeCmd.ToLayer":   {"With --from: the last layer that a failed print came to; so much is booked.", "N"},
		"consumeCmd.Basis":     {"What the masses rest on: sliced, path or weighed; else the queue's, else sliced.", "BASIS"},
		"consumeCmd.After":     {text: "The print did end after the weigh-in of its spool."},

		"defineCmd.Kind":   {text: "What it is: material, core, scale, printer, purge, client or setting."},
		"defineCmd.Name":   {text: "Its name."},
		"defineCmd.Values": {text: "Columns of its table, with or without their unit; of a setting its value alone."},
		"defineCmd.DryRun": {text: "Show what would be booked; write nothing."},

		"importCmd.File":      {text: "The sheet, saved as CSV; - is standard input."},
		"importCmd.As":        {"What its rows are: spools, weighins or jobs.", "KIND"},
		"importCmd.Map":       {"Our columns, each with the header that stands for it there: spool=Nr,net_g=Weight (g). A header with a comma goes in double quotes. For an opened spool map gross_g, and label_g to what it held when full.", "OURS=THEIRS,..."},
		"importCmd.Set":       {"Our columns that the sheet lacks, each with what holds for all its rows: material=PLA,currency=EUR.", "OURS=VALUE,..."},
		"importCmd.Dates":     {"Order of its dates: dmy, mdy or ymd; else what all its dates fit. A day without a time is 12:00 of that day here.", "ORDER"},
		"importCmd.Decimal":   {"Its decimal mark: comma or point; else what its numbers show.", "MARK"},
		"importCmd.Delimiter": {"What parts its cells: comma, semicolon, tab or bar; else what its rows show.", "MARK"},
		"importCmd.Header":    {"The line of its header; else the first that is not blank.", "N"},
		"importCmd.Sure":      {text: "Book weigh-ins though they do not fit what is known of their spools."},

		"initCmd.Dir": {text: "Folder of the new book; else --book, else this one."},

		"labelCmd.Spools": {text: "Spools to label, in this order: ids, or beginnings that fit one alone."},
		"labelCmd.All":    {text: "Every spool on the shelf, by id; those that have ended are left out."},
		"labelCmd.Grid":   {"Columns x rows of a sheet, which prints on A4 and Letter; else 3x8.", "CxR"},
		"labelCmd.SVG":    {text: "One label alone, as a drawing for a label printer."},
		"labelCmd.Size":   {"With --svg: width x height in mm; else 62x29.", "WxH"},

		"stockCmd.Spools":   {text: "Spools, or beginnings of ids; else all."},
		"stockCmd.Material": {"Only of this material.", "NAME"},
		"stockCmd.Colour":   {"Only of this colour.", "NAME"},
		"stockCmd.Place":    {"Only at this place: PRINTER/SLOT, a printer alone, or where on the shelf.", "PLACE"},
		"stockCmd.Low":      {"Only what likely holds no more, as 200g or 60m.", "MASS"},
		"stockCmd.Flag":     {"Only with this flag, as 'no tare'.", "FLAG"},
		"stockCmd.All":      {text: "Show the ended spools too."},
		"stockCmd.Sort":     {"By spool, material, place, net, length, value or weighed; the least or oldest first.", "KEY"},

		"reconcileCmd.Spools": {text: "Spools to show; else all."},

		"checkCmd.Jobs": {text: "Jobs to show; else all. All are counted."},

		"cardCmd.Spool": {text: "The spool's id, or an unambiguous beginning of it."},

		"wasteCmd.By": {"What a row is: client, printer, material, spool, job or month.", "KEY"},

		"moveCmd.Spool": {text: "The spool."},
		"moveCmd.Place": {text: "Where it now is: PRINTER/SLOT when loaded, else free text."},

		"output.Out": {"The file to write; else it goes to standard output.", "FILE"},

		"period.Month": {"One calendar month, as 2026-10.", "MONTH"},
		"period.From":  {"First day, as 2026-10-01.", "DATE"},
		"period.To":    {"Last day.", "DATE"},

		"planCmd.File":         {text: "A sliced file (G-code), plain or gzip; - is standard input."},
		"planCmd.Printer":      {"Only on these printers; else on all of the book.", "NAME"},
		"planCmd.BaseTime":     {"How long the print takes without its changes, as 2h48m.", "TIME"},
		"planCmd.SequenceFile": {"Instead of a sliced file: a CSV with the columns slot and grams, a line for each use in order.", "CSV"},
		"planCmd.Pin":          {"Hold a slot to a nozzle, counted from 1; once for each.", "SLOT=NOZZLE"},
		"planCmd.Weight":       {"Let what is wasted of a spool count so many times; beside the setting purge_weight.", "SPOOL=NUMBER"},
		"planCmd.TrySpools":    {text: "Also try other spools for slots loaded as MATERIAL/COLOUR, so that remnants are finished first."},

		"queueAddCmd.Job":     {text: "The job's name."},
		"queueAddCmd.Slots":   {text: "SLOT=SPOOL:part=182.4,prime=3.1,purge=14.9,changes=12 or SLOT=MATERIAL/COLOUR:182.4; MATERIAL/ is any colour."},
		"queueAddCmd.Client":  {"Who it is for.", "NAME"},
		"queueAddCmd.Printer": {"Which printer; else $TAREBOOK_PRINTER, else that of the settings.", "NAME"},
		"queueAddCmd.Due":     {"When it is due; a date is the end of that day.", "TIME"},
		"queueAddCmd.Basis":   {"What the masses rest on: sliced, path or weighed; else sliced.", "BASIS"},

		"queueDropCmd.Job": {text: "The job's name."},
		"queueDropCmd.Why": {"Why.", "REASON"},
		"queueDropCmd.At":  {"When; else now.", "TIME"},

		"quoteCmd.Job":    {text: "A queued job."},
		"quoteCmd.Client": {"With --from: for which client.", "NAME"},

		"reorderCmd.Window": {"How many days of use to look back on, the last of them included.", "DAYS"},

		"globals.Book":   {"Folder of the book; else $TAREBOOK, else the nearest at or above this folder.", "DIR"},
		"globals.Format": {"How to write the answer: table, csv, json or md.", "FORMAT"},
		"globals.AsOf":   {"Look at the book as it was at this time.", "TIME"},
		"globals.Wait":   {"How long to wait while another command records.", "TIME"},

		"sealCmd.Through": {text: "Seal all that happened up to this day or time."},
		"sealCmd.Again":   {text: "Seal anew, as they are now, months that no longer hold."},
		"sealCmd.DryRun":  {text: "Show what would be booked; write nothing."},

		"slicing.Load":     {"What stands on a tool of the file: TOOL=SPOOL, or TOOL=MATERIAL/COLOUR; once for each.", "TOOL=SPOOL"},
		"slicing.Diameter": {"Diameter in mm of what is loaded as MATERIAL/COLOUR.", "MM"},

		"fromFile.From": {"Take the masses from this sliced file; - is standard input.", "FILE"},

		"statementCmd.Client": {text: "The client, as in clients.csv."},
		"statementCmd.House":  {text: "What no client pays: shares that are not billed, jobs of nobody, losses of spools."},
		"statementCmd.HTML":   {text: "Write the client's statement as a page to print."},

		"supposed.Printer":         {"With --from: which printer; else $TAREBOOK_PRINTER, else that of the settings.", "NAME"},
		"supposed.SlicedElsewhere": {text: "The file was sliced for another printer: instead of its own prime and purge count what the best assignment to this one takes, as plan tells it."},

		"toolpathCmd.Files":    {text: "Sliced files (G-code), plain or gzip; - is standard input."},
		"toolpathCmd.Sequence": {text: "List the tools in order of use."},
		"toolpathCmd.ByLayer":  {text: "Write a CSV line for each tool of each layer, for plotting."},
		"toolpathCmd.Density":  {"Density in g/cm3 of all tools, where nothing is loaded.", "G/CM3"},

		"voidCmd.Entries": {text: "Entries to cancel, as card, reconcile and verify show them."},
		"voidCmd.Last":    {text: "All rows of the last command that is not cancelled yet."},
		"voidCmd.Why":     {"Why.", "REASON"},
		"voidCmd.At":      {"When; else now.", "TIME"},

		"weighCmd.Readings":  {text: "Spools, each with what the scale showed in grams (or as 0.8kg); - reads them in a row from standard input."},
		"weighCmd.Empty":     {text: "Only the core is on the scale: the spool ends, and its tare is now measured."},
		"weighCmd.Discarded": {text: "The spool ends with filament left on it."},
		"weighCmd.Dried":     {text: "As loaded, after drying: a variance is water, not a loss. Dry at the maker's temperature, and leave no heated spool alone."},
		"weighCmd.Scale":     {"Which scale; else $TAREBOOK_SCALE, else that of the settings.", "NAME"},
		"weighCmd.ScaleFrom": {"With -: read the grams off this serial or USB line of a scale.", "DEVICE"},
		"weighCmd.Sure":      {text: "Book it though it does not fit what is known of the spool."},
	}
}
