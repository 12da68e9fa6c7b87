package assign

// climb searches, for more slots than can be proven: from fixed beginnings, as long as moving one slot or exchanging two makes it
// better. The best end is taken. No chance is in it, so the same print always has the same plan.
func climb(e *evaluator, pins map[int]int) []int {
	var best *climber
	for _, begin := range []func(c *climber){(*climber).fill, (*climber).deal} {
		c := newClimber(e, pins)
		begin(c)
		c.reckon()
		for c.step() {
		}
		if best == nil || c.total.less(best.total) {
			best = c
		}
	}
	return best.nozzle
}

type climber struct {
	*evaluator
	pins   map[int]int
	nozzle []int // by slot; -1 for none yet
	load   []int // slots by nozzle
	scores []score
	total  score
}

func newClimber(e *evaluator, pins map[int]int) *climber {
	c := &climber{evaluator: e, pins: pins, nozzle: make([]int, len(e.print.Slots)), load: make([]int, len(e.machine.Feeds)), scores: make([]score, len(e.machine.Feeds))}
	for s := range c.nozzle {
		c.nozzle[s] = -1
		if i, ok := pins[s]; ok {
			c.put(s, i)
		}
	}
	return c
}

func (c *climber) put(slot, nozzle int) {
	c.nozzle[slot] = nozzle
	c.load[nozzle]++
}

// fill fills one nozzle after another.
func (c *climber) fill() {
	i := 0
	for s := range c.nozzle {
		for c.nozzle[s] < 0 {
			if c.load[i] < c.machine.Feeds[i] {
				c.put(s, i)
			} else {
				i++
			}
		}
	}
}

// deal gives each nozzle one slot after another.
func (c *climber) deal() {
	i := 0
	for s := range c.nozzle {
		for c.nozzle[s] < 0 {
			if c.load[i] < c.machine.Feeds[i] {
				c.put(s, i)
			}
			i = (i + 1) % len(c.load)
		}
	}
}

// of evaluates one nozzle as slots stand.
func (c *climber) of(nozzle int) score {
	var in members
	var slots []int
	for s, i := range c.nozzle {
		if i == nozzle {
			in[s] = true
			slots = append(slots, s)
		}
	}
	return c.score(slots, &in)
}

func (c *climber) reckon() {
	c.total = score{}
	for i := range c.scores {
		c.scores[i] = c.of(i)
		c.total = c.total.add(c.scores[i])
	}
}

// try evaluates what slots a and b come to when they change places; b is -1 where a goes to nozzle to.
func (c *climber) try(a, b, to int) score {
	from := c.nozzle[a]
	c.nozzle[a] = to
	if b >= 0 {
		c.nozzle[b] = from
	}
	total := c.of(from).add(c.of(to))
	c.nozzle[a] = from
	if b >= 0 {
		c.nozzle[b] = to
	}
	for i, s := range c.scores {
		if i != from && i != to {
			total = total.add(s)
		}
	}
	return total
}

// step takes the best of all moves and exchanges, if it is better than what is.
func (c *climber) step() bool {
	best, a, b, to := c.total, -1, -1, -1
	consider := func(slot, other, nozzle int) {
		if total := c.try(slot, other, nozzle); total.less(best) {
			best, a, b, to = total, slot, other, nozzle
		}
	}
	for s, from := range c.nozzle {
		if _, pinned := c.pins[s]; pinned {
			continue
		}
		for i, feeds := range c.machine.Feeds {
			if i != from && c.load[i] < feeds {
				consider(s, -1, i)
			}
		}
		for other := s + 1; other < len(c.nozzle); other++ {
			if _, pinned := c.pins[other]; !pinned && c.nozzle[other] != from {
				consider(s, other, c.nozzle[other])
			}
		}
	}
	if a < 0 {
		return false
	}
	from := c.nozzle[a]
	c.nozzle[a] = to
	if b >= 0 {
		c.nozzle[b] = from
	} else {
		c.load[from]--
		c.load[to]++
	}
	c.reckon()
	return true
}
