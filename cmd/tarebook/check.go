package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/reports"
)

type checkCmd struct {
	Jobs []string `arg:"" optional:"" name:"job" about:"Jobs to show; else all. All are counted."`
	supposed
}

func (c *checkCmd) Run(a *app) error {
	if c.From != "" && len(c.Jobs) > 0 {
		return errors.New("--from checks one sliced file behind the queue; it goes without names of jobs")
	}
	file, o, err := c.read(a, true)
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	names, found := c.Jobs, map[string]*foundFile{}
	if file != nil {
		name, err := c.suppose(a, v, file, "")
		if err != nil {
			return err
		}
		names = []string{name}
		if c.From != "-" {
			found[file.Reference(file.Name)] = &foundFile{Sliced: file, path: a.path(c.From), options: o}
		}
	}
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		return err
	}
	if jobs, err = inventory.FindJobs(jobs, names); err != nil {
		return err
	}
	if err := a.locate(v, jobs, found); err != nil {
		return err
	}
	a.warnImpossible(shelf)
	check := reports.NewCheck(shelf, jobs)
	if err := a.show(v, check); err != nil {
		return err
	}
	if check.Flagged() {
		return errFlagged
	}
	return nil
}
