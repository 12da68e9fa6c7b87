package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
)

// People name an entry by its handle or by FILE:LINE, as messages print it. A handle is any ending of the entry's ID that has at least
// minHandle characters and fits no other entry. The rows of one command are those of one file with consecutive entries.

// minHandle is the least number of characters of a handle.
const minHandle = 4

// Command is the rows that one command recorded, in the order of their entries.
type Command struct {
	Booked time.Time // when it was recorded, by its entries; for a row without an entry, the row's own time
	File   string
	Rows   []Row
	Handle string // of its first row
}

// mark is one entry: its file and ID, when it was recorded, and whether it exists as of the view's instant.
type mark struct {
	file, id string
	booked   time.Time
	exists   bool
}

// marks returns every entry that a void can cancel, once each.
func (v *View) marks() ([]mark, error) {
	var all []mark
	seen := map[string]bool{}
	err := v.eachRow(func(file string, row Row) {
		h := row.head()
		if seen[h.ID] {
			return
		}
		booked, ok := Made(h.Entry)
		if !ok {
			booked = h.At.Std()
		}
		id := strings.Clone(h.ID)
		seen[id] = true
		all = append(all, mark{file, id, booked, v.asOf.IsZero() || !h.At.After(v.asOf)})
	})
	return all, err
}

// LastCommands returns the last n commands, cancelled ones too, the latest first.
func (v *View) LastCommands(n int) ([]Command, error) {
	all, err := v.marks()
	if err != nil {
		return nil, err
	}
	slices.SortFunc(all, func(a, b mark) int {
		return cmp.Or(b.booked.Compare(a.booked), cmp.Compare(b.id, a.id))
	})
	var commands []Command
	of := map[string]int{} // index of the command of each ID
	var before mark
	for _, m := range all {
		if !m.exists || m.file == SlicedFiles { // recorded by the way, before a command's own rows
			continue
		}
		if m.file != before.file || !consecutive(m.id, before.id) {
			if len(commands) == n {
				break
			}
			commands = append(commands, Command{Booked: m.booked, File: m.file})
		}
		before = m
		of[m.id] = len(commands) - 1
	}
	found, err := v.Lookup(func(h *Head) bool { _, ok := of[h.ID]; return ok })
	if err != nil {
		return nil, err
	}
	for _, l := range eachOnce(found) {
		c := &commands[of[l.Row.head().ID]]
		c.Rows = append(c.Rows, l.Row)
	}
	first := make([]string, len(commands))
	for i := range commands {
		slices.SortFunc(commands[i].Rows, func(a, b Row) int { return cmp.Compare(a.head().ID, b.head().ID) })
		first[i] = commands[i].Rows[0].head().ID
	}
	handles := shortest(all, first)
	for i := range commands {
		commands[i].Handle = handles[first[i]]
	}
	return commands, nil
}

// Handles returns the shortest handle of each ID.
func (v *View) Handles(ids []string) (map[string]string, error) {
	all, err := v.marks()
	return shortest(all, ids), err
}

// shortest returns the shortest handle of each of ids among all entries.
func shortest(all []mark, ids []string) map[string]string {
	endings := make([]string, 0, len(all)) // reversed, so that sorting puts equal endings side by side
	for _, m := range all {
		endings = append(endings, reversed(m.id))
	}
	slices.Sort(endings)
	handles := map[string]string{}
	for _, id := range ids {
		end := reversed(strings.ToUpper(id))
		i, found := slices.BinarySearch(endings, end)
		n := minHandle
		if i > 0 {
			n = max(n, shared(endings[i-1], end)+1)
		}
		if found {
			i++
		}
		if i < len(endings) {
			n = max(n, shared(endings[i], end)+1)
		}
		handles[id] = id[max(0, len(id)-n):]
	}
	return handles
}

func reversed(s string) string {
	b := []byte(s)
	slices.Reverse(b)
	return string(b)
}

// shared returns the length of the common prefix.
func shared(a, b string) int {
	n := 0
	for n < min(len(a), len(b)) && a[n] == b[n] {
		n++
	}
	return n
}

// consecutive reports whether b is the ULID after a.
func consecutive(a, b string) bool {
	x, err1 := ulid.ParseStrict(a)
	y, err2 := ulid.ParseStrict(b)
	if err1 != nil || err2 != nil {
		return false
	}
	for i := len(x) - 1; i >= 0; i-- {
		x[i]++
		if x[i] != 0 {
			break
		}
	}
	return x == y
}

// eachOnce keeps one row of each entry. An entry in conflict has several.
func eachOnce(found []Located) []Located {
	seen := map[string]bool{}
	return slices.DeleteFunc(found, func(l Located) bool {
		id := l.Row.head().ID
		twice := seen[id]
		seen[id] = true
		return twice
	})
}

// Named returns the row of each name, which is a handle or FILE:LINE. For an entry in conflict it returns any of its rows.
func (v *View) Named(names []string) ([]Located, error) {
	wants := make([]want, len(names))
	for i, name := range names {
		var err error
		if wants[i], err = wanted(name); err != nil {
			return nil, err
		}
	}
	found, err := v.Lookup(func(h *Head) bool {
		return slices.ContainsFunc(wants, func(w want) bool { return w.fits("", h) })
	})
	if err != nil {
		return nil, err
	}
	var rows []Located
	var errs []error
	for i, w := range wants {
		var fit []Located
		for _, l := range found {
			if w.fits(l.File, l.Row.head()) {
				fit = append(fit, l)
			}
		}
		switch fit = eachOnce(fit); {
		case len(fit) == 1:
			rows = append(rows, fit[0])
		case len(fit) > 1:
			errs = append(errs, severalFit(Trim(names[i]), fit))
		case w.file != "":
			errs = append(errs, fmt.Errorf("no row begins at %s:%d; find it with: tarebook recent", w.file, w.line))
		default:
			errs = append(errs, fmt.Errorf("no entry %q in this book; find it with: tarebook recent", Trim(names[i])))
		}
	}
	return rows, errors.Join(errs...)
}

// severalFit returns the error for a handle that fits several entries, and lists them.
func severalFit(handle string, fit []Located) error {
	var lines []string
	for _, l := range fit[:min(len(fit), mostLines)] {
		lines = append(lines, fmt.Sprintf("%s:%d", l.File, l.Row.head().Line))
	}
	if more := len(fit) - len(lines); more > 0 {
		lines = append(lines, fmt.Sprintf("%d more", more))
	}
	return fmt.Errorf("handle %s fits %d entries: %s; write more of its end, or one of these", handle, len(fit), strings.Join(lines, ", "))
}

// want is a parsed name of an entry: its ending, or file and line.
type want struct {
	ending string
	file   string
	line   int
}

func wanted(name string) (w want, err error) {
	name = Trim(name)
	if file, line, ok := strings.Cut(name, ":"); ok {
		w.file = strings.ToLower(file)
		if w.line, err = strconv.Atoi(line); err != nil {
			return w, fmt.Errorf("%q is no FILE:LINE; write it as weighins.csv:12", name)
		}
		switch {
		case slices.Contains(Tables, w.file):
			return w, fmt.Errorf("%s is in a table, which no void reaches; mend that line by hand", name)
		case w.file == Seals || !slices.Contains(Ledgers, w.file):
			return w, fmt.Errorf("%s is in no ledger that a void reaches", name)
		}
		return w, nil
	}
	if len(name) < minHandle {
		return w, fmt.Errorf("%q is too short for a handle; write at least the last %d characters of an entry, as tarebook recent shows them", name, minHandle)
	}
	w.ending = strings.ToUpper(name)
	return w, nil
}

// fits reports whether a row has that name. A blank file fits any file.
func (w want) fits(file string, h *Head) bool {
	if w.file != "" {
		return h.Line == w.line && (file == "" || file == w.file)
	}
	return strings.HasSuffix(h.ID, w.ending)
}

// CommandOf returns the rows of the command that recorded a row, cancelled ones too, in the order of their entries.
func (v *View) CommandOf(row Located) ([]Located, error) {
	if row.Row.head().Entry == "" {
		return []Located{row}, nil
	}
	id := row.Row.head().ID
	instant := id[:10] // the time in a ULID
	found, err := v.Lookup(func(h *Head) bool { return h.Entry != "" && strings.HasPrefix(h.ID, instant) })
	if err != nil {
		return nil, err
	}
	found = slices.DeleteFunc(eachOnce(found), func(l Located) bool { return l.File != row.File })
	slices.SortFunc(found, func(a, b Located) int { return cmp.Compare(a.Row.head().ID, b.Row.head().ID) })
	at := slices.IndexFunc(found, func(l Located) bool { return l.Row.head().ID == id })
	first, last := at, at
	for first > 0 && consecutive(found[first-1].Row.head().ID, found[first].Row.head().ID) {
		first--
	}
	for last+1 < len(found) && consecutive(found[last].Row.head().ID, found[last+1].Row.head().ID) {
		last++
	}
	return found[first : last+1], nil
}
