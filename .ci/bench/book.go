//go:build ignore

// Command book writes a generated book: go run .ci/bench/book.go DIR SPOOLS ROWS
package main

import (
	"fmt"
	"os"
	"strconv"

	"tarebook/samples"
)

func main() {
	if err := write(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "book:", err)
		os.Exit(1)
	}
}

func write(args []string) error {
	if len(args) != 3 {
		return fmt.Errorf("%q: write DIR SPOOLS ROWS", args)
	}
	spools, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	rows, err := strconv.Atoi(args[2])
	if err != nil {
		return err
	}
	return samples.Big{Spools: spools, Rows: rows, Seed: 1}.WriteTo(args[0])
}
