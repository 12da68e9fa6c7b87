//go:build ignore

// Command toolpath prints the filament that a sliced file uses, by tool: a build of .ci/bench/toolpath.go FILE
package main

import (
	"fmt"
	"os"

	"tarebook/inventory/toolpath"
)

func main() {
	if err := tell(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
}

func tell(name string) error {
	file, err := os.Open(name)
	if err != nil {
		return err
	}
	defer file.Close()
	f, err := toolpath.Read(file, name, toolpath.Options{})
	if err != nil {
		return err
	}
	fmt.Println("layers", f.Layers, "changes", f.Changes)
	for _, t := range f.Tools {
		fmt.Printf("T%d %.5f mm, layers %d to %d\n", t.Tool, t.Total().MM(), t.FirstLayer, t.LastLayer)
	}
	return nil
}
