package oracle

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// supply is one material and colour.
type supply struct {
	material, colour string // as typed somewhere
	spools           int
	onHand           float64
	queuedMG         int64
	used             map[string]int64 // by date of the window
	begins           string           // the earliest date of a purchase or a use
	spoolMG          *int64           // of the one last bought
	reaches          float64
}

// reorder is what to buy and by when.
//
// Readings taken: a row's day is its date by its own offset, and the last day of
// the window that of the instant asked for; a history begins with the first
// purchase or use of that material and colour, or with the first use in the
// book where that is later; fewer than 14 days of it, or than 2 with use, give no
// figure; a spool that is likely below 0 is empty; a need counts for its
// spool's material and colour, else for its own; what was wound off, or begun
// already, was not bought as a whole spool; what is neither there, queued nor
// used in the window is not told.
func reorder(f folder, l *ledgers, spools map[string]*spool, names shown, jobs []*job, q question) object {
	dated := func(t time.Time) string { return t.Format(time.DateOnly) }
	today := dated(*q.asOf)
	first := dated(q.asOf.AddDate(0, 0, 1-q.window))
	all := map[[2]string]*supply{}
	of := func(material, colour string) *supply {
		key := [2]string{fold(material), fold(colour)}
		if all[key] == nil {
			all[key] = &supply{material: material, colour: colour, used: map[string]int64{}, begins: "9999"}
		}
		return all[key]
	}
	for _, buy := range l.live["purchases.csv"] {
		s := of(buy.get("material"), buy.get("colour"))
		s.begins = min(s.begins, dated(buy.at))
		if buy.get("from") == "" && buy.get("gross_g") == "" {
			mg := milligrams(buy.get("net_g"))
			s.spoolMG = &mg
		}
		if spool := spools[fold(buy.get("spool"))]; !spool.ended {
			s.spools++
			s.onHand += max(0, spool.likely())
		}
	}
	begun := "9999"
	for _, r := range l.live["consumption.csv"] {
		buy := l.purchase[fold(r.get("spool"))]
		s := of(buy.get("material"), buy.get("colour"))
		s.begins, begun = min(s.begins, dated(r.at)), min(begun, dated(r.at))
		if day, mg := dated(r.at), consumedMG(r); mg > 0 && first <= day && day <= today {
			s.used[day] += mg
		}
	}
	for _, j := range jobs {
		for _, n := range j.needs {
			if n.spool != nil {
				of(n.spool.buy.get("material"), n.spool.buy.get("colour")).queuedMG += n.mg
			} else {
				of(n.get("material"), n.get("colour")).queuedMG += n.mg
			}
		}
	}

	lead, service := f.number("lead_days"), f.number("service_level")
	type line struct {
		*supply
		object
	}
	var lines []line
	for _, s := range all {
		var usedMG int64
		for _, mg := range s.used {
			usedMG += mg
		}
		if s.spools == 0 && s.queuedMG == 0 && usedMG == 0 {
			continue
		}
		days := 0
		if start := max(first, s.begins, begun); start <= today {
			a, _ := time.Parse(time.DateOnly, start)
			b, _ := time.Parse(time.DateOnly, today)
			days = int(math.Round(b.Sub(a).Hours()/24)) + 1
		}
		free := s.onHand - grams(s.queuedMG)
		o := object{
			"material": names.name("material", s.material), "colour": names.name("colour", s.colour), "spools": s.spools,
			"on_hand_g": guessed(s.onHand), "queued_g": counted(s.queuedMG), "free_g": guessed(free),
			"days": days, "use_days": len(s.used), "used_g": counted(usedMG), "spool_g": nil, "buy_spools": nil,
		}
		if s.spoolMG != nil {
			o["spool_g"] = counted(*s.spoolMG)
		}
		if days < 14 || len(s.used) < 2 {
			for _, figure := range []string{"daily_g", "daily_sd_g", "cover_days", "reorder_point_g", "buy_g", "buy_by"} {
				o[figure] = nil
			}
			o["why"] = ignored{}
			if s.reaches = math.Inf(1); free < 0 {
				s.reaches = math.Inf(-1)
			}
			lines = append(lines, line{s, o})
			continue
		}
		mean := grams(usedMG) / float64(days)
		squares := square(mean) * float64(days-len(s.used)) // of the days without use
		for _, mg := range s.used {
			squares += square(grams(mg) - mean)
		}
		sd := math.Sqrt(squares / float64(days-1))
		point := mean*lead + normalQuantile(service)*sd*math.Sqrt(lead)
		buy := max(0, point-free)
		s.reaches = math.Round((free-point)/mean*1e6) / 1e6 // equal but for the last bits
		o["daily_g"], o["daily_sd_g"], o["cover_days"] = measure(mean), measure(sd), measure(max(0, free)/mean)
		o["reorder_point_g"], o["buy_g"], o["why"] = guessed(point), guessed(buy), ""
		if s.spoolMG != nil {
			o["buy_spools"] = ignored{}
			if n := buy / grams(*s.spoolMG); !nearWhole(n) || n < 1e-9 {
				o["buy_spools"] = int(math.Ceil(n - 1e-9))
			}
		}
		switch until := max(0, s.reaches); {
		case until >= 36500:
			o["buy_by"] = nil
		case until > 0 && nearWhole(until):
			o["buy_by"] = ignored{}
		default:
			o["buy_by"] = dated(q.asOf.AddDate(0, 0, int(until)))
		}
		lines = append(lines, line{s, o})
	}
	slices.SortFunc(lines, func(a, b line) int {
		return cmp.Or(cmp.Compare(a.reaches, b.reaches), strings.Compare(fold(a.material), fold(b.material)), strings.Compare(fold(a.colour), fold(b.colour)))
	})
	rows := records{}
	for _, x := range lines {
		rows = append(rows, x.object)
	}
	return object{"as_of": instant(*q.asOf), "from": first, "to": today, "lead_days": measure(lead), "service_level": measure(service), "rows": rows}
}

func nearWhole(x float64) bool { return math.Abs(x-math.Round(x)) < 1e-6 }

// normalQuantile is z of a share, by halving: the distribution function alone is
// asked.
func normalQuantile(share float64) float64 {
	low, high := -40.0, 40.0
	for range 200 {
		if middle := (low + high) / 2; math.Erfc(-middle/math.Sqrt2)/2 < share {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
