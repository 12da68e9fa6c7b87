package assign

import "slices"

// shifts are all shifts that an assignment may need, along each axis in ascending order, in nanometres: 0, and those at which a box
// comes to a bound of its nozzle. At a given shift every slot is within reach of a nozzle or not, whatever the others do.
type shifts struct {
	x, y         []int64
	zeroX, zeroY int // indices of 0
}

// region is a range of shifts along each axis, by index. It is empty where an end is before its beginning.
type region struct{ x0, x1, y0, y1 int32 }

var noShifts = region{0, -1, 0, -1}

func (r region) and(o region) region {
	return region{max(r.x0, o.x0), min(r.x1, o.x1), max(r.y0, o.y0), min(r.y1, o.y1)}
}

func (r region) empty() bool { return r.x1 < r.x0 || r.y1 < r.y0 }

func newShifts(r *rules) shifts {
	var xs, ys []window
	for s := range r.may {
		for i, may := range r.may[s] {
			if may {
				xs, ys = append(xs, r.reach[s][i].x), append(ys, r.reach[s][i].y)
			}
		}
	}
	s := shifts{x: ends(xs), y: ends(ys)}
	s.zeroX, _ = slices.BinarySearch(s.x, 0)
	s.zeroY, _ = slices.BinarySearch(s.y, 0)
	return s
}

// ends returns the least shifts of windows and of their intersections.
func ends(windows []window) []int64 {
	all := []int64{0}
	for _, w := range windows {
		if w.lo > slack {
			all = append(all, w.lo)
		}
		if w.hi < -slack {
			all = append(all, w.hi)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func (s *shifts) all() region { return region{0, int32(len(s.x) - 1), 0, int32(len(s.y) - 1)} }

// region returns the shifts within windows.
func (s *shifts) region(w windows) region {
	r := region{}
	r.x0, r.x1 = allowed(s.x, w.x)
	r.y0, r.y1 = allowed(s.y, w.y)
	return r
}

func allowed(shifts []int64, w window) (first, last int32) {
	first, last = 0, -1
	for i, shift := range shifts {
		if w.allows(shift) {
			if last < 0 {
				first = int32(i)
			}
			last = int32(i)
		}
	}
	return first, last
}

// nearest returns the least shift of a region that isn't empty, by index.
func (s *shifts) nearest(r region) (x, y int32) {
	return max(r.x0, min(r.x1, int32(s.zeroX))), max(r.y0, min(r.y1, int32(s.zeroY)))
}

// least returns the length of the least shift of a region, or -1 if that is empty.
func (s *shifts) least(r region) int64 {
	if r.empty() {
		return -1
	}
	x, y := s.nearest(r)
	return abs(s.x[x]) + abs(s.y[y])
}

// open is a region with the best division by its lower bound.
type open struct {
	within region
	sets   []uint32
	bound  total
}

// exact returns the best assignment of at most Exact slots, or nil if there is none.
//
// It is a best-first branch and bound over regions of shifts. A region's division takes each nozzle by itself, so its total is a
// lower bound; where one shift suits all its nozzles at no greater length, it is exact. Else the region is cut in two such that
// the same division either fails or is bounded better in both.
func exact(e *evaluator, r *rules) []int {
	d := newDivision(e, r)
	var regions []open
	add := func(within region) {
		if sets, bound := d.best(within); sets != nil {
			regions = append(regions, open{within, sets, bound})
		}
	}
	add(d.shifts.all())
	for len(regions) > 0 {
		first := 0
		for i := range regions {
			if regions[i].bound.less(regions[first].bound) {
				first = i
			}
		}
		o := regions[first]
		regions = slices.Delete(regions, first, first+1)
		common := o.within
		for i, set := range o.sets {
			common = common.and(d.fits[i][set])
		}
		if !common.empty() && d.shifts.least(common) == o.bound.shift {
			return nozzles(o.sets, len(r.may))
		}
		for _, part := range d.shifts.cut(o.within, common) {
			add(part)
		}
	}
	return nil
}

func nozzles(sets []uint32, slots int) []int {
	nozzle := make([]int, slots)
	for s := range nozzle {
		for i, set := range sets {
			if set>>s&1 != 0 {
				nozzle[s] = i
			}
		}
	}
	return nozzle
}

// cut cuts a region in two. Common are the shifts of it that suit a division; where they are empty along an axis, their end is
// before their beginning, and the cut lies between the two.
func (s *shifts) cut(within, common region) [2]region {
	x, y := s.nearest(within)
	switch {
	case common.x1 < common.x0:
		return cutX(within, (common.x0+common.x1)/2)
	case common.y1 < common.y0:
		return cutY(within, (common.y0+common.y1)/2)
	case common.x0 > x:
		return cutX(within, common.x0-1)
	case common.x1 < x:
		return cutX(within, common.x1)
	case common.y0 > y:
		return cutY(within, common.y0-1)
	}
	return cutY(within, common.y1)
}

// cutX ends the first part at an index.
func cutX(r region, last int32) [2]region {
	first, second := r, r
	first.x1, second.x0 = last, last+1
	return [2]region{first, second}
}

func cutY(r region, last int32) [2]region {
	first, second := r, r
	first.y1, second.y0 = last, last+1
	return [2]region{first, second}
}
