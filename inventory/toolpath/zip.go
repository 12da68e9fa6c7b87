package toolpath

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"
)

// A zip container, as packed print jobs are: the member with the G-code is read.

// maxDirectory is how many bytes of a container's list of members are read at most, which bounds the memory.
const maxDirectory = 8 << 20

func isZip(head []byte) bool {
	return bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("PK\x05\x06"))
}

// openZip opens the member of a zip container that Options.Member names, or the first one that is G-code.
func (m *machine) openZip(r io.Reader) (io.Reader, error) {
	at, size, err := random(r)
	if err != nil {
		return nil, err
	}
	limited := &limitedAt{ReaderAt: at, left: maxDirectory}
	z, err := zip.NewReader(limited, size)
	switch {
	case limited.left < 0:
		return nil, errors.New("the zip container's list of members is too long")
	case errors.Is(err, zip.ErrInsecurePath): // nothing is unpacked
	case err != nil:
		return nil, fmt.Errorf("the zip container can't be read: %w", err)
	}
	limited.endless = true
	file, err := m.member(z.File)
	if err != nil {
		return nil, err
	}
	if file.Flags&1 != 0 {
		return nil, fmt.Errorf("%q in the zip container is encrypted", file.Name)
	}
	member, err := file.Open()
	if err != nil {
		return nil, fmt.Errorf("%q in the zip container can't be read: %w", file.Name, err)
	}
	m.name += ": " + shown(file.Name)
	return member, nil
}

// member returns the member to read.
func (m *machine) member(files []*zip.File) (*zip.File, error) {
	var all, code []*zip.File
	for _, f := range files {
		switch name := strings.ToLower(f.Name); {
		case strings.HasSuffix(name, "/"), strings.HasPrefix(name, "__macosx/"), strings.HasPrefix(path.Base(name), "._"):
			continue
		case isCode(name):
			code = append(code, f)
		}
		all = append(all, f)
	}
	want := m.opts.Member
	if want == "" {
		if len(code) == 0 {
			return nil, fmt.Errorf("the zip container holds no G-code, only %s; slice it and export the G-code, or name a member with --member", names(all))
		}
		if len(code) > 1 {
			m.noteAt(0, NoteMember, "the zip container holds %d members with G-code: %s; the first was read, name another with --member", len(code), names(code))
		}
		return code[0], nil
	}
	for _, same := range []func(name string) bool{
		func(name string) bool { return name == want },
		func(name string) bool {
			return strings.EqualFold(strings.TrimPrefix(name, "/"), strings.TrimPrefix(want, "/"))
		},
		func(name string) bool { return strings.EqualFold(path.Base(name), want) },
	} {
		for _, f := range all {
			if same(f.Name) {
				return f, nil
			}
		}
	}
	return nil, fmt.Errorf("the zip container has no member %q; it has %s", want, names(all))
}

// isCode reports whether a name, in lower case, is that of G-code; common practice, no source.
func isCode(name string) bool {
	switch path.Ext(name) {
	case ".gcode", ".bgcode", ".gco", ".gc", ".g", ".nc", ".ngc":
		return true
	}
	return strings.HasSuffix(name, ".gcode.gz")
}

// names lists a few members.
func names(files []*zip.File) string {
	const most = 5
	var list []string
	for _, f := range files[:min(len(files), most)] {
		list = append(list, shown(f.Name))
	}
	switch {
	case len(files) == 0:
		return "nothing"
	case len(files) > most:
		return fmt.Sprintf("%s and %d more", strings.Join(list, ", "), len(files)-most)
	}
	return strings.Join(list, ", ")
}

// shown returns a member's name as a message may hold it.
func shown(name string) string {
	const longest = 80
	if quoted := fmt.Sprintf("%q", name); quoted[1:len(quoted)-1] != name || len(name) > longest {
		return fmt.Sprintf("%.*q", longest, name)
	}
	return name
}

// random returns random access to what r reads, and its size.
func random(r io.Reader) (io.ReaderAt, int64, error) {
	for {
		at, ok := r.(io.ReaderAt)
		switch sized := r.(type) {
		case interface{ Size() int64 }:
			if ok {
				return at, sized.Size(), nil
			}
		case interface{ Stat() (fs.FileInfo, error) }:
			if info, err := sized.Stat(); ok && err == nil && info.Mode().IsRegular() {
				return at, info.Size(), nil
			}
		}
		wrapped, ok := r.(interface{ Unwrap() io.Reader })
		if !ok {
			return nil, 0, errors.New("a zip container can only be read as a file of its own; save it, or unpack it, and read that")
		}
		r = wrapped.Unwrap()
	}
}

// limitedAt limits the number of bytes that are read, until endless is set.
type limitedAt struct {
	io.ReaderAt
	left    int
	endless bool
}

func (l *limitedAt) ReadAt(p []byte, off int64) (int, error) {
	if !l.endless {
		if l.left -= len(p); l.left < 0 {
			return 0, io.ErrUnexpectedEOF
		}
	}
	return l.ReaderAt.ReadAt(p, off)
}
