package inventory

import (
	"cmp"
	"errors"
	"maps"
	"math/big"
	"slices"
	"strings"

	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// Spool is one spool, with all that is computed of it from the book and the scale.
type Spool struct {
	ID       string
	Purchase *ledger.Purchase
	Weighins []*ledger.Weighin // that count, in the order of the ledger
	Readings []Reading         // one for each weigh-in; the one at an opened spool's purchase is not among them

	Material, Colour string // spelled as the book does
	Origin                  // its own, or of the spool it was wound off
	Filament         filament.Stock
	Place            string // where it is; of several at one slot of a machine only the last to come is there

	Tare  Tare
	Ended bool
	End   *ledger.Weighin // the weigh-in that ended it
	Net   ledger.Grams    // of the book, now; 0 once ended

	// Since the last weigh-in that moved the book, or since purchase.
	Base     ledger.Grams // the net then
	BaseU    float64      // and its standard uncertainty
	Weighed  ledger.Grams // W: weighed and wound-off grams since
	Others   ledger.Grams // E: other grams since
	Estimate Estimates    // how estimates run for this material

	AfterEnd bool // consumption was booked after the end

	priced    *ledger.Purchase // of itself, or of the spool it was wound off; nil when it is not known what it cost
	perGram   *big.Rat         // once Price was called
	currency  string
	windings  []winding       // off this spool, in order
	opening   *ledger.Weighin // the reading at its purchase
	brought   string          // the place to which it came last
	placed    placing
	u         *usage
	shelf     *Shelf
	lastGross *ledger.Weighin
}

// winding is filament wound off a spool onto another.
type winding struct {
	at    ledger.Time
	grams ledger.Grams
}

// placing is when a spool came to its place: by its purchase, or by a move.
type placing struct {
	at   ledger.Time
	rank int
	nth  int // in the order of its ledger
}

func (p *placing) compare(o *placing) int {
	return cmp.Or(p.at.Compare(o.at), cmp.Compare(p.rank, o.rank), cmp.Compare(p.nth, o.nth))
}

// Shelf holds every spool of a view, and the tables.
type Shelf struct {
	Settings  *ledger.Settings
	Spools    []*Spool // by purchase, the oldest first
	Materials map[string]*ledger.Material
	Cores     map[string]*ledger.Core
	Scales    map[string]*ledger.Scale
	Printers  map[string]*ledger.Printer
	ByID      map[string]*Spool // by their ids, which are in upper case

	byPlace map[string][]*Spool // unended ones brought to a place, the last to come first; once at was asked
	hints   int                 // near ids that were looked for
	shop    *estimator
	byMat   map[string]*estimator
	names   *Spellings
	usage   *Usage
	now     *Shelf // of a shelf of the past: what is known since

	lastScale string // that scaleU was asked for, which most weigh-ins share
	lastU     float64

	supposed ledger.Time // when weigh-ins that are not recorded yet were made
	kept     *KeptUsage  // consumption that was read before; nil: none is kept
}

// Spool returns the spool of that id, nil when no purchase of it counts.
func (s *Shelf) Spool(id string) *Spool { return ledger.Named(s.ByID, id) }

// Also returns a fold that is run in the same pass over consumption in which the shelf is loaded.
type Also func(*Shelf) (ledger.ConsumptionFold, error)

// Load reads the shelf of a view: purchases, weigh-ins, moves and consumption.
func Load(v *ledger.View, also ...Also) (*Shelf, error) {
	defer v.ReadAhead()()
	s, err := LoadSpools(v)
	if err != nil {
		return nil, err
	}
	return s, s.ReadConsumption(v, also...)
}

// LoadReadings is Load without printers and moves: where spools are is not known.
func LoadReadings(v *ledger.View, also ...Also) (*Shelf, error) {
	defer v.ReadAhead()()
	s, err := load(v, false)
	if err != nil {
		return nil, err
	}
	return s, s.ReadConsumption(v, also...)
}

// LoadSpools is Load without consumption: which spools there are, and where, but not what is on them.
func LoadSpools(v *ledger.View) (*Shelf, error) { return load(v, true) }

// load reads all but consumption, and where spools are only if places are wanted.
func load(v *ledger.View, places bool) (*Shelf, error) {
	s := &Shelf{ByID: map[string]*Spool{}, names: &Spellings{}}
	var errs [8]error
	var purchases []*ledger.Purchase
	var weighins []*ledger.Weighin
	var moves []*ledger.Move
	s.Settings, errs[0] = v.Settings()
	s.Materials, errs[1] = v.Materials()
	s.Cores, errs[2] = v.Cores()
	s.Scales, errs[3] = v.Scales()
	purchases, errs[5] = v.Purchases()
	weighins, errs[6] = v.Weighins()
	if places {
		s.Printers, errs[4] = v.Printers()
		moves, errs[7] = v.Moves()
	}
	if err := ledger.JoinFaults(errs[:]...); err != nil {
		return nil, err
	}
	for _, p := range purchases {
		s.names.Purchase(ColourName, p.Colour, p)
	}
	for i, p := range purchases {
		material := ledger.Named(s.Materials, p.Material)
		rho, u := material.Density()
		spool := &Spool{ID: p.Spool, Purchase: p, Material: material.Material, Colour: s.names.Spell(ColourName, p.Colour), shelf: s,
			Filament: filament.Stock{DiameterMM: p.DiameterMM.Float(0), TolMM: s.Settings.DiameterTol, Density: rho, DensityU: u},
			brought:  p.Place, placed: placing{p.At, purchaseRank, i}, opening: openingOf(p)}
		s.Spools = append(s.Spools, spool)
		s.ByID[spool.ID] = spool
	}
	for _, p := range purchases {
		if from := s.ByID[p.From]; from != nil {
			from.windings = append(from.windings, winding{p.At, p.NetG})
		}
	}
	for i, m := range moves {
		if spool := s.ByID[m.Spool]; spool != nil {
			spool.brought, spool.placed = m.Place, placing{m.At, purchaseRank + 1, i}
		}
	}
	s.link(weighins, s.ByID)
	s.settleOrigins()
	return s, nil
}

// link gives each of some spools its weigh-ins, and with them its end and its place.
func (s *Shelf) link(weighins []*ledger.Weighin, spools map[string]*Spool) {
	for _, spool := range spools {
		spool.Weighins, spool.lastGross, spool.End, spool.Ended = nil, spool.opening, nil, false
	}
	for _, w := range weighins {
		spool := spools[w.Spool]
		if spool == nil {
			continue
		}
		spool.Weighins = append(spool.Weighins, w)
		if spool.before(w.At) {
			continue
		}
		if w.GrossG.Given {
			spool.lastGross = w
		}
		if w.Ends() && spool.End == nil {
			spool.End, spool.Ended = w, true
		}
	}
	s.settlePlaces()
}

// Suppose lets a shelf without consumption, and its view, hold weigh-ins that are not recorded yet.
func (s *Shelf) Suppose(v *ledger.View, rows ...*ledger.Weighin) error {
	if err := v.Suppose(rows...); err != nil {
		return err
	}
	weighins, err := v.Weighins()
	if err != nil {
		return err
	}
	spools := map[string]*Spool{}
	for _, row := range rows {
		s.supposed = row.At
		if spool := s.ByID[row.Spool]; spool != nil {
			spools[row.Spool] = spool
		}
	}
	s.link(weighins, spools)
	return nil
}

// settlePlaces gives each spool the place to which it came last, but for unended spools that another has since displaced from a slot
// of a machine.
func (s *Shelf) settlePlaces() {
	last := map[string]*Spool{}
	for _, spool := range s.Spools {
		if spool.Place = spool.brought; spool.Ended || !s.machinePlace(spool.Place) {
			continue
		}
		key := ledger.Fold(spool.Place)
		if there := last[key]; there != nil {
			if there.placed.compare(&spool.placed) < 0 {
				there.Place = ""
			} else {
				spool.Place = ""
				continue
			}
		}
		last[key] = spool
	}
}

// machinePlace reports whether a place is PRINTER/SLOT of a printer of the book.
func (s *Shelf) machinePlace(place string) bool {
	i := strings.LastIndexByte(place, '/')
	return i > 0 && ledger.Named(s.Printers, ledger.Trim(place[:i])) != nil
}

// at returns the spool at PRINTER/SLOT, the last to come of those that are not gone.
func (s *Shelf) at(printer, slot string, ahead Ahead) *Spool {
	if printer == "" || slot == "" {
		return nil
	}
	if s.byPlace == nil {
		s.byPlace = map[string][]*Spool{}
		for _, spool := range s.Spools {
			if !spool.Ended {
				place := ledger.Fold(spool.brought)
				s.byPlace[place] = append(s.byPlace[place], spool)
			}
		}
		for _, there := range s.byPlace {
			slices.SortStableFunc(there, func(a, b *Spool) int { return b.placed.compare(&a.placed) })
		}
	}
	for _, spool := range s.byPlace[ledger.Fold(printer+"/"+slot)] {
		if !ahead.gone(spool) {
			return spool
		}
	}
	return nil
}

// ReadConsumption reads consumption, which LoadSpools leaves out, and computes what is on every spool.
func (s *Shelf) ReadConsumption(v *ledger.View, also ...Also) error {
	if s.usage == nil {
		s.usage = newUsage(s.Spools)
	}
	if s.kept != nil && also == nil {
		if err := s.readKept(v); err != nil {
			return err
		}
		s.derive()
		return nil
	}
	all := folds{s.usage}
	for _, other := range also {
		fold, err := other(s)
		if err != nil {
			return err
		}
		all = append(all, fold)
	}
	if err := v.FoldConsumption(all.shared()); err != nil {
		return err
	}
	s.derive()
	return nil
}

// derive computes tares, books, estimates and variances from what was folded.
func (s *Shelf) derive() {
	for i, spool := range s.Spools {
		spool.u = &s.usage.of[i]
		spool.settleTare()
		if later := s.later(spool); later != nil {
			spool.Tare = later.Tare
		}
		spool.walk()
	}
	s.shop, s.byMat = &estimator{}, map[string]*estimator{}
	for _, spool := range s.Spools {
		key := ledger.Fold(spool.Material)
		if s.byMat[key] == nil {
			s.byMat[key] = &estimator{}
		}
		for _, pair := range spool.pairs() {
			s.shop.add(pair)
			s.byMat[key].add(pair)
		}
	}
	for _, spool := range s.Spools {
		spool.Estimate = s.Estimates(spool.Material)
		if later := s.later(spool); later != nil {
			spool.Estimate = later.Estimate
		}
		for i := range spool.Readings {
			spool.judge(&spool.Readings[i])
		}
	}
}

// LastWeighed returns the last weigh-in with a gross, of any state, or the reading at an opened spool's purchase; nil when there is
// none.
func (s *Spool) LastWeighed() *ledger.Weighin { return s.lastGross }

// Find returns the spool that an id or an unambiguous beginning of one names.
func (s *Shelf) Find(id string) (*Spool, error) {
	key := ledger.Fold(ledger.Trim(id))
	if spool := s.ByID[key]; spool != nil {
		return spool, nil
	}
	var matches []string
	for _, name := range slices.Sorted(maps.Keys(s.ByID)) {
		if key != "" && strings.HasPrefix(name, key) {
			matches = append(matches, name)
		}
	}
	switch {
	case len(matches) == 1:
		return s.ByID[matches[0]], nil
	case len(matches) > 1:
		return nil, errors.New("spool " + id + " may be " + List(matches, "or") + "; type more of it")
	}
	if near := ledger.Nearest(key, slices.Sorted(maps.Keys(s.ByID))); near != "" {
		return nil, errors.New("no spool " + quote(id) + "; did you mean " + near + "?")
	}
	return nil, errors.New("no spool " + quote(id) + "; see them with: tarebook stock")
}

// mostHints is for how many unknown ids of a sheet the nearest one is looked for: each is held against every spool.
const mostHints = 20

// Near returns the id nearest to an unknown one, "" when none is near or too many were asked for.
func (s *Shelf) Near(id string) string {
	if s.hints++; s.hints > mostHints {
		return ""
	}
	return ledger.Nearest(ledger.Fold(id), slices.Sorted(maps.Keys(s.ByID)))
}

// Stock returns filament of a material and a diameter in mm.
func (s *Shelf) Stock(material string, diameterMM float64) filament.Stock {
	stock := filament.Stock{DiameterMM: diameterMM, TolMM: s.Settings.DiameterTol}
	if m := ledger.Named(s.Materials, material); m != nil {
		stock.Density, stock.DensityU = m.Density()
	}
	return stock
}

// At returns the unended spool at PRINTER/SLOT, nil when none is.
func (s *Shelf) At(place string) *Spool {
	i := strings.LastIndexByte(place, '/')
	if i < 0 {
		return nil
	}
	return s.at(place[:i], place[i+1:], Ahead{})
}
