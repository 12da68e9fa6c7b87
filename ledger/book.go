package ledger

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Book is a folder of ledgers and tables.
type Book struct {
	Dir string
}

// ErrNoBook says that no book is where it was looked for.
var ErrNoBook = errors.New("no book")

// Find returns the book at named if that is not empty; else the nearest folder at or above start that is one.
// source tells where named came from, for the message.
func Find(named, source, start string) (*Book, error) {
	if named != "" {
		if !isBook(named) {
			return nil, fmt.Errorf("%w at %s (from %s): settings.csv and purchases.csv are not both there; start one with: tarebook init %s", ErrNoBook, named, source, named)
		}
		return &Book{named}, nil
	}
	start, err := filepath.Abs(start)
	if err != nil {
		return nil, err
	}
	for dir := start; ; dir = filepath.Dir(dir) {
		if isBook(dir) {
			return &Book{dir}, nil
		}
		if dir == filepath.Dir(dir) {
			return nil, fmt.Errorf("%w here or above; start one with: tarebook init", ErrNoBook)
		}
	}
}

func isBook(dir string) bool {
	for _, file := range []string{SettingsFile, Purchases} {
		if info, err := os.Stat(filepath.Join(dir, file)); err != nil || info.IsDir() {
			return false
		}
	}
	return true
}

// View returns a snapshot of the book, across all its files, as it was at an instant (the zero Time: now).
func (b *Book) View(asOf Time) (*View, error) {
	unlock, err := b.rlock()
	if err != nil {
		return nil, err
	}
	v, err := b.snapshot(asOf)
	return v, errors.Join(err, unlock())
}

// Update calls decide on the book as it is and appends the rows it returns, all to one file, while nobody else can
// record. When Update returns nil the rows are on disk; when it returns an error none is.
// Entries of the rows are made by newEntry, called once a row.
func (b *Book) Update(newEntry func() string, decide func(*View) (Batch, error)) (err error) {
	unlock, err := b.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	v, err := b.snapshot(Time{})
	if err != nil {
		return err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return err
	}
	text, err := batch.encode(v, newEntry)
	if err != nil {
		return err
	}
	size := int64(-1)
	if n, ok := v.size[batch.file()]; ok {
		size = n
	}
	return appendTo(b.Dir, batch.file(), size, text)
}

// Try does what Update does, but writes nothing: the rows are decided on and checked against the book as it is.
func (b *Book) Try(newEntry func() string, decide func(*View) (Batch, error)) error {
	v, err := b.View(Time{})
	if err != nil {
		return err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return err
	}
	_, err = batch.encode(v, newEntry)
	return err
}
