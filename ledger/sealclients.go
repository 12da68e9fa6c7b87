package ledger

import (
	"fmt"
	"slices"
	"strings"
)

// The seal of clients.csv. Its rows have no time of their own: the seal covers those in force until its through, and has no month.

// clientsDigests returns the digests of the rates in force until an instant: rows whose from is blank or not after its day. They are
// taken in the order of their canonical forms.
func (v *View) clientsDigests(through Time) (d digests, err error) {
	rows, err := decodeFile[Client](v, Clients)
	if err != nil {
		return d, err
	}
	if err := rows.faults.err(); err != nil {
		return d, err
	}
	var shortest, typed []string
	for i, row := range rows.rows {
		if row.From <= through.Date() {
			record := split(rows.raws[i])
			shortest, typed = append(shortest, rows.layout.shortest(record)), append(typed, rows.layout.canonical(record))
		}
	}
	return digests{digestOf(shortest), digestOf(typed)}, nil
}

func digestOf(forms []string) digest {
	slices.Sort(forms)
	forms = slices.Compact(forms)
	return digest{len(forms), sum(strings.Join(forms, ""))}
}

// clientsState compares the last seal of clients.csv with its rows; nil where there is none. Rows that break a rule are told of by
// verify on their own account, and the seal does not hold then.
func (v *View) clientsState(last *Seal) (*SealState, error) {
	if last == nil {
		return nil, nil
	}
	now, err := v.clientsDigests(last.Through)
	if err != nil && faultsOf(err) == nil {
		return nil, err
	}
	return &SealState{Seal: last, Holds: err == nil && now.are(last), now: now}, nil
}

// sealClients returns the seal of clients.csv to record, none where it is sealed as far and still holds.
func (v *View) sealClients(last *Seal, through Time, again bool) ([]Seal, error) {
	state, err := v.clientsState(last)
	switch {
	case err != nil:
		return nil, err
	case state == nil:
	case state.Holds && !state.Through.Before(through):
		return nil, nil
	case !state.Holds && state.Through.After(through):
		return nil, fmt.Errorf("%s; it is sealed further than %s", state.what(), through.Through())
	case !state.Holds && !again:
		return nil, fmt.Errorf("%s; mend it, or seal it as it is now with --again", state.what())
	}
	d, err := v.clientsDigests(through)
	if err != nil {
		return nil, err
	}
	return []Seal{{Through: through, Ledger: Clients, Rows: Count{d.shortest.rows, true}, SHA256: d.shortest.sum}}, nil
}
