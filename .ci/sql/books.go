// books writes random books, each into a folder of its own below the folder named: books FOLDER COUNT [FIRST SEED].
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"tarebook-oracle"
)

func main() {
	if err := write(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "books:", err)
		os.Exit(1)
	}
}

func write(args []string) error {
	if len(args) < 2 {
		return fmt.Errorf("write: books FOLDER COUNT [FIRST SEED]")
	}
	count, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	first := uint64(1)
	if len(args) > 2 {
		if first, err = strconv.ParseUint(args[2], 10, 64); err != nil {
			return err
		}
	}
	for i := range uint64(count) {
		if err := oracle.WriteBook(filepath.Join(args[0], fmt.Sprintf("book-%04d", first+i)), first+i); err != nil {
			return err
		}
	}
	return nil
}
