package assign

// effort bounds the search from one beginning: distinct returns looked at. A few seconds of work.
const effort = 1 << 27

// climb searches, for more slots than can be proven: from fixed beginnings, as long as moving one slot or exchanging two makes it
// better, or until its effort is spent. The best end is taken. No chance and no clock is in it, so the same print always has the
// same plan.
func climb(e *evaluator, pins map[int]int) []int {
	var best *climber
	for _, begin := range []func(c *climber){(*climber).fill, (*climber).deal} {
		c := newClimber(e, pins)
		begin(c)
		c.reckon()
		for c.better() {
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
	spent  int
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
	c.spent += len(c.returns) + len(c.nozzle)
	var in bitset
	var slots []int
	for s, i := range c.nozzle {
		if i == nozzle {
			in.add(s)
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

// try moves slot a to another nozzle, or exchanges it with slot b when that is not below 0, and keeps that if it is better.
func (c *climber) try(a, b, to int) bool {
	from := c.nozzle[a]
	c.nozzle[a] = to
	if b >= 0 {
		c.nozzle[b] = from
	}
	left, right := c.of(from), c.of(to)
	total := left.add(right)
	for i, s := range c.scores {
		if i != from && i != to {
			total = total.add(s)
		}
	}
	if !total.less(c.total) {
		c.nozzle[a] = from
		if b >= 0 {
			c.nozzle[b] = to
		}
		return false
	}
	c.scores[from], c.scores[to], c.total = left, right, total
	if b < 0 {
		c.load[from]--
		c.load[to]++
	}
	return true
}

// better tries all moves and exchanges once, and tells whether any made it better and there is effort left.
func (c *climber) better() (any bool) {
	for s := range c.nozzle {
		if _, pinned := c.pins[s]; pinned {
			continue
		}
		for i, feeds := range c.machine.Feeds {
			if c.spent > effort {
				return false
			}
			if i != c.nozzle[s] && c.load[i] < feeds {
				any = c.try(s, -1, i) || any
			}
		}
		for other := s + 1; other < len(c.nozzle); other++ {
			if _, pinned := c.pins[other]; pinned || c.nozzle[other] == c.nozzle[s] {
				continue
			}
			if c.spent > effort {
				return false
			}
			any = c.try(s, other, c.nozzle[other]) || any
		}
	}
	return any
}
