package main

import (
	"fmt"
	"strings"
	"time"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type sealCmd struct {
	Through string `required:"" placeholder:"DATE" about:"Seal all that happened up to this day or time."`
	Again   bool   `about:"Seal anew, as they are now, months that no longer hold."`
	DryRun  bool   `group:"Recording" about:"Show what would be booked; write nothing."`
}

func (c *sealCmd) Run(a *app) error {
	through, err := a.time("--through", c.Through, endOfDay)
	if err != nil {
		return err
	}
	if len(ledger.Trim(c.Through)) == len(time.DateOnly) {
		through = through.EndOfDay()
	}
	if through.Std().After(a.now()) {
		return fmt.Errorf("--through %s is not over yet; seal what is past", c.Through)
	}
	at, err := (&recordFlags{}).at(a)
	if err != nil {
		return err
	}
	return a.record(writeFlags{DryRun: c.DryRun}, func(v *ledger.View) (b recording.Booking, err error) {
		seals, err := v.SealThrough(through, c.Again, a.now())
		if err != nil {
			return b, err
		}
		rows := map[string][]string{}
		var months, clients []string
		for i := range seals {
			seals[i].At = at
			month := seals[i].Month
			if seals[i].Ledger == ledger.Clients {
				clients = append(clients, fmt.Sprintf("  %s: %s in force", ledger.Clients, inventory.Plural(seals[i].Rows.N, "row", "rows")))
				continue
			}
			if rows[month] == nil {
				months = append(months, month)
			}
			rows[month] = append(rows[month], fmt.Sprintf("%s %d", strings.TrimSuffix(seals[i].Ledger, ".csv"), seals[i].Rows.N))
		}
		b.Told = []string{fmt.Sprintf("sealed through %s; rows by month (UTC):", through.Through())}
		if len(seals) == 0 {
			b.Told = []string{fmt.Sprintf("nothing is left to seal through %s", through.Through())}
		}
		for _, month := range months {
			b.Told = append(b.Told, fmt.Sprintf("  %s: %s", month, strings.Join(rows[month], ", ")))
		}
		b.Told = append(b.Told, clients...)
		b.Batch = ledger.NewBatch[ledger.Seal](seals)
		return b, nil
	})
}
