package main

import (
	"strings"

	"github.com/alecthomas/kong"
)

// printHelp puts summary, examples and statuses between usage and flags.
func (c *command) printHelp(options kong.HelpOptions, ctx *kong.Context) error {
	ctx.Model.Help = c.summary + "\n\nExamples:\n\n  $ " + strings.Join(c.examples, "\n  $ ") + "\n\n" + c.statuses
	return kong.DefaultHelpPrinter(options, ctx)
}
