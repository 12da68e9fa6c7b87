package ledger

import (
	"slices"
	"strings"
)

// checker receives what breaks a rule in one row.
type checker struct {
	bad func(column, what, mend string)
}

func (c *checker) needed(column string, present bool) {
	if !present {
		c.bad(column, "is blank", "fill it in")
	}
}

// oneOf folds *value to lower case, sets it to the first choice when blank, and refuses any other.
func (c *checker) oneOf(column string, value *string, choices ...string) {
	if *value == "" {
		*value = choices[0]
		return
	}
	if slices.Contains(choices, *value) {
		return
	}
	lower := strings.ToLower(*value)
	for _, choice := range choices {
		if lower == choice {
			*value = choice
			return
		}
	}
	c.bad(column, quoted(*value)+" is none of "+strings.Join(choices, ", "), "write one of them")
}

func (c *checker) spool(value *string) {
	typed := *value
	*value = Fold(typed)
	if !validSpool(*value) {
		c.bad("spool", quoted(typed)+" is no spool's id", "write up to 32 of A-Z, 0-9 and -, as PLA-017")
	}
}

func (c *checker) name(column, value string) {
	if strings.Contains(value, ":") {
		c.bad(column, quoted(value)+" holds a colon", "leave it out")
	}
}

func (c *checker) colour(column, value string) {
	c.name(column, value)
	if strings.Contains(value, "/") {
		c.bad(column, quoted(value)+" holds a /", "leave it out")
	}
}

func (c *checker) slot(value string) {
	if strings.ContainsAny(value, "/:=") {
		c.bad("slot", quoted(value)+" holds / : or =", "write a tool number or a short word")
	}
}

func (c *checker) currency(value *string) {
	if *value == "" {
		return
	}
	upper := strings.ToUpper(*value)
	if _, ok := MinorUnit(upper); !ok {
		c.bad("currency", quoted(*value)+" is not a currency of ISO 4217", "write its three letters, as EUR")
		return
	}
	*value = upper
}

func (c *checker) head(h *Head) {
	c.needed("at", !h.At.IsZero())
	if h.Entry == "" {
		return
	}
	var ok bool
	if h.ID, ok = entryID(h.Entry); !ok {
		c.bad("entry", quoted(h.Entry)+" is not a ULID", "leave it empty in a row typed by hand")
	}
}
