package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"tarebook/ledger"
	"tarebook/samples"
)

// page writes the page of a book and returns it.
func page(t testing.TB, dir string) string {
	t.Helper()
	var out, errs bytes.Buffer
	status := run([]string{"page"}, environment{stdin: strings.NewReader(""), stdout: &out, stderr: &errs,
		getenv: func(string) string { return "" }, now: func() time.Time { return at(samples.DemoAsOf) }, entropy: counting(0), dir: dir})
	if status != 0 {
		t.Fatalf("status %d: %s", status, errs.String())
	}
	return out.String()
}

// hostile makes the demo book hold what would do harm where it is taken at its word.
func hostile(t *testing.T) (dir string) {
	t.Helper()
	dir = demo(t)
	long := strings.Repeat("never ends ", 1000) // of 11 characters
	for _, row := range []struct{ file, line string }{
		{"clients.csv", `<script>alert(1)</script>,A name,1,0,,`},
		{"purchases.csv", `,2026-11-02T09:00:00+01:00,BAD-1,PLA,"<img src=x onerror=alert(2)>",,"` + "turned\u202eround" + `",,1.75,1000,card-1kg,,20,EUR,,"shelf ""/><script>alert(3)</script>",,"` + long + `"`},
		{"purchases.csv", `,2026-11-02T09:00:00+01:00,BAD-2,PLA,` + strings.Repeat("w", 500) + `,,,,1.75,1000,card-1kg,,20,EUR,,,,{{.}} ${1} ]]> --> &lt;`},
		{"consumption.csv", `,2026-11-03T09:00:00+01:00,"</svg><script>alert(4)</script>",<script>alert(1)</script>,<b>PRINTER,BAD-1,90,5,5,5,5,,,`},
		{"queue.csv", `,2026-11-04T09:00:00+01:00,"'""><script>alert(5)</script>",<script>alert(1)</script>,,<b onclick>,BAD-1,,,9000,,,,,,,,`},
	} {
		appendLine(t, dir, row.file, row.line)
	}
	for i := range 120 { // more weigh-ins than are drawn, on a spool with the longest of names
		if i == 0 {
			appendLine(t, dir, "purchases.csv", `,2026-07-06T09:00:00+01:00,`+strings.Repeat("W", 32)+`,PLA,red,,,,1.75,1000,card-1kg,,20,EUR,,,,`)
		}
		appendLine(t, dir, "weighins.csv", fmt.Sprintf(`,2026-%02d-%02dT09:00:00+01:00,%s,%d.%d,,,`, 7+i/30, 1+i%28, strings.Repeat("W", 32), 1150-8*i, i%10))
	}
	return dir
}

// What the book holds is shown and does nothing: not one element or attribute more than of a book without it.
func TestPageOfHostileBook(t *testing.T) {
	t.Parallel()
	got := page(t, hostile(t))
	if n := strings.Count(got, "<script"); n != 1 {
		t.Errorf("%d scripts", n)
	}
	for _, never := range []string{"<img", "<b>PRINTER", "\u202e", " onerror=alert(2)>", "turned\u202e"} {
		if strings.Contains(got, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	for _, shown := range []string{"&lt;script&gt;alert(1)&lt;/script&gt;", "turned&lt;202E&gt;round", "&lt;img src=x onerror=alert(2)&gt;"} {
		if !strings.Contains(got, shown) {
			t.Errorf("the page does not show %q", shown)
		}
	}
	if strings.Contains(got, strings.Repeat("never ends ", 20)) {
		t.Error("a long note is not cut")
	}
	if !strings.Contains(got, strings.Repeat("w", 500)) {
		t.Error("a long name is cut, though a page can wrap it")
	}
	for _, r := range got {
		if r != '\n' && ledger.Forbidden(r) {
			t.Fatalf("the page holds %U", r)
		}
	}
}

var (
	drawings = regexp.MustCompile(`(?s)<svg .*?</svg>`)
	courses  = regexp.MustCompile(`(?s)<svg viewBox="0 0 300 .*?</svg>`)
	element  = func(name string) *regexp.Regexp { return regexp.MustCompile(`(?s)<` + name + `>(.*?)</` + name + `>`) }
)

// A drawing with its words is 1500 bytes at most, however many weigh-ins there are, and says when it leaves some out.
func TestPageDrawings(t *testing.T) {
	t.Parallel()
	got := page(t, hostile(t))
	thinned := false
	found := courses.FindAllString(got, -1)
	if len(found) < 10 {
		t.Fatalf("%d spools are drawn", len(found))
	}
	for _, drawing := range found {
		if len(drawing) > 1500 {
			t.Errorf("%d bytes: %s", len(drawing), drawing)
		}
		thinned = thinned || strings.Contains(drawing, "by 120 weigh-ins: ") && strings.Contains(drawing, "; 16 of them drawn")
	}
	if !thinned {
		t.Error("no drawing says that it leaves weigh-ins out")
	}
	for _, drawing := range drawings.FindAllString(got, -1) { // SVG is XML
		for d := xml.NewDecoder(strings.NewReader(drawing)); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%v: %s", err, drawing)
			}
		}
		if !strings.Contains(drawing, `role="img" aria-label="`) && !strings.Contains(drawing, `aria-hidden="true"`) {
			t.Errorf("no words for %s", drawing)
		}
	}
}

// The policy lets the page's own style and script through and nothing else (W3C Content Security Policy Level 3: a hash source
// is the base64 of the digest of the element's text), and the page asks for nothing.
func TestPagePolicy(t *testing.T) {
	t.Parallel()
	got := page(t, demo(t))
	digest := func(name string) string {
		text := element(name).FindStringSubmatch(got)
		if text == nil {
			t.Fatalf("no %s", name)
		}
		sum := sha256.Sum256([]byte(text[1]))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	want := `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; base-uri 'none'; form-action 'none'; style-src ` +
		digest("style") + `; script-src ` + digest("script") + `">`
	if !strings.Contains(strings.NewReplacer("&#39;", "'", "&#43;", "+").Replace(got), want) {
		t.Errorf("the page lacks %s", want)
	}
	script := element("script").FindString(got)
	for _, text := range []struct{ what, text, never string }{
		{"page", strings.Replace(got, script, "", 1), ` style=| src=| on[a-z]+=|@import|<link|//|url\([^#]`},
		{"script", script, `https?:|\bimport\b|fetch|XMLHttp|WebSocket|sendBeacon|innerHTML|eval`},
	} {
		if found := regexp.MustCompile(text.never).FindString(text.text); found != "" {
			t.Errorf("the %s holds %q", text.what, found)
		}
	}
}

// BenchmarkPage writes the page of a book of 100,000 rows of which none of 2,000 spools has ended and each was weighed 20 times, so
// that each drawing is as big as it gets.
func BenchmarkPage(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "book")
	if err := (samples.Big{Spools: 2000, Rows: 100_000, Seed: 1}).WriteTo(dir); err != nil {
		b.Fatal(err)
	}
	name := filepath.Join(dir, "weighins.csv")
	rows, err := os.ReadFile(name)
	if err != nil {
		b.Fatal(err)
	}
	rows = bytes.ReplaceAll(rows, []byte(",discarded,"), []byte(",loaded,"))
	for i := range 2000 * 18 {
		rows = fmt.Appendf(rows, "01KZZ%021d,2026-%02d-%02dT%02d:17:00Z,S%05d,%d.%d,bench,,\n", i, 1+i%18/2, 1+i%27, i%24, 1+i/18, 1100-50*(i%18), i%10)
	}
	if err := os.WriteFile(name, rows, 0o666); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	size, drawn := 0, 0
	for b.Loop() {
		got := page(b, dir)
		size, drawn = len(got), strings.Count(got, `viewBox="0 0 300`)
	}
	b.ReportMetric(float64(size), "bytes")
	b.ReportMetric(float64(drawn), "drawings")
}
