package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/reports"
)

type quoteCmd struct {
	Job    string `arg:"" optional:"" about:"A queued job."`
	Client string `group:"The sliced file" about:"With --from: for which client." value:"CLIENT"`
	supposed
}

func (c *quoteCmd) Run(a *app) error {
	switch {
	case c.From == "" && c.Job == "":
		return errors.New("quote wants a queued job, or a sliced file with --from FILE; see: tarebook quote --help")
	case c.From != "" && c.Job != "":
		return errors.New("--from quotes one sliced file; it goes without the name of a job")
	case c.From == "" && c.Client != "":
		return errors.New("--client goes with --from; a queued job has its own")
	}
	file, _, err := c.read(a, false)
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	name := c.Job
	if file != nil {
		if name, err = c.suppose(a, v, file, c.Client); err != nil {
			return err
		}
	}
	rates, err := cost.LoadRates(v)
	if err != nil {
		return err
	}
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		return err
	}
	job, err := inventory.FindJob(jobs, name)
	if err != nil {
		return err
	}
	quote := cost.NewQuote(shelf, job, rates, a.today(v).Date())
	return a.show(v, reports.NewQuote(shelf, quote))
}
