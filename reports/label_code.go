package reports

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the width of the white zone around a symbol, in modules (ISO/IEC 18004; from memory).
const quiet = 4

// symbol is a QR Code as a drawing: the number of modules on a side, and a path with a rectangle for each run of dark modules in a row.
// It is one path, because renderers that smooth edges show a seam where two paths meet.
type symbol struct {
	modules int
	path    string
}

// encode returns the symbol of a spool's id, and of nothing else. The characters of ids are in the alphanumeric set of ISO/IEC 18004, so
// 20 of them fit version 1 at level M, and 32 fit version 2.
func encode(id string) (symbol, error) {
	code, err := qr.Encode(id, qr.M, qr.AlphaNumeric)
	if err != nil {
		return symbol{}, fmt.Errorf("%s: %w", id, err)
	}
	n := code.Bounds().Dx()
	dark := func(x, y int) bool { return x < n && code.At(x, y) == color.Black }
	var b strings.Builder
	for y := range n {
		for x := 0; x < n; x++ {
			if !dark(x, y) {
				continue
			}
			from := x
			for dark(x, y) {
				x++
			}
			fmt.Fprintf(&b, "M%d %dh%dv1H%d", from, y, x-from, from) // filling closes the path
		}
	}
	return symbol{n, b.String()}, nil
}
