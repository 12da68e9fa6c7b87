package sheet

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// Encodings are those that a sheet may have. A mark at its beginning tells UTF-16 and UTF-8 (Unicode 15, 23.8); without one, what
// is valid UTF-8 is taken as that. Other bytes stand for different letters by the machine that wrote them, so they must be named.
const (
	UTF8        = "UTF-8"
	UTF16       = "UTF-16"
	UTF16LE     = "UTF-16LE"
	UTF16BE     = "UTF-16BE"
	Windows1252 = "Windows-1252"
)

// Encodings are all of them.
var Encodings = []string{UTF8, Windows1252, UTF16, UTF16LE, UTF16BE}

const saveUTF8 = "save the sheet as CSV in UTF-8"

// decode returns the text of a file, and its encoding: the one named, else what its bytes show.
func decode(data []byte, named string) (text, encoding string, err error) {
	if hasPrefix(data, 'P', 'K', 3, 4) || hasPrefix(data, 0xd0, 0xcf, 0x11, 0xe0) {
		return "", "", wrong(0, saveUTF8, "is a workbook, not CSV")
	}
	switch encoding = named; {
	case hasPrefix(data, 0xff, 0xfe) && (named == "" || named == UTF16 || named == UTF16LE), hasPrefix(data, 0xfe, 0xff) && (named == "" || named == UTF16 || named == UTF16BE):
		encoding = UTF16
	case named == "":
		encoding = UTF8
	}
	switch encoding {
	case UTF8:
		text, err = fromUTF8(data)
	case Windows1252:
		text, err = fromWindows1252(data)
	default:
		text, err = fromUTF16(data, encoding)
	}
	if err != nil {
		return "", "", err
	}
	if i := strings.IndexByte(text, 0); i >= 0 {
		if named == "" && len(data)%2 == 0 && strings.Count(text, "\x00") >= len(text)/4 {
			return "", "", &Error{What: "holds NUL characters, as UTF-16 without a mark at its beginning does", Settle: "Encoding"}
		}
		return "", "", wrong(lineAt(text, i), saveUTF8, "holds a NUL character, so it is no text")
	}
	if strings.TrimSpace(text) == "" {
		return "", "", wrong(0, "", "is empty")
	}
	return text, encoding, nil
}

func fromUTF8(data []byte) (string, error) {
	if !utf8.Valid(data) {
		i := 0
		for i < len(data) {
			r, n := utf8.DecodeRune(data[i:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			i += n
		}
		e := wrong(lineAt(string(data[:i]), i), "", "is not UTF-8: byte %#x after %q", data[i], tail(string(data[:i])))
		e.Settle = "Encoding"
		return "", e
	}
	return strings.TrimPrefix(string(data), "\ufeff"), nil
}

// fromWindows1252 decodes the letters of western Europe; five bytes stand for none of them.
func fromWindows1252(data []byte) (string, error) {
	decoded, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", err
	}
	text := string(decoded)
	if i := strings.IndexFunc(text, func(r rune) bool { return r == utf8.RuneError || r >= 0x80 && r < 0xa0 }); i >= 0 {
		return "", wrong(lineAt(text, i), saveUTF8, "holds a byte that is no letter of Windows-1252 after %q", tail(text[:i]))
	}
	return text, nil
}

// fromUTF16 decodes by the mark at the beginning; without one the encoding must name the order of bytes.
func fromUTF16(data []byte, encoding string) (string, error) {
	order, marked := unicode.LittleEndian, hasPrefix(data, 0xff, 0xfe) || hasPrefix(data, 0xfe, 0xff)
	if encoding == UTF16BE {
		order = unicode.BigEndian
	}
	switch {
	case encoding == UTF16 && !marked:
		return "", wrong(0, "name the order of its bytes, as --encoding UTF-16LE or UTF-16BE", "has no mark that tells the order of its bytes")
	case len(data)%2 == 1:
		return "", wrong(0, "write it anew", "is UTF-16 that ends in the middle of a character")
	}
	decoded, err := unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(data)
	if err != nil {
		return "", err
	}
	text := string(decoded)
	if i := strings.IndexRune(text, utf8.RuneError); i >= 0 {
		return "", wrong(lineAt(text, i), saveUTF8, "holds half a character of UTF-16, or one that was lost before")
	}
	return text, nil
}
