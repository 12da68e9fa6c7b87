package oracle

import (
	"cmp"
	"math"
	"math/big"
	"slices"
	"strings"
)

// spool is one bought spool with all that happened to it.
type spool struct {
	name                         string // upper case
	buy                          *row
	netMG                        int64 // the label's
	diameter, density, densityU  float64
	price                        *big.Rat // nil: none
	currency                     string
	labelU                       float64  // grams
	trail                        []*row   // its purchase, that of the spool it was wound off, and so on
	opened                       *reading // begun already when it was booked
	early                        []event  // before an opened spool was booked
	events                       []event
	tareMG                       *int64
	tareFrom                     string
	tareU                        float64
	weighed                      []weighing
	intervals                    []interval
	ended, afterEnd              bool
	bookMG                       int64    // now
	base                         *base    // the weigh-in that last moved the book, nil: none
	sinceWeighedMG, sinceOtherMG int64    // W and E
	estimate                     estimate // how estimates run for its material
}

type eventKind int

// The kinds stand in the order of their ledgers.
const (
	woundOff eventKind = iota
	weighIn
	use
)

type event struct {
	kind eventKind
	*row
	mg int64 // taken: woundOff and use
}

// reading is what the scale showed when an opened spool was booked.
type reading struct {
	grossMG int64
	scaleU  float64
}

// base is a weigh-in that moved the book, the reading of an opened spool among them.
type base struct {
	netMG  int64
	scaleU float64
}

// weighing is what a weigh-in met and said.
type weighing struct {
	*row
	grossMG    *int64
	measuredMG *int64
	bookMG     int64 // just before it
	otherMG    int64 // E just before it
	scaleU     float64
	base       *base // just before it
	gaveTare   bool  // the label tare
	afterEnd   bool
	early      bool // before an opened spool was booked: listed only
}

// interval lies between two weigh-ins and says how estimates ran.
type interval struct {
	dropMG, recordedMG int64
}

func consumedMG(r *row) int64 {
	return milligrams(r.get("part_g")) + milligrams(r.get("support_g")) + milligrams(r.get("prime_g")) + milligrams(r.get("purge_g"))
}

func buildSpools(f folder, l *ledgers) map[string]*spool {
	spools := map[string]*spool{}
	for key, buy := range l.purchase {
		material := f.find("materials.csv", "material", buy.get("material"))
		s := &spool{
			name:     strings.ToUpper(buy.get("spool")),
			buy:      buy,
			netMG:    milligrams(buy.get("net_g")),
			diameter: number(buy.get("diameter_mm"), 0),
			density:  number(material.get("density_g_cm3"), 0),
			densityU: number(material.get("density_u_g_cm3"), 0.02),
			tareFrom: "none",
		}
		s.labelU = f.number("label_u") * grams(s.netMG)
		s.trail = trail(l, buy)
		s.price, s.currency = s.priced(f)
		if g := buy.get("gross_g"); g != "" {
			s.opened = &reading{milligrams(g), scaleU(f, buy)}
		}
		spools[key] = s
	}
	for _, r := range l.live["purchases.csv"] {
		if old := spools[fold(r.get("from"))]; old != nil {
			old.events = append(old.events, event{woundOff, r, milligrams(r.get("net_g"))})
		}
	}
	for _, r := range l.live["weighins.csv"] {
		s := spools[fold(r.get("spool"))]
		s.events = append(s.events, event{kind: weighIn, row: r})
	}
	for _, r := range l.live["consumption.csv"] {
		s := spools[fold(r.get("spool"))]
		s.events = append(s.events, event{use, r, consumedMG(r)})
	}
	for _, s := range spools {
		slices.SortFunc(s.events, func(a, b event) int {
			return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.kind, b.kind), compareRows(a.row, b.row))
		})
		if s.opened != nil {
			s.early, s.events = apart(s.events, func(e event) bool { return e.at.Before(s.buy.at) })
		}
		s.findTare(f)
		s.play(f)
	}
	learn(f, spools)
	return spools
}

// trail follows `from` as far as there are live purchases.
//
// Reading taken: a ring of spools wound off each other ends where it closes.
func trail(l *ledgers, buy *row) []*row {
	rows := []*row{buy}
	for {
		old := l.purchase[fold(rows[len(rows)-1].get("from"))]
		if rows[len(rows)-1].get("from") == "" || old == nil || slices.Contains(rows, old) {
			return rows
		}
		rows = append(rows, old)
	}
}

// priced is the row's own price, or the share of the one that its trail has: a
// gram costs what it cost there.
//
// Readings taken: the share stands also where the old spool had ended ("moves
// nothing" is said of the book); without a share the row's own currency stays.
func (s *spool) priced(f folder) (*big.Rat, string) {
	for _, r := range s.trail {
		if p := r.get("price"); p != "" {
			share := big.NewRat(s.netMG, milligrams(r.get("net_g")))
			return share.Mul(share, rational(p)), cmp.Or(r.get("currency"), f.setting("currency"))
		}
	}
	return nil, cmp.Or(s.buy.get("currency"), f.setting("currency"))
}

// inherited is a cell of its purchase, or the nearest that its trail has.
func (s *spool) inherited(column string) string {
	for _, r := range s.trail {
		if text := r.get(column); text != "" {
			return text
		}
	}
	return ""
}

// maker is inherited since the bench step. Whether it is a name, shown as its
// earliest row has it, is not said.
func (s *spool) maker() any {
	if len(s.trail) > 1 {
		return bench.then(anyCase(s.inherited("maker")))
	}
	return anyCase(s.buy.get("maker"))
}

// scaleU is u_scale. The settings' scale is for recording, not for reading.
func scaleU(f folder, weighin *row) float64 {
	division, accuracy, repeat := 1.0, 1.0, 0.0
	if name := weighin.get("scale"); name != "" {
		scale := f.find("scales.csv", "scale", name)
		division = number(scale.get("division_g"), 1)
		accuracy = number(scale.get("error_g"), division)
		repeat = number(scale.get("repeat_g"), 0)
	}
	return math.Sqrt(square(division)/12 + square(accuracy)/3 + square(repeat))
}

func state(weighin *row) string { return cmp.Or(weighin.get("state"), "loaded") }

// apart divides events, keeping their order.
func apart(events []event, is func(event) bool) (those, others []event) {
	for _, e := range events {
		if is(e) {
			those = append(those, e)
		} else {
			others = append(others, e)
		}
	}
	return those, others
}

// findTare climbs down the ladder of tares.
//
// Readings taken: an empty weigh-in after the end, or before an opened spool was
// booked, still measures the core; "its first weigh-in (not empty)" is its first
// weigh-in, provided that is not empty; of an opened spool that is the reading at
// its purchase, and consumption dated before comes before it.
func (s *spool) findTare(f folder) {
	set := func(mg int64, from string, u float64) {
		s.tareMG, s.tareFrom, s.tareU = &mg, from, u
	}
	var emptied, first *row
	firstUse := false // something was taken before the first weigh-in
	for _, e := range s.early {
		firstUse = firstUse || e.kind != weighIn
	}
	if s.opened != nil {
		first = s.buy
	}
	for _, e := range slices.Concat(s.early, s.events) {
		if e.kind != weighIn {
			firstUse = firstUse || first == nil
			continue
		}
		if first == nil {
			first = e.row
		}
		if state(e.row) == "empty" && e.get("gross_g") != "" {
			emptied = e.row
		}
	}
	if emptied != nil {
		set(milligrams(emptied.get("gross_g")), "empty", scaleU(f, emptied))
		return
	}
	if t := s.buy.get("tare_g"); t != "" {
		set(milligrams(t), "purchase", 2)
		return
	}
	if name := s.buy.get("core"); name != "" {
		core := f.find("cores.csv", "core", name)
		if t := core.get("tare_g"); t != "" {
			set(milligrams(t), "core", number(core.get("tare_u_g"), 5))
			return
		}
	}
	if first == nil || firstUse || state(first) == "empty" || first.get("gross_g") == "" {
		return
	}
	if tare := milligrams(first.get("gross_g")) - s.netMG; tare > 0 {
		set(tare, "label", math.Hypot(scaleU(f, first), s.labelU))
	}
}

// play walks the spool's life.
//
// Readings taken: "dated before the purchase" is by the instant alone; what stands
// in reconcile beside a weigh-in that is listed only is the figure that the book
// begins with, and no variance.
func (s *spool) play(f folder) {
	s.bookMG = s.netMG
	var before *weighing // the last tare-d one, for intervals
	if s.opened != nil && s.tareMG != nil {
		s.bookMG = s.opened.grossMG - *s.tareMG
		s.base = &base{s.bookMG, s.opened.scaleU}
		before = &weighing{row: s.buy, measuredMG: &s.base.netMG}
	}
	for _, e := range s.early {
		if e.kind == weighIn {
			w := weighing{row: e.row, bookMG: s.bookMG, scaleU: scaleU(f, e.row), early: true}
			s.measure(&w)
			s.weighed = append(s.weighed, w)
		}
	}
	var run interval
	broken := false // by a weighed row or a winding-off
	first := true
	for _, e := range s.events {
		switch e.kind {
		case woundOff:
			if s.ended {
				continue // winding off an ended spool moves nothing
			}
			s.bookMG -= e.mg
			s.sinceWeighedMG += e.mg
			broken = true
		case use:
			if s.ended {
				s.afterEnd = true
				continue
			}
			s.bookMG -= e.mg
			if e.get("basis") == "weighed" {
				s.sinceWeighedMG += e.mg
				broken = true
			} else {
				s.sinceOtherMG += e.mg
				run.recordedMG += e.mg
			}
		case weighIn:
			w := weighing{
				row: e.row, bookMG: s.bookMG, otherMG: s.sinceOtherMG, scaleU: scaleU(f, e.row),
				base: s.base, afterEnd: s.ended, gaveTare: first && s.opened == nil && s.tareFrom == "label",
			}
			first = false
			s.measure(&w)
			s.weighed = append(s.weighed, w)
			if s.ended {
				continue
			}
			if w.measuredMG != nil {
				if before != nil && !broken && run.recordedMG > 0 &&
					slices.Contains([]string{"loaded", "dried"}, state(before.row)) &&
					slices.Contains([]string{"loaded", "discarded"}, state(e.row)) {
					run.dropMG = *before.measuredMG - *w.measuredMG
					s.intervals = append(s.intervals, run)
				}
				before, run, broken = &w, interval{}, false
			}
			switch st := state(e.row); {
			case st == "empty" || st == "discarded":
				s.ended = true
				s.bookMG = 0
			case w.measuredMG != nil:
				s.bookMG = *w.measuredMG
				s.base = &base{*w.measuredMG, w.scaleU}
				s.sinceWeighedMG, s.sinceOtherMG = 0, 0
			}
		}
	}
}

func (s *spool) measure(w *weighing) {
	if g := w.get("gross_g"); g != "" {
		gross := milligrams(g)
		w.grossMG = &gross
		if s.tareMG != nil {
			net := gross - *s.tareMG
			w.measuredMG = &net
		}
	}
}

// last is its last weigh-in with a gross, which may be the reading at the
// purchase of an opened spool; nil: none.
func (s *spool) last() *weighing {
	var last *weighing
	if s.opened != nil {
		last = &weighing{row: s.buy, grossMG: &s.opened.grossMG, early: true}
	}
	for _, w := range s.weighed {
		if w.grossMG != nil && !w.early {
			last = &w
		}
	}
	return last
}

// measuredU is the standard uncertainty of the net that this weigh-in measured.
func (s *spool) measuredU(w weighing) float64 { return math.Hypot(w.scaleU, s.tareU) }

// baseNet and baseU stand for "that weigh-in", or for the label where no
// reading moved the book.
func (s *spool) baseNet() float64 {
	if s.base == nil {
		return grams(s.netMG)
	}
	return grams(s.base.netMG)
}

func (s *spool) baseU() float64 {
	if s.base == nil {
		return s.labelU
	}
	return math.Hypot(s.base.scaleU, s.tareU)
}

// likely is its likely net now.
func (s *spool) likely() float64 { return nothingPromised().likely(s) }

func (s *spool) netU() float64 {
	if s.ended {
		return 0
	}
	return math.Sqrt(square(s.baseU()) + s.estimate.spread(s.sinceOtherMG))
}

func (s *spool) area() float64 { return math.Pi * square(s.diameter) / 4 }

// length is metres: g / (g/cm3 * mm2) is 1000 mm.
func (s *spool) length(g float64) float64 { return g / (s.density * s.area()) }

func (s *spool) lengthU(f folder, g, u float64) float64 {
	diameterU := f.number("diameter_tol_mm") / math.Sqrt(3)
	return math.Sqrt(square(u/(s.density*s.area())) +
		square(s.length(g))*(square(s.densityU/s.density)+square(2*diameterU/s.diameter)))
}

// perGram is price/net_g, nil without a price.
func (s *spool) perGram() *big.Rat {
	if s.price == nil {
		return nil
	}
	return new(big.Rat).Quo(s.price, big.NewRat(s.netMG, 1000))
}

// variance and its uncertainty; ok is false where u_v does not exist.
//
// Reading taken: "none" at the weigh-in that gave the label tare and after the
// end is said of both.
func (s *spool) variance(w weighing) (mg int64, u float64, ok bool) {
	if w.measuredMG == nil || w.gaveTare || w.afterEnd || w.early {
		return 0, 0, false
	}
	v := square(w.scaleU) + s.estimate.spread(w.otherMG)
	if w.base != nil {
		v += square(w.base.scaleU)
	} else {
		v += square(s.tareU) + square(s.labelU)
	}
	return *w.measuredMG - w.bookMG, math.Sqrt(v), true
}

func (s *spool) outside(w weighing) bool {
	mg, u, ok := s.variance(w)
	return ok && math.Abs(grams(mg)) > 2*u
}

func (s *spool) heavier(w weighing) bool {
	if w.measuredMG == nil || w.early {
		return false
	}
	bought := s.netMG
	if s.opened != nil {
		bought = s.opened.grossMG - *s.tareMG
	}
	return grams(*w.measuredMG-bought) > 2*s.measuredU(w)
}
