package oracle

import (
	"encoding/json"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// decoded turns an expected answer into what a JSON decoder would have given.
func decoded(v any) any {
	number := func(x float64) any { return json.Number(strconv.FormatFloat(x, 'g', -1, 64)) }
	switch v := v.(type) {
	case ignored:
		return ""
	case anyCase:
		return string(v)
	case int:
		return json.Number(strconv.Itoa(v))
	case counted:
		return number(float64(v) / 1000)
	case guessed:
		return number(float64(v))
	case roundly:
		return number(float64(v))
	case measure:
		return number(float64(v))
	case odds:
		return number(float64(v))
	case exact:
		return json.Number(v.FloatString(12))
	case about:
		return json.Number(v.FloatString(12))
	case instant:
		return time.Time(v).Format(time.RFC3339Nano)
	case flags:
		list := []any{}
		for _, s := range v {
			list = append(list, s)
		}
		return list
	case standing:
		return decoded(flags(v))
	case textList:
		return decoded(flags(v))
	case unordered:
		return decoded(records(v))
	case records:
		list := []any{}
		for _, o := range v {
			list = append(list, decoded(o))
		}
		return list
	case object:
		m := map[string]any{}
		for k, field := range v {
			m[k] = decoded(field)
		}
		return m
	}
	return v
}

// TestAnswersAreAsTheyAre holds answers against themselves: compare finds no
// difference where there is none.
func TestAnswersAreAsTheyAre(t *testing.T) {
	t.Parallel()
	for seed := range uint64(20) {
		dir := t.TempDir()
		randomBook(t, dir, seed)
		f := readBook(t, dir)
		for _, q := range []question{{command: "stock"}, {command: "reconcile"}, {command: "check"}, {command: "waste", by: "client"}} {
			answer, _ := calculate(f, q)
			for _, d := range compare(q.command, decoded(answer), answer) {
				t.Errorf("seed %d: an answer differs from itself: %s", seed, d)
			}
		}
	}
}

// TestBooksMeetEveryCase keeps the generator from growing tame: each case must
// show up in some book.
func TestBooksMeetEveryCase(t *testing.T) {
	t.Parallel()
	met := map[string]int{}
	for seed := range uint64(200) {
		dir := t.TempDir()
		randomBook(t, dir, seed)
		f := readBook(t, dir)
		l := liveLedgers(f, nil)
		spools := buildSpools(f, l)
		for file := range l.conflict {
			met["conflict in "+file]++
		}
		for _, s := range spools {
			met["tare from "+s.tareFrom]++
			for _, flag := range s.flags(l.twice[fold(s.name)]) {
				met["flag "+flag]++
			}
			switch {
			case s.estimate.s2 == 0:
				met["k by default"]++
			case s.estimate != estimate{}:
				met["k learnt"]++
			}
		}
		answer, _ := calculate(f, question{command: "check"})
		for _, j := range answer.(object)["jobs"].(records) {
			met["job "+j["verdict"].(string)]++
			for _, n := range j["needs"].(records) {
				met["spool "+n["spool_from"].(string)]++
				if len(n["instead"].(textList)) > 0 {
					met["instead"]++
				}
				meetInTurn(n, met)
			}
		}
		meetPlans(f, l, met)
		meetBench(spools, met)
		os.RemoveAll(filepath.Clean(dir))
	}
	cases := []string{
		"conflict in purchases.csv", "conflict in weighins.csv", "conflict in consumption.csv", "conflict in queue.csv", "conflict in moves.csv", "conflict in voids.csv",
		"tare from empty", "tare from purchase", "tare from core", "tare from label", "tare from none",
		"flag no tare", "flag never weighed", "flag overdrawn", "flag after end", "flag outside", "flag heavier than bought", "flag unpriced", "flag conflict",
		"k by default", "k learnt", "job enough", "job marginal", "job short",
		"spool named", "spool loaded", "spool chosen", "spool none", "instead",
		"reorder with figures", "reorder with too little history", "reorder now", "reorder later", "reorder what the queue lacks", "reorder what is nowhere",
		"quote with a price", "quote without a price", "quote without a spool", "quote in two currencies", "quote by half the waste", "quote for no client", "quote by a learnt k",
	}
	if bench.on() {
		cases = append(cases, benchCases...)
	}
	if inTurn.on() {
		cases = append(cases, inTurnCases...)
	}
	for _, c := range cases {
		if met[c] < 2 {
			t.Errorf("%s: met %d times in 200 books", c, met[c])
		}
	}
	t.Log(fmt.Sprint(met))
}

var benchCases = []string{
	"opened, tare from empty", "opened, tare from purchase", "opened, tare from core", "opened, tare from label", "opened, tare from none",
	"opened below its tare", "opened after it was used", "opened after it was weighed", "opened and wound off", "opened and weighed again", "opened and outside",
	"chain of three", "maker of another", "water", "water taken back", "dried and found",
}

func meetBench(spools map[string]*spool, met map[string]int) {
	note := func(what string, is bool) {
		if is {
			met[what]++
		}
	}
	for _, s := range spools {
		note("chain of three", len(s.trail) > 2)
		note("maker of another", s.inherited("maker") != s.buy.get("maker"))
		for _, d := range s.drifts() {
			dried := state(d.row) == "dried"
			note("water", d.waterMG > 0)
			note("water taken back", dried && d.foundMG > 0)
			note("dried and found", dried && d.foundMG < 0)
		}
		if s.opened == nil {
			continue
		}
		note("opened, tare from "+s.tareFrom, true)
		note("opened below its tare", s.tareMG != nil && *s.tareMG > s.opened.grossMG)
		note("opened and wound off", len(s.trail) > 1)
		for _, e := range s.early {
			note("opened after it was used", e.kind == use)
			note("opened after it was weighed", e.kind == weighIn)
		}
		for _, w := range s.weighed {
			note("opened and weighed again", !w.early)
			note("opened and outside", s.outside(w))
		}
	}
}

var inTurnCases = []string{
	"several in turn", "handed over", "handed over at once", "handed over twice", "not reached", "short in turn", "two offered in turn", "three offered in turn", "offered behind its own",
}

func meetInTurn(n object, met map[string]int) {
	note := func(what string, is bool) {
		if is {
			met[what]++
		}
	}
	if !inTurn.on() {
		return
	}
	over := n["hands_over"].(records)
	handed := 0
	for _, o := range over {
		at := o["at"].(measure)
		note("handed over", at > 0 && at < 1)
		note("handed over at once", at == 0)
		note("not reached", at == 1)
		if at > 0 && at < 1 {
			handed++
		}
	}
	note("several in turn", len(over) > 0)
	note("handed over twice", handed > 1)
	note("short in turn", len(over) > 0 && n["verdict"] == "short")
	offer := n["in_turn"].(textList)
	note("two offered in turn", len(offer) == 2)
	note("three offered in turn", len(offer) == 3)
	note("offered behind its own", len(offer) > 0 && n["spool"] != nil)
}

// meetPlans notes what reorder and quote are asked of a book at its end.
func meetPlans(f folder, l *ledgers, met map[string]int) {
	end := bookBegins.Add(bookSpan)
	answer, _ := calculate(f, question{command: "reorder", window: 365, asOf: &end})
	for _, row := range answer.(object)["rows"].(records) {
		if row["daily_g"] == nil {
			met["reorder with too little history"]++
		} else {
			met["reorder with figures"]++
			if row["buy_by"] == answer.(object)["to"] {
				met["reorder now"]++
			} else {
				met["reorder later"]++
			}
		}
		if row["free_g"].(guessed) < 0 {
			met["reorder what the queue lacks"]++
		}
		if row["spools"] == 0 {
			met["reorder what is nowhere"]++
		}
	}
	for _, j := range queuedJobs(l) {
		answer, _ := calculate(f, question{command: "quote", job: j.first.get("job"), asOf: &end})
		quote := answer.(object)
		for _, n := range quote["needs"].(records) {
			switch {
			case n["spool"] == nil:
				met["quote without a spool"]++
			case n["cost"] == nil:
				met["quote without a price"]++
			default:
				met["quote with a price"]++
			}
			if n["intervals"] != 0 {
				met["quote by a learnt k"]++
			}
		}
		if len(quote["totals"].(records)) > 1 {
			met["quote in two currencies"]++
		}
		if billed, ok := quote["waste_billed"].(exact); !ok {
			met["quote for no client"]++
		} else if billed.Cmp(big.NewRat(1, 2)) == 0 {
			met["quote by half the waste"]++
		}
	}
}

// eachBook gives an empty folder for each of the seeds that ORACLE_BOOKS and
// ORACLE_SEED choose, until the test fails, whose folder then stays; it returns how
// many they are.
func eachBook(t *testing.T, visit func(dir string, seed uint64)) (books int) {
	t.Helper()
	books, first := setting(t, "ORACLE_BOOKS", 300), uint64(setting(t, "ORACLE_SEED", 1))
	for seed := first; seed < first+uint64(books) && !t.Failed(); seed++ {
		dir, err := os.MkdirTemp("", fmt.Sprint("oracle-book-", seed, "-"))
		if err != nil {
			t.Fatal(err)
		}
		visit(dir, seed)
		if !t.Failed() {
			os.RemoveAll(dir)
		}
	}
	return books
}

func randomBook(t *testing.T, dir string, seed uint64) {
	t.Helper()
	if _, err := writeRandomBook(dir, seed); err != nil {
		t.Fatal(err)
	}
}

func readBook(t *testing.T, dir string) folder {
	t.Helper()
	f, err := readFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
