package oracle

import (
	"slices"
	"strings"
	"time"
)

// ledgers are the rows that count, in order, and the files in conflict.
type ledgers struct {
	live     map[string][]*row
	purchase map[string]*row // by folded spool: the one that counts
	twice    map[string]bool // by folded spool: bought under two entries
	conflict map[string]bool // by file
}

// entryGroup is all rows of one ledger under one name.
type entryGroup struct {
	name  string
	rows  []*row // of different content, in order
	clash bool   // more than one content: neither counts
}

// liveLedgers applies, in this order: the instant, duplicates and conflicts,
// voids, and the purchase that each row needs.
func liveLedgers(f folder, asOf *time.Time) *ledgers {
	l := &ledgers{
		live:     map[string][]*row{},
		purchase: map[string]*row{},
		twice:    map[string]bool{},
		conflict: map[string]bool{},
	}
	groups := map[string][]entryGroup{}
	files := append(slices.Clone(ledgerFiles), "sliced.csv", "bills.csv")
	for _, file := range files {
		groups[file] = groupEntries(f[file], asOf)
	}
	hidden := hiddenNames(groups["voids.csv"])
	for _, file := range files {
		for _, g := range groups[file] {
			switch {
			case file == "voids.csv":
				if g.clash && !hidden.void[g.name] {
					l.conflict[file] = true
				}
			case hidden.row[g.name]: // also settles a conflict
			case g.clash:
				l.conflict[file] = true
			default:
				l.live[file] = append(l.live[file], g.rows[0])
			}
		}
		slices.SortFunc(l.live[file], compareRows)
	}

	var counting []*row
	for _, r := range l.live["purchases.csv"] {
		spool := fold(r.get("spool"))
		if l.purchase[spool] != nil {
			l.twice[spool] = true
			l.conflict["purchases.csv"] = true
			continue
		}
		l.purchase[spool] = r
		counting = append(counting, r)
	}
	l.live["purchases.csv"] = counting
	for _, file := range []string{"weighins.csv", "consumption.csv", "queue.csv", "moves.csv"} {
		l.live[file] = slices.DeleteFunc(l.live[file], func(r *row) bool {
			ids := strings.Split(r.get("spool"), "+") // several in the queue alone
			return r.get("spool") != "" && !slices.ContainsFunc(ids, func(id string) bool { return l.purchase[fold(trim(id))] != nil })
		})
	}
	return l
}

func groupEntries(rows []*row, asOf *time.Time) []entryGroup {
	byName := map[string]map[string]*row{}
	for _, r := range rows {
		if asOf != nil && r.at.After(*asOf) {
			continue
		}
		if byName[r.name()] == nil {
			byName[r.name()] = map[string]*row{}
		}
		byName[r.name()][r.content()] = r
	}
	var groups []entryGroup
	for name, contents := range byName {
		g := entryGroup{name: name, clash: len(contents) > 1}
		for _, r := range contents {
			g.rows = append(g.rows, r)
		}
		slices.SortFunc(g.rows, compareRows)
		groups = append(groups, g)
	}
	slices.SortFunc(groups, func(a, b entryGroup) int { return strings.Compare(a.name, b.name) })
	return groups
}

type hiding struct {
	row  map[string]bool // names that live voids hide
	void map[string]bool // voids that later live voids hide
}

// hiddenNames walks the voids from the last to the first: when one is met, every
// void that could reach it has been decided.
//
// Reading taken: a void in conflict is reached by voids later than all its rows.
func hiddenNames(voids []entryGroup) hiding {
	h := hiding{row: map[string]bool{}, void: map[string]bool{}}
	last := func(g entryGroup) *row { return g.rows[len(g.rows)-1] }
	voids = slices.Clone(voids)
	slices.SortFunc(voids, func(a, b entryGroup) int { return compareRows(last(b), last(a)) })
	for _, g := range voids {
		switch {
		case h.row[g.name]:
			h.void[g.name] = true
		case !g.clash:
			h.row[g.rows[0].get("target")] = true
		}
	}
	return h
}
