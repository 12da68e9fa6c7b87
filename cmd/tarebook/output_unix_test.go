//go:build unix

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// What is no plain file is written to, as any program does it; a rename would put a file in its place: of /dev/null, too.
func TestOutPipe(t *testing.T) {
	t.Parallel()
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	got := make(chan []byte)
	go func() {
		f, err := os.Open(pipe)
		if err != nil {
			t.Error(err)
		}
		defer f.Close()
		b, err := io.ReadAll(f)
		if err != nil {
			t.Error(err)
		}
		got <- b
	}()
	book := t.TempDir()
	for _, name := range []string{"settings.csv", "purchases.csv"} {
		if err := os.WriteFile(filepath.Join(book, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	out := output{Out: pipe}
	a := &app{environment: environment{stdout: io.Discard}, globals: globals{Book: book}}
	want := bytes.Repeat([]byte("a line\n"), 100_000)
	if err := out.write(a, func(w io.Writer) error { _, err := w.Write(want); return err }); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(pipe); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
		t.Fatalf("the pipe became %v, %v", info.Mode(), err)
	}
	if b := <-got; !bytes.Equal(b, want) {
		t.Errorf("%d bytes came, want %d", len(b), len(want))
	}
}
