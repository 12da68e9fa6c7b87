package reports

import (
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// The queue on the page.

type pageJob struct {
	ID, Job, For, Verdict string
	Needs                 []pageNeed
	Notes                 []string
}

// pageNeed is a need. Spools are those in turn, with a link to each that is on the page.
type pageNeed struct {
	Slot, None, Filament, Need, Likely, Left, U, Odds, Verdict, Out string
	Spools                                                          []spoolLink
	Chosen                                                          bool
}

type spoolLink struct {
	Spool string
	Here  bool
}

// jobLink leads to a job of the queue.
type jobLink struct{ ID, Job, Verdict string }

func jobID(i int) string { return fmt.Sprintf("job-%d", i+1) } // no spool's id has small letters

// wantedBy returns the jobs that want each spool, by its id.
func wantedBy(jobs []CheckJob) map[string][]jobLink {
	wanted := map[string][]jobLink{}
	for i, j := range jobs {
		for _, n := range j.Needs {
			link := jobLink{jobID(i), name(j.Job), n.Verdict}
			if n.Spool == nil {
				continue
			}
			for _, spool := range n.Spools {
				if !slices.Contains(wanted[spool], link) {
					wanted[spool] = append(wanted[spool], link)
				}
			}
		}
	}
	return wanted
}

// verdict says in a few words whether the queue can finish, and the worst verdict of it; "" where nothing is queued.
func (p Page) verdict() (words, worst string) {
	count := map[string]int{}
	for _, j := range p.check.Jobs {
		count[j.Verdict]++
	}
	var parts []string
	for _, v := range []string{inventory.Short, inventory.Marginal} {
		if n := count[v]; n > 0 {
			what := fmt.Sprintf("%d %s", n, v)
			if parts == nil {
				what = inventory.Plural(n, "job", "jobs") + " " + v
				worst = v
			}
			parts = append(parts, what)
		}
	}
	switch {
	case parts != nil:
		return strings.Join(parts, ", "), worst
	case len(p.check.Jobs) == 0:
		return "Nothing is queued", ""
	}
	return "Enough for all that is queued", inventory.Enough
}

// gramDecimals returns the decimals with which a check's grams are known.
func (c Check) gramDecimals() int {
	var us []*float64
	for _, j := range c.Jobs {
		for _, n := range j.Needs {
			us = append(us, n.UG)
		}
	}
	return known(expanded(us...)...)
}

func (p Page) job(i int, j CheckJob, notes []string, decimals int) pageJob {
	job := pageJob{ID: jobID(i), Job: name(j.Job), Verdict: j.Verdict, For: jobWords(name(j.Client), name(j.Printer), j.Due)}
	for _, note := range notes {
		job.Notes = append(job.Notes, shortened(ledger.Clean(note), 4*mostOfName, "…"))
	}
	for _, n := range j.Needs {
		need := pageNeed{Slot: name(dash(n.Slot)), Filament: filamentOf(n.Material, n.Colour), Need: tenthGram(n.NeedG), Likely: minus(figure(n.LikelyG, decimals)),
			Left: minus(figure(n.AfterG, decimals)), U: twice(n.UG, decimals), Odds: odds(n.Odds), Verdict: n.Verdict, Out: runsOut(n), Chosen: n.SpoolFrom == inventory.SpoolChosen}
		if n.Spool == nil {
			need.None = "none"
		} else {
			for _, spool := range n.Spools {
				need.Spools = append(need.Spools, spoolLink{spool, slices.ContainsFunc(p.spools, func(s pageSpool) bool { return s.Spool == spool })})
			}
		}
		job.Needs = append(job.Needs, need)
	}
	return job
}
