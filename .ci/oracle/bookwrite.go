package oracle

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// optionalColumns may be absent from a header.
func optionalColumn(file, column string) bool {
	switch column {
	case "note", "swatch", "maker", "lot", "supplier", "changes", "due", "repeat_g", "hour_cost", "price", "owned", "boxes", "from_material", "to_material":
		return file != "purchases.csv" || column != "price"
	case "why":
		return file == "voids.csv"
	case "from":
		return file != "bills.csv"
	case "place", "gross_g", "scale":
		return file == "purchases.csv"
	case "slot":
		return file == "consumption.csv"
	case "file": // of sliced.csv it is what the row is about
		return file == "consumption.csv" || file == "queue.csv"
	case "basis":
		return file == "queue.csv"
	}
	return false
}

// write puts each file down in a shape that another tool might have given it.
func (g *bookgen) write(dir string) error {
	files := make([]string, 0, len(columns))
	for file := range columns {
		files = append(files, file)
	}
	slices.Sort(files)
	for _, file := range files {
		must := file == "settings.csv" || file == "purchases.csv"
		if len(g.rows[file]) == 0 && !must && g.chance(0.6) {
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, file), []byte(g.render(file)), 0o644); err != nil {
			return err
		}
	}
	return nil
}

func (g *bookgen) render(file string) string {
	header := slices.DeleteFunc(slices.Clone(columns[file]), func(column string) bool {
		unused := !slices.ContainsFunc(g.rows[file], func(cells map[string]string) bool { return cells[column] != "" })
		return optionalColumn(file, column) && unused && g.chance(0.5)
	})
	if g.chance(0.25) {
		header = append(header, "bin_row")
	}
	if g.chance(0.1) {
		header = append(header, "Müller's column")
	}
	if g.chance(0.4) {
		g.Shuffle(len(header), func(i, j int) { header[i], header[j] = header[j], header[i] })
	}
	rows := slices.Clone(g.rows[file])
	if g.chance(0.4) {
		g.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	}
	messy := 0.0
	if g.chance(0.5) {
		messy = 0.1
	}

	heads := slices.Clone(header)
	for i := range heads {
		if g.chance(messy) {
			heads[i] = `"` + heads[i] + `"`
		}
	}
	lines := []string{strings.Join(heads, ",")}
	for _, cells := range rows {
		if g.chance(messy / 5) {
			lines = append(lines, "")
		}
		fields := make([]string, len(header))
		for i, column := range header {
			fields[i] = g.field(cells[column], messy)
			if !slices.Contains(columns[file], column) {
				fields[i] = g.orBlank(0.5, "whatever")
			}
		}
		for n := len(header); n > 1 && g.chance(3*messy); n-- {
			column := header[n-1]
			if cells[column] != "" || slices.Contains(columns[file], column) && !optionalColumn(file, column) {
				break
			}
			fields = fields[:n-1]
		}
		lines = append(lines, strings.Join(fields, ","))
	}
	text := strings.Join(lines, "\n")
	if !g.chance(0.08) {
		text += "\n"
	}
	if g.chance(0.2) {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	if g.chance(0.15) {
		text = "\ufeff" + text
	}
	return text
}

func (g *bookgen) field(text string, messy float64) string {
	if g.chance(messy) {
		text = one(g, []string{" ", "\t", "  "}) + text
	}
	if g.chance(messy) {
		text += one(g, []string{" ", "\t"})
	}
	if strings.ContainsAny(text, ",\"\n") || g.chance(messy) {
		return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	return text
}
