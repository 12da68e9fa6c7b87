package inventory

import (
	"math"
	"slices"

	"tarebook/ledger"
)

// Check loads the shelf and the queue of a view. For each need of each job that is not over it computes whether its spool lasts. Jobs
// are in the order in which they will be printed; each has what those before it leave.
func Check(v *ledger.View, also ...Also) (*Shelf, []*Job, error) {
	defer v.ReadAhead()()
	s, err := loadForQueue(v)
	if err != nil {
		return nil, nil, err
	}
	jobs, err := s.Check(v, also...)
	return s, jobs, err
}

// Check is Check for a shelf that LoadSpools has loaded.
func (s *Shelf) Check(v *ledger.View, also ...Also) ([]*Job, error) {
	jobs, err := s.queue(v, also)
	if err != nil {
		return nil, err
	}
	limits, err := v.Limits()
	if err != nil {
		return nil, err
	}
	o := s.newOutlook()
	for _, job := range jobs {
		s.assign(job, o)
		for _, n := range job.Needs {
			n.Barred = s.barredBy(n, limits)
		}
	}
	return jobs, nil
}

// Queue loads the shelf and the jobs of a view that are not over, in the order in which they will be printed. Over then
// reports whether one of them, or one of those named, is over.
func Queue(v *ledger.View, named ...string) (*Shelf, []*Job, error) {
	defer v.ReadAhead()()
	s, err := loadForQueue(v)
	if err != nil {
		return nil, nil, err
	}
	jobs, err := s.queue(v, nil, named...)
	return s, jobs, err
}

// loadForQueue loads the shelf. If that fails, the faults of the queue are reported with it.
func loadForQueue(v *ledger.View) (*Shelf, error) {
	s, err := LoadSpools(v)
	if err != nil {
		_, needs := v.Needs()
		err = ledger.JoinFaults(err, needs)
	}
	return s, err
}

// queue reads the queue and consumption.
func (s *Shelf) queue(v *ledger.View, also []Also, named ...string) ([]*Job, error) {
	rows, err := v.Needs()
	if err != nil {
		return nil, err
	}
	clients, err := v.Clients()
	if err != nil {
		return nil, err
	}
	for _, c := range clients {
		s.names.Table(ClientName, c.Client)
	}
	for _, p := range s.Printers {
		s.names.Table(PrinterName, p.Printer)
	}
	jobs := s.jobs(rows)
	s.usage = newUsage(s.Spools)
	s.usage.spell(s.names)
	queued := make([]string, len(jobs))
	for i, job := range jobs {
		queued[i] = job.Name
	}
	s.usage.watch(append(queued, named...))
	if err := s.ReadConsumption(v, also...); err != nil {
		return nil, err
	}
	open := jobs[:0]
	for _, job := range jobs {
		if s.usage.over(job.Name) {
			continue
		}
		job.Name = s.names.Spell(JobName, job.Name)
		job.Client = s.names.Spell(ClientName, job.Client)
		job.Printer = s.names.Spell(PrinterName, job.Printer)
		open = append(open, job)
	}
	// A colour that the queue spelled before any purchase is shown so.
	for _, spool := range s.Spools {
		spool.Colour = s.names.Spell(ColourName, spool.Colour)
	}
	return open, nil
}

// Over reports whether a finished consumption row bears the name of a job that Queue was asked about.
func (s *Shelf) Over(job string) bool { return s.usage.over(job) }

// WeighUp computes the odds that a need is met behind those ahead. T booked grams take k T off a spool, with the uncertainty of that
// prediction (Mack 1993); the net at the last weigh-in has its own. Of several spools in turn those that have filament above their tail
// count, and each loses its tail; when none has, the last that has not ended counts.
func (s *Shelf) WeighUp(n *Need, ahead Ahead) {
	n.HandsOver, n.Likely, n.Tail = nil, 0, 0
	if n.Spool == nil {
		n.Verdict = Short
		return
	}
	need, e := n.Row.Total().Float(), n.Spool.Estimate
	turn := n.turn(&[1]*Spool{})
	last := s.lastOf(n, turn, ahead)
	T, u2 := 0.0, 0.0
	for i, spool := range turn {
		likely, tail := ahead.likely(spool), s.Tail(n.Printer, spool)
		if !ahead.gone(spool) && (likely > tail || i == last) {
			ofSpool, variance := ahead.doubt(spool)
			T, u2 = T+ofSpool, u2+variance
			n.Likely, n.Tail = n.Likely+likely, n.Tail+tail
		}
		if i < len(turn)-1 {
			n.HandsOver = append(n.HandsOver, n.share(n.Likely-n.Tail))
		}
	}
	n.ahead = ahead.of[n.Spool]
	open := slices.ContainsFunc(turn, func(spool *Spool) bool { return !ahead.gone(spool) })
	if n.gone = !open; n.gone {
		n.Tail = s.Tail(n.Printer, n.Spool)
	}
	n.Margin = n.Likely - n.Tail - e.K*need
	if !open {
		n.Verdict, n.RunsOut = Short, 0
		return
	}
	n.U = math.Hypot(math.Sqrt(u2), e.Predicted(T+need))
	n.Odds = odds(n.Margin, n.U)
	switch {
	case n.Odds >= s.Settings.EnoughOdds:
		n.Verdict = Enough
		return
	case n.Margin < 0:
		n.Verdict = Short
	default:
		n.Verdict = Marginal
	}
	n.RunsOut = n.share(n.Likely - n.Tail)
}

// Gone reports whether no spool of the need has anything left: each has ended, or needs ahead use it up.
func (n *Need) Gone() bool { return n.gone }

// lastOf returns the place in turn of the spool that counts although it has nothing above its tail: the last that has not ended, if no
// other has more; else -1.
func (s *Shelf) lastOf(n *Need, turn []*Spool, ahead Ahead) int {
	last := -1
	for i, spool := range turn {
		if ahead.gone(spool) {
			continue
		}
		if last = i; ahead.likely(spool) > s.Tail(n.Printer, spool) {
			return -1
		}
	}
	return last
}

// share returns how much of the need is done when so many grams have gone, within 0 and 1; 0 for a need of nothing.
func (n *Need) share(grams float64) float64 {
	need := n.Row.Total().Float()
	if need == 0 {
		return 0
	}
	return min(1, max(0, grams/(n.Spool.Estimate.K*need)))
}

// odds returns the probability that a margin of standard uncertainty u is not below 0, taken as normal (JCGM 100:2008, G.2).
func odds(margin, u float64) float64 {
	if u == 0 {
		if margin >= 0 {
			return 1
		}
		return 0
	}
	return phi(margin / u)
}

// phi is the standard normal distribution function, by the error function of the standard library.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// quantile is the inverse of phi; it is infinite at 1.
func quantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// Tail returns the grams of a spool that never reach the nozzle on that printer; 0 for a printer not known.
func (s *Shelf) Tail(printer string, spool *Spool) float64 {
	p := ledger.Named(s.Printers, printer)
	if p == nil {
		return 0
	}
	return spool.Filament.Mass(p.TailMM.Float(0) / 1000)
}

// Wanted returns the net in grams that the spool of a need must have, if it is weighed now, for the need to be enough. The queue before the need
// counts; of spools in turn no single one decides. A weighing replaces all estimates since the last one, so that only the queue is predicted, by k and its uncertainty as they
// are. The scale is that of the last weigh-in.
func (s *Shelf) Wanted(n *Need) float64 {
	spool := n.Spool
	scale := s.Settings.Scale
	if len(spool.Weighins) > 0 {
		scale = spool.Weighins[len(spool.Weighins)-1].Scale
	}
	T := (n.ahead.alone + n.Row.Total()).Float() + n.ahead.shared
	u := math.Hypot(math.Hypot(s.ScaleU(scale), spool.Tare.U), spool.Estimate.Predicted(T+n.ahead.behindT))
	u = math.Hypot(u, math.Sqrt(n.ahead.behindU2))
	return n.Tail + spool.Estimate.K*T + quantile(s.Settings.EnoughOdds)*u
}
