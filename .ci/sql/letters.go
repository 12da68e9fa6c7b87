//go:build ignore

// Command letters writes each letter and the form under which the program matches it in names, both as numbers: go run .ci/sql/letters.go
package main

import (
	"bufio"
	"fmt"
	"os"
	"unicode"
	"unicode/utf8"

	"tarebook/ledger"
)

func main() {
	if err := write(); err != nil {
		fmt.Fprintln(os.Stderr, "letters:", err)
		os.Exit(1)
	}
}

func write() error {
	out := bufio.NewWriter(os.Stdout)
	for letter := rune(1); letter <= unicode.MaxRune; letter++ {
		if !utf8.ValidRune(letter) {
			continue
		}
		folded, _ := utf8.DecodeRuneInString(ledger.Fold(string(letter)))
		fmt.Fprintf(out, "%d,%d\n", letter, folded)
	}
	return out.Flush()
}
