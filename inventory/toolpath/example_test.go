package toolpath_test

import (
	"fmt"
	"strings"

	"tarebook/inventory/toolpath"
)

// The main road: read a file, then ask where a spool with less on it than that runs out.
func Example() {
	const file = `M83
T0
G1 E15       ; what is extruded at a standstill after a change is purge
G1 Z0.2
; type: wall
G1 X10 E4
G1 X20 E4
G1 E-0.8     ; a retraction and its return are no use
G1 E0.8
G1 Z0.4
; type: support
G1 X10 E4
`
	f, err := toolpath.Read(strings.NewReader(file), "part.gcode", toolpath.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range f.Tools {
		fmt.Printf("tool %d: %v mm in layers %d to %d\n", t.Tool, t.Total().MM(), t.FirstLayer, t.LastLayer)
		for _, c := range toolpath.Classes {
			fmt.Println(c, t.Use[c].MM())
		}
	}
	points, err := toolpath.Find(strings.NewReader(file), "part.gcode", toolpath.Options{}, 0, 24*toolpath.MM)
	if err != nil {
		fmt.Println(err)
		return
	}
	out := points[0]
	fmt.Printf("24 mm end in layer %d at %v mm, line %d", out.Layer, out.Z.MM(), out.Line)
	// Output:
	// tool 0: 27 mm in layers 1 to 2
	// part 8
	// support 4
	// prime 0
	// purge 15
	// 24 mm end in layer 2 at 0.4 mm, line 12
}
