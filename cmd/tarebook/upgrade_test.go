package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tarebook/samples"
)

// Books that earlier programs wrote, each with what the program of that day answered as of samples.DemoAsOf, a file a command. A book of
// any earlier version opens, answers as it did and can be written to. Answers may have got fields since; what is estimated agrees to nine
// digits.
func TestEarlierBooks(t *testing.T) {
	t.Parallel()
	books, err := os.ReadDir(filepath.Join("testdata", "books"))
	if err != nil || len(books) < 2 {
		t.Fatalf("%d books, %v", len(books), err)
	}
	for _, book := range books {
		t.Run(book.Name(), func(t *testing.T) {
			t.Parallel()
			from := filepath.Join("testdata", "books", book.Name())
			dir := filepath.Join(t.TempDir(), "book")
			if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
				t.Fatal(err)
			}
			owl, err := os.ReadFile(filepath.Join("..", "..", "samples", "demo", "branch-owl.gcode"))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "branch-owl.gcode"), owl, 0o666); err != nil {
				t.Fatal(err)
			}
			answersAsBefore(t, from, dir)
			for i, line := range []string{
				"define core 'own 1 kg' tare=180",
				"buy NEW-1 --material PLA --colour black --net 1kg --price 20 --core 'own 1 kg'",
				"buy NEW-2 --material PLA --colour black --net 432 --tare 180",
				"buy NEW-3 --off NEW-1 --net 100",
				"weigh NEW-2 611",
				"consume new-job NEW-1:part=20,purge=3 --client pellam",
				"queue add next-job 0=NEW-1:part=20 1=NEW-2+NEW-3:5 --client pellam",
				"queue add sliced-job --from branch-owl.gcode --load 0=NEW-1 --load 1=NEW-2 --load 2=NEW-3",
				"consume sliced-job --from branch-owl.gcode --load 0=NEW-1 --load 1=NEW-2 --load 2=NEW-3 --client pellam",
				"move NEW-1 'dry box'", "void --last", "statement pellam --month 2026-12 --issue", "seal --through 2026-11-30"} {
				now := fmt.Sprintf("2026-12-04T10:%02d:00+01:00", i)
				if status, _, stderr := inside(t, dir, now, shellWords(line)...); status != 0 {
					t.Errorf("%s: status %d, %s", line, status, stderr)
				}
			}
			if status, stdout, _ := inside(t, dir, later, "verify"); status != 0 {
				t.Errorf("verify: status %d, %s", status, stdout)
			}
			answersAsBefore(t, from, dir)
		})
	}
}

// later is after all that was recorded in the books.
const later = "2026-12-04T11:00:00+01:00"

func answersAsBefore(t *testing.T, from, dir string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(from, "answers", "*.json"))
	if err != nil || len(files) < 5 {
		t.Fatalf("%d answers, %v", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		command := strings.TrimSuffix(filepath.Base(file), ".json")
		_, stdout, stderr := inside(t, dir, later, append(strings.Fields(command), "--format", "json", "--as-of", samples.DemoAsOf)...)
		var then, now any
		if err := json.Unmarshal(text, &then); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if err := json.Unmarshal([]byte(stdout), &now); err != nil {
			t.Errorf("%s: %v, %s", command, err, stderr)
			continue
		}
		if differs := unlike(command, then, now); differs != "" {
			t.Error(differs)
		}
	}
}

// unlike returns where an answer of today lacks or changes something of an earlier one.
func unlike(at string, then, now any) string {
	differs := fmt.Sprintf("%s: then %v, now %v", at, then, now)
	switch then := then.(type) {
	case map[string]any:
		now, ok := now.(map[string]any)
		if !ok {
			return differs
		}
		for name, value := range then {
			if name == "detail" { // words for people, with figures rounded for them
				continue
			}
			if d := unlike(at+"."+name, value, now[name]); d != "" {
				return d
			}
		}
		return ""
	case []any:
		now, ok := now.([]any)
		if !ok || len(now) != len(then) {
			return differs
		}
		for i, value := range then {
			if d := unlike(fmt.Sprintf("%s[%d]", at, i), value, now[i]); d != "" {
				return d
			}
		}
		return ""
	case float64:
		if now, ok := now.(float64); ok && math.Abs(now-then) <= 1e-9*math.Abs(then) {
			return ""
		}
		return differs
	}
	if then != now {
		return differs
	}
	return ""
}
