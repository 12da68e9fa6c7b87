package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"tarebook/samples"
)

type demoCmd struct{}

// Run copies the demo book and carries out three commands on it, each shown above what it printed.
func (c *demoCmd) Run(a *app) error {
	if a.Format != "table" {
		return fmt.Errorf("demo shows three tables; leave out --format %s, and write it with one command, as: tarebook --book FOLDER stock --format %s", a.Format, a.Format)
	}
	parent, err := os.MkdirTemp("", "tarebook-demo-")
	if err != nil {
		return err
	}
	dir := filepath.Join(parent, "book")
	if err := samples.CopyDemo(dir); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "The demo book is in %s\n", dir)
	fmt.Fprintln(a.stdout, "A workshop of two prints models and props for four clients on three printers. What they ask on a Monday morning:")
	for _, words := range [][]string{{"stock"}, {"check"}, {"waste", "--month", "2026-10"}} {
		args := append([]string{"--book", dir, "--as-of", samples.DemoAsOf}, words...)
		fmt.Fprintf(a.stdout, "\n$ tarebook %s\n", strings.Join(args, " "))
		if status := run(args, a.environment); status == 2 {
			return fmt.Errorf("the demo's %s was not carried out", words[0])
		}
	}
	fmt.Fprintln(a.stdout, "\nThe folder is yours to try things in; see the commands with: tarebook --help")
	return nil
}
