package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"tarebook/inventory/cost"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

type statementCmd struct {
	Client string `arg:"" optional:"" about:"The client, as in clients.csv."`
	Number string `arg:"" optional:"" about:"With --issue: the number of the bill; else the year and the next free one."`
	House  bool   `about:"What no client pays: shares that are not billed, jobs of nobody, losses of spools."`
	period
	Issue    bool   `group:"Bills" about:"Issue the statement as a bill: its number, amount and digest are kept, so that verify finds what changes later."`
	Again    bool   `group:"Bills" about:"With --issue: although a bill has days of that time already."`
	Issued   bool   `group:"Bills" about:"List the bills that were issued."`
	Unbilled bool   `group:"Bills" about:"What no bill has, also of a time that was billed before the row came."`
	Bill     string `group:"Bills" about:"One bill: what was sent beside what the book says now." value:"BILL"`
	HTML     bool   `name:"html" group:"A page to print" about:"Write the client's statement as a page to print."`
	Inside   bool   `group:"A page to print" about:"With --html: the shop's own page, with what the house carries."`
	output   `group:"A page to print"`
	recordFlags
}

func (c *statementCmd) Run(a *app) error {
	if err := c.check(a); err != nil {
		return err
	}
	from, to, err := c.days()
	if err != nil {
		return err
	}
	if c.Issue {
		return c.issue(a, from, to)
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	switch {
	case c.House:
		house, err := cost.NewHouse(v, from, to)
		if err != nil {
			return err
		}
		return a.show(v, reports.NewHouse(house))
	case c.Issued:
		bills, err := c.bills(v, func(b *cost.BillState) bool {
			return (from == "" || b.To >= from) && (to == "" || b.From <= to)
		})
		if err != nil {
			return err
		}
		return a.show(v, reports.NewBills(bills))
	case c.Bill != "":
		return c.showBill(a, v)
	}
	load := cost.NewStatement
	if c.Unbilled {
		load = cost.NewUnbilled
	}
	s, err := load(v, c.Client, from, to)
	if err != nil {
		return err
	}
	statement := reports.NewStatement(s)
	statement.Unbilled = c.Unbilled
	return c.show(a, v, statement)
}

// check refuses flags that don't go together.
func (c *statementCmd) check(a *app) error {
	modes := 0
	for _, on := range []bool{c.House, c.Issue, c.Issued, c.Unbilled, c.Bill != ""} {
		if on {
			modes++
		}
	}
	unnamed := ledger.Trim(c.Client) == ""
	recording := c.recordFlags != recordFlags{}
	switch {
	case modes > 1:
		return errors.New("--house, --issue, --issued, --unbilled and --bill can't be combined; write one of them")
	case c.House && c.Client != "":
		return fmt.Errorf("--house is nobody's statement; leave out %q", c.Client)
	case unnamed && !c.House && !c.Issued && c.Bill == "":
		return errors.New("name a client, or write --house for what no client pays; see the clients with: tarebook waste --by client")
	case c.Number != "" && !c.Issue:
		return fmt.Errorf("%q is one word too many; a name of several words stands in quotes, a bill's number after --issue or --bill", c.Number)
	case c.Again && !c.Issue:
		return errors.New("--again goes with --issue")
	case recording && !c.Issue:
		return errors.New("--at, --note, --reopen and --dry-run go with --issue")
	case c.Bill != "" && c.period != period{}:
		return errors.New("--bill has a time of its own; leave out --month, --from and --to")
	case c.HTML && c.House:
		return errors.New("--html is for a client's statement; the house's is a table, csv, json or md")
	case c.HTML && c.Issued:
		return errors.New("--html is for a client's statement; write it of one bill with: tarebook statement CLIENT --bill NUMBER --html")
	case c.HTML && a.Format != "table":
		return fmt.Errorf("--html goes without --format %s", a.Format)
	case c.HTML && c.DryRun:
		return errors.New("--dry-run writes nothing; leave out --html")
	case c.Inside && !c.HTML:
		return errors.New("--inside goes with --html")
	case c.Out != "" && !c.HTML:
		return errors.New("--out goes with --html")
	}
	return nil
}

// show writes a statement in the form asked for.
func (c *statementCmd) show(a *app, v *ledger.View, s reports.Statement) error {
	if !c.HTML {
		return a.show(v, s)
	}
	if s.At == "" {
		s.At = reports.Date(a.today(v).Date())
	}
	if err := c.write(a, func(w io.Writer) error { return s.WriteHTML(w, c.Inside) }); err != nil {
		return err
	}
	return a.flagConflicts(v)
}

// issue books a bill, then writes its statement.
func (c *statementCmd) issue(a *app, from, to string) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	if c.file() && !c.DryRun { // a bill that is booked and can't be written is worse than none
		if _, _, err := c.place(a); err != nil {
			return err
		}
	} else if c.HTML && a.terminal && c.Out == "" {
		return errTerminal
	}
	var view *ledger.View
	var b recording.Booking
	var s *cost.Statement
	var number string
	err = a.update(c.writeFlags, func(v *ledger.View) (batch ledger.Batch, err error) {
		view = v
		b, s, number, err = recording.Issue(v, recording.TypedBill{Client: c.Client, From: from, To: to, Number: c.Number, Again: c.Again, Note: c.Note}, at, a.bench())
		return b.Batch, err
	})
	a.warn(b.Warnings...)
	if err != nil {
		return err
	}
	if c.DryRun {
		a.warn("dry run: this would be bill " + number + "; nothing was written")
	} else {
		a.warn("issued bill " + number + "; cancel with: tarebook void --last")
	}
	statement := reports.NewStatement(s)
	statement.Bill, statement.At = reports.NewIssued(b.Batch.(ledger.Rows[ledger.Bill, *ledger.Bill])), reports.Date(at.Date())
	if a.Format == "json" {
		receipt := a.receipt(b, c.DryRun)
		statement.Bill.Receipt = &receipt
	}
	err = c.show(a, view, statement)
	if err != nil && !errors.Is(err, errFlagged) && a.durable {
		a.warn("it is booked, though its statement could not be written: "+err.Error(), "write it with: tarebook statement --bill "+number)
		return nil
	}
	return err
}

// bills returns the bills of the client named, or of all, that are wanted.
func (c *statementCmd) bills(v *ledger.View, want func(*cost.BillState) bool) ([]*cost.BillState, error) {
	bills, err := cost.Bills(v)
	client := ledger.Fold(ledger.Trim(c.Client))
	return slices.DeleteFunc(bills, func(b *cost.BillState) bool { return client != "" && ledger.Fold(b.Client) != client || !want(b) }), err
}

// showBill sets what was sent as one bill beside what the book says now.
func (c *statementCmd) showBill(a *app, v *ledger.View) error {
	number := ledger.Fold(ledger.Trim(c.Bill))
	bills, err := c.bills(v, func(b *cost.BillState) bool { return ledger.Fold(b.Bill.Bill) == number })
	if err != nil {
		return err
	}
	if len(bills) == 0 {
		all, err := c.bills(v, func(*cost.BillState) bool { return true })
		if err != nil {
			return err
		}
		var numbers []string
		for _, b := range all {
			numbers = append(numbers, b.Bill.Bill)
		}
		of := ""
		if c.Client != "" {
			of = " of " + c.Client
		}
		if near := ledger.Nearest(c.Bill, numbers); near != "" {
			return fmt.Errorf("no bill %q%s; did you mean %s?", c.Bill, of, near)
		}
		return fmt.Errorf("no bill %q%s; see them with: tarebook statement --issued", c.Bill, of)
	}
	first := bills[0]
	s, err := cost.NewStatement(v, first.Client, first.From, first.To)
	if err != nil {
		return err
	}
	statement := reports.NewStatement(s)
	statement.Bill = reports.NewStatementBill(bills, s)
	statement.At = reports.Date(first.At.Date())
	return c.show(a, v, statement)
}
