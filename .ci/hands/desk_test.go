package hands

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// command is one recording and the rows that it is to leave.
type command struct {
	mark         string // stands in each of its rows and in no other
	file         string
	args         []string
	rows         []row
	acknowledged bool // it exited with status 0
	voidTried    bool // so its rows may be hidden
}

// markColumns are where the mark stands.
var markColumns = map[string]string{weighins: "note", moves: "note", consumption: "job", queue: "job", voids: "why"}

// desk knows all that was recorded on one book, by whomever.
type desk struct {
	mu       sync.Mutex
	book     string
	commands []*command
	weighed  map[string]*command // by gross: no two commands weigh the same
	jobs     map[string]*command // consumption, by job
}

func newDesk(book string) *desk {
	return &desk{book: book, weighed: map[string]*command{}, jobs: map[string]*command{}}
}

// acknowledge notes that a command has exited with status 0.
func (d *desk) acknowledge(c *command) {
	d.mu.Lock()
	defer d.mu.Unlock()
	c.acknowledged = true
}

// settled are the commands whose rows every look from now on must show, unless a void is tried meanwhile.
func (d *desk) settled() []*command {
	d.mu.Lock()
	defer d.mu.Unlock()
	var list []*command
	for _, c := range d.commands {
		if c.acknowledged && !c.voidTried {
			list = append(list, c)
		}
	}
	return list
}

// hand is one of those who record: it makes up commands.
type hand struct {
	desk         *desk
	name         string
	book         string
	random       *rand.Rand
	toWeigh      []string
	toPrint      []string
	consumeFlags []string
	own          []*command // acknowledged, with no void of them tried
	made         int
}

// next makes up a command. What it says of the spools is plausible, so that no guard at the bench refuses it.
func (h *hand) next() (*command, error) {
	h.made++
	mark := fmt.Sprintf("%s-%05d", h.name, h.made)
	c := &command{mark: mark}
	switch n := h.random.IntN(100); {
	case n < 35:
		h.weigh(c)
	case n < 65:
		h.consume(c)
	case n < 76:
		h.queue(c)
	case n < 88 || len(h.own) == 0:
		c.file = moves
		spool, place := h.toPrint[h.random.IntN(len(h.toPrint))], fmt.Sprintf("rack %d", h.random.IntN(40))
		c.args = []string{"move", spool, place, "--note", mark}
		c.rows = []row{{"spool": spool, "place": place}}
	default:
		if err := h.void(c); err != nil {
			return nil, err
		}
	}
	c.args = append([]string{"--book", h.book}, c.args...)
	h.desk.mu.Lock()
	defer h.desk.mu.Unlock()
	h.desk.commands = append(h.desk.commands, c)
	switch c.file {
	case weighins:
		// 500.001 g upwards: the gross is then a mark too, which reconcile shows.
		n := len(h.desk.weighed) + 1
		gross := fmt.Sprintf("%d.%03d", 500+n/1000, n%1000)
		h.desk.weighed[gross] = c
		for i := range c.rows {
			c.rows[i]["gross_g"] = gross
			c.args[slices.Index(c.args, c.rows[i]["spool"])+1] = gross
		}
	case consumption:
		h.desk.jobs[c.mark] = c
	}
	return c, nil
}

func (h *hand) some(spools []string, n int) []string {
	var list []string
	for _, i := range h.random.Perm(len(spools))[:n] {
		list = append(list, spools[i])
	}
	return list
}

func (h *hand) weigh(c *command) {
	c.file, c.args = weighins, []string{"weigh"}
	for _, spool := range h.some(h.toWeigh, 1+h.random.IntN(3)) {
		c.args = append(c.args, spool, "gross")
		c.rows = append(c.rows, row{"spool": spool, "state": "loaded", "note": c.mark})
	}
	c.args = append(c.args, "--note", c.mark)
}

func (h *hand) consume(c *command) {
	c.file, c.args = consumption, []string{"consume", c.mark}
	for _, spool := range h.some(h.toPrint, 3) {
		part, purge := h.grams(), h.grams()
		c.args = append(c.args, fmt.Sprintf("%s:part=%s,purge=%s", spool, part, purge))
		c.rows = append(c.rows, row{"spool": spool, "part_g": part, "purge_g": purge, "client": "pellam"})
	}
	c.args = append(append(c.args, "--client", "pellam", "--printer", "TWIN"), h.consumeFlags...)
}

func (h *hand) grams() string { return fmt.Sprintf("%d.%03d", h.random.IntN(2), 1+h.random.IntN(999)) }

func (h *hand) queue(c *command) {
	c.mark = "to-come-" + c.mark // no name that could be taken for one of a job done
	c.file, c.args = queue, []string{"queue", "add", c.mark}
	for slot, spool := range h.some(h.toPrint, 2) {
		part := h.grams()
		c.args = append(c.args, fmt.Sprintf("%d=%s:part=%s", slot, spool, part))
		c.rows = append(c.rows, row{"slot": fmt.Sprint(slot), "spool": spool, "part_g": part})
	}
	c.args = append(c.args, "--client", "pellam")
}

// void cancels all rows of an earlier command of this hand, whose entries it looks up in the ledger.
func (h *hand) void(c *command) error {
	i := h.random.IntN(len(h.own))
	earlier := h.own[i]
	h.own = slices.Delete(h.own, i, i+1)
	entries, err := entriesOf(h.book, earlier.file, earlier.mark, len(earlier.rows))
	if err != nil {
		return err
	}
	h.desk.mu.Lock()
	earlier.voidTried = true
	h.desk.mu.Unlock()
	c.file, c.args = voids, slices.Concat([]string{"void"}, entries, []string{"--why", c.mark})
	for _, entry := range entries {
		c.rows = append(c.rows, row{"target": entry})
	}
	return nil
}

// entriesOf looks up the entries of the rows that bear a mark, which must be so many.
func entriesOf(book, file, mark string, rows int) ([]string, error) {
	text, err := os.ReadFile(filepath.Join(book, file))
	if err != nil {
		return nil, err
	}
	var entries []string
	for line := range strings.Lines(string(text)) {
		if strings.Contains(line, mark) {
			entry, _, _ := strings.Cut(line, ",")
			entries = append(entries, entry)
		}
	}
	if len(entries) != rows {
		return nil, fmt.Errorf("%s was acknowledged, and %d of its %d rows are in %s", mark, len(entries), rows, file)
	}
	return entries, nil
}

// acknowledged notes that a command of this hand is in the book.
func (h *hand) acknowledged(c *command) {
	h.desk.acknowledge(c)
	if c.file != voids {
		h.own = append(h.own, c)
	}
}

// look runs one look command and holds its answer against what was recorded: of each command all rows or none, and all
// of those acknowledged before. It returns how many batches it saw.
func (d *desk) look(p *program, what string) (batches int, o outcome, faults []string) {
	before := d.settled()
	bad := func(format string, args ...any) { faults = append(faults, what+": "+fmt.Sprintf(format, args...)) }
	wantStatus0 := func(o outcome, err error) bool {
		if err == nil {
			err = o.failed(0)
		}
		if err != nil {
			bad("%v", err)
		}
		return err == nil
	}
	missing := func(file string, seen map[string]bool) {
		d.mu.Lock()
		defer d.mu.Unlock()
		for _, c := range before {
			if c.file == file && !c.voidTried && !seen[c.mark] {
				bad("%s was acknowledged before, and is not to be seen", c.mark)
			}
		}
	}
	switch what {
	case "stock":
		var spools []struct{ Spool string }
		o, err := p.asked(d.book, &spools, "stock")
		if wantStatus0(o, err) && len(spools) == 0 {
			bad("no spool")
		}
		return 0, o, faults
	case "verify":
		var v verified
		o, err := p.asked(d.book, &v, "verify")
		if wantStatus0(o, err) && len(v.Problems) > 0 {
			bad("%v", v.Problems)
		}
		rows := 0
		for _, c := range before {
			rows += len(c.rows)
		}
		if err == nil && v.Entries < rows {
			bad("%d entries, and %d were acknowledged before", v.Entries, rows)
		}
		return 0, o, faults
	case "reconcile":
		var readings []struct {
			Spool  string
			GrossG float64 `json:"gross_g"`
		}
		o, err := p.asked(d.book, &readings, "reconcile")
		if !wantStatus0(o, err) {
			return 0, o, faults
		}
		rows := map[string]int{}
		for _, r := range readings {
			rows[fmt.Sprintf("%.3f", r.GrossG)]++
		}
		seen := map[string]bool{}
		d.mu.Lock()
		for gross, n := range rows {
			if c := d.weighed[gross]; c == nil {
				bad("nobody weighed %s g", gross)
			} else if seen[c.mark] = true; n != len(c.rows) {
				bad("%d of the %d rows of %s", n, len(c.rows), c.mark)
			}
		}
		d.mu.Unlock()
		missing(weighins, seen)
		return len(seen), o, faults
	}
	var w struct {
		Rows []struct {
			Key    string
			PartG  float64 `json:"part_g"`
			PurgeG float64 `json:"purge_g"`
		}
	}
	o, err := p.asked(d.book, &w, "waste", "--by", "job")
	if !wantStatus0(o, err) {
		return 0, o, faults
	}
	seen := map[string]bool{}
	d.mu.Lock()
	for _, r := range w.Rows {
		c := d.jobs[r.Key]
		if c == nil {
			bad("nobody booked the job %s", r.Key)
			continue
		}
		seen[c.mark] = true
		part, purge := c.sum("part_g"), c.sum("purge_g")
		if milligrams(r.PartG) != part || milligrams(r.PurgeG) != purge {
			bad("%s shows %g g part and %g g purge, and took %d mg and %d mg", c.mark, r.PartG, r.PurgeG, part, purge)
		}
	}
	d.mu.Unlock()
	missing(consumption, seen)
	return len(seen), o, faults
}

var looks = []string{"stock", "verify", "reconcile", "waste"}

func milligrams(grams float64) int { return int(math.Round(grams * 1000)) }

func (c *command) sum(column string) int {
	sum := 0
	for _, r := range c.rows {
		var whole, thousandths int
		if _, err := fmt.Sscanf(r[column], "%d.%03d", &whole, &thousandths); err != nil {
			panic(err)
		}
		sum += 1000*whole + thousandths
	}
	return sum
}
