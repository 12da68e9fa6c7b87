//go:build ignore

// Command gcode writes a generated sliced file to standard output: go run .ci/bench/gcode.go MEGABYTES [zip|blocks]
//
// It is text, or the same text in a zip container, or in blocks of binary G-code (zlib, 64 KB each).
//
// Of its lines 90 % are G1 with X, Y and E, 5 % comments, 2 % arcs, 2 % retractions and their returns, and 1 % layer and
// tool changes (one change of tool to nine of layer). The same size gives the same bytes.
package main

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
)

func main() {
	if err := write(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "gcode:", err)
		os.Exit(1)
	}
}

func write(args []string) error {
	if len(args) < 1 || len(args) > 2 {
		return fmt.Errorf("%q: write MEGABYTES [zip|blocks]", args)
	}
	megabytes, err := strconv.Atoi(args[0])
	if err != nil {
		return err
	}
	switch form := append(args, "")[1]; form {
	case "":
		return text(os.Stdout, megabytes)
	case "zip":
		z := zip.NewWriter(os.Stdout)
		w, err := z.Create("plate.gcode")
		if err == nil {
			err = text(w, megabytes)
		}
		if err != nil {
			return err
		}
		return z.Close()
	case "blocks":
		b := &blocks{out: bufio.NewWriterSize(os.Stdout, 1<<18)}
		b.out.WriteString("GCDE\x01\x00\x00\x00\x01\x00")
		if err := text(b, megabytes); err != nil {
			return err
		}
		if err := b.end(); err != nil {
			return err
		}
		return b.out.Flush()
	default:
		return fmt.Errorf("%q is neither zip nor blocks", form)
	}
}

// blocks writes text as blocks of binary G-code.
type blocks struct {
	out  *bufio.Writer
	text bytes.Buffer
}

func (b *blocks) Write(p []byte) (int, error) {
	for rest := p; len(rest) > 0; {
		n := min(len(rest), 64<<10-b.text.Len())
		b.text.Write(rest[:n])
		rest = rest[n:]
		if b.text.Len() == 64<<10 {
			if err := b.end(); err != nil {
				return 0, err
			}
		}
	}
	return len(p), nil
}

// end writes the block at hand.
func (b *blocks) end() error {
	var data bytes.Buffer
	z := zlib.NewWriter(&data)
	if _, err := z.Write(b.text.Bytes()); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	head := binary.LittleEndian.AppendUint32([]byte{1, 0, 1, 0}, uint32(b.text.Len()))
	head = binary.LittleEndian.AppendUint32(head, uint32(data.Len()))
	block := append(append(head, 0, 0), data.Bytes()...)
	b.text.Reset()
	_, err := b.out.Write(binary.LittleEndian.AppendUint32(block, crc32.ChecksumIEEE(block)))
	return err
}

// text writes so much G-code.
func text(out io.Writer, megabytes int) error {
	w := bufio.NewWriterSize(out, 1<<18)
	r := rand.New(rand.NewPCG(1, 2))
	line := []byte("; generated\nG21\nG90\nM83\nT0\nG1 Z0.2 F600\n")
	sections := []string{"outer wall", "inner wall", "infill", "support", "prime tower", "bridge"}
	layer, tool, drawn := 1, 0, false
	put := func(text string, v, decimals int) {
		line = append(line, text...)
		line = strconv.AppendFloat(line, float64(v)/math.Pow10(decimals), 'f', decimals, 64)
	}
	for size := 0; size < megabytes*1_000_000; line = line[:0] {
		switch n := r.IntN(1000); {
		case n < 900:
			put("G1 X", 20_000+r.IntN(200_000), 3)
			put(" Y", 20_000+r.IntN(200_000), 3)
			put(" E", 100+r.IntN(20_000), 5)
			line = append(line, '\n')
		case n < 950:
			line = append(line, "; type: "...)
			line = append(line, sections[r.IntN(len(sections))]...)
			line = append(line, '\n')
		case n < 970:
			put("G3 X", 20_000+r.IntN(200_000), 3)
			put(" Y", 20_000+r.IntN(200_000), 3)
			put(" I", r.IntN(20_000), 3)
			put(" J", r.IntN(20_000), 3)
			put(" E", 100+r.IntN(20_000), 5)
			line = append(line, '\n')
		case n < 990:
			sign := "-"
			if drawn {
				sign = ""
			}
			drawn = !drawn
			line = append(line, "G1 E"+sign+"0.8 F2400\n"...)
		case n < 999:
			layer++
			put("G1 Z", layer*2, 1)
			line = append(line, " F600\n"...)
		default:
			tool = (tool + 1 + r.IntN(3)) % 4
			line = append(line, 'T')
			line = strconv.AppendInt(line, int64(tool), 10)
			line = append(line, '\n')
		}
		size += len(line)
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return w.Flush()
}
