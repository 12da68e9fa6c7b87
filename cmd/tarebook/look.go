package main

import (
	"errors"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
	"tarebook/reports"
)

// The commands that look at the book and change nothing.

// shelf opens the book to look at and loads what is on its shelf.
func (a *app) shelf(load func(*ledger.View, ...inventory.Also) (*inventory.Shelf, error)) (*ledger.View, *inventory.Shelf, error) {
	v, err := a.view()
	if err != nil {
		return nil, nil, err
	}
	shelf, err := load(v)
	return v, shelf, err
}

type stockCmd struct {
	Spools   []string `arg:"" optional:"" name:"spool"`
	Material string   `group:"Which"`
	Colour   string   `group:"Which"`
	Place    string   `group:"Which"`
	Low      string   `group:"Which"`
	Flag     string   `group:"Which"`
	All      bool     `group:"Which"`
	Sort     string   `default:"spool"`
}

func (c *stockCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.Load)
	if err != nil {
		return err
	}
	want := inventory.Selection{IDs: c.Spools, Material: c.Material, Colour: c.Colour, Place: c.Place, Low: c.Low}
	spools, err := shelf.Select(want)
	if err != nil {
		return err
	}
	stock := reports.NewStock(spools, c.All || len(c.Spools) > 0)
	stock.Some = len(spools) < len(shelf.Spools)
	if c.Flag != "" {
		if stock, err = stock.Flagged(c.Flag); err != nil {
			return err
		}
	}
	if stock, err = stock.Sorted(c.Sort); err != nil {
		return err
	}
	return a.show(v, stock)
}

type reconcileCmd struct {
	Spools []string `arg:"" optional:"" name:"spool"`
}

func (c *reconcileCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.LoadReadings)
	if err != nil {
		return err
	}
	var spools []*inventory.Spool
	for _, id := range c.Spools {
		s, err := shelf.Find(id)
		if err != nil {
			return err
		}
		spools = append(spools, s)
	}
	return a.show(v, reports.NewReconcile(shelf, spools...))
}

type checkCmd struct {
	Jobs []string `arg:"" optional:"" name:"job"`
	supposed
}

func (c *checkCmd) Run(a *app) error {
	switch {
	case c.From != "" && len(c.Jobs) > 0:
		return errors.New("--from checks one sliced file behind the queue; it goes without names of jobs")
	}
	file, err := c.read(a, true)
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	names := c.Jobs
	if file != nil {
		name, err := c.suppose(a, v, file, "")
		if err != nil {
			return err
		}
		names = []string{name}
	}
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		return err
	}
	if jobs, err = inventory.FindJobs(jobs, names); err != nil {
		return err
	}
	if err := a.locate(v, jobs); err != nil {
		return err
	}
	check := reports.NewCheck(shelf, jobs)
	if err := a.show(v, check); err != nil {
		return err
	}
	if check.Flagged() {
		return errFlagged
	}
	return nil
}

type cardCmd struct {
	Spool string `arg:""`
}

func (c *cardCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.Load)
	if err != nil {
		return err
	}
	spool, err := shelf.Find(c.Spool)
	if err != nil {
		return err
	}
	events, err := spool.History(v)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewCard(spool, events))
}

type wasteCmd struct {
	By string `default:"client"`
	period
}

func (c *wasteCmd) Run(a *app) error {
	from, to, err := c.days()
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	costing, err := cost.Load(v, strings.ToLower(c.By), from, to)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewWaste(strings.ToLower(c.By), costing))
}

type verifyCmd struct{}

func (c *verifyCmd) Run(a *app) error {
	v, err := a.view()
	if err != nil {
		return err
	}
	entries, problems, seals, err := inventory.Verify(v, a.now())
	if err != nil {
		return err
	}
	report := reports.NewVerify(entries, problems, seals)
	style := reports.Style{Format: a.Format}
	if err := reports.Render(a.stdout, report, style); err != nil {
		return err
	}
	if len(problems) > 0 {
		return errFlagged
	}
	return nil
}
