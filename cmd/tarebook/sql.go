package main

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"tarebook/ledger"
)

// viewsSQL has {FILE.csv} where the views read that file of all books.
//
//go:embed sql/views.sql
var viewsSQL string

var fileInSQL = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\{[a-z]+\.csv\}`) })

type sqlCmd struct {
	Books []string `arg:"" optional:"" name:"dir" about:"Folders of books, or patterns of them, as 'shops/*'; else this book. The views find them from the folder in which SQL runs."`
}

func (c *sqlCmd) Run(a *app) error {
	if a.Format != "table" {
		return errors.New("sql prints views, which are queried elsewhere; leave out --format")
	}
	patterns := c.Books
	if len(patterns) == 0 {
		book, err := a.book()
		if err != nil {
			return err
		}
		if _, err := a.view(); err != nil { // a book that can't be opened here would be misread there
			return err
		}
		dir, err := filepath.Abs(a.path(book.Dir))
		if err != nil {
			return err
		}
		patterns = []string{strings.NewReplacer("[", "[[]", "*", "[*]", "?", "[?]").Replace(dir)}
	}
	for _, pattern := range patterns {
		if len(a.matching(pattern, ledger.SettingsFile)) == 0 || len(a.matching(pattern, ledger.Purchases)) == 0 {
			return fmt.Errorf("no book at %s; name folders that hold settings.csv and purchases.csv, or a pattern of them in quotes, as 'shops/*'", pattern)
		}
	}
	text := fileInSQL().ReplaceAllStringFunc(viewsSQL, func(name string) string { return a.reading(patterns, strings.Trim(name, "{}")) })
	_, err := io.WriteString(a.stdout, text)
	return err
}

// matching returns what there is of a file in the folders of a pattern.
func (a *app) matching(pattern, file string) []string {
	found, _ := filepath.Glob(a.path(filepath.Join(pattern, file))) // a bad pattern matches nothing
	return found
}

// reading returns the SQL that reads a file of all books that have it.
func (a *app) reading(patterns []string, file string) string {
	var quoted []string
	headers := map[string]bool{}
	for _, pattern := range patterns {
		found := a.matching(pattern, file)
		if len(found) == 0 {
			continue
		}
		quoted = append(quoted, "'"+strings.ReplaceAll(filepath.ToSlash(filepath.Join(pattern, file)), "'", "''")+"'")
		for _, path := range found {
			headers[headerOf(path)] = true
		}
	}
	read := "read_alike"
	switch {
	case quoted == nil:
		return "(SELECT NULL::VARCHAR AS book_file WHERE false)"
	case len(headers) > 1:
		read = "read_mixed"
	}
	return read + "([" + strings.Join(quoted, ", ") + "])"
}

// headerOf returns the columns of a file in the order of their names. If they can't be read, which the SQL engine will say, they are like no
// other file's.
func headerOf(path string) string {
	if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
		return path
	}
	f, err := os.Open(path)
	if err != nil {
		return path
	}
	defer f.Close()
	header, err := csv.NewReader(io.LimitReader(f, 1<<16)).Read()
	if err != nil {
		return path
	}
	header[0] = strings.TrimPrefix(header[0], "\ufeff")
	slices.Sort(header)
	return strings.Join(header, "\n")
}
