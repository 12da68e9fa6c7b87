package toolpath_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"

	"tarebook/inventory/toolpath"
)

// generated makes up a sliced file of about so many bytes: 90 % G1 with X, Y and E, 5 % comments, 2 % arcs, 2 %
// retractions, 1 % layer and tool changes. The same size gives the same bytes.
func generated(size int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	b.WriteString("G21\nG90\nM83\nT0\nG1 Z0.2 F600\n")
	at := func() float64 { return 20 + float64(r.IntN(200_000))/1000 }
	e := func() float64 { return float64(100+r.IntN(20_000)) / 1e5 }
	sign, layer := "-", 1
	for b.Len() < size {
		switch n := r.IntN(1000); {
		case n < 900:
			fmt.Fprintf(&b, "G1 X%.3f Y%.3f E%.5f\n", at(), at(), e())
		case n < 950:
			fmt.Fprintln(&b, "; type:", []string{"outer wall", "infill", "support", "prime tower"}[r.IntN(4)])
		case n < 970:
			fmt.Fprintf(&b, "G3 X%.3f Y%.3f I%.3f J%.3f E%.5f\n", at(), at(), at(), at(), e())
		case n < 990:
			fmt.Fprintf(&b, "G1 E%s0.8 F2400\n", sign)
			sign = map[string]string{"-": "", "": "-"}[sign]
		case n < 999:
			layer++
			fmt.Fprintf(&b, "G1 Z%.1f F600\n", float64(layer)*0.2)
		default:
			fmt.Fprintf(&b, "T%d\n", r.IntN(4))
		}
	}
	return b.Bytes()
}

func BenchmarkRead(b *testing.B) {
	text := generated(16_000_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		f, err := toolpath.Read(bytes.NewReader(text), "", toolpath.Options{Sequence: true})
		if err != nil {
			b.Fatal(err)
		}
		if len(f.Tools) != 4 {
			b.Fatal(tell(f))
		}
	}
}
