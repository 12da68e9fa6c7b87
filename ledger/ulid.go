package ledger

import "strings"

// The digits of Crockford's base 32, which leaves out I, L, O and U, each with the case of its letter.
const (
	upperDigit = 1 << iota
	lowerDigit
)

var crockford = func() (cases [256]byte) {
	for _, c := range []byte("0123456789ABCDEFGHJKMNPQRSTVWXYZ") {
		cases[c] = upperDigit
	}
	for _, c := range []byte("abcdefghjkmnpqrstvwxyz") {
		cases[c] = lowerDigit
	}
	return cases
}()

// entryID returns the ID of an entry, which is its ULID in upper case, and whether it is a ULID.
func entryID(s string) (string, bool) {
	if len(s) != 26 || s[0] > '7' {
		return "", false
	}
	var cases byte
	for i := 0; i < len(s); i++ {
		digit := crockford[s[i]]
		if digit == 0 {
			return "", false
		}
		cases |= digit
	}
	if cases&lowerDigit != 0 {
		s = strings.ToUpper(s)
	}
	return s, true
}
