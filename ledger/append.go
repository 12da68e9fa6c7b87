package ledger

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"
)

// The write path. One command appends to one file with one write, which is synced before the command says that
// it recorded; a write that fails is cut off again.

// encodeRows returns the text to append to file, whose present header (nil: none yet) sets the order of columns.
func encodeRows(file string, header []string, rows any) ([]byte, error) {
	var r records
	if err := gocsv.MarshalCSV(rows, &r); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	columns, r := r[0], r[1:]
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if header == nil {
		header = columns
		if err := w.Write(columns); err != nil {
			return nil, err
		}
	}
	var faults Faults
	for i, name := range columns {
		if slices.Contains(header, name) {
			continue
		}
		if slices.ContainsFunc(r, func(record []string) bool { return record[i] != "" }) {
			faults = append(faults, &RowError{file, 1, "the header has no column for " + name, "add ," + name + " to its end"})
		}
	}
	if faults != nil {
		return nil, faults
	}
	var unfit []error
	for _, record := range r {
		fields := make([]string, len(header))
		for j, name := range header {
			i := slices.Index(columns, name)
			if i < 0 {
				continue
			}
			fields[j] = oneLine(record[i])
			if err := CheckText(name, fields[j]); err != nil {
				unfit = append(unfit, err)
			}
		}
		if err := w.Write(fields); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), errors.Join(append(unfit, w.Error())...)
}

// appendTo writes text at the end of file, which must still be size bytes long, and syncs it. size is -1 for
// a file that is not there yet; then its folder is synced too.
func appendTo(dir, file string, size int64, text []byte) (err error) {
	path := filepath.Join(dir, file)
	flags := os.O_RDWR
	if size < 0 {
		flags |= os.O_CREATE | os.O_EXCL
	}
	f, err := os.OpenFile(path, flags, 0o666)
	if err != nil {
		return fmt.Errorf("cannot record: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	end, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return fmt.Errorf("cannot record: %w", err)
	}
	if end != max(size, 0) {
		return fmt.Errorf("%s changed while the command ran; try again", file)
	}
	if end > 0 {
		last := make([]byte, 1)
		if _, err := f.ReadAt(last, end-1); err != nil {
			return fmt.Errorf("cannot record: %w", err)
		}
		if last[0] != '\n' {
			text = slices.Concat([]byte("\n"), text)
		}
	}
	if _, err = f.Write(text); err == nil {
		err = f.Sync()
	}
	if err != nil {
		undo := f.Truncate(end)
		if size < 0 {
			undo = errors.Join(undo, os.Remove(path))
		}
		if undo != nil {
			return fmt.Errorf("cannot record: %w; the end of %s may be torn, look at it: %w", err, file, undo)
		}
		return fmt.Errorf("cannot record: %w", err)
	}
	if size < 0 {
		return syncFolder(dir)
	}
	return nil
}

// Init makes dir a new book from the given files. Files that are there already are left as they are, but a
// folder that is a book is refused. settings.csv is written last, so that half a book is not one.
func Init(dir string, files map[string]string) error {
	if isBook(dir) {
		return fmt.Errorf("%s holds a book already", dir)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	names := make([]string, 0, len(files))
	for name := range files {
		if name != SettingsFile {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range append(names, SettingsFile) {
		err := appendTo(dir, name, -1, []byte(files[name]))
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return nil
}

// Header returns the header line of a file of the book, by the contract.
func Header(file string) string {
	if columns, ok := columnsByFile()[file]; ok {
		return strings.Join(columns, ",") + "\n"
	}
	return ""
}

func columnsByFile() map[string][]string {
	return map[string][]string{
		SettingsFile: columnsOf[Setting](), Materials: columnsOf[Material](), Cores: columnsOf[Core](),
		Scales: columnsOf[Scale](), Printers: columnsOf[Printer](), Clients: columnsOf[Client](),
		Purchases: columnsOf[Purchase](), Weighins: columnsOf[Weighin](), ConsumptionFile: columnsOf[Consumption](),
		Queue: columnsOf[Need](), Moves: columnsOf[Move](), Voids: columnsOf[Void](), Seals: columnsOf[Seal](),
	}
}
