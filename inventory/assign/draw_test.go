package assign

// drawSmall draws a case; intn draws from 0 to n-1. Few different values are drawn, so that many assignments are equal on the first
// levels.
func drawSmall(intn func(n int) int) *small {
	n := 1 + intn(6)
	c := &small{prime: int64(intn(3)) * 20, swap: int64(intn(4)) * 5, load: int64(intn(4)) * 30, pins: map[int]int{}}
	for range 1 + intn(4) {
		c.feeds = append(c.feeds, 1+intn(4))
	}
	for range 1 + intn(30) {
		c.sequence = append(c.sequence, intn(n))
	}
	even := intn(2) == 0
	flush := []int64{0, 60, 150, 400}
	for from := range n {
		c.purge = append(c.purge, make([]int64, n))
		for to := range n {
			c.purge[from][to] = 150
			if !even {
				c.purge[from][to] = flush[(from+to*to+intn(3))%len(flush)]
			}
		}
		c.density = append(c.density, []int64{1240, 1240, 1270}[intn(3)])
		c.price = append(c.price, []int64{1, 1, 2, 20}[intn(4)])
		c.k = append(c.k, []float64{1, 1.25}[intn(2)])
		c.need = append(c.need, float64(10*intn(4)))
		c.likely = append(c.likely, []float64{1000, 1000, 30.5, 20, 12.5}[intn(5)])
	}
	if intn(4) == 0 {
		c.pins[intn(n)] = intn(len(c.feeds))
	}
	if intn(4) == 0 {
		c.hour = int64(1 + intn(3))
	}
	c.boxes, c.bounds = make([]*[5]int64, n), make([][5]*int64, len(c.feeds))
	if intn(2) == 0 {
		for range intn(4) {
			c.limits = append(c.limits, drawLimit(intn, n, len(c.feeds)))
		}
	}
	if intn(3) > 0 {
		drawReach(intn, c)
	}
	return c
}

func drawLimit(intn func(n int) int, slots, nozzles int) Limit {
	l := Limit{Nozzle: intn(nozzles+1) - 1, Slots: []int{intn(slots)}, Why: []string{"it is soft", "it wears the nozzle"}[intn(2)]}
	if other := intn(slots); other != l.Slots[0] {
		l.Slots = append(l.Slots, other)
	}
	return l
}

// drawReach draws boxes of 5 to 25 mm from -10 on, and nozzles that reach about 20 to 40 mm from about 0 on.
func drawReach(intn func(n int) int, c *small) {
	length := func(from, n int) int64 { return int64(from+5*intn(n))*1000 + []int64{0, 0, 0, -1, 1, 2}[intn(6)] }
	for slot := range c.boxes {
		if intn(6) > 0 {
			x, y := length(-10, 7), length(-10, 5)
			c.boxes[slot] = &[5]int64{x, x + length(5, 5), y, y + length(5, 4), length(10, 3)}
		}
	}
	for nozzle := range c.bounds {
		x, y := length(-5, 4), length(-5, 3)
		for i, end := range [5]int64{x, x + length(20, 5), y, y + length(20, 5), length(15, 4)} {
			if intn(4) > 0 {
				c.bounds[nozzle][i] = &end
			}
		}
	}
	c.asItLies = intn(6) == 0
}
