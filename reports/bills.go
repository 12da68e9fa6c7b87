package reports

// StatementBill is a bill that was issued.
type StatementBill struct {
	Number string `json:"bill"`
}

func (b *StatementBill) words() []string {
	if b == nil {
		return nil
	}
	return []string{"bill " + b.Number}
}
