package oracle

import "slices"

// reconcile is one record a live weigh-in.
//
// Readings taken: the flags of a weigh-in are "no tare", "outside" and "heavier
// than bought"; the others speak of a spool. book_g is the book just before it,
// 0 after the end; u_g is known where measured_g is.
func reconcile(l *ledgers, spools map[string]*spool) records {
	weighed := map[*row]weighing{}
	for _, s := range spools {
		for _, w := range s.weighed {
			weighed[w.row] = w
		}
	}
	list := records{}
	for _, r := range l.live["weighins.csv"] {
		s, w := spools[fold(r.get("spool"))], weighed[r]
		o := object{
			"entry":        r.name(),
			"at":           instant(r.at),
			"spool":        s.name,
			"gross_g":      optional(w.grossMG),
			"tare_g":       optional(s.tareMG),
			"measured_g":   optional(w.measuredMG),
			"book_g":       counted(w.bookMG),
			"variance_g":   nil,
			"u_g":          nil,
			"variance_u_g": nil,
		}
		if w.measuredMG != nil {
			o["u_g"] = measure(s.measuredU(w))
		}
		if mg, u, ok := s.variance(w); ok {
			o["variance_g"], o["variance_u_g"] = counted(mg), measure(u)
		}
		marks := flags{}
		if s.tareMG == nil {
			marks = append(marks, "no tare")
		}
		if s.outside(w) {
			marks = append(marks, "outside")
		}
		if s.heavier(w) {
			marks = append(marks, "heavier than bought")
		}
		o["flags"] = marks
		list = append(list, o)
	}
	return slices.Clip(list)
}

func optional(mg *int64) any {
	if mg == nil {
		return nil
	}
	return counted(*mg)
}
