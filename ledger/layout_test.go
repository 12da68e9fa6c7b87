package ledger

import (
	"slices"
	"strings"
	"testing"

	"github.com/gocarina/gocsv"
	"github.com/google/go-cmp/cmp"
)

// The contract's header lines, word for word.
var contract = map[string]string{
	SettingsFile:    "setting,value",
	Materials:       "material,density_g_cm3,density_u_g_cm3,note",
	Cores:           "core,tare_g,tare_u_g,note",
	Scales:          "scale,division_g,error_g,repeat_g,note",
	Printers:        "printer,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,note,hour_cost,price,owned",
	Purges:          "printer,from_material,from_colour,to_material,to_colour,purge_mm3",
	Nozzles:         "printer,nozzle,x_min_mm,x_max_mm,y_min_mm,y_max_mm,z_max_mm,note",
	Limits:          "printer,nozzle,material,beside,why",
	Clients:         "client,name,waste_billed,scrap_billed,from,note",
	Purchases:       "entry,at,spool,material,colour,swatch,maker,lot,diameter_mm,net_g,core,tare_g,price,currency,supplier,place,from,gross_g,scale,note",
	Weighins:        "entry,at,spool,gross_g,scale,state,note",
	ConsumptionFile: "entry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,changes,outcome,basis,slot,file,note",
	Queue:           "entry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,changes,due,basis,file,note",
	Moves:           "entry,at,spool,place,note",
	Voids:           "entry,at,target,why",
	Seals:           "entry,at,through,ledger,month,rows,sha256",
	SlicedFiles:     "entry,at,file,layers,sequence,boxes,note",
	Bills:           "entry,at,bill,client,from,to,currency,billed,lines,sha256,note",
}

func TestHeadersAreTheContracts(t *testing.T) {
	t.Parallel()
	got := map[string]string{}
	for file := range columnsByFile() {
		got[file] = strings.TrimSuffix(Header(file), "\n")
	}
	if d := cmp.Diff(contract, got); d != "" {
		t.Errorf("headers (-want +got):\n%s", d)
	}
	if len(allFiles) != len(contract) {
		t.Errorf("%d files listed, want %d", len(allFiles), len(contract))
	}
	if got := Header("other.csv"); got != "" {
		t.Errorf("a file that is none of the book's has the header %q", got)
	}
}

func TestLayout(t *testing.T) {
	t.Parallel()
	columns := strings.Split(contract[Weighins], ",")
	for _, c := range []struct {
		name, header string
		want         string // the error, "" for none
	}{
		{"as the contract has it", contract[Weighins], ""},
		{"any order", "note,state,scale,gross_g,spool,at,entry", ""},
		{"blanks round names", " entry ,at,\tspool,gross_g,scale,state,note", ""},
		{"an unknown column", contract[Weighins] + ",shelf mark", ""},
		{"unnamed columns", contract[Weighins] + ",,", ""},
		{"without note", "entry,at,spool,gross_g,scale,state", ""},
		{"a column missing", "entry,at,spool,scale,state,note", "weighins.csv:1: the header lacks gross_g; it should read " + contract[Weighins]},
		{"two columns missing", "entry,spool,gross_g,scale,note", "weighins.csv:1: the header lacks at, state; it should read " + contract[Weighins]},
		{"other letters", "Entry,at,spool,gross_g,scale,state,note", "weighins.csv:1: the header lacks entry; it should read " + contract[Weighins]},
		{"a column twice", contract[Weighins] + ",at", `weighins.csv:1: column "at" stands twice; rename one of them`},
		{"an unknown column twice", contract[Weighins] + ",x,x", `weighins.csv:1: column "x" stands twice; rename one of them`},
		{"both at once", "entry,at,at,spool,scale,state", "weighins.csv:1: column \"at\" stands twice; rename one of them\n" +
			"weighins.csv:1: the header lacks gross_g; it should read " + contract[Weighins]},
	} {
		_, err := newLayout(Weighins, columns, strings.Split(c.header, ","))
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// Required are all columns but those that the contract lists.
func TestColumnsThatMayLack(t *testing.T) {
	t.Parallel()
	want := map[string]string{
		SettingsFile: "", Materials: "note", Cores: "note", Scales: "repeat_g note", Printers: "note hour_cost price owned", Purges: "from_material to_material", Nozzles: "note", Limits: "", Clients: "from note",
		Purchases: "swatch maker lot supplier place from gross_g scale note", Weighins: "note", ConsumptionFile: "changes slot file note",
		Queue: "changes due basis file note", Moves: "place note", Voids: "why", Seals: "", SlicedFiles: "boxes note", Bills: "from note",
	}
	for file, columns := range columnsByFile() {
		var got []string
		for _, c := range columns {
			if mayBeAbsent(file, c) {
				got = append(got, c)
			}
		}
		if got := strings.Join(got, " "); got != want[file] {
			t.Errorf("%s may lack %q, want %q", file, got, want[file])
		}
	}
}

func TestWidth(t *testing.T) {
	t.Parallel()
	columns := strings.Split(contract[Weighins], ",")
	l, err := newLayout(Weighins, columns, strings.Split("entry,at,spool,gross_g,scale,state,mine,note", ","))
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]string{
		9: "has 9 fields where the header has 8",
		8: "", 7: "", 6: "",
		5: "has 5 fields and lacks state",
		1: "has 1 fields and lacks at",
	} {
		if got := l.checkWidth(n); got != want {
			t.Errorf("a row of %d fields: got %q, want %q", n, got, want)
		}
	}
}

// The columns are those that gocsv derives from the same tags, by which it writes.
func TestColumnsOf(t *testing.T) {
	t.Parallel()
	for file, want := range map[string]any{
		SettingsFile: []Setting{}, Materials: []Material{}, Cores: []Core{}, Scales: []Scale{}, Printers: []Printer{}, Clients: []Client{},
		Purchases: []Purchase{}, Weighins: []Weighin{}, ConsumptionFile: []Consumption{}, Queue: []Need{}, Moves: []Move{}, Voids: []Void{}, Seals: []Seal{}, Bills: []Bill{},
	} {
		var r records
		if err := gocsv.MarshalCSV(want, &r); err != nil {
			t.Fatal(err)
		}
		if got := columnsByFile()[file]; !slices.Equal(got, r[0]) {
			t.Errorf("%s has the columns %q, gocsv derives %q", file, got, r[0])
		}
	}
}
