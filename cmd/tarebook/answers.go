package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// source answers from the book for completion. What can't be read is left out.
type source struct {
	*app
	typed  string
	before []string // words of the command so far
}

// of answers for what a placeholder stands for, or for choices with commas between them.
func (s *source) of(kind string) []answer {
	switch kind {
	case "file", "csv":
		return []answer{{files, ""}}
	case "dir":
		return []answer{{folders, ""}}
	case "format":
		kind = strings.Join(reports.Formats, ",")
	case "flag":
		kind = strings.Join(reports.StockFlags, ",")
	case "setting":
		kind = strings.Join(ledger.SettingNames, ",")
	case "of the kind":
		if len(s.before) > 0 {
			return s.of(strings.ToLower(s.before[0]))
		}
	}
	if answer := fromBook[kind]; answer != nil {
		if v, err := s.quietly(); err == nil {
			return answer(s, v)
		}
		return nil
	}
	var list []answer
	if strings.Contains(kind, ",") && !strings.HasSuffix(kind, ",...") { // what ends so shows a form, and is no choice
		for choice := range strings.SplitSeq(kind, ",") {
			list = append(list, answer{choice, ""})
		}
	}
	return list
}

// quietly opens the book to look at: without a word, without a write, and hardly waiting.
func (s *source) quietly() (*ledger.View, error) {
	book, err := s.book()
	if err != nil {
		return nil, err
	}
	book.Wait, book.Tell, book.Disk = 10*time.Millisecond, func(string) {}, lookingDisk{book.Disk}
	return book.View(ledger.Time{})
}

var errLooking = errors.New("completion writes nothing")

// lookingDisk refuses to write.
type lookingDisk struct{ ledger.Disk }

func (d lookingDisk) OpenFile(dir, name string, flag int) (ledger.DiskFile, error) {
	if flag&(os.O_WRONLY|os.O_RDWR|os.O_CREATE|os.O_APPEND|os.O_TRUNC) != 0 {
		return nil, errLooking
	}
	return d.disk().OpenFile(dir, name, flag)
}
func (d lookingDisk) Lstat(dir, name string) (fs.FileInfo, error) { return d.disk().Lstat(dir, name) }
func (d lookingDisk) Mkdir(string, string) error                  { return errLooking }
func (d lookingDisk) Remove(string, string) error                 { return errLooking }
func (d lookingDisk) Rename(string, string, string) error         { return errLooking }
func (d lookingDisk) SyncDir(string, string) error                { return errLooking }

func (d lookingDisk) disk() ledger.Disk {
	if d.Disk == nil {
		return ledger.OSDisk{}
	}
	return d.Disk
}

// fromBook are the answers that the book has, by what stands for a value in help.
var fromBook = map[string]func(*source, *ledger.View) []answer{
	"spool": (*source).spools,
	"spool:grams": func(s *source, v *ledger.View) []answer {
		return s.spoolsAnd(v, "", ":")
	},
	"spool=number": func(s *source, v *ledger.View) []answer {
		return s.spoolsAnd(v, "", "=")
	},
	"slot=spool": func(s *source, v *ledger.View) []answer { return s.slots(v, ":") },
	"tool=spool": func(s *source, v *ledger.View) []answer { return s.slots(v, "") },
	"entry":      (*source).handles,
	"job":        (*source).jobs,
	"client":     (*source).clients,
	"bill":       (*source).bills,
	"printer":    (*source).printers,
	"place":      (*source).places,
	"material":   named((*ledger.View).Materials, func(m *ledger.Material) answer { return answer{m.Material, m.Note} }),
	"core": named((*ledger.View).Cores, func(c *ledger.Core) answer {
		return answer{c.Core, c.TareG.Grams.String() + " g"}
	}),
	"scale":  named((*ledger.View).Scales, func(s *ledger.Scale) answer { return answer{s.Scale, s.Note} }),
	"colour": bought(func(p *ledger.Purchase) string { return p.Colour }),
	"maker":  bought(func(p *ledger.Purchase) string { return p.Maker }),
	"lot":    bought(func(p *ledger.Purchase) string { return p.Lot }),
}

// named answers with the rows of a table.
func named[T any](table func(*ledger.View) (map[string]*T, error), row func(*T) answer) func(*source, *ledger.View) []answer {
	return func(_ *source, v *ledger.View) (list []answer) {
		rows, _ := table(v)
		for _, r := range rows {
			list = append(list, row(r))
		}
		return byValue(list)
	}
}

// bought answers with what purchases have in one column.
func bought(column func(*ledger.Purchase) string) func(*source, *ledger.View) []answer {
	return func(_ *source, v *ledger.View) (list []answer) {
		purchases, _ := v.Purchases()
		for _, p := range purchases {
			list = append(list, answer{column(p), ""})
		}
		return byValue(list)
	}
}

// byValue sorts answers and leaves out blanks and repeats.
func byValue(list []answer) []answer {
	slices.SortFunc(list, func(a, b answer) int { return cmp.Compare(a.value, b.value) })
	list = slices.CompactFunc(list, func(a, b answer) bool { return ledger.Fold(a.value) == ledger.Fold(b.value) })
	return slices.DeleteFunc(list, func(a answer) bool { return a.value == "" || strings.HasPrefix(a.value, "-") })
}

// patiently answers from slow, or with quick if slow fails or takes longer than somebody who pressed Tab waits.
func (s *source) patiently(quick []answer, slow func() ([]answer, error)) []answer {
	found := make(chan []answer, 1)
	go func() {
		list, err := slow()
		if err != nil {
			list = quick
		}
		found <- list
	}()
	var late <-chan time.Time
	if s.patience > 0 {
		late = time.After(s.patience)
	}
	select {
	case list := <-found:
		return list
	case <-late:
		return quick
	}
}

// spools answers with what is on the shelf and how much is left; where consumption can't be read in time, with what the scale said last.
func (s *source) spools(v *ledger.View) []answer {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil
	}
	list := func(left func(*inventory.Spool) string) (list []answer) {
		for _, spool := range shelf.Spools {
			if !spool.Ended {
				list = append(list, answer{spool.ID, strings.TrimSpace(spool.Material+" "+spool.Colour) + left(spool)})
			}
		}
		return byValue(list)
	}
	weighed := list(func(spool *inventory.Spool) string {
		if w := spool.LastWeighed(); w != nil {
			return fmt.Sprintf(", gross %s g on %s", w.GrossG.Grams, w.At.Std().Format(time.DateOnly))
		}
		return ""
	})
	return s.patiently(weighed, func() ([]answer, error) {
		if err := shelf.ReadConsumption(v); err != nil {
			return nil, err
		}
		return list(func(spool *inventory.Spool) string { return fmt.Sprintf(", %.0f g left", max(spool.Likely(), 0)) }), nil
	})
}

// spoolsAnd answers with spools between a prefix and a suffix; after a colon, with the kinds of grams.
func (s *source) spoolsAnd(v *ledger.View, prefix, suffix string) []answer {
	if spool, masses, ok := strings.Cut(s.typed[len(prefix):], ":"); ok {
		done := prefix + spool + ":" + masses[:strings.LastIndex(masses, ",")+1]
		return []answer{{done + "part=", "grams"}, {done + "support=", "grams"}, {done + "prime=", "grams"}, {done + "purge=", "grams"}, {done + "changes=", "how many"}}
	}
	if i := strings.LastIndexByte(s.typed, '+'); i > len(prefix) {
		prefix = s.typed[:i+1]
	}
	list := s.spools(v)
	for i := range list {
		list[i].value = prefix + list[i].value + suffix
	}
	return list
}

// slots answers with slots, each followed by the spool for it, or by a material and a colour.
func (s *source) slots(v *ledger.View, suffix string) (list []answer) {
	slot, target, ok := strings.Cut(s.typed, "=")
	if !ok {
		most := 0
		printers, _ := v.PrintersInOrder()
		for _, p := range printers {
			feeds := 0
			for _, n := range p.FeedsOf() {
				feeds += n
			}
			most = max(most, feeds)
		}
		for i := range most {
			list = append(list, answer{fmt.Sprintf("%d=", i), "slot"})
		}
		return list
	}
	list = s.spoolsAnd(v, slot+"=", suffix)
	if strings.ContainsAny(target, ":+") {
		return list
	}
	purchases, _ := v.Purchases()
	var kinds []answer
	for _, p := range purchases {
		kinds = append(kinds, answer{slot + "=" + p.Material + "/" + p.Colour + suffix, "any spool of it"})
	}
	return append(list, byValue(kinds)...)
}

// handles answers with the last commands; with none where the book is too long to look for them.
func (s *source) handles(v *ledger.View) []answer {
	return s.patiently(nil, func() (list []answer, err error) {
		commands, err := recording.Recent(v, 20)
		for _, c := range commands {
			if c.Cancelled < len(c.Rows) {
				list = append(list, answer{c.Handle, c.What})
			}
		}
		return list, err
	})
}

// jobs answers with the queue; where consumption can't be read in time, with all jobs that were ever queued.
func (s *source) jobs(v *ledger.View) (queued []answer) {
	needs, _ := v.Needs()
	for _, n := range needs {
		queued = append(queued, answer{n.Job, strings.TrimSpace(n.Client + " " + n.Printer)})
	}
	return s.patiently(byValue(queued), func() (list []answer, err error) {
		_, jobs, err := inventory.Queue(v)
		for _, job := range jobs {
			list = append(list, answer{job.Name, strings.TrimSpace(job.Client + " " + job.Printer)})
		}
		return list, err
	})
}

func (s *source) clients(v *ledger.View) (list []answer) {
	rows, _ := v.Clients()
	for _, name := range slices.Sorted(maps.Keys(rows)) {
		list = append(list, answer{rows[name].Client, rows[name].Name})
	}
	return byValue(list)
}

func (s *source) bills(v *ledger.View) (list []answer) {
	bills, _ := v.Bills()
	for _, b := range bills {
		list = append(list, answer{b.Bill, fmt.Sprintf("%s, %s to %s", b.Client, b.From, b.To)})
	}
	return byValue(list)
}

func (s *source) printers(v *ledger.View) (list []answer) {
	rows, _ := v.PrintersInOrder()
	for _, p := range rows {
		list = append(list, answer{p.Printer, "feeds " + p.Feeds})
	}
	return list
}

// places answers with the feeds of every printer, and with where spools are.
func (s *source) places(v *ledger.View) (list []answer) {
	printers, _ := v.PrintersInOrder()
	for _, p := range printers {
		feed := 0
		for _, n := range p.FeedsOf() {
			for range n {
				list = append(list, answer{fmt.Sprintf("%s/%d", p.Printer, feed), ""})
				feed++
			}
		}
	}
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return list
	}
	at := map[string]string{}
	for _, spool := range shelf.Spools {
		if spool.Place != "" && !spool.Ended {
			at[ledger.Fold(spool.Place)] = spool.ID
			list = append(list, answer{spool.Place, ""})
		}
	}
	for i := range list {
		list[i].about = at[ledger.Fold(list[i].value)]
	}
	return byValue(list)
}
