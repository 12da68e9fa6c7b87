package main

import (
	"io/fs"

	"github.com/google/renameio/v2/maybe"
)

// replaceFile writes a file. On Windows that is not whole or not at all.
func replaceFile(path string, text []byte, mode fs.FileMode) error {
	return maybe.WriteFile(path, text, mode)
}
