package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// Sliced files at the command line: how they are opened, and what is loaded on their tools.

// slicing are the flags of every command that reads a sliced file.
type slicing struct {
	Load     []string `sep:"none" group:"The sliced file" about:"What stands on a tool of the file: TOOL=SPOOL or TOOL=MATERIAL/COLOUR, once for each; or all in one in the order of the tools, as 'PLA-09 PLA-06 PLA/brick'. Else the spool that stands at that tool of the printer, but for toolpath." value:"TOOL=SPOOL"`
	Diameter string   `default:"1.75" group:"The sliced file" about:"Diameter in mm of what is loaded as MATERIAL/COLOUR." value:"MM"`
	readFlags
}

// fromFile are the flags of a command that takes its masses from a sliced file.
type fromFile struct {
	From string `group:"The sliced file" about:"Take the masses from this sliced file: text, gzip, a zip container or binary blocks; - is standard input." value:"FILE"`
	slicing

	sequence bool // the order of the tools is wanted too
}

// given names the first of the flags that only a sliced file wants; blank for none.
func (c *slicing) given() string {
	if len(c.Load) > 0 {
		return "--load"
	}
	return c.readFlags.given()
}

// open opens the file, to be read by its flags and the words of the book's settings; nil without --from.
func (c *fromFile) open(a *app) (f *slicedFile, o toolpath.Options, err error) {
	if c.From == "" {
		if flag := c.given(); flag != "" {
			return nil, o, fmt.Errorf("%s goes with --from FILE", flag)
		}
		return nil, o, nil
	}
	v, err := a.view()
	if err != nil {
		return nil, o, err
	}
	settings, err := v.Settings()
	if err != nil {
		return nil, o, err
	}
	if o, err = c.options(settings); err != nil {
		return nil, o, err
	}
	o.Sequence = c.sequence
	f, err = a.sliced(c.From)
	return f, o, err
}

// reference returns what the queue keeps of the file. A file within the book's folder is named from there; of standard input nothing
// is kept.
func (c *fromFile) reference(a *app, s *inventory.Sliced) (string, error) {
	if c.From == "-" {
		return "", nil
	}
	book, err := a.book()
	if err != nil {
		return "", err
	}
	name := c.From
	if dir, err := filepath.Abs(book.Dir); err == nil {
		if file, err := filepath.Abs(a.path(c.From)); err == nil {
			if inside, err := filepath.Rel(dir, file); err == nil && filepath.IsLocal(inside) {
				name = inside
			}
		}
	}
	return s.Reference(filepath.ToSlash(name)), nil
}

// A foundFile is a sliced file of the queue that is what was queued, or that of --from; where it is, and how it is read.
type foundFile struct {
	*inventory.Sliced
	path    string
	options toolpath.Options
	queued  bool // the queue has its masses
}

// locate finds for each need of the jobs where in its sliced file its spools hand over and run out, if the file is still there and what
// it was. found are files that were read already, by their reference.
func (a *app) locate(v *ledger.View, jobs []*inventory.Job, found map[string]*foundFile) error {
	settings, err := v.Settings()
	if err != nil {
		return err
	}
	book, err := a.book()
	if err != nil {
		return err
	}
	for _, job := range jobs {
		for _, n := range job.Needs {
			name, size, sum, ok := inventory.FileReference(n.Row.File)
			tool, err := strconv.Atoi(n.Slot)
			if !ok || err != nil || !n.Reaches() {
				continue
			}
			file, known := found[n.Row.File]
			if !known {
				file = a.unchanged(book.Dir, filepath.FromSlash(name), size, sum, words(settings))
				found[n.Row.File] = file
			}
			if file == nil {
				continue
			}
			if file.queued && !n.TakenFrom(file.Tool(tool)) {
				a.warn(fmt.Sprintf("%s: slot %s: the queue has other grams than %s now reads as; if it was queued with flags such as --relative-e, which the queue does not keep, see where %s runs out with them and check --from FILE",
					job.Name, n.Slot, file.Name, n.Spool.ID))
				continue
			}
			if err := file.find(n, tool); err != nil {
				return err
			}
		}
	}
	return nil
}

func (f *foundFile) find(n *inventory.Need, tool int) (err error) {
	r, err := os.Open(f.path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return n.FindIn(r, f.Name, f.Tool(tool), f.options)
}

// unchanged finds a sliced file of the queue, from this folder or from the book's; nil when it is not there or not what was
// queued, which it reports.
func (a *app) unchanged(dir, name string, size int64, sum string, o toolpath.Options) *foundFile {
	other := ""
	if strings.HasPrefix(name, `\\`) || strings.HasPrefix(name, "//") {
		return nil // a book does not make this machine call another
	}
	for _, path := range []string{a.path(name), filepath.Join(dir, name)} {
		info, err := os.Stat(path)
		if err != nil {
			continue
		}
		var s *inventory.Sliced
		if info.Mode().IsRegular() && info.Size() == size { // anything else might keep one waiting
			f, err := os.Open(path)
			if err != nil {
				continue
			}
			s, _ = inventory.ReadSliced(f, path, o, true) // one that can't be read is not what was queued either
			f.Close()
		}
		if s != nil && s.SHA256 == sum {
			return &foundFile{s, path, o, true}
		}
		other = path
	}
	if other != "" {
		fmt.Fprintf(a.stderr, "tarebook: %s is not what was queued, so it is not told where in it a spool runs out\n", other)
	}
	return nil
}

// loads are what was typed of the tools.
func (c *slicing) loads() recording.Loads {
	return recording.Loads{Texts: c.Load, Diameter: c.Diameter}
}

// path is where a file named on the command line is.
func (a *app) path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(a.dir, name)
}

// A slicedFile is an open sliced file.
type slicedFile struct {
	*os.File
	app    *app
	shown  string // how messages name it
	copied bool   // of standard input
}

// sliced opens a sliced file; - is standard input, which is copied so that it can be read twice.
func (a *app) sliced(name string) (*slicedFile, error) {
	if name != "-" {
		f, err := os.Open(a.path(name))
		if err != nil {
			return nil, err
		}
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, errors.Join(fmt.Errorf("%s is a folder", name), f.Close())
		}
		return &slicedFile{f, a, name, false}, nil
	}
	f, err := os.CreateTemp("", "tarebook-*.gcode")
	if err != nil {
		return nil, err
	}
	_, err = io.Copy(f, a.stdin)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close(), os.Remove(f.Name()))
	}
	return &slicedFile{f, a, "standard input", true}, nil
}

// readSliced reads a sliced file.
func (a *app) readSliced(name string, o toolpath.Options, known bool) (s *inventory.Sliced, err error) {
	f, err := a.sliced(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return f.read(o, known)
}

// read reads the file to its end, and so that it can be known again if it is to be. What is odd in it is reported on stderr.
func (f *slicedFile) read(o toolpath.Options, known bool) (*inventory.Sliced, error) {
	progress := f.app.progress(f.File, f.shown)
	s, err := inventory.ReadSliced(progress, f.shown, o, known)
	progress.clear()
	if err != nil {
		return nil, err
	}
	for _, n := range s.Notes {
		f.app.warn(n.In(f.shown))
	}
	return s, nil
}

// stops reports on stderr where a file stops for a change of filament by hand.
func (a *app) stops(s *inventory.Sliced, on []inventory.OnTool) {
	for _, note := range recording.Stops(s, on) {
		a.warn(note)
	}
}

// readInOrder is read with the order of the tools, which the book keeps; without where that is too long. A file that extrudes nothing is
// an error, as nothing of it could be booked.
func (f *slicedFile) readInOrder(o toolpath.Options, known bool) (*inventory.Sliced, error) {
	o.Sequence = true
	s, err := f.read(o, known)
	if err == nil && len(s.Tools) == 0 {
		return nil, fmt.Errorf("%s extrudes nothing; name the file that was printed or will be", f.shown)
	}
	if err == nil {
		return s, nil
	}
	if _, failed := f.Seek(0, io.SeekStart); failed != nil {
		return nil, err
	}
	o.Sequence = false
	if s, failed := f.read(o, known); failed == nil {
		return s, nil
	}
	return nil, err
}

// again reads the file from its beginning to where o stops. What is odd in it was reported before.
func (f *slicedFile) again(o toolpath.Options) (*inventory.Sliced, error) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, fmt.Errorf("%s can't be read twice: %w", f.shown, err)
	}
	return inventory.ReadSliced(f.File, f.shown, o, false)
}

// Close closes the file, and removes it if it is the copy of standard input.
func (f *slicedFile) Close() error {
	err := f.File.Close()
	if f.copied {
		err = errors.Join(err, os.Remove(f.Name()))
	}
	return err
}
