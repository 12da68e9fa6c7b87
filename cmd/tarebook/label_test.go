package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"pgregory.net/rapid"

	"tarebook/ledger"
	"tarebook/reports"
)

// scan reads the symbols on the labels of a file and prints what they hold, as a bar-code reader types it; what follows the
// file's name is put behind each: scan FILE [TEXT...].
func scan() {
	text, err := os.ReadFile(os.Args[1])
	if err != nil {
		panic(err)
	}
	labels, err := readLabels(string(text))
	if err != nil {
		panic(err)
	}
	for _, l := range labels {
		fmt.Println(strings.Join(append([]string{l.id}, os.Args[2:]...), " "))
	}
}

// printed is a label as it was read off a file.
type printed struct {
	area    area   // on its sheet, in mm
	code    area   // of its symbol with the quiet zone
	modules int    // of the symbol on a side
	id      string // that the symbol holds
	level   string // of its error correction
	texts   []printedText
}

type printedText struct {
	area // within the label, what the text takes in a font with the advance of Courier, 0.6 of an em
	size float64
	text string
}

type area struct{ x, y, w, h float64 }

func (a area) within(b area) bool {
	const slack = 0.011 // lengths are written to a hundredth
	return a.x >= b.x-slack && a.y >= b.y-slack && a.x+a.w <= b.x+b.w+slack && a.y+a.h <= b.y+b.h+slack
}

// readLabels reads the labels of a document or a drawing: each drawing in it must be well-formed.
func readLabels(document string) (labels []printed, err error) {
	found := regexp.MustCompile(`(?s)<svg class="sheet".*?\n</svg>\n`).FindAllString(document, -1)
	if found == nil {
		found = []string{document}
	}
	for _, drawing := range found {
		l, err := readDrawing(drawing)
		if err != nil {
			return nil, err
		}
		labels = append(labels, l...)
	}
	return labels, nil
}

func readDrawing(drawing string) (labels []printed, err error) {
	type frame struct {
		class string
		x, y  float64
		view  string
	}
	var open []frame
	var text *printedText
	d := xml.NewDecoder(strings.NewReader(drawing))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return labels, nil
		}
		if err != nil {
			return nil, fmt.Errorf("not well-formed: %w", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			get := func(name string) string {
				for _, a := range token.Attr {
					if a.Name.Local == name {
						return a.Value
					}
				}
				return ""
			}
			length := func(name string) float64 {
				x, err := strconv.ParseFloat(strings.TrimSuffix(get(name), "mm"), 64)
				if get(name) != "" && err != nil {
					panic(err)
				}
				return x
			}
			place := area{length("x"), length("y"), length("width"), length("height")}
			switch token.Name.Local {
			case "svg":
				switch get("class") {
				case "label":
					labels = append(labels, printed{area: place})
				case "code":
					labels[len(labels)-1].code = place
				}
				open = append(open, frame{get("class"), place.x, place.y, get("viewBox")})
			case "path":
				if inner := open[len(open)-1]; inner.class == "code" {
					if get("shape-rendering") != "crispEdges" {
						return nil, errors.New("a symbol that is smoothed")
					}
					if err := labels[len(labels)-1].decode(inner.view, get("d")); err != nil {
						return nil, err
					}
				}
			case "text":
				size := length("font-size")
				for _, f := range open {
					if f.class == "form" {
						place.x, place.y = place.x+f.x, place.y+f.y
					}
				}
				text = &printedText{area{place.x, place.y - 0.7*size, 0, 0.9 * size}, size, ""}
			}
		case xml.CharData:
			if text != nil {
				text.text += string(token)
			}
		case xml.EndElement:
			switch token.Name.Local {
			case "svg":
				open = open[:len(open)-1]
			case "text":
				l := &labels[len(labels)-1]
				for _, r := range text.text {
					switch {
					case unicode.Is(unicode.M, r):
					case r >= 0x1100 && r < 0x2000 || r >= 0x2e80 && r < 0xff00: // East Asian, a full em
						text.w += text.size
					default:
						text.w += 0.6 * text.size
					}
				}
				if l.texts == nil { // the id: capitals, digits and hyphens have no descenders
					text.h = 0.7 * text.size
				}
				l.texts = append(l.texts, *text)
				text = nil
			}
		}
	}
}

var run1 = regexp.MustCompile(`^M(\d+) (\d+)h(\d+)v1H(\d+)`)

// decode rasterises a symbol, 4 dots a module, and reads it. What is around it must be its quiet zone, 4 modules wide
// (ISO/IEC 18004; from memory).
func (p *printed) decode(view, path string) error {
	var from1, from2, side1, side2 int
	if _, err := fmt.Sscanf(view, "%d %d %d %d", &from1, &from2, &side1, &side2); err != nil || from1 != -4 || from2 != -4 || side1 != side2 {
		return fmt.Errorf("the symbol's view is %q", view)
	}
	p.modules = side1 - 8
	dots := image.NewGray(image.Rect(0, 0, 4*side1, 4*side1))
	for i := range dots.Pix {
		dots.Pix[i] = 255
	}
	for path != "" {
		m := run1.FindStringSubmatch(path)
		if m == nil {
			return fmt.Errorf("the path goes on with %.20q", path)
		}
		path = path[len(m[0]):]
		x, _ := strconv.Atoi(m[1])
		y, _ := strconv.Atoi(m[2])
		n, _ := strconv.Atoi(m[3])
		if m[4] != m[1] || x+n > p.modules || y >= p.modules || n == 0 {
			return fmt.Errorf("a run %q of %d modules", m[0], p.modules)
		}
		for dy := range 4 {
			for dx := range 4 * n {
				dots.SetGray(4*(x+4)+dx, 4*(y+4)+dy, color.Gray{})
			}
		}
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(dots)
	if err != nil {
		return err
	}
	read, err := qrcode.NewQRCodeReader().Decode(bits, map[gozxing.DecodeHintType]any{
		gozxing.DecodeHintType_PURE_BARCODE: true, gozxing.DecodeHintType_CHARACTER_SET: "UTF-8",
	})
	if err != nil {
		return err
	}
	p.id = read.GetText()
	p.level = fmt.Sprint(read.GetResultMetadata()[gozxing.ResultMetadataType_ERROR_CORRECTION_LEVEL])
	return nil
}

// anID draws the id of a spool. Each test has a generator of its own: rapid's may not be shared by tests that run at once.
func anID() *rapid.Generator[string] { return rapid.StringMatching(`[A-Z0-9][A-Z0-9-]{0,31}`) }

// modulesFor is the side of the least symbol at level M for an alphanumeric text (ISO/IEC 18004, as a manual of marking machines
// gives it): version 1 has 21 modules and takes 20 characters, version 2 25 and 38. So do their data codewords, 16 and 28: n
// characters take 4 + 9 + 5.5 n bits.
func modulesFor(id string) int {
	if len(id) <= 20 {
		return 21
	}
	return 25
}

// What a symbol holds is the id and nothing else, of any length that an id has, in the least version at level M.
func TestLabelSymbolHoldsTheID(t *testing.T) {
	t.Parallel()
	holds := func(t rapid.TB, id string) {
		var b bytes.Buffer
		if err := (reports.Labels{{Spool: id}}).WriteSVG(&b, reports.LabelSize{Width: 100, Height: 50}); err != nil {
			t.Fatal(err)
		}
		labels, err := readLabels(b.String())
		if err != nil || len(labels) != 1 {
			t.Fatalf("%s: %v, %d labels", id, err, len(labels))
		}
		if l := labels[0]; l.id != id || l.modules != modulesFor(id) || l.level != "M" {
			t.Fatalf("%s: read %q, %d modules, level %s; want %d modules, level M", id, l.id, l.modules, l.level, modulesFor(id))
		}
	}
	for n := 1; n <= 32; n++ {
		holds(t, strings.Repeat("Z0-", 11)[:n])
		holds(t, strings.Repeat("7", n))
	}
	rapid.Check(t, func(t *rapid.T) { holds(t, anID().Draw(t, "id")) })
}

// Whatever grid is taken, its labels stand on A4 (210 x 297 mm, ISO 216) and Letter (215.9 x 279.4 mm, ANSI/ASME Y14.1;
// both from memory) within margins of 10 mm, don't overlap, and are large enough to read; the document counts them in order.
func TestLabelSheetFitsPaper(t *testing.T) {
	t.Parallel()
	const margin, width, height = 10, 210, 279.4 // the narrower of the two, and the shorter
	taken := 0
	rapid.Check(t, func(t *rapid.T) {
		grid := reports.LabelGrid{Columns: rapid.IntRange(1, 9).Draw(t, "columns"), Rows: rapid.IntRange(1, 24).Draw(t, "rows")}
		var labels reports.Labels
		for _, id := range rapid.SliceOfNDistinct(anID(), 1, 60, rapid.ID[string]).Draw(t, "ids") {
			labels = append(labels, reports.Label{Spool: id, Material: "PETG", Colour: "black"})
		}
		var b bytes.Buffer
		err := labels.WriteSheets(&b, reports.LabelSheet{Grid: grid})
		if err != nil { // what it says fits must do so
			m := regexp.MustCompile(`; (\d+x\d+) fits$`).FindStringSubmatch(err.Error())
			if m == nil || b.Len() > 0 {
				t.Fatalf("%v, %d bytes", err, b.Len())
			}
			if grid, err = reports.ParseLabelGrid(m[1]); err != nil {
				t.Fatal(err)
			}
			if err := labels.WriteSheets(&b, reports.LabelSheet{Grid: grid}); err != nil {
				t.Fatalf("%s was said to fit: %v", m[1], err)
			}
		}
		taken++
		if !strings.Contains(b.String(), "\n@page { margin: 10mm; }") {
			t.Fatal("the document does not say its margins")
		}
		read, err := readLabels(b.String())
		if err != nil || len(read) != len(labels) {
			t.Fatalf("%v; %d labels of %d", err, len(read), len(labels))
		}
		each := grid.Columns * grid.Rows
		if sheets := strings.Count(b.String(), `<svg class="sheet"`); sheets != (len(labels)+each-1)/each {
			t.Fatalf("%d sheets for %d labels of %s", sheets, len(labels), grid)
		}
		for i, l := range read {
			if l.id != labels[i].Spool {
				t.Fatalf("label %d holds %s, want %s", i, l.id, labels[i].Spool)
			}
			if !l.area.within(area{0, 0, width - 2*margin - 0.4, height - 2*margin - 0.4}) { // the sheet has 0.2 mm around them
				t.Fatalf("%s runs over the paper: %v", l.id, l.area)
			}
			legible(t, l)
			for _, o := range read[i/each*each : i] { // of the same sheet
				if l.area.x < o.area.x+o.area.w-0.02 && o.area.x < l.area.x+l.area.w-0.02 && l.area.y < o.area.y+o.area.h-0.02 && o.area.y < l.area.y+l.area.h-0.02 {
					t.Fatalf("%s and %s overlap: %v, %v", l.id, o.id, l.area, o.area)
				}
			}
		}
	})
	if taken == 0 {
		t.Fatal("no grid was taken")
	}
}

// Whatever size is taken, the label can be read; what is said to fit does.
func TestLabelOfAnySize(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		size := reports.LabelSize{Width: rapid.Float64Range(0.1, 300).Draw(t, "width"), Height: rapid.Float64Range(0.1, 300).Draw(t, "height")}
		label := reports.Labels{{Spool: anID().Draw(t, "id"), Material: "PETG", Colour: "black", Swatch: "#101010"}}
		if rapid.Bool().Draw(t, "known") {
			label[0].TareG = ledger.Known(ledger.Grams(rapid.IntRange(0, 9_999_999).Draw(t, "tare")))
		}
		var b bytes.Buffer
		if err := label.WriteSVG(&b, size); err != nil {
			m := regexp.MustCompile(`; (\S+x\S+) fits$`).FindStringSubmatch(err.Error())
			if m == nil || b.Len() > 0 {
				t.Fatalf("%v, %d bytes", err, b.Len())
			}
			if size, err = reports.ParseLabelSize(m[1]); err != nil {
				t.Fatal(err)
			}
			if err := label.WriteSVG(&b, size); err != nil {
				t.Fatalf("%s was said to fit: %v", m[1], err)
			}
		}
		read, err := readLabels(b.String())
		if err != nil || len(read) != 1 {
			t.Fatalf("%v; %d labels", err, len(read))
		}
		if math.Abs(read[0].area.w-size.Width) > 0.01 || math.Abs(read[0].area.h-size.Height) > 0.01 {
			t.Fatalf("it is %v, want %v", read[0].area, size)
		}
		legible(t, read[0])
	})
}

// legible requires modules of 0.25 mm and text of 1 mm at least (common practice, no source), all within the label, and a
// symbol that no text comes near.
func legible(t rapid.TB, l printed) {
	t.Helper()
	inside := area{0, 0, l.area.w, l.area.h}
	if module := l.code.w / float64(l.modules+8); module < 0.249 || !l.code.within(inside) || l.code.w != l.code.h {
		t.Fatalf("%s: modules of %.3f mm, symbol at %v of %v", l.id, module, l.code, inside)
	}
	var id, figure float64
	for _, x := range l.texts {
		if x.size < 1 || !x.within(inside) {
			t.Fatalf("%s: %q of %.2f mm at %v of %v", l.id, x.text, x.size, x.area, inside)
		}
		if x.x < l.code.x+l.code.w && l.code.x < x.x+x.w && x.y < l.code.y+l.code.h && l.code.y < x.y+x.h {
			t.Fatalf("%s: %q at %v lies on the symbol at %v", l.id, x.text, x.area, l.code)
		}
		switch {
		case x.text == l.id:
			id = x.size
		case x.text == "not known" || strings.HasSuffix(x.text, " g"):
			figure = x.size
		default:
			if x.size > figure && figure > 0 {
				t.Fatalf("%s: %q of %.2f mm is larger than the tare, %.2f", l.id, x.text, x.size, figure)
			}
		}
	}
	if figure == 0 || id < figure {
		t.Fatalf("%s: the id is of %.2f mm, the tare of %.2f", l.id, id, figure)
	}
}

// Text of any kind and length stays text within its label.
func TestLabelOfAnyText(t *testing.T) {
	t.Parallel()
	long := func(unit string) string { return strings.Repeat(unit, 4000/len(unit)) }
	for _, text := range []string{
		"", " ", "PLA", long("W"), long("MATERIAL "), long("漢字"), long("ｱ"), long("हिन्दी"), long("שלום"), long("مرحبا "), long("\u0301"), long("👩‍👩‍👧"),
		long("<script>alert(1)</script>"), `</text></svg><script>alert(1)</script>`, `" onload="alert(1)`, "]]>", "&amp;", "\x00\x1b[31m", "\u202eabc", "\ufffe\uffff",
	} {
		labels := reports.Labels{{Spool: "X-1", Material: text, Colour: text, TareFrom: text}, {Spool: "X-2", Material: "PLA", Colour: text, Swatch: "#12AB34", Maker: text, Lot: text}}
		var sheets, alone bytes.Buffer
		if err := errors.Join(labels.WriteSheets(&sheets, reports.LabelSheet{Grid: reports.DefaultLabelGrid}), labels[1:].WriteSVG(&alone, reports.DefaultLabelSize)); err != nil {
			t.Fatal(err)
		}
		for _, document := range []string{sheets.String(), alone.String()} {
			labels, err := readLabels(document)
			if err != nil {
				t.Fatalf("%.40q: %v", text, err)
			}
			for _, l := range labels {
				legible(t, l)
				if len(text) > 1000 && !slices.ContainsFunc(l.texts, func(x printedText) bool { return strings.HasSuffix(x.text, "…") }) {
					t.Errorf("%.40q: nothing shows that it was cut", text)
				}
			}
			if strings.ContainsAny(document, "\x00\x1b\u202e\ufffe\uffff") || strings.Contains(document, "<script") || strings.Contains(document, "onload=\"") {
				t.Errorf("%.40q came through:\n%s", text, document)
			}
			if len(document) > 16000 {
				t.Errorf("%.40q: %d bytes", text, len(document))
			}
		}
	}
}

// driveLabel measures text as the browser draws it, against the symbol beside it and the label around it.
const driveLabel = `
	const found = {Labels: 0, Over: []};
	for (const label of doc.querySelectorAll(".label")) {
		found.Labels++;
		const around = label.getBoundingClientRect(), code = label.querySelector(".code").getBoundingClientRect();
		for (const text of label.querySelectorAll("text")) {
			const t = text.getBoundingClientRect(), id = text.parentNode === label;
			const beside = t.right <= code.left + 0.5 || t.bottom <= code.top + 0.5 || id;
			if (t.width > 0 && (!beside || t.left < around.left || t.right > around.right + 0.5 || t.bottom > around.bottom + 0.5)) {
				found.Over.push(text.textContent);
			}
		}
	}
	return found;`

// checkLabel requires that no text runs over.
func checkLabel(t *testing.T, _ string, found json.RawMessage) {
	var got struct {
		Labels int
		Over   []string
	}
	if err := json.Unmarshal(found, &got); err != nil {
		t.Fatalf("%v: %s", err, found)
	}
	if got.Labels < 20 || len(got.Over) > 0 {
		t.Errorf("%d labels; %q run over", got.Labels, got.Over)
	}
}

func BenchmarkLabelSheets(b *testing.B) {
	var labels reports.Labels
	for i := range 2000 {
		labels = append(labels, reports.Label{Spool: fmt.Sprintf("PLA-%04d", i), Material: "PLA", Colour: "black", Swatch: "#101010"})
	}
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := labels.WriteSheets(&out, reports.LabelSheet{Grid: reports.DefaultLabelGrid}); err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(out.Len()))
	}
}
