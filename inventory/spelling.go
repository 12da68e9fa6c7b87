package inventory

import (
	"strings"

	"tarebook/ledger"
)

// Spellings holds how the names of jobs, clients, printers, colours, makers and lots are shown: as in their table, else as in their earliest live row.
// Names that differ only in case are one name.
type Spellings struct {
	kinds [nameKinds]ledger.NameMap[*spelling]
}

// NameKind says what has the name.
type NameKind int

// The kinds of names that are spelled.
const (
	JobName NameKind = iota
	ClientName
	PrinterName
	ColourName
	MakerName
	LotName
	nameKinds
)

// Ranks of what spells a name, at the same instant.
const (
	tableRank = iota - 1 // before any row
	purchaseRank
	consumptionRank
	queueRank
)

type spelling struct {
	text  string
	at    ledger.Time
	rank  int
	order string // of rows of one ledger at one instant
}

// Table notes how a table spells a name. The first spelling holds.
func (s *Spellings) Table(kind NameKind, text string) { s.see(kind, text, &ledger.Head{}, tableRank) }

// Purchase notes how a purchase spells a name.
func (s *Spellings) Purchase(kind NameKind, text string, p *ledger.Purchase) {
	s.see(kind, text, &p.Head, purchaseRank)
}

// Consumption notes how a consumption row spells a name.
func (s *Spellings) Consumption(kind NameKind, text string, row *ledger.Consumption) {
	s.see(kind, text, &row.Head, consumptionRank)
}

// Need notes how a queued row spells a name.
func (s *Spellings) Need(kind NameKind, text string, row *ledger.Need) {
	s.see(kind, text, &row.Head, queueRank)
}

func (s *Spellings) see(kind NameKind, text string, head *ledger.Head, rank int) {
	if text == "" {
		return
	}
	found, old := spelling{text: text, at: head.At, rank: rank}, s.kinds[kind].Get(text)
	if old != nil && !found.before(old, head.Order) {
		return
	}
	if rank != tableRank {
		found.order = strings.Clone(head.Order())
	}
	if old == nil {
		old = new(spelling)
		s.kinds[kind].Set(text, old)
	}
	if found.text = old.text; text != old.text {
		found.text = strings.Clone(text)
	}
	*old = found
}

// before reports whether a spelling counts instead of another. Its order is asked for only in a tie: that of a row without an entry
// takes long to compute.
func (s *spelling) before(o *spelling, order func() string) bool {
	if s.rank == tableRank || o.rank == tableRank {
		return s.rank < o.rank
	}
	if c := s.at.Compare(o.at); c != 0 {
		return c < 0
	}
	return s.rank < o.rank || s.rank == o.rank && order() < o.order
}

// SeeKnown notes names of a consumption row that are known already.
func (s *Spellings) SeeKnown(row *ledger.Consumption) {
	for kind, text := range [...]string{JobName: row.Job, ClientName: row.Client, PrinterName: row.Printer} {
		if s.kinds[kind].Get(text) != nil {
			s.see(NameKind(kind), text, &row.Head, consumptionRank)
		}
	}
}

// Merge takes the earlier of two spellings of each name. The other spellings are not used any more.
func (s *Spellings) Merge(o *Spellings) {
	for kind := range o.kinds {
		for key, theirs := range o.kinds[kind].All() {
			if ours := s.kinds[kind].Get(key); ours == nil {
				s.kinds[kind].Set(key, theirs)
			} else if theirs.before(ours, func() string { return theirs.order }) {
				*ours = *theirs
			}
		}
	}
}

// Clone returns a copy that can be added to by itself.
func (s *Spellings) Clone() (c Spellings) {
	for kind := range s.kinds {
		for key, known := range s.kinds[kind].All() {
			copied := *known
			c.kinds[kind].Set(key, &copied)
		}
	}
	return c
}

// Spell returns a name as it is shown.
func (s *Spellings) Spell(kind NameKind, text string) string {
	if known := s.kinds[kind].Get(text); known != nil {
		return known.text
	}
	return text
}

// Names returns all names of a kind, by their folded form.
func (s *Spellings) Names(kind NameKind) map[string]string {
	all := map[string]string{}
	for key, known := range s.kinds[kind].All() {
		all[key] = known.text
	}
	return all
}
