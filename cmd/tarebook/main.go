// How many processors there are is asked once, at the start.
//go:debug updatemaxprocs=0

// Command tarebook keeps the book of a filament shelf: what was bought, what the scale said, what each print took and
// what the waste cost. It holds no arithmetic of its own: arguments come in, an exit status goes out.
package main

import (
	"crypto/rand"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"

	"tarebook/ledger"
)

func main() {
	growStack(0)
	os.Exit(run(os.Args[1:], system()))
}

// growStack is called with 0 for nothing but its frame: the stack grows to what a command needs at once, while it is empty. It would be
// doubled and copied several times else, which is about a thirtieth of the time that a command takes on a small book.
//
//go:noinline
func growStack(n int) byte {
	if n == 0 {
		return 0
	}
	var frame [32 << 10]byte
	frame[n] = 1
	return frame[n/2]
}

// environment is all that a command may know of the world outside the book.
type environment struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	bar            io.Writer // stderr for what moves the cursor
	getenv         func(string) string
	now            func() time.Time // its location is where typed times are local
	entropy        io.Reader
	disk           ledger.Disk   // nil: that of this machine
	dir            string        // where a book is looked for
	typed          bool          // stdin is a terminal
	watched        bool          // stderr is one
	terminal       bool          // stdout is one
	width          int           // of the terminal in cells, 0 when unknown
	patience       time.Duration // for what completion needs of all consumption; 0: however long it takes
}

func system() environment {
	signal.Ignore(syscall.SIGPIPE) // else a reader that closes the pipe ends the program before it can say status 0
	env := environment{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, now: time.Now, entropy: rand.Reader, dir: ".", patience: 20 * time.Millisecond}
	env.typed, env.watched = term.IsTerminal(int(os.Stdin.Fd())), term.IsTerminal(int(os.Stderr.Fd()))
	if fd := int(os.Stdout.Fd()); term.IsTerminal(fd) {
		env.terminal = true
		env.width, _, _ = term.GetSize(fd)
	}
	return env
}
