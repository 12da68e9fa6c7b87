package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"
	"github.com/creack/pty"

	"tarebook/inventory/cost"
	"tarebook/ledger"
	"tarebook/reports"
	"tarebook/samples"
)

// What completion offers are the choices that the code has.
func TestChoices(t *testing.T) {
	t.Parallel()
	for command, want := range map[string][]string{"stock --sort": reports.StockKeys, "waste --by": cost.GroupKeys, "define": ledger.Kinds, "stock --format": reports.Formats,
		"consume j --basis": {ledger.Sliced, ledger.Path, ledger.Weighed}, "import --as": {"spools", "weighins", "jobs"}, "completion": {"bash", "zsh", "fish"}} {
		var got []string
		for _, a := range answersTo(append(strings.Fields(command), ""), environment{}) {
			got = append(got, a.value)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: got %q, want %q", command, got, want)
		}
	}
}

// What stands for a value is known to completion, or is something that only a person can know.
func TestPlaceholders(t *testing.T) {
	t.Parallel()
	free := strings.Fields(`amount code cxr days date device diameter flag g/cm3 gross id key=value mass mm month n name number
		#rrggbb ours=theirs,... ours=value,... column.theirs=ours,... reason slot=nozzle reference lxt text time wxh format`)
	known := func(kind string) bool {
		return fromBook[kind] != nil || (&source{}).of(kind) != nil || slices.Contains(append(free, "file", "csv", "dir", "of the kind"), kind)
	}
	used := map[string]bool{}
	for _, c := range commands {
		grammar, _, _ := c.make()
		k, err := kong.New(grammar, kong.NoDefaultHelp())
		if err != nil {
			t.Fatal(err)
		}
		for _, flag := range k.Model.Flags {
			kind := kindOf(flag)
			used[kind] = true
			if kind != "" && !known(kind) {
				t.Errorf("%s --%s: completion does not know %q", c.name, flag.Name, kind)
			}
		}
		for i := range k.Model.Positional {
			for n := range 2 {
				kind := (&line{words: make([]string, i+n)}).positional(k.Model)
				used[kind] = true
				if kind != "" && !known(kind) {
					t.Errorf("%s: completion does not know %q", c.name, kind)
				}
			}
		}
	}
	for kind := range fromBook {
		if !used[kind] {
			t.Errorf("completion answers for %q, which no command asks for", kind)
		}
	}
}

// A line of bash is split as bash does it, which is asked here.
func TestBashWords(t *testing.T) {
	t.Parallel()
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("there is no bash")
	}
	for _, line := range []string{`a b`, ` a  b `, `a 'b c' d`, `a "b \" c"`, `a b\ c`, `a "x"'y'z`, `a '' b`, `a \\ b`, `a 'x\y'`, `a 1=PLA-02:part=3`} {
		out, err := exec.Command(bash, "-c", `printf '<%s>' `+line).Output()
		if err != nil {
			t.Fatal(err)
		}
		words, quote := bashWords(line + " ")
		if got := "<" + strings.Join(words[:len(words)-1], "><") + ">"; got != string(out) || quote != 0 || words[len(words)-1] != "" {
			t.Errorf("%q: got %s, bash has %s", line, got, out)
		}
	}
	for _, word := range []string{"shelf A", "it's", `a"b`, `a\b`, "$HOME", "a`b`", "#x", "1:PETG-3", "ä b"} {
		for _, quote := range []string{"", "'", `"`} {
			line := quote + bashQuoted(word, append([]byte(quote), 0)[0]) + quote
			if out, err := exec.Command(bash, "-c", "printf %s "+line).Output(); err != nil || string(out) != word {
				t.Errorf("%q after %q: bash reads %s as %q", word, quote, line, out)
			}
		}
	}
}

// shell returns a shell for a test; without it the test is skipped, unless SHELLS=required.
func shell(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("SHELLS") == "required" {
		t.Fatalf("no %s; it is in Debian's package of that name", name)
	}
	if err != nil {
		t.Skipf("there is no %s (Debian's package %s); SHELLS=required forbids to skip this", name, name)
	}
	return path
}

// inShell is what a shell runs in: a book whose clock stands, the program in $PATH, and nobody's own settings.
func inShell(t *testing.T, dir string) []string {
	t.Helper()
	env := []string{"TERM=dumb", "HOME=" + dir, "XDG_CONFIG_HOME=" + dir, "WORK=" + dir, "INPUTRC=/dev/null", "LC_ALL=C.UTF-8", "PS1=> ", "NOW=" + samples.DemoAsOf, "TAREBOOK=" + dir}
	for _, name := range []string{"PATH", "TMPDIR", "GOCOVERDIR"} {
		env = append(env, name+"="+os.Getenv(name))
	}
	return env
}

// typedCases are what is typed before Tab, and what the terminal shows then.
var typedCases = []struct{ typed, shown string }{
	{"tarebook wei", "tarebook weigh "},
	{"tarebook card pva", "tarebook card PVA-02 "},
	{"tarebook card petg-04", "tarebook card PETG-04 "},
	{"tarebook check --load 1=PETG-04", "tarebook check --load 1=PETG-04 "},
	{"tarebook consume lantern-panes PETG-04:pa", "tarebook consume lantern-panes PETG-04:part="},
	{"tarebook statement pel", "tarebook statement pellam "},
	{"tarebook queue drop mill", "tarebook queue drop mill-wheel "},
	{"tarebook move PLA-02 WINDOW/3", "tarebook move PLA-02 WINDOW/3 "},
	{"tarebook buy --core=gre", "tarebook buy --core=grey-1kg "},
	{"tarebook move PLA-02 dry\\ b", "tarebook move PLA-02 dry\\ box "},
	{"tarebook stock --sor", "tarebook stock --sort "},
	{"tarebook stock --sort val", "tarebook stock --sort value "},
	{"tarebook help json quo", "tarebook help json quote "},
	{"tarebook toolpath bran", "tarebook toolpath branch-owl.gcode "},
}

// Tab is pressed in real shells, in a terminal.
func TestShellsComplete(t *testing.T) {
	for name, start := range map[string]struct {
		args []string
		load string
		list string // what two Tabs show beside a spool's id
	}{
		"bash": {[]string{"--norc", "--noprofile", "-i"}, "bind 'set enable-bracketed-paste off'; source <(tarebook completion bash)", "PLA-02  (PLA white, "},
		"zsh":  {[]string{"-f", "-i"}, "unsetopt zle_bracketed_paste promptsp; unset zle_bracketed_paste; autoload -U compinit; compinit -u -D; source <(tarebook completion zsh)", "PLA-02  -- PLA white, "},
	} {
		t.Run(name, func(t *testing.T) {
			path := shell(t, name)
			dir := demo(t)
			s := begin(t, path, start.args, dir)
			s.enter(start.load + "; echo rea''dy")
			s.until("ready")
			for _, c := range typedCases {
				s.enter("")
				s.press(c.typed + "\t")
				s.until(c.shown)
				s.press("\x15") // the line away
			}
			s.enter("")
			s.press("tarebook consume lantern-panes PETG-04:part=\t12,purge=\t3")
			s.until("PETG-04:part=12,purge=3") // and no word that stands for the grams
			s.press("\x15")
			s.enter("")
			s.press("tarebook move PLA-02 \"dry b\t")
			s.until("tarebook move PLA-02 \"dry box\" ")
			s.press("\x15")
			s.enter("")
			s.press("tarebook card PLA-\t\t")
			s.until(start.list)
			s.press("\x15")
			// A book that can't be read says nothing.
			if err := os.WriteFile(filepath.Join(dir, "purchases.csv"), []byte("a,\"b\n"), 0o666); err != nil {
				t.Fatal(err)
			}
			s.enter("clear")
			s.press("tarebook card PLA-0\t\x15echo qui''et\r")
			if seen := s.until("quiet"); strings.Contains(seen, "purchases") {
				t.Errorf("a broken book speaks: %q", seen)
			}
		})
	}
	t.Run("fish", func(t *testing.T) {
		path := shell(t, "fish")
		dir := demo(t)
		tab := func(line string) string {
			cmd := exec.Command(path, "--no-config", "-c", "tarebook completion fish | source; complete -C "+"\""+strings.ReplaceAll(line, `\`, `\\`)+"\"")
			cmd.Env, cmd.Dir = inShell(t, dir), dir
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			return string(out)
		}
		for _, c := range typedCases {
			want := strings.TrimSpace(c.shown[strings.LastIndexByte(strings.ReplaceAll(c.shown[:len(c.shown)-1], `\ `, "__"), ' ')+1:])
			if got := tab(c.typed); !strings.HasPrefix(got, strings.ReplaceAll(want, `\ `, " ")) {
				t.Errorf("%s: got %q, want %q", c.typed, got, want)
			}
		}
		if got := tab("tarebook card PLA-"); !strings.Contains(got, "PLA-02\tPLA white, ") {
			t.Errorf("the list shows no spool: %q", got)
		}
	})
}

// session is a shell in a terminal.
type session struct {
	t    *testing.T
	tty  *os.File
	got  chan string
	seen string
}

func begin(t *testing.T, path string, args []string, dir string) *session {
	t.Helper()
	cmd := exec.Command(path, args...)
	cmd.Env, cmd.Dir = inShell(t, dir), dir
	tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 60, Cols: 200})
	if err != nil {
		t.Fatal(err)
	}
	s := &session{t: t, tty: tty, got: make(chan string, 100)}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = tty.Close()
		_ = cmd.Wait()
	})
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := tty.Read(b)
			if err != nil {
				close(s.got)
				return
			}
			s.got <- string(b[:n])
		}
	}()
	return s
}

func (s *session) press(keys string) {
	s.t.Helper()
	if _, err := s.tty.WriteString(keys); err != nil {
		s.t.Fatal(err)
	}
}

func (s *session) enter(line string) {
	s.t.Helper()
	s.seen = ""
	s.press(line + "\r")
}

// until waits for a text on the terminal and returns all that was seen since the last line was entered.
func (s *session) until(text string) string {
	s.t.Helper()
	patience := time.After(time.Minute)
	for !strings.Contains(s.seen, text) {
		select {
		case more, ok := <-s.got:
			if !ok {
				s.t.Fatalf("the shell has ended; seen: %q", s.seen)
			}
			for _, r := range more {
				if r == '\b' { // what follows is written over it
					s.seen = s.seen[:max(0, len(s.seen)-1)]
				} else if r != '\r' && r != '\a' {
					s.seen += string(r)
				}
			}
		case <-patience:
			s.t.Fatalf("no %q; seen: %q", text, s.seen)
		}
	}
	return s.seen
}
