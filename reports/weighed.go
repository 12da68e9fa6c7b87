package reports

import (
	"fmt"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Weighed says in words what a weigh-in found: net, metres left, what the book said, and the variance. jobs are those
// booked since the weigh-in before.
func Weighed(s *inventory.Spool, r *inventory.Reading, jobs []string) []string {
	w := r.Weighin
	var lines []string
	switch {
	case w.State == ledger.Empty:
		line := s.ID + ": empty; the spool has ended"
		if w.GrossG.Given {
			line += fmt.Sprintf(" and its tare is now measured: %s g", w.GrossG.Grams)
		}
		lines = append(lines, line)
	case !w.GrossG.Given:
		lines = append(lines, fmt.Sprintf("%s: discarded; the spool has ended, the book said %s g", s.ID, r.Book))
	case !r.Measured.Given:
		return append(lines, fmt.Sprintf("%s: gross %s g booked, but its tare is not known, so this tells nothing of what is left", s.ID, w.GrossG.Grams),
			fmt.Sprintf("write its tare_g, or its core with a row in cores.csv, into %s:%d; or weigh it with --empty when it is used up", ledger.Purchases, s.Purchase.Line))
	default:
		metres := s.Filament.Length(r.Measured.Float())
		u := s.Filament.LengthU(r.Measured.Float(), r.U)
		line := fmt.Sprintf("%s: net %s g, %s m left (2u %s m)", s.ID, r.Measured.Grams, fixed(metres, known(2*u)), fixed(2*u, known(2*u)))
		if w.State == ledger.Discarded {
			line = fmt.Sprintf("%s: discarded with %s g left; the spool has ended", s.ID, r.Measured.Grams)
		}
		lines = append(lines, line)
		if r.Heavier {
			lines = append(lines, fmt.Sprintf("that is more than it was bought with, %s g: is it this spool, on this core?", s.Start()))
		}
	}
	if !r.Judged {
		if s.Tare.From == inventory.TareLabel && r.Measured.Given {
			lines = append(lines, fmt.Sprintf("its tare, %s g, is this gross less the label's net: there is nothing to compare yet", s.Tare.Grams.Grams))
		}
		return lines
	}
	return append(lines, variance(s, r, jobs)...)
}

// WeighedShort says it in one line, with what the queue needs of the spool.
func WeighedShort(s *inventory.Spool, r *inventory.Reading, needs []*inventory.Need) string {
	w := r.Weighin
	parts := []string{}
	switch {
	case w.State == ledger.Empty && w.GrossG.Given:
		parts = append(parts, fmt.Sprintf("empty and ended, its tare is %s g", w.GrossG.Grams))
	case w.Ends() && !r.Measured.Given:
		parts = append(parts, w.State+" and ended")
	case !r.Measured.Given:
		parts = append(parts, fmt.Sprintf("gross %s g, but its tare is not known", w.GrossG.Grams))
	case w.State == ledger.Discarded:
		parts = append(parts, fmt.Sprintf("discarded and ended with %s g left", r.Measured.Grams))
	default:
		grams := r.Measured.Float()
		parts = append(parts, fmt.Sprintf("net %s g, %s", r.Measured.Grams, within(s.Filament.Length(grams), s.Filament.LengthU(grams, r.U), "m")))
	}
	if r.Heavier {
		parts = append(parts, "more than it was bought with")
	}
	if r.Judged {
		v := r.Variance
		what := "as booked"
		if v != 0 {
			what = thanBooked(r.Variance)
		}
		if w.State == ledger.Dried && v < 0 {
			what += ", which is " + dried(r)
		}
		within := "within"
		if r.Outside {
			within = "outside"
		}
		parts = append(parts, fmt.Sprintf("%s, %s its uncertainty (2u %.1f g)", what, within, 2*r.VarianceU))
	}
	var grams ledger.Grams
	verdict := inventory.Enough
	for _, n := range needs {
		grams += n.Row.Total()
		if slices.Index(inventory.Verdicts, n.Verdict) > slices.Index(inventory.Verdicts, verdict) {
			verdict = n.Verdict
		}
	}
	if len(needs) > 0 {
		parts = append(parts, fmt.Sprintf("the queue needs %s g of it: %s", grams, verdict))
	}
	return s.ID + ": " + join(parts...)
}

func variance(s *inventory.Spool, r *inventory.Reading, jobs []string) []string {
	v, u := r.Variance, 2*r.VarianceU
	what := "just what the scale says"
	if v != 0 {
		what = thanBooked(r.Variance)
	}
	line := fmt.Sprintf("the book said %s g: %s", r.Book, what)
	if !r.Outside {
		return []string{fmt.Sprintf("%s, within its uncertainty (2u %.1f g)", line, u)}
	}
	since := "since it was bought on " + day(s.Purchase.At)
	if r.Before != nil {
		since = "since the weigh-in of " + minute(r.Before.At)
	}
	between := "no job was booked on it since"
	if len(jobs) > 8 {
		jobs = append(jobs[:8:8], fmt.Sprintf("%d more", len(jobs)-8))
	}
	if len(jobs) > 0 {
		between = "booked on it since: " + inventory.List(jobs, "and")
	}
	missing := "what is typically missing: a print that was not booked, another spool on the scale, another core, or water taken up or lost"
	if v > 0 {
		missing = "what is typical: a job booked that did not run or ran off another spool, another spool on the scale, another core, or water taken up or lost"
	}
	if r.Weighin.State == ledger.Dried && v < 0 {
		missing = "the spool was dried, so this is " + dried(r) + ", no loss"
	}
	return []string{
		fmt.Sprintf("%s, outside its uncertainty (2u %.1f g) %s", line, u, since),
		between,
		fmt.Sprintf("%s (its tare is %s g, from: %s)", missing, s.Tare.Grams.Grams, s.Tare.From),
	}
}

// dried says what a variance below 0 is after drying.
func dried(r *inventory.Reading) string {
	switch water := -r.Variance - r.TakenBack; {
	case r.TakenBack == 0:
		return "water"
	case water == 0:
		return "damp that it had gained before"
	default:
		return fmt.Sprintf("%s g of damp that it had gained before and %s g of water", r.TakenBack, water)
	}
}

// thanBooked says in words a variance that is not 0.
func thanBooked(v ledger.Grams) string {
	if v < 0 {
		return (-v).String() + " g less than booked"
	}
	return v.String() + " g more than booked"
}
