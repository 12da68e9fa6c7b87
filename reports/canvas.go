package reports

// canvas is a field of a terminal to draw on, in dots. A cell is one dot, or 2 x 4 of braille where the terminal can show that.
type canvas struct {
	columns, rows int // cells
	dx, dy        int // dots of a cell
	width, height int // dots
	dots          []dot
}

// dot is what stands on a dot of a field; what is greater covers what is less.
type dot byte

const (
	noDot dot = iota
	bandDot
	lineDot
	whiskerDot
	pointDot
)

// plainDots draw dots where a terminal shows ASCII alone.
var plainDots = [...]byte{noDot: ' ', bandDot: ':', lineDot: '.', whiskerDot: '|', pointDot: 'o'}

func newCanvas(columns, rows int, braille bool) *canvas {
	c := &canvas{columns: columns, rows: rows, dx: 1, dy: 1}
	if braille {
		c.dx, c.dy = 2, 4
	}
	c.width, c.height = columns*c.dx, rows*c.dy
	c.dots = make([]dot, c.width*c.height)
	return c
}

// set puts a mark on a dot; outside the field it does nothing.
func (c *canvas) set(x, y int, m dot) {
	if x >= 0 && x < c.width && y >= 0 && y < c.height {
		at := &c.dots[y*c.width+x]
		*at = max(*at, m)
	}
}

// upright puts a mark on all dots of a column between two rows.
func (c *canvas) upright(x, from, to int, m dot) {
	for y := min(from, to); y <= max(from, to); y++ {
		c.set(x, y, m)
	}
}

// lines returns what is drawn.
func (c *canvas) lines() []string {
	all := make([]string, c.rows)
	for r := range c.rows {
		cells := make([]rune, c.columns)
		for i := range cells {
			cells[i] = c.cell(i, r)
		}
		all[r] = string(cells)
	}
	return all
}

// dotBits are the bits of a braille character for its dots, row by row (Unicode, "Braille Patterns", from U+2800; from memory).
var dotBits = [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// cell returns the character of a cell. A band takes every other dot, so that a line stands out from it.
func (c *canvas) cell(column, row int) rune {
	var most dot
	var bits rune
	for y := range c.dy {
		for x := range c.dx {
			m := c.dots[(row*c.dy+y)*c.width+column*c.dx+x]
			most = max(most, m)
			if m > bandDot || m == bandDot && (x+y)%2 == 0 {
				bits |= dotBits[y][x]
			}
		}
	}
	switch {
	case c.dx == 1 || most == pointDot:
		return rune(plainDots[most])
	case bits == 0:
		return ' '
	}
	return 0x2800 + bits
}
