package main

import (
	"fmt"
	"io"
	"strings"

	"tarebook/ledger"
)

// word is a term that answers use, in a line.
type word struct{ term, meaning string }

// terms are what help words explains, by what they are about.
var terms = []struct {
	about string
	terms []word
}{
	{"The spool", []word{
		{"spool", "filament on its core, under one id for ever"},
		{"core", "the empty spool; cores.csv has the tare of each kind"},
		{"gross", "what the scale shows: filament and core"},
		{"tare", "what the core alone weighs"},
		{"net", "filament on the spool: gross less tare less what was booked since"},
		{"weigh-in", "one reading of a scale"},
		{"opened", "begun before it came into the book; its first gross says how far"},
		{"off", "wound off: filament taken over from another spool"},
		{"tail", "filament that never reaches the nozzle when a spool runs out"},
		{"bin card", "a spool's history, entry by entry: tarebook card"},
	}},
	{"The print", []word{
		{"slot", "a tool of the sliced file; a spool is loaded for each"},
		{"nozzle", "where a slot is laid down; one nozzle may have several feeds"},
		{"feed", "a place of the printer from which filament goes to a nozzle"},
		{"part", "grams that are the thing itself"},
		{"support", "grams that hold it up and are thrown away"},
		{"prime", "grams laid on a tower at each change"},
		{"purge", "grams flushed when a nozzle changes filament"},
		{"scrap", "all grams of a print that failed"},
		{"waste", "support, prime, purge and scrap"},
		{"load, swap", "another filament into a nozzle; on to another nozzle"},
	}},
	{"Will it last?", []word{
		{"told", "grams as a person or a sliced file says them, not as weighed"},
		{"need", "grams told that a queued job takes of a slot's spool"},
		{"likely", "the net corrected by how grams told have run in this shop"},
		{"left", "what is likely left after the job, without the tail"},
		{"2u", "how far off a figure may be: 95 of 100 true values lie within"},
		{"odds", "how probable it is that the spool lasts"},
		{"enough", "the odds reach the setting enough_odds"},
		{"marginal", "they don't, though something is likely left: weigh it now"},
		{"short", "it likely runs out; out at says after which share of the need"},
	}},
	{"Book and scale", []word{
		{"book", "all rows of the folder; also the net that they come to"},
		{"measured", "gross less tare, as one weigh-in found it"},
		{"variance", "measured less book; below 0 more went than was booked"},
		{"outside", "flag: the variance is more than its 2u, so look for a slip"},
		{"heavier", "flag heavier than bought: look at tare and label"},
		{"overdrawn", "flag: more was booked than the spool held"},
		{"unpriced", "flag: no price is known, so its grams cost nothing anywhere"},
		{"entry", "the name of a row"},
		{"handle", "the last letters of an entry, which name it: tarebook void 7HM2"},
		{"void", "a row that cancels another; nothing is ever removed"},
		{"conflict", "one entry with two contents, as after a merge; neither counts"},
		{"seal", "a month closed, so that a later change of it is found"},
	}},
	{"Who pays", []word{
		{"share", "the part of a line's cost that the client pays, from 0 to 1"},
		{"billed", "what the client pays; waste_billed, scrap_billed: its shares"},
		{"bill", "a statement sent with a number; verify finds what changes later"},
		{"house", "the shop itself: what no client pays"},
		{"lost, found", "what the scale found missing, or beyond the book"},
		{"remainder", "what was still on a spool when it ended"},
		{"water", "what drying took out of a spool; no loss"},
	}},
}

// explain writes the terms, a line each.
func explain(w io.Writer) error {
	var b strings.Builder
	for i, group := range terms {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(group.about + "\n")
		for _, t := range group.terms {
			fmt.Fprintf(&b, "  %-12s %s\n", t.term, t.meaning)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// termFor returns the term of that name; nil if there is none.
func termFor(name string) *word {
	for _, group := range terms {
		for i := range group.terms {
			for one := range strings.SplitSeq(group.terms[i].term, ", ") {
				if ledger.Fold(one) == ledger.Fold(name) {
					return &group.terms[i]
				}
			}
		}
	}
	return nil
}
