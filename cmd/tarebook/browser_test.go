package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tarebook/samples"
)

// Documents are looked at in a real browser: that they do what they should, ask nobody for anything, log no error, and fit a phone
// and a desk. $TAREBOOK_SCREENSHOTS names a folder for pictures of them.

// browsed is one document.
type browsed struct {
	name  string
	args  []string // the command that writes it to standard output
	book  func(*testing.T) string
	drive string // the body of a function of doc and win that returns what check is to see
	check func(t *testing.T, dir string, found json.RawMessage)
}

var documents = []browsed{
	{"page", []string{"page"}, demo, drivePage, checkPage},
	{"page-hostile", []string{"page"}, hostile, drivePage, nil},
	{"label", []string{"label", "--all"}, demo, driveLabel, checkLabel},
	{"label-hostile", []string{"label", "--all"}, hostile, driveLabel, checkLabel},
	{"statement", []string{"statement", "wendle", "--month", "2026-10", "--html"}, demo, driveStatement, checkStatement},
	{"statement-inside", []string{"statement", "--bill", "2026-001", "--html", "--inside"}, demo, driveStatement, checkStatement},
	{"statement-hostile", []string{"statement", "wendle", "--html"}, longNames, driveStatement, checkStatement},
}

// drivePage sorts by each heading, once and twice, and searches.
const drivePage = `
	const seen = el => el.offsetParent !== null;
	const shown = () => Array.from(doc.querySelectorAll("#stock tbody tr")).filter(seen).map(tr => tr.dataset.spool);
	const told = () => doc.querySelector("#find [role=status]").textContent;
	const found = {first: shown(), sorted: {}, searched: {}, told: {}, reached: true, links: []};
	for (const button of doc.querySelectorAll("#sorts button")) {
		button.focus();
		found.reached = found.reached && doc.activeElement === button && button.tabIndex === 0;
		button.click();
		const up = shown();
		button.click();
		found.sorted[button.textContent] = {up, down: shown(), pressed: button.getAttribute("aria-pressed")};
	}
	found.told.sorted = told();
	const box = doc.querySelector("#find input");
	for (const text of ["petg", "BLACK  pla", "door/3", "no such thing"]) {
		box.value = text;
		box.dispatchEvent(new win.Event("input", {bubbles: true}));
		found.searched[text] = shown();
	}
	found.told.none = told();
	box.value = "";
	box.dispatchEvent(new win.Event("input", {bubbles: true}));
	found.last = shown();
	found.address = win.location.hash;
	const cards = () => Array.from(doc.querySelectorAll("#cards li")).filter(seen).map(li => li.id);
	for (const link of doc.querySelectorAll("main a[href^='#']")) {
		if (!doc.getElementById(decodeURIComponent(link.hash.slice(1)))) found.links.push(link.hash);
	}
	doc.querySelector("[data-view=cards]").click();
	found.cards = cards();
	found.inCards = shown();
	doc.querySelector("[data-view=table]").click();
	found.heads = Array.from(doc.querySelectorAll("#stock thead th")).map(th => th.getAttribute("aria-sort"));
	return found;`

// checkPage holds the page's orders against those of stock.
func checkPage(t *testing.T, dir string, found json.RawMessage) {
	var got struct {
		First, Last []string
		Reached     bool
		Sorted      map[string]struct {
			Up, Down []string
			Pressed  string
		}
		Searched map[string][]string
		Told     map[string]string
		Address  string
		Cards    []string
		InCards  []string
		Links    []string // that lead nowhere
		Heads    []string
	}
	if err := json.Unmarshal(found, &got); err != nil {
		t.Fatalf("%v: %s", err, found)
	}
	stock := func(args ...string) (ids []string) {
		_, out, errs := inside(t, dir, samples.DemoAsOf, append([]string{"stock", "--format", "json"}, args...)...)
		var rows []struct {
			Spool string
			Ended bool
		}
		if err := json.Unmarshal([]byte(out), &rows); err != nil {
			t.Fatal(err, errs)
		}
		for _, r := range rows {
			if !r.Ended {
				ids = append(ids, r.Spool)
			}
		}
		return ids
	}
	same := func(what string, got, want []string) {
		t.Helper()
		if !slices.Equal(got, want) {
			t.Errorf("%s: the browser shows %v, stock has %v", what, got, want)
		}
	}
	same("at first", got.First, stock())
	for key, sort := range map[string]string{"spool": "spool", "net g": "net", "length m": "length", "value": "value", "weighed": "weighed"} {
		same("by "+key, got.Sorted[key].Up, stock("--sort", sort))
	}
	if want := "#sort=value&turn=down"; got.Address != want {
		t.Errorf("the address keeps %q, want %q", got.Address, want)
	}
	same("as cards", got.Cards, got.Last)
	same("of the table beside the cards", got.InCards, nil)
	if len(got.Links) > 0 {
		t.Errorf("links lead nowhere: %q", got.Links)
	}
	if len(got.Heads) != 10 || got.Heads[7] != "descending" || got.Heads[0] != "none" {
		t.Errorf("heads are sorted %q", got.Heads)
	}
	for key, sorted := range got.Sorted {
		if len(sorted.Down) < 10 || sorted.Pressed != "true" || slices.Equal(sorted.Up, sorted.Down) {
			t.Errorf("by %s: %v", key, sorted)
		}
	}
	last := stock("--sort", "spool")
	slices.Reverse(last)
	same("by spool, from Z", got.Sorted["spool"].Down, last)
	if len(got.Sorted) != 8 || !got.Reached {
		t.Errorf("%d headings, reached %v", len(got.Sorted), got.Reached)
	}
	slices.Sort(got.Searched["petg"])
	same("petg", got.Searched["petg"], stock("--material", "PETG"))
	slices.Sort(got.Searched["BLACK  pla"])
	same("black pla", got.Searched["BLACK  pla"], stock("--material", "PLA", "--colour", "black"))
	same("door/3", got.Searched["door/3"], stock("--place", "DOOR/3"))
	same("nothing", got.Searched["no such thing"], nil)
	if want := fmt.Sprintf("0 of %d spools, by value, greatest first", len(got.First)); got.Told["none"] != want {
		t.Errorf("told %q, want %q", got.Told["none"], want)
	}
	if len(got.Last) != len(got.First) {
		t.Errorf("%d spools after all, %d at first", len(got.Last), len(got.First))
	}
}

func TestBrowser(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	for _, d := range documents {
		t.Run(d.name, func(t *testing.T) {
			dir := d.book(t)
			_, text, errs := inside(t, dir, samples.DemoAsOf, d.args...)
			if text == "" {
				t.Fatalf("nothing was written: %s", errs)
			}
			if dir := os.Getenv("TAREBOOK_SCREENSHOTS"); dir != "" { // for .ci/pages
				if err := os.WriteFile(filepath.Join(dir, d.name+".html"), []byte(text), 0o666); err != nil {
					t.Error(err)
				}
			}
			seen := b.look(t, text, d.drive)
			seen.quiet(t)
			if d.check != nil {
				d.check(t, dir, seen.Found)
			}
			for i, width := range seen.Widths {
				if width.Wants > width.Has {
					t.Errorf("it is %d px wide where there are %d", width.Wants, width.Has)
				}
				b.picture(t, fmt.Sprintf("%s-%d.png", d.name, widths[i]), text, widths[i], width.Height)
			}
			b.lookAtFile(t, text).quiet(t)
		})
	}
}

// A document that asks for something, or logs an error, is found out.
func TestBrowserSees(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	seen := b.look(t, `<!doctype html><html lang="en"><title>x</title><img src="http://spool.example/x.png"><script>console.error("out of filament")</script><p>x`, "return 1")
	if !slices.ContainsFunc(seen.asked, func(s string) bool { return strings.Contains(s, "spool.example") }) {
		t.Errorf("asked %q", seen.asked)
	}
	if !strings.Contains(strings.Join(seen.logged, "\n"), "out of filament") {
		t.Errorf("logged %q", seen.logged)
	}
	_, text, _ := inside(t, demo(t), samples.DemoAsOf, "page")
	seen = b.look(t, strings.Replace(text, "</main>", `<img src="http://spool.example/x.png"></main>`, 1), "return 1")
	if len(seen.asked) > 0 || !strings.Contains(strings.Join(seen.logged, "\n"), "Content Security Policy") {
		t.Errorf("the policy let through %q and logged %q", seen.asked, seen.logged)
	}
}

// widths in px at which documents are looked at: those of a phone, a tablet and a desk.
var widths = []int{390, 768, 1280}

type browser struct {
	path  string
	proxy net.Listener // through which the browser must pass for all that is no file

	mu    sync.Mutex // one look at a time
	lock  sync.Mutex // of asked
	asked []string
}

// seen is what one look found.
type seen struct {
	Found  json.RawMessage
	Widths []struct{ Wants, Has, Height int }
	asked  []string // first lines of what went over the network
	logged []string // lines of the console
}

func (s seen) quiet(t *testing.T) {
	t.Helper()
	if len(s.asked) > 0 {
		t.Errorf("it asked for %q", s.asked)
	}
	if len(s.logged) > 0 {
		t.Errorf("it logged %q", s.logged)
	}
}

// newBrowser finds a browser; without one the test is skipped, or fails where $BROWSER is required. It is Chromium's headless shell,
// as a whole Chromium asks for much of its own that can't be told from what a document asks for.
func newBrowser(t *testing.T) *browser {
	b := &browser{}
	var err error
	if b.path, err = exec.LookPath("chromium-headless-shell"); err != nil {
		const missing = "no chromium-headless-shell on the path; on Debian install it with: apt-get install chromium-headless-shell"
		if os.Getenv("BROWSER") == "required" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	if b.proxy, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.proxy.Close() })
	go b.listen()
	return b
}

// listen notes what is asked for, and has none of it.
func (b *browser) listen() {
	for {
		c, err := b.proxy.Accept()
		if err != nil {
			return
		}
		go func() {
			defer c.Close()
			c.SetDeadline(time.Now().Add(10 * time.Second))
			line, _ := bufio.NewReader(c).ReadString('\n')
			b.lock.Lock()
			b.asked = append(b.asked, strings.TrimSpace(line))
			b.lock.Unlock()
			fmt.Fprint(c, "HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
		}()
	}
}

// The harness frames the document, a file beside it, at each width, drives it once, and writes what it found into itself.
const harness = `<!doctype html><html lang="en"><title>harness</title><link rel="icon" href="data:,"><pre id="found"></pre><script>
const widths = %v, all = {Widths: []};
function look() {
	if (all.Widths.length === widths.length) {
		document.getElementById("found").textContent = JSON.stringify(all);
		return;
	}
	const frame = document.createElement("iframe");
	frame.width = widths[all.Widths.length];
	frame.height = 800;
	frame.onload = () => {
		const doc = frame.contentDocument, root = doc.documentElement;
		all.Widths.push({Wants: root.scrollWidth, Has: root.clientWidth, Height: root.scrollHeight});
		if (all.Found === undefined) {
			try {
				all.Found = (function (doc, win) { %s })(doc, frame.contentWindow);
			} catch (e) {
				console.error(String(e));
			}
		}
		look();
	};
	frame.src = "document.html";
	document.body.append(frame);
}
look();
</script>`

// look drives a document in the harness.
func (b *browser) look(t *testing.T, text, drive string) (s seen) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	file := filepath.Join(filepath.Dir(b.file(t, text)), "harness.html")
	page := fmt.Sprintf(harness, strings.ReplaceAll(fmt.Sprint(widths), " ", ","), drive)
	if err := os.WriteFile(file, []byte(page), 0o666); err != nil {
		t.Fatal(err)
	}
	dom, s := b.run(t, "--allow-file-access-from-files", "--dump-dom", "file://"+file) // so that the two are of one origin
	found := regexp.MustCompile(`(?s)<pre id="found">(.+?)</pre>`).FindStringSubmatch(dom)
	if found == nil {
		t.Fatalf("the harness found nothing; it logged %q; its page is %.2000s", s.logged, dom)
	}
	asked, logged := s.asked, s.logged
	if err := json.Unmarshal([]byte(html.UnescapeString(found[1])), &s); err != nil {
		t.Fatalf("%v: %s", err, found[1])
	}
	s.asked, s.logged = asked, logged
	return s
}

// lookAtFile opens a document as a file.
func (b *browser) lookAtFile(t *testing.T, text string) seen {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	dom, s := b.run(t, "--dump-dom", "file://"+b.file(t, text))
	if !strings.Contains(dom, "</body>") || len(dom) < len(text)/2 {
		t.Errorf("of %d bytes the browser has %d", len(text), len(dom))
	}
	return s
}

// picture keeps a picture where the environment asks for it.
func (b *browser) picture(t *testing.T, name, text string, width, height int) {
	t.Helper()
	dir := os.Getenv("TAREBOOK_SCREENSHOTS")
	if dir == "" {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	file := filepath.Join(dir, name)
	b.run(t, "--hide-scrollbars", fmt.Sprintf("--window-size=%d,%d", width, min(height, 16000)), "--screenshot="+file, "file://"+b.file(t, text))
	if info, err := os.Stat(file); err != nil || info.Size() == 0 {
		t.Errorf("no picture %s: %v", file, err)
	}
}

func (b *browser) file(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "document.html")
	if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return name
}

// run runs the browser; all that it asks for of the network passes through the proxy.
func (b *browser) run(t *testing.T, args ...string) (stdout string, s seen) {
	t.Helper()
	profile, err := os.MkdirTemp("", "browser")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(profile) // what its last process still writes may stay in the way; it is of no matter
	all := []string{"--disable-gpu", "--user-data-dir=" + profile, "--proxy-server=http://" + b.proxy.Addr().String(), "--proxy-bypass-list=<-loopback>",
		"--enable-logging=stderr", "--log-level=0", "--virtual-time-budget=20000"} // ms, which pass as fast as there is nothing to do
	if os.Geteuid() == 0 {
		all = append(all, "--no-sandbox") // it refuses to run as root with one
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, b.path, append(all, args...)...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	cmd.WaitDelay = 10 * time.Second
	b.lock.Lock()
	b.asked = nil
	b.lock.Unlock()
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %s", err, errs.String())
	}
	for line := range strings.SplitSeq(errs.String(), "\n") {
		if strings.Contains(line, ":CONSOLE") {
			s.logged = append(s.logged, line)
		}
	}
	b.lock.Lock()
	s.asked = slices.Clone(b.asked)
	b.lock.Unlock()
	return out.String(), s
}
