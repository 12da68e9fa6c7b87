package ledger

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"maps"
	"slices"
	"strings"
)

// What a seal says of the rows of a month: how many there are, and the SHA-256 of their canonical forms.

// digest is what a seal says of the rows it covers.
type digest struct {
	rows int
	sum  string // SHA-256 in lower-case hex
}

// monthSum adds up one month. Rows come in ledger order but for the few that a person or a merge has put elsewhere; a
// month with such a row is gathered and sorted in a second pass.
type monthSum struct {
	rows      int
	hash      hash.Hash
	last      sealed // of the rows added
	unordered bool
	gathered  []sealed
}

// sealed is what puts a row in its place, and its canonical form.
type sealed struct {
	at            Time
	order, id     string
	form, content string
}

// same tells whether two rows are one entry that stands twice.
func (s sealed) same(o sealed) bool { return s.id == o.id && s.content == o.content }

func (s sealed) compare(o sealed) int {
	return cmp.Or(s.at.Compare(o.at), strings.Compare(s.order, o.order), strings.Compare(s.form, o.form))
}

func (t *monthSum) add(s sealed) {
	if t.rows > 0 {
		if s.same(t.last) {
			return
		}
		if cmp.Or(t.last.at.Compare(s.at), strings.Compare(t.last.order, s.order)) >= 0 {
			t.unordered = true
			return
		}
	}
	t.last = s
	t.rows++
	io.WriteString(t.hash, s.form)
}

// digests returns the digest of each month wanted of one ledger, over the rows that count says do. Memory grows with the
// longest month that is out of order, not with the ledger.
func (v *View) digests(file string, months map[string]bool, covers func(Row) bool, bad func(*RowError)) (map[string]digest, error) {
	tallies := map[string]*monthSum{}
	for month := range months {
		tallies[month] = &monthSum{hash: sha256.New()}
	}
	take := func(r Row) (*monthSum, sealed) {
		h := r.head()
		t := tallies[h.At.utcMonth()]
		if t == nil || !v.asOf.IsZero() && h.At.After(v.asOf) || !covers(r) {
			return nil, sealed{}
		}
		form := h.canonical()
		s := sealed{at: h.At, order: strings.Clone(h.ID), id: strings.Clone(h.ID), form: form, content: contentOf(form)}
		if h.Entry == "" {
			s.order = " " + form
		}
		return t, s
	}
	err := v.scanRows(file, func(r Row) {
		if t, s := take(r); t != nil && !t.unordered {
			t.add(s)
		}
	}, bad)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(slices.Collect(maps.Values(tallies)), func(t *monthSum) bool { return t.unordered }) {
		err := v.scanRows(file, func(r Row) {
			if t, s := take(r); t != nil && t.unordered {
				t.gathered = append(t.gathered, s)
			}
		}, func(*RowError) {})
		if err != nil {
			return nil, err
		}
	}
	found := map[string]digest{}
	for month, t := range tallies {
		if t.unordered {
			t.rows = 0
			t.hash.Reset()
			slices.SortFunc(t.gathered, sealed.compare)
			for i, s := range t.gathered {
				if i > 0 && s.same(t.gathered[i-1]) {
					continue
				}
				t.rows++
				io.WriteString(t.hash, s.form)
			}
		}
		found[month] = digest{t.rows, hex.EncodeToString(t.hash.Sum(nil))}
	}
	return found, nil
}

// scanRows calls each with every row of a ledger that keeps the file's rules, in the order of lines, whatever it names and
// whether it counts or not, and bad with every one that does not. Rows may be reused.
func (v *View) scanRows(file string, each func(Row), bad func(*RowError)) error {
	if file == ConsumptionFile {
		f, err := v.open(file)
		if err != nil || f == nil {
			return err
		}
		c := &Consumption{}
		_, err = scanRows(v.newScanner(f, file), c, func(int, string) {
			c.setID()
			each(c)
		}, func(e *RowError, _ []string) { bad(e) })
		return errors.Join(err, f.Close())
	}
	switch file {
	case Purchases:
		return scanSmall[Purchase](v, file, each, bad)
	case Weighins:
		return scanSmall[Weighin](v, file, each, bad)
	case Queue:
		return scanSmall[Need](v, file, each, bad)
	case Moves:
		return scanSmall[Move](v, file, each, bad)
	case Voids:
		return scanSmall[Void](v, file, each, bad)
	}
	return fmt.Errorf("%s is no ledger that can be sealed", file)
}

func scanSmall[T any, R interface {
	*T
	Row
}](v *View, file string, each func(Row), bad func(*RowError)) error {
	d, err := decodeFile[T, R](v, file)
	if err != nil {
		return err
	}
	for _, row := range d.rows {
		each(R(row))
	}
	for _, e := range d.faults {
		bad(e)
	}
	return nil
}
