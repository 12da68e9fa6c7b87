package ledger

import (
	"fmt"
	"strconv"
	"strings"
)

// Format is the number of the format of books that this program reads and writes. What is added to a book of this format is optional, and an
// older program passes over it. A change that an older program would misread gets the next number, which a book says in settings.csv
// (format,2); without that setting a book has format 1.
const Format = 1

// formatSetting is the setting that says the format of a book.
const formatSetting = "format"

// format returns the number that a line of settings.csv gives the book's format; ok is false if the line sets something else, or no number.
func (s *Setting) format() (n int, ok bool) {
	if !strings.EqualFold(s.Setting, formatSetting) || s.Value == "" {
		return 0, false
	}
	n, err := strconv.Atoi(s.Value)
	return n, err == nil && n > 0
}

// later reports whether a line of settings.csv gives the book a format that this program does not know.
func (s *Setting) later() bool {
	n, _ := s.format()
	return n > Format
}

// checkFormat refuses a book of a later format, whatever else is in it: this program may misread its other files. Faults of settings.csv
// are left to those who need a setting.
func (v *View) checkFormat() error {
	d, err := v.settingsFile()
	if err != nil {
		return nil
	}
	for i, line := range d.rows {
		if line.later() {
			return &RowError{SettingsFile, d.lines[i], fmt.Sprintf("the book has format %s, and this program reads formats up to %d", line.Value, Format),
				"install a later tarebook; tarebook --version says which this is"}
		}
	}
	return nil
}
