package crash_test

import (
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// shown is a tree on one line; zeros are shown as 0.
func shown(t crash.Tree) string {
	var all []string
	for _, name := range slices.Sorted(maps.Keys(t)) {
		all = append(all, name+"="+strings.ReplaceAll(t[name], "\x00", "0"))
	}
	return strings.Join(all, " ")
}

func states(m *crash.Machine, effort crash.Effort) map[string]bool {
	all := map[string]bool{}
	for s := range m.States(effort) {
		all[shown(s.Tree())] = true
	}
	return all
}

func TestStates(t *testing.T) {
	t.Parallel()
	file := func(n int, name string) crash.Op { return crash.Op{Kind: crash.Open, Name: name, File: n} }
	made := func(n int, name string) crash.Op {
		return crash.Op{Kind: crash.Open, Name: name, File: n, Created: true}
	}
	write := func(n int, offset int64, data string) crash.Op {
		return crash.Op{Kind: crash.Write, File: n, Offset: offset, Data: data}
	}
	truncate := func(n int, size int64) crash.Op { return crash.Op{Kind: crash.Truncate, File: n, Offset: size} }
	synced := func(n int) crash.Op { return crash.Op{Kind: crash.Sync, File: n} }
	folder := func(kind crash.Kind, name string) crash.Op { return crash.Op{Kind: kind, Name: name} }
	for _, c := range []struct {
		name   string
		before crash.Tree
		ops    []crash.Op
		want   []string
	}{
		{"nothing", crash.Tree{"a": "x", "d/": ""}, nil, []string{"a=x d/="}},
		{"a write is lost, cut at any byte, or zeros", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), write(1, 1, "123")},
			[]string{"a=x", "a=x1", "a=x12", "a=x123", "a=x000"}},
		{"a write that is synced is there", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), write(1, 1, "123"), synced(1)},
			[]string{"a=x123"}},
		{"what is written over may be as before", crash.Tree{"a": "xy"}, []crash.Op{file(1, "a"), write(1, 0, "12")},
			[]string{"a=xy", "a=1y", "a=12"}},
		{"a truncation is there or not", crash.Tree{"a": "xy"}, []crash.Op{file(1, "a"), truncate(1, 1)},
			[]string{"a=xy", "a=x"}},
		{"a later write without the truncation before it", crash.Tree{"a": "xy"}, []crash.Op{file(1, "a"), truncate(1, 0), write(1, 0, "1")},
			[]string{"a=xy", "a=", "a=1", "a=0", "a=\x89", "a=1y"}},
		{"a later write without an earlier one", crash.Tree{"a": ""}, []crash.Op{file(1, "a"), write(1, 0, "1"), write(1, 1, "2")},
			[]string{"a=", "a=1", "a=0", "a=12", "a=10", "a=02", "a=00", "a=\x89", "a=\x890", "a=\x892", "a=0\x89"}},
		{"a file that is synced and its name is not", crash.Tree{}, []crash.Op{made(1, "a"), write(1, 0, "1"), synced(1)},
			[]string{"", "a=1"}},
		{"a name that is synced and its file is not", crash.Tree{}, []crash.Op{made(1, "a"), write(1, 0, "1"), folder(crash.SyncDir, ".")},
			[]string{"a=", "a=0", "a=1", "a=\x89"}},
		{"a file that is removed", crash.Tree{"a": "x"}, []crash.Op{folder(crash.Remove, "a")}, []string{"a=x", ""}},
		{"durably", crash.Tree{"a": "x"}, []crash.Op{folder(crash.Remove, "a"), folder(crash.SyncDir, ".")}, []string{""}},
		{"and made again", crash.Tree{"a": "x"}, []crash.Op{folder(crash.Remove, "a"), made(1, "a"), write(1, 0, "1"), synced(1)},
			[]string{"a=x", "", "a=1"}},
		{"a file is written to that has lost its name", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), folder(crash.Remove, "a"), made(2, "a"), write(1, 1, "1")},
			[]string{"a=x", "a=x1", "a=x0", "", "a="}},
		{"names each on their own", crash.Tree{}, []crash.Op{made(1, "a"), made(2, "b")}, []string{"", "a=", "b=", "a= b="}},
		{"a folder takes along what is in it", crash.Tree{}, []crash.Op{folder(crash.Mkdir, "d"), made(1, "d/a"), folder(crash.SyncDir, "d")},
			[]string{"", "d/= d/a="}},
		{"a folder may have lost what is in it", crash.Tree{}, []crash.Op{folder(crash.Mkdir, "d"), made(1, "d/a"), folder(crash.SyncDir, ".")},
			[]string{"d/=", "d/= d/a="}},
		{"files each on their own", crash.Tree{"a": "", "b": ""}, []crash.Op{file(1, "a"), file(2, "b"), write(1, 0, "1"), write(2, 0, "2")},
			[]string{"a= b=", "a=1 b=", "a=0 b=", "a= b=2", "a= b=0", "a=1 b=2", "a=1 b=0", "a=0 b=2", "a=0 b=0",
				"a=\x89 b=", "a=\x89 b=0", "a=\x89 b=2", "a= b=\x89", "a=0 b=\x89", "a=1 b=\x89", "a=\x89 b=\x89"}},
		{"a file takes the place of another", crash.Tree{"a": "x", "b": "y"}, []crash.Op{{Kind: crash.Rename, Name: "a", Data: "b"}},
			[]string{"a=x b=y", "b=y", "a=x b=x", "b=x"}},
		{"a sync that fails drops the data", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), write(1, 0, "12"), {Kind: crash.FailSync, File: 1}, synced(1)},
			[]string{"a=x0"}},
		{"a write after it is there", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), write(1, 0, "12"), {Kind: crash.FailSync, File: 1}, write(1, 0, "12"), synced(1)},
			[]string{"a=12"}},
		{"an edit is durable at once", crash.Tree{"a": "x"}, []crash.Op{file(1, "a"), write(1, 1, "1"), {Kind: crash.Edit, Name: "a", Data: "y"}},
			[]string{"a=y"}},
	} {
		m := crash.NewMachine(c.before)
		for _, op := range c.ops {
			m.Do(op)
		}
		want := map[string]bool{}
		for _, s := range c.want {
			want[s] = true
		}
		if d := cmp.Diff(want, states(m, crash.Fine)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

// A write over three pages: lost, cut at each byte, and at the end of each page any of the pages so far as zeros, or as
// what a deleted file has left.
func TestPages(t *testing.T) {
	t.Parallel()
	before, data := strings.Repeat("x", 4000), strings.Repeat("1", 96+4096+10)
	m := crash.NewMachine(crash.Tree{"a": before})
	m.Do(crash.Op{Kind: crash.Open, Name: "a", File: 1})
	m.Do(crash.Op{Kind: crash.Write, File: 1, Offset: 4000, Data: data})
	want := map[string]bool{"a=" + before: true}
	for cut := range len(data) {
		want["a="+before+data[:cut+1]] = true
	}
	var fate func(part string, sizes ...int)
	fate = func(part string, sizes ...int) {
		want["a="+before+part] = true
		if len(sizes) == 0 {
			return
		}
		fate(part+strings.Repeat("1", sizes[0]), sizes[1:]...)
		fate(part+strings.Repeat("0", sizes[0]), sizes[1:]...)
		if part != "" { // the page in which the file ended has nothing of a deleted file
			fate(part+strings.Repeat("\x89stale\x1a\n", 512)[:sizes[0]], sizes[1:]...)
		}
	}
	fate("", 96, 4096, 10)
	if got := states(m, crash.Fine); !maps.Equal(got, want) {
		t.Errorf("got %d states, want %d", len(got), len(want))
	}
	if coarse := states(m, crash.Coarse); len(coarse) < 10 || len(coarse) > 60 {
		t.Errorf("got %d states of few cuts", len(coarse))
	} else {
		for s := range coarse {
			if !want[s] {
				t.Errorf("a state of few cuts is none of all: %.20q... of %d bytes", s, len(s))
			}
		}
	}
}

// Whatever is done to a folder, the machine sees what is there; a loss of power may leave all of it; and once all is
// synced it leaves nothing else.
func TestMachineSeesWhatIsThere(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		root, err := crash.Folder()
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(root)
		r := crash.NewRecorder(root)
		open := map[string]ledger.DiskFile{}
		defer func() {
			for _, f := range open {
				f.Close()
			}
		}()
		for range rapid.IntRange(0, 12).Draw(t, "operations") {
			name := rapid.SampledFrom([]string{"a", "b", "d/a"}).Draw(t, "name")
			switch kind := rapid.SampledFrom([]string{"open", "write", "truncate", "sync", "mkdir", "remove", "rename", "syncdir"}).Draw(t, "kind"); {
			case kind == "open":
				flag := rapid.SampledFrom([]int{os.O_RDWR, os.O_RDWR | os.O_CREATE, os.O_RDWR | os.O_CREATE | os.O_EXCL}).Draw(t, "flag")
				if f, err := r.OpenFile(root, name, flag); err == nil {
					if old := open[name]; old != nil {
						old.Close()
					}
					open[name] = f
				}
			case kind == "mkdir":
				_ = r.Mkdir(root, "d") // what fails is not in the log
			case kind == "remove":
				_ = r.Remove(root, name)
			case kind == "rename":
				_ = r.Rename(root, name, rapid.SampledFrom([]string{"a", "b", "d/a"}).Draw(t, "to"))
			case kind == "syncdir":
				_ = r.SyncDir(root, rapid.SampledFrom([]string{".", "d"}).Draw(t, "folder"))
			case open[name] == nil:
			case kind == "write":
				_, err = open[name].WriteAt([]byte(rapid.StringN(0, 3, 3).Draw(t, "data")), rapid.Int64Range(0, 4).Draw(t, "offset"))
			case kind == "truncate":
				err = open[name].Truncate(rapid.Int64Range(0, 4).Draw(t, "size"))
			case kind == "sync":
				err = open[name].Sync()
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		m := crash.NewMachine(crash.Tree{})
		for _, op := range r.Ops() {
			m.Do(op)
		}
		there, err := crash.ReadTree(root)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(there, m.Tree()); d != "" {
			t.Fatalf("after %v (-there +seen):\n%s", r.Ops(), d)
		}
		if !states(m, crash.Coarse)[shown(there)] {
			t.Errorf("after %v a loss of power cannot leave %s", r.Ops(), shown(there))
		}
		r2 := crash.NewRecorder(root)
		for _, name := range slices.Sorted(maps.Keys(there)) {
			if strings.HasSuffix(name, "/") {
				err = r2.SyncDir(root, strings.TrimSuffix(name, "/"))
			} else if f, failed := r2.OpenFile(root, name, os.O_RDWR); failed != nil {
				err = failed
			} else if err = f.Sync(); err == nil {
				err = f.Close()
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := r2.SyncDir(root, "."); err != nil {
			t.Fatal(err)
		}
		for _, op := range r2.Ops() {
			op.File += 1000
			m.Do(op)
		}
		if d := cmp.Diff(map[string]bool{shown(there): true}, states(m, crash.Whole)); d != "" {
			t.Errorf("after %v all is synced (-want +got):\n%s", r.Ops(), d)
		}
	})
}

func TestRecorderStaysUnderItsRoot(t *testing.T) {
	t.Parallel()
	outside := t.TempDir()
	r := crash.NewRecorder(t.TempDir())
	if f, err := r.OpenFile(outside, "a", os.O_RDWR|os.O_CREATE); err == nil {
		f.Close()
		t.Error("a file elsewhere was opened")
	}
	for _, err := range []error{r.Mkdir(outside, "a"), r.Remove(outside, "a"), r.Rename(outside, "a", "b"), r.SyncDir(outside, ".")} {
		if err == nil || !strings.Contains(err.Error(), "outside of") {
			t.Errorf("got %v", err)
		}
	}
	if ops := r.Ops(); len(ops) > 0 {
		t.Errorf("the log has %v", ops)
	}
}
