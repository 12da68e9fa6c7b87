package oracle

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"
)

// bookgen makes one random book that breaks no rule, but is as untidy as people
// and their spreadsheets may make it.
type bookgen struct {
	*rand.Rand
	rows     map[string][]map[string]string
	instants []time.Time // used before, so that some are equal
	ulids    map[string]bool
	typed    float64 // share of rows without an entry

	currencies                                  []string
	materials, cores, scales, printers, clients []string // clients and printers: also some in no table
	spools                                      []*genSpool
	jobs                                        []string
	dues                                        []time.Time
}

type genSpool struct {
	id, material, colour string
	labelG               float64
	leftG                float64 // in truth, at the end
	bought               map[string]string
}

var (
	bookBegins = time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)
	bookSpan   = 170 * 24 * time.Hour
	offsets    = []int{0, 0, 60, 120, 120, -300, 330, 765, -210}
)

// writeRandomBook makes the book of a seed in dir and gives some instants of its
// rows, as they were typed.
func writeRandomBook(dir string, seed uint64) (instants []string, err error) {
	g := &bookgen{Rand: rand.New(rand.NewPCG(seed, 20261124)), rows: map[string][]map[string]string{}, ulids: map[string]bool{}}
	g.typed = []float64{0, 0.05, 0.3, 1}[g.pick(2, 4, 3, 1)]
	g.makeTables()
	g.makeSpools()
	g.makeQueue()
	if inTurn.on() && g.chance(0.6) {
		g.makeTurns()
	}
	g.makeMoves()
	g.makeMess()
	g.makeVoids()
	for _, file := range ledgerFiles {
		for _, cells := range g.rows[file] {
			instants = append(instants, cells["at"])
		}
	}
	return instants, g.write(dir)
}

// pick gives an index by weight.
func (g *bookgen) pick(weights ...int) int {
	sum := 0
	for _, w := range weights {
		sum += w
	}
	n := g.IntN(sum)
	for i, w := range weights {
		if n < w {
			return i
		}
		n -= w
	}
	return 0
}

func (g *bookgen) chance(p float64) bool             { return g.Float64() < p }
func (g *bookgen) between(low, high float64) float64 { return low + (high-low)*g.Float64() }

func one[T any](g *bookgen, from []T) T { return from[g.IntN(len(from))] }

// some keeps each with chance p.
func some(g *bookgen, p float64, from ...string) []string {
	var kept []string
	for _, s := range from {
		if g.chance(p) {
			kept = append(kept, s)
		}
	}
	return kept
}

func (g *bookgen) add(file string, cells map[string]string) map[string]string {
	g.rows[file] = append(g.rows[file], cells)
	return cells
}

// vary writes a name in another case, where that folds to the same.
func (g *bookgen) vary(name string) string {
	var other string
	switch g.pick(16, 2, 2, 1) {
	case 0:
		return name
	case 1:
		other = strings.ToLower(name)
	case 2:
		other = strings.ToUpper(name)
	case 3:
		other = strings.NewReplacer("ß", "ẞ", "σ", "ς", "k", "\u212a").Replace(name)
	}
	if fold(other) != fold(name) {
		return name
	}
	return other
}

// varyASCII is for spools.
func (g *bookgen) varyASCII(name string) string {
	if g.chance(0.1) {
		return strings.ToLower(name)
	}
	return name
}

func (g *bookgen) grams(x float64) string {
	x = max(x, 0)
	switch g.pick(3, 8, 2, 3, 1) {
	case 0:
		return strconv.FormatFloat(math.Round(x), 'f', 0, 64)
	case 1:
		return strconv.FormatFloat(x, 'f', 1, 64)
	case 2:
		return strconv.FormatFloat(x, 'f', 2, 64)
	case 3:
		return strconv.FormatFloat(x, 'f', 3, 64)
	}
	return "0" + strconv.FormatFloat(x, 'f', 1, 64)
}

// over0 is for masses that must be above 0.
func (g *bookgen) over0(x float64) string { return g.grams(max(x, 1)) }

func (g *bookgen) orBlank(p float64, text string) string {
	if g.chance(p) {
		return ""
	}
	return text
}

func (g *bookgen) at(t time.Time) string {
	if len(g.instants) > 0 && g.chance(0.08) {
		t = one(g, g.instants)
	}
	switch g.pick(6, 2, 1) {
	case 0:
		t = t.Truncate(time.Second)
	case 1:
		t = t.Truncate(100 * time.Millisecond)
	}
	g.instants = append(g.instants, t)
	return g.stamp(t)
}

func (g *bookgen) stamp(t time.Time) string {
	offset := one(g, offsets)
	local := t.In(time.FixedZone("", offset*60))
	text := local.Format("2006-01-02T15:04:05")
	if fraction := strings.TrimRight(fmt.Sprintf("%09d", local.Nanosecond()), "0"); fraction != "" || g.chance(0.1) {
		text += "." + (fraction + "000")[:max(len(fraction), 1+g.IntN(3))]
	}
	if offset == 0 && g.chance(0.7) {
		return text + "Z"
	}
	return text + local.Format("-07:00")
}

func (g *bookgen) anytime() time.Time {
	return bookBegins.Add(time.Duration(g.Int64N(int64(bookSpan))))
}

func (g *bookgen) ulid() string {
	const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	id := []byte("01KA")
	for len(id) < 26 {
		id = append(id, alphabet[g.IntN(32)])
	}
	if g.ulids[string(id)] {
		return g.ulid()
	}
	g.ulids[string(id)] = true
	return string(id)
}

func (g *bookgen) entry() string {
	if g.chance(g.typed) {
		return ""
	}
	return g.ulid()
}

func (g *bookgen) note() string {
	if g.chance(0.7) {
		return ""
	}
	return one(g, []string{
		"top shelf, left", "said \"later\"", "first line\nsecond line", "=1+1", "blå og grøn", "a;b|c", "über\n\"quoted\", twice", "ok",
	})
}

func (g *bookgen) makeTables() {
	g.currencies = [][]string{{"EUR"}, {"EUR", "JPY"}, {"EUR", "KWD", "USD"}, {"JPY", "GBP"}, {"BHD"}}[g.pick(4, 2, 2, 1, 1)]
	for _, choice := range [][]string{
		{"currency", g.currencies[0]}, {"enough_odds", "0.9", "0.5", "0.99"}, {"estimate_u", "0.05", "0.1", "0"}, {"label_u", "0.02", "0.005"},
		{"diameter_tol_mm", "0.02", "0.03"}, {"min_intervals", "1", "2", "3", "8"}, {"lead_days", "10", "0", "2.5"}, {"service_level", "0.9", "0.5", "0.999"}, {"purge_words", "flush"},
	} {
		name := choice[0]
		if name == "currency" && g.currencies[0] != "EUR" || g.chance(0.3) {
			g.add("settings.csv", map[string]string{"setting": name, "value": one(g, choice[1:])})
		}
	}

	g.materials = []string{"PLA", "PETG"}
	g.materials = append(g.materials, some(g, 0.4, "Flex Größe 9", "ÅSA")...)
	for i, m := range g.materials {
		g.add("materials.csv", map[string]string{
			"material": m, "density_g_cm3": []string{"1.24", "1.27", "1.2", "1.07"}[i], "density_u_g_cm3": g.orBlank(0.4, "0.012"), "note": g.note(),
		})
	}
	g.cores = some(g, 0.6, "Paper core", "Kärn-2", "reel")
	for _, c := range g.cores {
		g.add("cores.csv", map[string]string{
			"core": c, "tare_g": g.orBlank(0.15, g.grams(g.between(140, 240))), "tare_u_g": g.orBlank(0.4, one(g, []string{"3", "0.5", "8"})), "note": g.note(),
		})
	}
	g.scales = some(g, 0.6, "Kitchen", "bench Ω", "Dock")
	for _, s := range g.scales {
		g.add("scales.csv", map[string]string{
			"scale": s, "division_g": g.orBlank(0.2, one(g, []string{"1", "0.1", "2", "5"})), "error_g": g.orBlank(0.4, one(g, []string{"0.5", "3", "0"})),
			"repeat_g": g.orBlank(0.5, one(g, []string{"0.3", "1"})), "note": g.note(),
		})
	}
	g.printers = some(g, 0.7, "North Bench", "kiln-2", "Östra")
	for _, p := range g.printers {
		g.add("printers.csv", map[string]string{
			"printer": p, "feeds": one(g, []string{"4", "1+4", "1+1+1+1", "1"}), "purge_mm3": g.orBlank(0.3, "140"), "prime_mm3": g.orBlank(0.3, "30"),
			"swap_s": g.orBlank(0.3, "12"), "load_s": g.orBlank(0.3, "95.5"), "tail_mm": g.orBlank(0.3, one(g, []string{"800", "1500.5", "0"})), "note": g.note(),
		})
	}
	g.printers = append(g.printers, some(g, 0.4, "Lent Box")...)
	g.clients = some(g, 0.7, "Loft Five", "ΛΟΓΟΣ σ", "øst", "Straßenkunst")
	for _, c := range g.clients {
		since := []string{"", "2026-07-01", "2026-09-15"}
		for _, from := range since[:1+g.IntN(3)] {
			g.add("clients.csv", map[string]string{
				"client": c, "name": c + " & co, ltd", "waste_billed": g.orBlank(0.4, "0.5"), "scrap_billed": g.orBlank(0.4, "0.25"), "from": from, "note": g.note(),
			})
		}
	}
	g.clients = append(g.clients, some(g, 0.5, "Walk-in", "kékes")...)
	for _, file := range []string{"materials.csv", "cores.csv", "scales.csv", "printers.csv", "clients.csv", "settings.csv"} {
		if len(g.rows[file]) > 0 && g.chance(0.05) {
			g.add(file, maps.Clone(one(g, g.rows[file]))) // a key twice with the same content
		}
	}
	for i := range 3 + g.IntN(10) {
		g.jobs = append(g.jobs, one(g, []string{"Bracket", "vase", "Gehäuse", "clip"})+" "+strconv.Itoa(i+1))
	}
}

// known gives one of the names in varied case, or blank.
func (g *bookgen) known(blank float64, names []string) string {
	if len(names) == 0 || g.chance(blank) {
		return ""
	}
	return g.vary(one(g, names))
}

func (g *bookgen) makeSpools() {
	colours := []string{"black", "Signal Red", "grün", "natural", ""}[:1+g.IntN(5)]
	weighs := g.between(0.1, 0.9)
	estimates := g.between(0.85, 1.2)
	for i := range 1 + g.IntN(12) {
		s := &genSpool{material: one(g, g.materials), colour: one(g, colours)}
		s.id = one(g, []string{"PLA", "P", "7", "X-Y", "ROLL-"}) + strconv.Itoa(i+1)
		s.labelG = one(g, []float64{250, 500, 750, 1000, 1000, 1000, 2300})
		var from *genSpool
		if len(g.spools) > 0 && g.chance(0.2) {
			from = one(g, g.spools)
			if bench.on() && g.chance(0.5) {
				from = g.spools[len(g.spools)-1] // so that chains come about
			}
			s.material, s.labelG = from.material, from.labelG*g.between(0.05, 0.4)
		}
		g.spools = append(g.spools, s)
		g.live(s, from, weighs, estimates)
		for range g.pick(12, 2, 1) { // more of the same, still in their boxes
			twin := &genSpool{id: s.id + "-" + strconv.Itoa(len(g.spools)), material: s.material, colour: s.colour, labelG: s.labelG, leftG: s.labelG}
			twin.bought = maps.Clone(s.bought)
			twin.bought["entry"], twin.bought["spool"] = g.entry(), twin.id
			delete(twin.bought, "from")
			if g.chance(0.5) {
				twin.bought["at"] = g.at(g.anytime())
			}
			g.add("purchases.csv", twin.bought)
			g.spools = append(g.spools, twin)
		}
	}
}

// live buys a spool and plays its life: what is true goes on behind the book.
func (g *bookgen) live(s, from *genSpool, weighs, estimates float64) {
	core, coreG := g.known(0.4, g.cores), g.between(140, 240)
	for _, c := range g.rows["cores.csv"] {
		if fold(c["core"]) == fold(core) && c["tare_g"] != "" && g.chance(0.8) {
			coreG = number(c["tare_g"], 0) + g.NormFloat64()*2
		}
	}
	tare := g.orBlank(0.6, g.grams(coreG))
	clock := bookBegins.Add(time.Duration(g.between(0, 0.5) * float64(bookSpan)))
	s.bought = g.add("purchases.csv", map[string]string{
		"entry": g.entry(), "at": g.at(clock), "spool": g.varyASCII(s.id), "material": g.vary(s.material), "colour": g.vary(s.colour),
		"swatch": g.orBlank(0.7, "#10A0FF"), "maker": g.orBlank(0.5, one(g, []string{"maker one", "Spinnerei Süd"})), "lot": g.orBlank(0.7, "L-77"),
		"diameter_mm": one(g, []string{"1.75", "1.75", "2.85", "1.750"}), "net_g": g.over0(s.labelG), "core": core, "tare_g": tare,
		"price": g.price(), "currency": g.orBlank(0.5, one(g, g.currencies)), "supplier": g.orBlank(0.7, "corner shop"),
		"place": g.orBlank(0.4, g.place()), "note": g.note(),
	})
	if bills.on() {
		s.bought["maker"], s.bought["lot"] = g.vary(s.bought["maker"]), g.vary(g.orBlank(0.4, one(g, []string{"L-77", "k 12", "A1107"})))
	}
	if from != nil {
		s.bought["from"] = g.varyASCII(from.id)
		s.bought["price"] = g.orBlank(0.7, s.bought["price"])
	}
	if g.chance(0.15) {
		clock = clock.Add(-20 * 24 * time.Hour) // used before it was written down
	}
	trueG := s.labelG * g.between(0.98, 1.02)
	water, damp := 0.0, 0.0 // grams that the scale shows and nobody bought
	if bench.on() {
		if g.chance(0.3) {
			trueG = g.open(s, coreG)
		}
		damp = []float64{0, 4, 15}[g.pick(6, 2, 2)]
		if s.bought["gross_g"] != "" || g.chance(0.03) {
			s.bought["scale"] = g.known(0.3, g.scales)
		}
	}
	defer func() { s.leftG = trueG }()
	step := g.between(0.1, 3)
	ended := false
	for range g.IntN(24) {
		clock = clock.Add(time.Duration(g.between(0.05, 1) * step * 24 * float64(time.Hour)))
		switch {
		case ended && g.chance(0.7):
			return
		case g.chance(weighs):
			state := one(g, []string{"", "loaded", "loaded", "", "dried", "loaded"})
			water += g.between(0, damp)
			if !ended && g.chance(0.06) || ended && g.chance(0.3) {
				state = one(g, []string{"empty", "discarded"})
			}
			gross := coreG + trueG + water
			switch {
			case state == "empty":
				gross = coreG
			case state == "dried" && bench.on() && damp > 0:
				water *= g.between(0, 0.4)
				gross = coreG + trueG + water
			case state == "dried":
				trueG = max(0, trueG-g.between(0, 4))
			case g.chance(0.05):
				gross += g.between(-60, 120) // misread
			}
			weighin := g.add("weighins.csv", map[string]string{
				"entry": g.entry(), "at": g.at(clock), "spool": g.varyASCII(s.id), "gross_g": g.grams(gross + g.NormFloat64()*0.7),
				"scale": g.known(0.3, g.scales), "state": state, "note": g.note(),
			})
			if g.chance(0.04) { // weighed again at once
				again := maps.Clone(weighin)
				again["entry"], again["gross_g"] = g.entry(), g.grams(gross+g.NormFloat64())
				g.add("weighins.csv", again)
			}
			if state == "empty" || state == "discarded" {
				weighin["gross_g"] = g.orBlank(0.4, weighin["gross_g"])
				ended = true
			}
		default:
			g.consume(s, clock, &trueG, estimates)
		}
	}
}

// open makes a spool one that was begun before it was booked, and gives what is
// truly on it. What was reckoned that day rests on a tare that may have been
// wrong, and that the book may know better by now.
func (g *bookgen) open(s *genSpool, coreG float64) (trueG float64) {
	trueG = s.labelG * g.between(0.03, 0.95)
	gross := coreG + trueG + g.NormFloat64()*0.7
	thought := coreG + g.NormFloat64()*[]float64{2, 25}[g.pick(1, 1)]
	reckoned := gross - thought
	switch g.pick(12, 1, 1, 1) {
	case 1: // below the tare, on the card of another core
		s.bought["tare_g"] = g.grams(gross + g.between(1, 30))
	case 2: // the label, though it is far from full
		reckoned = s.labelG
	case 3: // more than the scale shows: no tare can follow
		reckoned = gross + g.between(0, 50)
	}
	s.labelG = max(1, reckoned)
	s.bought["net_g"], s.bought["gross_g"] = g.over0(reckoned), g.grams(gross)
	return trueG
}

func (g *bookgen) price() string {
	return g.orBlank(0.15, one(g, []string{"24.90", "19", "33.333", "3290", "7.15", "0", "129.995", "21.6"}))
}

func (g *bookgen) consume(s *genSpool, at time.Time, trueG *float64, estimates float64) {
	part := s.labelG * g.between(0, 0.12)
	if g.chance(0.02) {
		part = s.labelG * 1.3 // more than there is
	}
	cells := map[string]string{
		"entry": g.entry(), "at": g.at(at), "spool": g.varyASCII(s.id), "job": g.known(0.04, g.jobs), "client": g.known(0.15, g.clients), "printer": g.known(0.1, g.printers),
		"part_g": g.orBlank(0.05, g.grams(part)), "support_g": g.orBlank(0.6, g.grams(g.between(0, 9))), "prime_g": g.orBlank(0.6, g.grams(g.between(0, 4))),
		"purge_g": g.orBlank(0.5, g.grams(g.between(0, 22))), "changes": g.orBlank(0.5, strconv.Itoa(g.IntN(40))),
		"outcome": one(g, []string{"finished", "", "finished", "finished", "failed"}), "basis": one(g, []string{"sliced", "", "path", "sliced", "sliced", "sliced", "weighed"}), "note": g.note(),
	}
	if bench.on() {
		cells["slot"], cells["file"] = g.orBlank(0.6, g.slot()), g.orBlank(0.8, "a.gcode 1200 "+strings.Repeat("ab", 32))
	}
	g.add("consumption.csv", cells)
	recorded := 0.0
	for _, c := range []string{"part_g", "support_g", "prime_g", "purge_g"} {
		recorded += number(cells[c], 0)
	}
	if cells["basis"] != "weighed" {
		recorded *= estimates * (1 + g.NormFloat64()*0.04)
	}
	*trueG = max(0, *trueG-recorded)
}

// makeMess adds rows twice, conflicts and second purchases.
func (g *bookgen) makeMess() {
	for range g.pick(5, 3, 2, 1) {
		if file := one(g, ledgerFiles[:5]); len(g.rows[file]) > 0 {
			g.add(file, maps.Clone(one(g, g.rows[file])))
		}
	}
	for range g.pick(6, 2, 1) {
		file := one(g, ledgerFiles[:5])
		if len(g.rows[file]) == 0 {
			continue
		}
		cells := maps.Clone(one(g, g.rows[file]))
		if cells["entry"] == "" {
			continue
		}
		switch g.IntN(3) {
		case 0:
			cells["note"] += "?"
		case 1:
			cells["at"] = g.at(g.anytime())
		case 2:
			cells["spool"] = one(g, g.spools).id
			if file == "purchases.csv" {
				delete(cells, "from") // else spools might be wound off each other in a ring
			}
		}
		g.add(file, cells)
	}
	for range g.pick(8, 2, 1) {
		s := one(g, g.spools)
		again := maps.Clone(s.bought)
		again["entry"], again["at"] = g.entry(), g.at(g.anytime())
		again["net_g"], again["price"] = g.over0(s.labelG*1.1), g.price()
		again["colour"] = g.orBlank(0.3, again["colour"])
		g.add("purchases.csv", again)
	}
}

func (g *bookgen) makeVoids() {
	void := func(target string, at time.Time) map[string]string {
		return g.add("voids.csv", map[string]string{"entry": g.entry(), "at": g.at(at), "target": target, "why": g.note()})
	}
	nameOf := func(file string, cells map[string]string) string { return (&row{file: file, cell: cells}).name() }
	for range g.pick(3, 2, 2, 1, 1) * 2 {
		file := ledgerFiles[g.pick(1, 3, 5, 3, 2)]
		if len(g.rows[file]) == 0 {
			continue
		}
		void(nameOf(file, one(g, g.rows[file])), g.anytime())
	}
	if g.chance(0.15) {
		void(one(g, []string{g.ulid(), "00112233445566778899aabbcc"}), g.anytime())
	}
	for range 3 {
		if len(g.rows["voids.csv"]) > 0 && g.chance(0.35) {
			void(nameOf("voids.csv", one(g, g.rows["voids.csv"])), g.anytime())
		}
	}
	if voids := g.rows["voids.csv"]; len(voids) > 0 && g.chance(0.15) {
		cells := maps.Clone(one(g, voids))
		if g.chance(0.4) && cells["entry"] != "" {
			cells["why"] += "!" // a conflict of voids
		}
		g.add("voids.csv", cells)
	}
}
