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
	Load     []string `sep:"none" group:"The sliced file" about:"What stands on a tool of the file: TOOL=SPOOL, or TOOL=MATERIAL/COLOUR; once for each." value:"TOOL=SPOOL"`
	Diameter string   `default:"1.75" group:"The sliced file" about:"Diameter in mm of what is loaded as MATERIAL/COLOUR." value:"MM"`
}

// fromFile are the flags of a command that takes its masses from a sliced file.
type fromFile struct {
	From string `group:"The sliced file" about:"Take the masses from this sliced file; - is standard input." value:"FILE"`
	slicing

	sequence bool // the order of the tools is wanted too
}

// read reads the file to its end or to where until stops, by the words of the book's settings; nil without --from.
func (c *fromFile) read(a *app, until toolpath.Stop, known bool) (*inventory.Sliced, error) {
	if c.From == "" {
		if len(c.Load) > 0 {
			return nil, errors.New("--load goes with --from FILE")
		}
		return nil, nil
	}
	v, err := a.view()
	if err != nil {
		return nil, err
	}
	settings, err := v.Settings()
	if err != nil {
		return nil, err
	}
	o := words(settings)
	o.Until, o.Sequence = until, c.sequence
	return a.readSliced(c.From, o, known)
}

// file is read, with what stands on its tools.
func (c *fromFile) file(a *app, until toolpath.Stop, known bool) (*recording.File, error) {
	sliced, err := c.read(a, until, known)
	if err != nil || sliced == nil {
		return nil, err
	}
	f := &recording.File{Sliced: sliced, Loads: c.loads()}
	if known {
		f.Reference, err = c.reference(a, sliced)
	}
	return f, err
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

// A foundFile is a sliced file of the queue that is what was queued, and where it is.
type foundFile struct {
	*inventory.Sliced
	path string
}

// locate finds for each short need of the jobs where in its sliced file the spool runs out, if the file is still there and what
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
			if !ok || err != nil || n.Verdict == inventory.Enough || n.Spool == nil {
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
			if n.Where, err = file.runsOut(n, tool, words(settings)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (f *foundFile) runsOut(n *inventory.Need, tool int, o toolpath.Options) (where *inventory.RunOut, err error) {
	r, err := os.Open(f.path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return n.RunsOutIn(r, f.Name, f.Tool(tool), o)
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
			return &foundFile{s, path}
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

// sliced opens a sliced file; - is standard input, which is copied so that it can be read twice.
func (a *app) sliced(name string) (*os.File, error) {
	if name != "-" {
		f, err := os.Open(a.path(name))
		if err != nil {
			return nil, err
		}
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, errors.Join(fmt.Errorf("%s is a folder", name), f.Close())
		}
		return f, nil
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
	return f, nil
}

// readSliced reads a sliced file to its end or to where o stops, and so that it can be known again if it is to be. What is odd
// in it is reported on stderr.
func (a *app) readSliced(name string, o toolpath.Options, known bool) (s *inventory.Sliced, err error) {
	f, err := a.sliced(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, a.done(name, f)) }()
	shown := name
	if name == "-" {
		shown = "standard input"
	}
	progress := a.progress(f, shown)
	s, err = inventory.ReadSliced(progress, shown, o, known)
	progress.clear()
	if err != nil {
		return nil, err
	}
	for _, n := range s.Notes {
		a.warn(n.In(shown))
	}
	return s, nil
}

// done closes a sliced file, and removes the copy of standard input.
func (a *app) done(name string, f *os.File) error {
	if name == "-" {
		return errors.Join(f.Close(), os.Remove(f.Name()))
	}
	return f.Close()
}

// words are what the shop's settings add to section comments.
func words(s *ledger.Settings) toolpath.Options {
	return toolpath.Options{PurgeWords: s.PurgeWords, PrimeWords: s.PrimeWords, SupportWords: s.SupportWords}
}
