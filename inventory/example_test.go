package inventory_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Can the queue finish? A spool was weighed, a job was printed from it since, and the next job is longer than what
// is left.
func ExampleCheck() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	for file, text := range map[string]string{
		"settings.csv":    "setting,value\n",
		"materials.csv":   "material,density_g_cm3,density_u_g_cm3,note\nPLA,1.24,0.012,\n",
		"cores.csv":       "core,tare_g,tare_u_g,note\ncard,180,3,\n",
		"purchases.csv":   "entry,at,spool,material,colour,swatch,maker,lot,diameter_mm,net_g,core,tare_g,price,currency,supplier,place,from,note\n,2026-03-02T09:00:00Z,PLA-007,PLA,Slate,,,,1.75,1000,card,,20.50,EUR,,,,\n,2026-03-02T09:00:00Z,PLA-008,PLA,Slate,,,,1.75,1000,card,,20.50,EUR,,,,\n",
		"weighins.csv":    "entry,at,spool,gross_g,scale,state,note\n,2026-03-09T08:00:00Z,PLA-007,600,,,\n",
		"consumption.csv": "entry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,changes,outcome,basis,note\n,2026-03-09T17:00:00Z,hinges,,,PLA-007,70,10,,,,,,\n",
		"queue.csv":       "entry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,changes,due,basis,file,note\n,2026-03-10T08:00:00Z,lamp,,,0,PLA-007,,,400,20,,5,,,,,\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o666); err != nil {
			log.Fatal(err)
		}
	}
	book, err := ledger.Find(dir, "the example", "")
	if err != nil {
		log.Fatal(err)
	}
	view, err := book.View(ledger.Time{}) // as it is now
	if err != nil {
		log.Fatal(err)
	}
	_, jobs, err := inventory.Check(view)
	if err != nil {
		log.Fatal(err)
	}
	for _, job := range jobs {
		fmt.Println(job.Name, "is", job.Verdict)
		for _, need := range job.Needs {
			fmt.Printf("%s g of %.0f g on %s, give or take %.1f g; runs out at %.0f %%\n", need.Row.Total(), need.Likely, need.Spool.ID, need.U, 100*need.RunsOut)
			for _, other := range need.Instead {
				fmt.Println("instead:", other.ID)
			}
		}
	}
	// Output:
	// lamp is short
	// 425 g of 340 g on PLA-007, give or take 15.5 g; runs out at 80 %
	// instead: PLA-008
}
