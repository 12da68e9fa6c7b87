package assign

// effort bounds the search from one beginning: distinct returns looked at. A few seconds of work.
const effort = 1 << 27

// beginEffort bounds the search for one beginning: options looked at. Less than a second of work.
const beginEffort = 1 << 25

// begins returns the assignments from which climb starts: possible ones, of two kinds, and likewise without a shift.
func begins(p Print, m Machine, pins map[int]int, r *rules) (all [][]int) {
	from := []*rules{r}
	if len(m.Bounds) > 0 && !p.AsItLies {
		p.AsItLies = true
		from = append(from, newRules(p, m, pins, obstacles(p, m)))
	}
	for _, rules := range from {
		for _, prefer := range []func(*placing, int) int{(*placing).fill, (*placing).deal} {
			if nozzle, _ := place(rules, prefer, beginEffort); nozzle != nil {
				all = append(all, nozzle)
			}
		}
	}
	return all
}

// climb searches where there are more slots than can be proven. From each beginning it moves single slots and exchanges pairs as
// long as that makes the assignment better, or until its effort is spent. It returns the best result, or nil without a beginning.
// It uses no chance and no clock, so the same print always has the same plan.
func climb(e *evaluator, r *rules, begins [][]int) []int {
	var best *climber
	for _, nozzle := range begins {
		c := newClimber(e, r, nozzle)
		for c.better() {
		}
		if best == nil || c.total.less(best.total) {
			best = c
		}
	}
	if best == nil {
		return nil
	}
	return best.nozzle
}

type climber struct {
	*evaluator
	*rules
	nozzle []int    // by slot
	serves []bitset // by nozzle
	load   []int    // slots, by nozzle
	scores []score  // by nozzle
	total  total
	spent  int
}

func newClimber(e *evaluator, r *rules, nozzle []int) *climber {
	c := &climber{evaluator: e, rules: r, nozzle: nozzle, serves: make([]bitset, len(r.feeds)), load: make([]int, len(r.feeds)), scores: make([]score, len(r.feeds))}
	for s, i := range nozzle {
		c.serves[i].add(s)
		c.load[i]++
	}
	for i := range c.scores {
		c.scores[i] = c.evaluate(i)
		c.total.score = c.total.score.add(c.scores[i])
	}
	dx, dy, _ := r.window(nozzle).shift()
	c.total.shift = abs(dx) + abs(dy)
	return c
}

// evaluate scores a nozzle with the slots that it serves now.
func (c *climber) evaluate(nozzle int) score {
	c.spent += len(c.returns) + len(c.nozzle)
	var slots []int
	for s, i := range c.nozzle {
		if i == nozzle {
			slots = append(slots, s)
		}
	}
	return c.score(slots, &c.serves[nozzle])
}

// put moves a slot to another nozzle.
func (c *climber) put(slot, to int) {
	from := c.nozzle[slot]
	c.serves[from].remove(slot)
	c.load[from]--
	c.nozzle[slot] = to
	c.serves[to].add(slot)
	c.load[to]++
}

// try moves slot a to another nozzle and, unless it is below 0, slot b to a's nozzle. It undoes that and returns false if the
// result isn't possible or isn't better.
func (c *climber) try(a, b, to int) bool {
	from := c.nozzle[a]
	c.put(a, to)
	if b >= 0 {
		c.put(b, from)
	}
	if c.keep(a, b, from, to) {
		return true
	}
	c.put(a, from)
	if b >= 0 {
		c.put(b, to)
	}
	return false
}

// keep reports whether the assignment is possible and better, and then takes its scores over.
func (c *climber) keep(a, b, from, to int) bool {
	if !c.may[a][to] || c.apart[a][to].meets(&c.serves[to]) || b >= 0 && (!c.may[b][from] || c.apart[b][from].meets(&c.serves[from])) {
		return false
	}
	dx, dy, ok := c.window(c.nozzle).shift()
	if !ok {
		return false
	}
	first, second := c.evaluate(from), c.evaluate(to)
	t := total{first.add(second), abs(dx) + abs(dy)}
	for i, s := range c.scores {
		if i != from && i != to {
			t.score = t.score.add(s)
		}
	}
	if !t.less(c.total) {
		return false
	}
	c.scores[from], c.scores[to], c.total = first, second, t
	return true
}

// better tries all moves and exchanges once. It reports whether any made the assignment better while there was effort left.
func (c *climber) better() (improved bool) {
	for s := range c.nozzle {
		for i, feeds := range c.feeds {
			if c.spent > effort {
				return false
			}
			if i != c.nozzle[s] && c.load[i] < feeds {
				improved = c.try(s, -1, i) || improved
			}
		}
		for other := s + 1; other < len(c.nozzle); other++ {
			if c.nozzle[other] == c.nozzle[s] {
				continue
			}
			if c.spent > effort {
				return false
			}
			improved = c.try(s, other, c.nozzle[other]) || improved
		}
	}
	return improved
}
