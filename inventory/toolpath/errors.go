package toolpath

import "fmt"

// Every message reads: where, what, how to mend it.

// An Error says why a sliced file can't be read to the end.
type Error struct {
	Name string
	Line int // of the text; 0 when no text was reached
	What string
	Mend string // how to mend it; may be empty
	Err  error  // of the stream below; may be nil
}

func (e *Error) Error() string {
	text := fmt.Sprintf("%s:%d: %s", e.Name, e.Line, e.What)
	if e.Line == 0 {
		text = e.Name + ": " + e.What
	}
	if e.Mend != "" {
		text += "; " + e.Mend
	}
	return text
}

func (e *Error) Unwrap() error { return e.Err }

// fault returns an error about the present line.
func (m *machine) fault(mend, format string, args ...any) error {
	return &Error{Name: m.name, Line: m.file.Lines, What: fmt.Sprintf(format, args...), Mend: mend}
}

// excerpt returns the text from i up to a blank or the end of the line, short enough for a message.
func excerpt(b []byte, i int) string {
	const longest = 24
	end := i
	for end < len(b) && b[end] > ' ' && b[end] != ';' && b[end] != '*' {
		if end-i == longest {
			return fmt.Sprintf("%q...", b[i:end])
		}
		end++
	}
	return fmt.Sprintf("%q", b[i:end])
}
