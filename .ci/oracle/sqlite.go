package oracle

import (
	"cmp"
	_ "crypto/sha256" // for the SQL function sha256
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/hash"
)

// sumsSQL works everything out from the text of the files: a second opinion
// that shares neither the reading of rows nor the order of steps with the rest.
//
//go:embed sums.sql
var sumsSQL string

// sqlSums are the balances of the book and the costs before rounding.
type sqlSums struct {
	balanceMG map[string]int64    // by spool
	waste     map[string]wasteSum // by folded client and currency
}

type wasteSum struct {
	currency   string
	mg         map[string]int64
	cost       map[string]float64
	unpricedMG int64
}

func sumBySQL(dir string) (*sqlSums, error) {
	db, err := sqlite3.Open(":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	err = cmp.Or(
		hash.Register(db),
		db.CreateFunction("fold", 1, sqlite3.DETERMINISTIC, func(ctx sqlite3.Context, arg ...sqlite3.Value) {
			ctx.ResultText(fold(arg[0].Text()))
		}))
	if err != nil {
		return nil, err
	}
	for _, file := range []string{"settings.csv", "cores.csv", "purchases.csv", "weighins.csv", "consumption.csv", "voids.csv"} {
		if err := loadText(db, dir, file); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
	}
	if err := db.Exec(sumsSQL); err != nil {
		return nil, err
	}

	sums := &sqlSums{balanceMG: map[string]int64{}, waste: map[string]wasteSum{}}
	err = query(db, "SELECT spool, mg FROM balance", func(s *sqlite3.Stmt) {
		sums.balanceMG[s.ColumnText(0)] = s.ColumnInt64(1)
	})
	if err != nil {
		return nil, err
	}
	err = query(db, "SELECT client, currency, unpriced, part, support, prime, purge, scrap, part_cost, support_cost, prime_cost, purge_cost, scrap_cost FROM waste", func(s *sqlite3.Stmt) {
		w := wasteSum{currency: s.ColumnText(1), unpricedMG: s.ColumnInt64(2), mg: map[string]int64{}, cost: map[string]float64{}}
		for i, kind := range kinds {
			w.mg[kind], w.cost[kind] = s.ColumnInt64(3+i), s.ColumnFloat(8+i)
		}
		sums.waste[s.ColumnText(0)+" "+w.currency] = w
	})
	return sums, err
}

func query(db *sqlite3.Conn, sql string, each func(*sqlite3.Stmt)) error {
	s, _, err := db.Prepare(sql)
	if err != nil {
		return err
	}
	defer s.Close()
	for s.Step() {
		each(s)
	}
	return s.Err()
}

// loadText makes a table of the file's text, then one of its distinct rows,
// trimmed, with name, content and a text of `at` that sorts as the instant.
func loadText(db *sqlite3.Conn, dir, file string) error {
	header, records, err := readRecords(filepath.Join(dir, file))
	if err != nil {
		return err
	}
	table := strings.TrimSuffix(file, ".csv")
	quoted := func(format string) string {
		var list []string
		for _, c := range columns[file] {
			list = append(list, strings.ReplaceAll(format, "?", sqlite3.QuoteIdentifier(c)))
		}
		return strings.Join(list, ", ")
	}
	if err := db.Exec("CREATE TABLE text_" + table + " (" + quoted("? TEXT NOT NULL DEFAULT ''") + ")"); err != nil {
		return err
	}
	var into, marks []string
	var from []int
	for i, column := range header {
		if slices.Contains(columns[file], column) {
			into, marks, from = append(into, sqlite3.QuoteIdentifier(column)), append(marks, "?"), append(from, i)
		}
	}
	if len(records) > 0 {
		s, _, err := db.Prepare("INSERT INTO text_" + table + " (" + strings.Join(into, ", ") + ") VALUES (" + strings.Join(marks, ", ") + ")")
		if err != nil {
			return err
		}
		defer s.Close()
		for _, record := range records {
			for n, i := range from {
				text := ""
				if i < len(record) {
					text = record[i]
				}
				if err := s.BindText(n+1, text); err != nil {
					return err
				}
			}
			if err := s.Exec(); err != nil {
				return err
			}
		}
	}
	trimmed := "SELECT DISTINCT " + quoted("trim(?, ' ' || char(9)) AS ?") + " FROM text_" + table
	if !slices.Contains(columns[file], "entry") {
		return db.Exec("CREATE TABLE " + table + " AS " + trimmed)
	}
	content := "'" + file + "' || char(31) || " + strings.ReplaceAll(quoted("?"), ", ", " || char(31) || ") + " || char(10)"
	return db.Exec(`CREATE TABLE ` + table + ` AS
SELECT *, CASE entry WHEN '' THEN substr(lower(hex(sha256(content))), 1, 26) ELSE entry END AS name,
  printf('%012d.', unixepoch(substr(at, 1, 19) || zone)) || substr(fraction || '000000000', 1, 9) AS t
FROM (
  SELECT *, CASE substr(at, 20, 1) WHEN '.' THEN substr(at, 21, length(at) - 20 - length(zone)) ELSE '' END AS fraction
  FROM (SELECT *, ` + content + ` AS content, CASE substr(at, -1) WHEN 'Z' THEN 'Z' ELSE substr(at, -6) END AS zone FROM (` + trimmed + `)))`)
}

// holdStock holds the balances against the program's answer to `stock`.
func (s *sqlSums) holdStock(answer any) []difference {
	list, _ := answer.([]any)
	if len(list) != len(s.balanceMG) {
		return []difference{{"sql spools", len(list), len(s.balanceMG)}}
	}
	var all []difference
	for _, item := range list {
		spool, _ := item.(map[string]any)
		name := fmt.Sprint(spool["spool"])
		mg, ok := s.balanceMG[name]
		if !ok {
			all = append(all, difference{"sql spools", name, "no such spool"})
			continue
		}
		all = append(all, compare("sql net_g ["+name+"]", spool["net_g"], counted(mg))...)
	}
	return all
}

// holdWaste holds the sums against the program's answer to `waste --by client`:
// grams exactly, each cell within a minor unit, cells that add up to the total,
// and the grand total rounded half up.
func (s *sqlSums) holdWaste(answer any) []difference {
	top, _ := answer.(map[string]any)
	rows, _ := top["rows"].([]any)
	if len(rows) != len(s.waste) {
		return []difference{{"sql waste rows", len(rows), len(s.waste)}}
	}
	var all []difference
	cells, exactly := map[string]float64{}, map[string]float64{} // by currency and kind
	for _, item := range rows {
		r, _ := item.(map[string]any)
		key := fold(fmt.Sprint(r["key"])) + " " + fmt.Sprint(r["currency"])
		w, ok := s.waste[key]
		if !ok {
			all = append(all, difference{"sql waste rows", key, "no such row"})
			continue
		}
		unit := math.Pow10(-minorDigits(w.currency))
		all = append(all, compare("sql unpriced_g ["+key+"]", r["unpriced_g"], counted(w.unpricedMG))...)
		for _, kind := range kinds {
			all = append(all, compare("sql "+kind+"_g ["+key+"]", r[kind+"_g"], counted(w.mg[kind]))...)
			cost := float(r[kind+"_cost"])
			if math.Abs(cost-w.cost[kind]) >= unit+1e-9 {
				all = append(all, difference{"sql " + kind + "_cost [" + key + "]", cost, w.cost[kind]})
			}
			cells[w.currency+kind] += cost
			exactly[w.currency] += w.cost[kind]
		}
	}
	totals, _ := top["totals"].([]any)
	for _, item := range totals {
		r, _ := item.(map[string]any)
		currency := fmt.Sprint(r["currency"])
		grand := 0.0
		for _, kind := range kinds {
			cost := float(r[kind+"_cost"])
			grand += cost
			if math.Abs(cost-cells[currency+kind]) > 1e-6 {
				all = append(all, difference{"sql total " + kind + "_cost", cost, cells[currency+kind]})
			}
		}
		if unit := math.Pow10(-minorDigits(currency)); math.Abs(grand-exactly[currency]) > unit/2+1e-7 {
			all = append(all, difference{"sql grand total " + currency, grand, exactly[currency]})
		}
	}
	return all
}

func float(v any) float64 {
	n, _ := v.(json.Number)
	x, err := n.Float64()
	if err != nil {
		return math.NaN()
	}
	return x
}
