package main

import (
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"tarebook/ledger"
	"tarebook/samples"
)

// Text of the book does no harm in any form of a statement.
func TestHostileStatement(t *testing.T) {
	t.Parallel()
	const client, job = "<script>alert(1)</script>", "<img src=x onerror=alert(2)>|`[a](//x.example)`"
	long := strings.Repeat("ten chars ", 1000)
	dir := demo(t)
	appendLine(t, dir, "clients.csv", client+`,=1+1,0.5,0,,`+long)
	appendLine(t, dir, "clients.csv", client+`,"Name`+"\u202e\x1b]0;x\x07"+long+`",0.25,0,2026-11-01,`)
	appendLine(t, dir, "consumption.csv", `,2026-11-09T12:00:00+01:00,"`+job+`",`+client+`,STAIRS,PLA-09,10,,,4,,finished,sliced,"`+long+`"`)
	appendLine(t, dir, "consumption.csv", `,2026-11-09T12:00:00+01:00,=2+5,`+client+`,STAIRS,PLA-10,10,,,4,,finished,sliced,`)
	appendLine(t, dir, "bills.csv", `,2026-11-10T12:00:00+01:00,"=2+2`+"\u202e\x1b]0;x\x07"+`",`+client+`,2026-11-01,2026-11-30,EUR,1.005,1,`+strings.Repeat("ab", 32)+`,`+long)
	for _, args := range [][]string{{"statement", client}, {"statement", "--house"}, {"statement", "--issued"}, {"statement", client, "--unbilled"}} {
		for _, format := range []string{"table", "md", "csv", "json"} {
			status, stdout, stderr := inside(t, dir, samples.DemoAsOf, append(args, "--format", format)...)
			if status != 0 || stderr != "" {
				t.Fatalf("%s %s: status %d, stderr %s", args, format, status, stderr)
			}
			if i := strings.IndexFunc(stdout, func(r rune) bool { return r != '\n' && ledger.Forbidden(r) }); i >= 0 && format != "csv" {
				t.Errorf("%s %s holds a control character: %q", args, format, stdout[i:min(i+20, len(stdout))])
			}
			switch format {
			case "md":
				for _, markup := range []string{"<script", "<img", "`[a]("} {
					if strings.Contains(stdout, markup) {
						t.Errorf("%s: md holds %s", args, markup)
					}
				}
			case "csv":
				records, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
				if err != nil {
					t.Fatal(err)
				}
				for _, record := range records {
					for _, cell := range record {
						if strings.HasPrefix(cell, "=") {
							t.Errorf("%s: a spreadsheet would run %q", args, cell)
						}
					}
				}
			case "json":
				var value map[string]any
				if err := json.Unmarshal([]byte(stdout), &value); err != nil {
					t.Error(err)
				}
				if name, ok := value["client"]; ok && name != client {
					t.Errorf("client %q", name)
				}
			}
		}
	}

	status, page, stderr := inside(t, dir, samples.DemoAsOf, "statement", client, "--html")
	if status != 0 || stderr != "" {
		t.Fatalf("status %d, stderr %s", status, stderr)
	}
	holdPage(t, page, "header", "div", "h1", "main", "p", "span", "strong", "dl", "dt", "dd", "table", "caption", "thead", "tbody", "tr", "th", "td", "small", "ul", "li")
	if !strings.Contains(page, "&lt;img src=x onerror=alert(2)&gt;") {
		t.Error("the page does not show the job")
	}
}

// holdPage requires of a document that it is made of those elements alone, holds no style or script but its own and asks nobody for
// anything (W3C Content Security Policy Level 3).
func holdPage(t *testing.T, page string, elements ...string) {
	t.Helper()
	elements = append(elements, "html", "head", "meta", "title", "style", "body")
	if !strings.Contains(page, `http-equiv="Content-Security-Policy" content="default-src &#39;none&#39;;`) {
		t.Error("the page has no policy")
	}
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			if text, ok := token.(xml.CharData); ok && strings.IndexFunc(string(text), func(r rune) bool { return r != '\n' && ledger.Forbidden(r) }) >= 0 {
				t.Errorf("the page holds a control character: %q", text)
			}
			continue
		}
		if !slices.Contains(elements, e.Name.Local) {
			t.Errorf("the page holds <%s>", e.Name.Local)
		}
		for _, a := range e.Attr {
			if slices.Contains([]string{"style", "src", "href", "action"}, a.Name.Local) || strings.HasPrefix(a.Name.Local, "on") {
				t.Errorf("<%s> has %s=%q", e.Name.Local, a.Name.Local, a.Value)
			}
		}
	}
}

// longNames is the demo book with a job, a spool and a colour of long names on wendle's statement.
func longNames(t *testing.T) string {
	t.Helper()
	dir := demo(t)
	appendLine(t, dir, "purchases.csv", `,2026-10-01T12:00:00+02:00,`+strings.Repeat("LONG-ID-", 4)+`,PLA,`+strings.Repeat("colour", 30)+`,,,,1.75,777,,,1234567.89,EUR,,,,,,`)
	appendLine(t, dir, "consumption.csv", `,2026-11-01T12:00:00+01:00,`+strings.Repeat("job of a long name ", 20)+strings.Repeat("x", 200)+`,wendle,STAIRS,`+strings.Repeat("LONG-ID-", 4)+`,123456.789,,,4.321,,finished,sliced,`)
	return dir
}

// driveStatement adds up the lines of each job and of all, and looks where they stand on a phone.
const driveStatement = `
	const money = text => Math.round(100 * Number(text === "-" ? 0 : text));
	const found = {Lines: 0, Sum: 0, Pay: 0, Jobs: [], Narrowest: 1e9, Over: []};
	for (const job of doc.querySelectorAll("tbody")) {
		let sum = 0;
		for (const row of job.querySelectorAll("tr:not(.job)")) {
			found.Lines++;
			sum += money(row.querySelector(".pays").textContent);
			for (const cell of row.children) {
				const box = cell.getBoundingClientRect();
				if (box.left < 0 || box.right > doc.documentElement.clientWidth + 0.5) found.Over.push(cell.textContent);
			}
		}
		found.Narrowest = Math.min(found.Narrowest, job.querySelector(".job th").getBoundingClientRect().width);
		found.Jobs.push([sum, money(job.querySelector(".job td").textContent)]);
		found.Sum += sum;
	}
	found.Pay = money(doc.querySelector(".pay strong").textContent.split(" ")[0]);
	return found;`

// checkStatement holds the sums that are shown against the lines; a job's name has a row of its own, and no line runs over the phone.
func checkStatement(t *testing.T, _ string, found json.RawMessage) {
	var got struct {
		Lines, Sum, Pay int
		Jobs            [][2]int
		Narrowest       float64
		Over            []string
	}
	if err := json.Unmarshal(found, &got); err != nil {
		t.Fatalf("%v: %s", err, found)
	}
	for i, job := range got.Jobs {
		if job[0] != job[1] {
			t.Errorf("job %d: its lines come to %d, it says %d", i, job[0], job[1])
		}
	}
	if got.Lines < 20 || got.Sum != got.Pay || got.Narrowest < 340 || len(got.Over) > 0 {
		t.Errorf("%d lines come to %d, to pay are %d; a job's name has %.0f px; %q run over", got.Lines, got.Sum, got.Pay, got.Narrowest, got.Over)
	}
}
