package reports

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/ledger"
)

type jsonRow struct {
	Name  string      `json:"name"`
	Grams ledger.Mass `json:"grams"`
	Parts []string    `json:"parts"`
}

type jsonAnswer struct {
	By     string             `json:"by"`
	Rows   []jsonRow          `json:"rows"`
	Point  *jsonRow           `json:"point"`
	Points []*jsonRow         `json:"points"`
	Lists  [][]float64        `json:"lists"`
	Day    ledger.Time        `json:"day"`
	Bytes  []byte             `json:"bytes"`
	Any    any                `json:"any"`
	Map    map[string]jsonRow `json:"map"`
	hidden int
}

// What is written by elements is what encoding/json makes of the whole.
func TestJSONByElements(t *testing.T) {
	type embedding struct {
		jsonAnswer
		More []jsonRow `json:"more"`
	}
	type optional struct {
		Rows []jsonRow `json:"rows,omitempty"`
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "<a & b>", "\"\\\n", "a b"}))
		row := rapid.Custom(func(t *rapid.T) jsonRow {
			r := jsonRow{Name: text.Draw(t, "name"), Parts: rapid.SliceOfN(text, 0, 3).Draw(t, "parts")}
			if rapid.Bool().Draw(t, "known") {
				r.Grams = ledger.Known(ledger.Grams(rapid.Int64Range(-1e9, 1e9).Draw(t, "grams")))
			} else if len(r.Parts) == 0 {
				r.Parts = nil
			}
			return r
		})
		rows := rapid.SliceOfN(row, 0, 4)
		a := jsonAnswer{By: text.Draw(t, "by"), Rows: rows.Draw(t, "rows"), Bytes: []byte("ab"), hidden: 1}
		for _, r := range rows.Draw(t, "points") {
			a.Point = &r
			a.Points = append(a.Points, &r, nil)
			a.Lists = append(a.Lists, nil, []float64{}, []float64{1, 2.5})
			a.Any, a.Map = r, map[string]jsonRow{"b": r, "a": r}
		}
		for _, value := range []any{a, &a, a.Rows, a.Points, a.Lists, embedding{a, a.Rows}, optional{a.Rows}, optional{}, a.By, nil, []jsonRow(nil), struct{}{}, (*jsonAnswer)(nil), ledger.Known(5)} {
			var want bytes.Buffer
			e := json.NewEncoder(&want)
			e.SetEscapeHTML(false)
			e.SetIndent("", "  ")
			if err := e.Encode(value); err != nil {
				t.Fatal(err)
			}
			var got strings.Builder
			if err := writeJSON(&got, value); err != nil {
				t.Fatal(err)
			}
			if want := escapeMarks(want.String()); got.String() != want {
				t.Fatalf("%T: got %s\nwant %s", value, got.String(), want)
			}
		}
	})
}

// A value that cannot be encoded leaves nothing of a short answer; a writer that fails is told.
func TestJSONFails(t *testing.T) {
	var got strings.Builder
	if err := writeJSON(&got, [][]float64{{1}, {math.NaN()}}); err == nil || got.Len() > 0 {
		t.Errorf("NaN: got %q and %v, want nothing and an error", got.String(), err)
	}
	if err := writeJSON(failing{}, []int{1}); !errors.Is(err, errFailing) {
		t.Errorf("got %v, want the error of the writer", err)
	}
}

var errFailing = errors.New("the disk is full")

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errFailing }
