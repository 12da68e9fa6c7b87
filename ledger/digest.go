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

// digests are of one month: of its rows with numbers in their shortest form, as seals are made, and as typed, as they once were.
type digests struct{ shortest, typed digest }

// are tells whether the rows are those that were sealed, in either form.
func (d digests) are(s *Seal) bool {
	sealed := digest{s.Rows.N, s.SHA256}
	return d.shortest == sealed || d.typed == sealed
}

// monthSum adds up one month in both forms.
type monthSum struct{ shortest, typed formSum }

func (t *monthSum) unordered() bool { return t.shortest.unordered || t.typed.unordered }

// formSum adds up one month in one form. Rows come in ledger order but for the few that a person or a merge has put elsewhere; a
// month with such a row is gathered and sorted in a second pass.
type formSum struct {
	rows      int
	hash      hash.Hash
	last      sealedRow // of the rows added
	unordered bool
	gathered  []sealedRow
}

// sealedRow is what puts a row in its place, and its form.
type sealedRow struct {
	at            Time
	order, id     string
	form, content string
}

// same tells whether two rows are one entry that stands twice.
func (s sealedRow) same(o sealedRow) bool { return s.id == o.id && s.content == o.content }

func (s sealedRow) compare(o sealedRow) int {
	return cmp.Or(s.at.Compare(o.at), strings.Compare(s.order, o.order), strings.Compare(s.form, o.form))
}

// newSealedRow returns a row in one form. One without entry is known, and put in its place, by its content in that form.
func newSealedRow(h *Head, form string) sealedRow {
	s := sealedRow{at: h.At, order: strings.Clone(h.ID), id: strings.Clone(h.ID), form: form, content: contentOf(form)}
	if h.Entry == "" {
		s.order, s.id = " "+form, ""
	}
	return s
}

func (t *formSum) add(s sealedRow) {
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

// digest returns the sum of all that was added, or gathered.
func (t *formSum) digest() digest {
	if t.unordered {
		t.rows = 0
		t.hash.Reset()
		slices.SortFunc(t.gathered, sealedRow.compare)
		for i, s := range t.gathered {
			if i > 0 && s.same(t.gathered[i-1]) {
				continue
			}
			t.rows++
			io.WriteString(t.hash, s.form)
		}
	}
	return digest{t.rows, hex.EncodeToString(t.hash.Sum(nil))}
}

// digests returns the digests of each month wanted of one ledger, over the rows that covers says are meant. Memory grows with the
// longest month that is out of order, not with the ledger.
func (v *View) digests(file string, months map[string]bool, covers func(Row) bool, bad func(*RowError)) (map[string]digests, error) {
	sums := map[string]*monthSum{}
	for month := range months {
		sums[month] = &monthSum{formSum{hash: sha256.New()}, formSum{hash: sha256.New()}}
	}
	scan := func(take func(t *monthSum, shortest, typed sealedRow), bad func(*RowError)) error {
		return v.scanRows(file, func(r Row) {
			h := r.head()
			t := sums[h.At.utcMonth()]
			if t == nil || !v.asOf.IsZero() && h.At.After(v.asOf) || !covers(r) {
				return
			}
			record := h.record()
			take(t, newSealedRow(h, h.layout.shortest(record)), newSealedRow(h, h.layout.canonical(record)))
		}, bad)
	}
	err := scan(func(t *monthSum, shortest, typed sealedRow) {
		if !t.unordered() {
			t.shortest.add(shortest)
			t.typed.add(typed)
		}
	}, bad)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(slices.Collect(maps.Values(sums)), (*monthSum).unordered) {
		err := scan(func(t *monthSum, shortest, typed sealedRow) {
			if t.unordered() {
				t.shortest.unordered, t.typed.unordered = true, true
				t.shortest.gathered = append(t.shortest.gathered, shortest)
				t.typed.gathered = append(t.typed.gathered, typed)
			}
		}, func(*RowError) {})
		if err != nil {
			return nil, err
		}
	}
	found := map[string]digests{}
	for month, t := range sums {
		found[month] = digests{t.shortest.digest(), t.typed.digest()}
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
	case SlicedFiles:
		return scanSmall[SlicedFile](v, file, each, bad)
	case Bills:
		return scanSmall[Bill](v, file, each, bad)
	}
	return fmt.Errorf("%s is no ledger that can be sealed", file)
}

func scanSmall[T any, R RowOf[T]](v *View, file string, each func(Row), bad func(*RowError)) error {
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
