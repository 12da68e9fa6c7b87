package main

import "slices"

// command is one command of the tool, as the overview and its own help show it.
type command struct {
	name     string
	use      string // record, look, plan or keep
	summary  string
	examples []string // to paste; they work on the demo book
	statuses string
	make     func() (grammar any, g *globals, cmd runner)
}

// grammar is what kong fills for one command line.
type grammar[C any] struct {
	Cmd     C       `embed:""`
	Globals globals `embed:"" group:"Every command"`
}

func of[C any, R interface {
	*C
	runner
}]() (any, *globals, runner) {
	g := &grammar[C]{}
	return g, &g.Globals, R(&g.Cmd)
}

const (
	plainStatus = "Status: 0 done, 2 not carried out."
	lookStatus  = "Status: 0 answered, 1 answered but a file that was read has a conflict, 2 not carried out."
)

var commands = []*command{
	{"buy", "record", "Book spools bought.", []string{
		"tarebook buy PLA-031 --material PLA --colour black --net 1000 --price 21.90",
		"tarebook buy PETG --count 3 --total 64.50 --material PETG --colour clear --net 750",
		"tarebook buy PLA-033 --opened --gross 612 --label 1000 --core card-1kg --material PLA --price 24.90",
		"tarebook buy PLA-032 --off PLA-06 --net 240"}, plainStatus, of[buyCmd]},
	{"weigh", "record", "Book what the scale said of spools.", []string{
		"tarebook weigh PLA-02 500",
		"tarebook weigh PLA-02 500 PETG-01 812.5 --scale kitchen",
		"tarebook weigh PLA-02 --discarded",
		"printf 'PLA-02 500\\nPETG-01 812.5\\n' | tarebook weigh -",
		"printf 'PLA-02 500\\nPETG-01 812.5\\n' | tarebook weigh - --at 'yesterday 18:30'"},
		"Status: 0 done, 1 some lines of weigh - were refused, 2 not carried out.", of[weighCmd]},
	{"consume", "record", "Book what a job took.", []string{
		"tarebook consume gear-box PLA-02:part=82.4,prime=3.1,purge=14.9,changes=12 --client pellam --printer WINDOW",
		"tarebook consume lantern-panes --failed --to-percent 40",
		"tarebook consume owl --from branch-owl.gcode --failed --to-layer 12 --load 0=PLA-09 --load 1=PLA-06 --load 2=PLA-11",
		"tarebook consume gear-box PLA-02:12.5m"}, plainStatus, of[consumeCmd]},
	{"queue add", "record", "Queue a job, or correct a slot of one.", []string{
		"tarebook queue add gear-box 0=PLA-02:part=82.4,purge=14.9 1=PETG/:part=120 --client pellam --printer DOOR",
		"tarebook queue add gear-box 0=PLA/black:412 --due 2026-12-01",
		"tarebook queue add owl --from branch-owl.gcode --load 'PLA-09 PLA-06 PLA/brick'"}, plainStatus, of[queueAddCmd]},
	{"queue list", "look", "Show the queue in the order of printing; queue alone will do.", []string{
		"tarebook queue list",
		"tarebook queue list --format csv"}, lookStatus, of[queueListCmd]},
	{"queue drop", "record", "Take a job off the queue.", []string{
		"tarebook queue drop mill-wheel --why \"the client called it off\""}, plainStatus, of[queueDropCmd]},
	{"move", "record", "Book where spools are.", []string{
		"tarebook move PLA-02 WINDOW/1",
		"tarebook move PLA-02 WINDOW/1 PLA-08 WINDOW/2 --at 03:20",
		"tarebook move PLA-02 \"dry box\""}, plainStatus, of[moveCmd]},
	{"void", "record", "Cancel a command or a row; what was recorded stays in the book.", []string{
		"tarebook void --last",
		"tarebook void YPC94 --why \"weighed the wrong spool\""}, plainStatus, of[voidCmd]},

	{"recent", "look", "Show the last commands, to cancel one.", []string{
		"tarebook recent",
		"tarebook recent 30",
		"tarebook recent --all --month 2026-10 --client pellam",
		"tarebook recent --all --lot C2614 --format csv"}, lookStatus, of[recentCmd]},
	{"stock", "look", "Show what is on the shelf.", []string{
		"tarebook stock",
		"tarebook stock --low 200g --sort net",
		"tarebook stock pla --place WINDOW",
		"tarebook stock --all --format csv"}, lookStatus, of[stockCmd]},
	{"reconcile", "look", "Hold the book against the scale.", []string{
		"tarebook reconcile",
		"tarebook reconcile PETG-02"}, lookStatus, of[reconcileCmd]},
	{"check", "look", "Tell whether the spools last for the queue.", []string{
		"tarebook check",
		"tarebook check market-square --format json",
		"tarebook check --from branch-owl.gcode --load 0=PLA-09 --load 1=PLA-08 --load 2=PLA/brick --printer WINDOW"},
		"Status: 0 every job is enough, 1 a job is not enough or a file that was read has a conflict, 2 not carried out.", of[checkCmd]},
	{"card", "look", "Show one spool's history, its bin card.", []string{
		"tarebook card PLA-02"}, lookStatus, of[cardCmd]},
	{"waste", "look", "Show where filament went and what the waste cost.", []string{
		"tarebook waste --month 2026-10",
		"tarebook waste --by printer --from 2026-09-01 --to 2026-10-31",
		"tarebook waste --by job --lot C2614"}, lookStatus, of[wasteCmd]},
	{"statement", "look", "Show what a client pays, line by line; issue it as a bill.", []string{
		"tarebook statement wendle --month 2026-10",
		"tarebook statement wendle --month 2026-10 --html --out wendle-2026-10.html",
		"tarebook statement pellam --month 2026-10 --issue --html --out pellam-2026-10.html",
		"tarebook statement --issued",
		"tarebook statement wendle --bill 2026-001",
		"tarebook statement wendle --unbilled",
		"tarebook statement --house --from 2026-09-01 --to 2026-10-31"}, lookStatus, of[statementCmd]},

	{"toolpath", "plan", "Read a sliced file: what it takes of each tool.", []string{
		"tarebook toolpath branch-owl.gcode --load 0=PLA-09 --load 1=PLA-06 --load 2=PLA/brick",
		"tarebook toolpath branch-owl.gcode --sequence --format json",
		"tarebook toolpath branch-owl.gcode --by-layer",
		"tarebook toolpath branch-owl.gcode --relative-e"}, lookStatus, of[toolpathCmd]},
	{"plan", "plan", "Choose printer, nozzle and spool for a print.", []string{
		"tarebook plan branch-owl.gcode --load 'PLA-09 PLA-06 PLA/brick'",
		"tarebook plan branch-owl.gcode --load 0=PLA/black --load 1=PLA-06 --load 2=PLA/brick --try-spools --base-time 2h48m",
		"tarebook plan branch-owl.gcode --load 0=PLA-09 --load 1=PLA-06 --load 2=PLA-11 --printer DOOR --pin 2=1",
		"printf 'slot,grams\\n0,12.5\\n1,3\\n0,12.5\\n' | tarebook plan --sequence-file - --load 0=PLA-09 --load 1=PLA-06"},
		"Status: 0 answered, 1 the best plan runs short, none is possible or a file that was read has a conflict, 2 not carried out.", of[planCmd]},
	{"machines", "plan", "Tell which machine the prints of a time would have suited.", []string{
		"tarebook machines --month 2026-10",
		"tarebook machines --from 2026-09-01 --to 2026-10-31 --prints",
		"tarebook machines --queue"}, lookStatus, of[machinesCmd]},
	{"quote", "plan", "Tell what a job will cost before it is printed.", []string{
		"tarebook quote market-square",
		"tarebook quote --from branch-owl.gcode --load 0=PLA-09 --load 1=PLA-06 --load 2=PLA/brick --client quillet --printer WINDOW"},
		"Status: 0 answered, also where a spool is not enough, 1 answered but a file that was read has a conflict, 2 not carried out.", of[quoteCmd]},
	{"reorder", "plan", "Tell what to buy and by when.", []string{
		"tarebook reorder",
		"tarebook reorder --window 60 --format csv"}, lookStatus, of[reorderCmd]},

	{"init", "keep", "Start a new book.", []string{
		"tarebook init",
		"tarebook init shelf"}, plainStatus, of[initCmd]},
	{"define", "keep", "Add a row to a table, or show the line to write in place of one.", []string{
		"tarebook define material PA-CF density=1.18 density_u=0.02",
		"tarebook define core 'card 2 kg' tare=310 tare_u=5",
		"tarebook define printer LATHE feeds=1+1 purge=0 prime=12 swap=9 load=0 tail=350",
		"tarebook define purge WINDOW from=black to=white purge=380",
		"tarebook define nozzle WINDOW nozzle=1 x_min=0 x_max=235",
		"tarebook define limit WINDOW nozzle=1 material=TPU beside=PETG 'why=they do not bond'",
		"tarebook define client pellam waste=0.5 from=2027-01-01",
		"tarebook define setting purge_words 'rinse swill'"}, plainStatus, of[defineCmd]},
	{"import", "keep", "Book the rows of a spreadsheet's CSV: all, or none.", []string{
		"tarebook import samples/sheets/spools.csv --as spools --map 'spool=Nr,at=Gekauft,material=Sorte,colour=Farbe,core=Kern,gross_g=Brutto (g),label_g=Neu (g),price=Preis' --dry-run",
		"tarebook import samples/sheets/weighins.csv --as weighins --map 'spool=Spool,at=Day,gross_g=On the scale' --set scale=kitchen",
		"tarebook import samples/sheets/jobs.csv --as jobs --map 'job=Print,at=Ended,spool=Spool,part_g=Model (g),purge_g=\"Purged, all (g)\",outcome=Result'"}, plainStatus, of[importCmd]},
	{"verify", "keep", "Look over the whole book for what is wrong in it.", []string{
		"tarebook verify"}, "Status: 0 no problem, 1 a problem was found, 2 not carried out.", of[verifyCmd]},
	{"seal", "keep", "Close a period, so that a later change of it is found.", []string{
		"tarebook seal --through 2026-10-31"}, plainStatus, of[sealCmd]},
	{"label", "keep", "Make labels to print: a sheet of them, or one for a label printer.", []string{
		"tarebook label --all --out labels.html",
		"tarebook label PLA-11 PLA-12 --grid 2x6 --out labels.html",
		"tarebook label PLA-12 --svg --size 62x29 --out pla-12.svg"}, lookStatus, of[labelCmd]},
	{"page", "keep", "Write the shelf as a web page: one file that needs nothing else.", []string{
		"tarebook page --out shelf.html"}, lookStatus, of[pageCmd]},
	{"completion", "keep", "Print what a shell needs to complete command lines on Tab.", []string{
		"tarebook completion bash",
		"tarebook completion zsh",
		"tarebook completion fish"}, plainStatus, of[completionCmd]},
	{"sql", "keep", "Print views over the CSV files of books, to ask anything by SQL.", []string{
		"tarebook sql",
		"tarebook sql ."}, plainStatus, of[sqlCmd]},
	{"demo", "keep", "Copy the demo book to a temporary folder and look at it.", []string{
		"tarebook demo"}, plainStatus, of[demoCmd]},
}

func find(name string) *command {
	for _, c := range commands {
		if c.name == name {
			return c
		}
	}
	return nil
}

// refuses reports whether a global flag means nothing to the command.
func (c *command) refuses(flag string) bool {
	switch flag {
	case "format":
		return slices.Contains([]string{"page", "completion", "sql", "demo"}, c.name)
	case "as-of":
		return c.use == "record" || slices.Contains([]string{"init", "define", "import", "seal", "completion", "sql", "demo"}, c.name)
	}
	return false
}
