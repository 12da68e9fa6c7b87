package reports

import "strings"

// formRow is a row of a label's form below the tare. A second line of the row above has no caption.
type formRow struct {
	caption, value string
	swatch         string // a colour to show before the value, or nothing
}

const patchWidth = 1.6 // of a swatch, in ems of text, with the gap after it

// rows returns what stands in the form, and the layout with so many rows. Where all of it would be too small to read, a colour is cut to
// one line, and then maker and lot are left out.
func (x *Label) rows(l labelLayout, swatch bool) (labelLayout, []formRow) {
	made := x.Maker != "" || x.Lot != ""
	two := true
	for {
		n := formRows
		if made {
			n++
		}
		one := l.withRows(n)
		if two && emsOf(printable(x.Colour)) > one.room(x.patch(swatch)) {
			n++
		}
		if full := l.withRows(n); n == formRows || full.text >= minText {
			return full, x.fill(&full, made, n > one.rows, swatch)
		}
		if two {
			two = false
		} else {
			made = false
		}
	}
}

func (x *Label) patch(swatch bool) float64 {
	if swatch && x.Swatch != "" {
		return patchWidth
	}
	return 0
}

// room returns how many ems a value has behind what stands before it.
func (l *labelLayout) room(before float64) float64 {
	return (l.form.w-captionWidth*l.text)/l.text - before
}

// fill returns the rows of a layout.
func (x *Label) fill(l *labelLayout, made, two, swatch bool) []formRow {
	colour := formRow{caption: "colour", value: printable(dash(x.Colour))}
	if x.patch(swatch) > 0 {
		colour.swatch = x.Swatch
	}
	rows := []formRow{{caption: "material", value: fitted(printable(x.Material), l.room(0))}}
	if room := l.room(x.patch(swatch)); two {
		first, rest := broken(colour.value, room)
		colour.value = first
		rows = append(rows, colour, formRow{value: fitted(rest, l.room(0))})
	} else {
		colour.value = fitted(colour.value, room)
		rows = append(rows, colour)
	}
	rows = append(rows, formRow{caption: "diameter", value: x.DiameterMM.Decimal.String() + " mm"})
	if made {
		rows = append(rows, formRow{caption: x.madeCaption(), value: x.made(l.room(0))})
	}
	return append(rows, formRow{caption: "bought", value: day(x.Bought)})
}

func (x *Label) madeCaption() string {
	if x.Maker == "" {
		return "lot"
	}
	return "maker"
}

// made returns maker and lot; where there is not room for both, the maker is shortened, since the lot tells spools apart.
func (x *Label) made(room float64) string {
	maker, lot := printable(x.Maker), printable(x.Lot)
	switch {
	case lot == "":
		return fitted(maker, room)
	case maker == "":
		return fitted(lot, room)
	}
	if both := maker + ", lot " + lot; emsOf(both) <= room {
		return both
	}
	lot = fitted(" "+lot, room/2)
	return fitted(maker, room-emsOf(lot)) + lot
}

// broken returns the beginning of a text that is at most ems wide, up to a blank if there is one in its second half, and the rest.
func broken(s string, ems float64) (first, rest string) {
	width, end := 0.0, len(s)
	for i, r := range s {
		if width += emWidth(r); width > ems {
			end = i
			break
		}
	}
	if blank := strings.LastIndex(s[:end], " "); blank > end/2 && end < len(s) {
		end = blank
	}
	return s[:end], strings.TrimLeft(s[end:], " ")
}

// emsOf returns how wide a text is at most.
func emsOf(s string) (ems float64) {
	for _, r := range s {
		ems += emWidth(r)
	}
	return ems
}
