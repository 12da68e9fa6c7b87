package toolpath_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	"tarebook/inventory/toolpath"
)

// block writes a block: its header, two bytes of parameters (six of a picture), data, CRC32.
func block(kind, compression, encoding uint16, size int, data []byte) []byte {
	b := binary.LittleEndian.AppendUint16(nil, kind)
	b = binary.LittleEndian.AppendUint16(b, compression)
	b = binary.LittleEndian.AppendUint32(b, uint32(size))
	if compression != 0 {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(data)))
	}
	b = binary.LittleEndian.AppendUint16(b, encoding)
	if kind == 5 {
		b = append(b, 1, 0, 1, 0)
	}
	b = append(b, data...)
	return binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(b))
}

const blocksHead = "GCDE\x01\x00\x00\x00\x01\x00"

// binaryCode writes text as binary G-code in blocks of so many bytes of text.
func binaryCode(t testing.TB, compression, encoding uint16, text string, size int) []byte {
	b := append([]byte(blocksHead), block(0, 0, 0, 14, []byte("Producer=Tests"))...)
	b = append(b, block(5, 0, 0, 3, []byte("png"))...)
	b = append(b, block(9, 0, 0, 7, []byte("unknown"))...)
	for len(text) > 0 {
		part := text[:min(size, len(text))]
		text = text[len(part):]
		data := []byte(part)
		if encoding != 0 {
			data = pack(data, encoding == 1)
		}
		held := data
		switch compression {
		case 1:
			var z bytes.Buffer
			w := zlib.NewWriter(&z)
			w.Write(data)
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			held = z.Bytes()
		case 2:
			held = shrink(data, 11)
		case 3:
			held = shrink(data, 12)
		}
		b = append(b, block(1, compression, encoding, len(data), held)...)
	}
	return b
}

// shrink is an encoder of heatshrink, written from its description: bits, the most significant first; 1 and a byte, or 0, a
// distance less 1 and a length less 1 of 4 bits.
func shrink(data []byte, window int) []byte {
	var out []byte
	var bits, n uint
	put := func(v, count uint) {
		for count > 0 {
			count--
			bits = bits<<1 | v>>count&1
			if n++; n%8 == 0 {
				out = append(out, byte(bits))
			}
		}
	}
	for i := 0; i < len(data); {
		best, at := 0, 0
		for from := max(0, i-1<<window); from < i; from++ {
			length := 0
			for length < 16 && i+length < len(data) && data[from+length] == data[i+length] {
				length++
			}
			if length > best {
				best, at = length, from
			}
		}
		if best > 2 {
			put(0, 1)
			put(uint(i-at-1), uint(window))
			put(uint(best-1), 4)
			i += best
		} else {
			put(1, 1)
			put(uint(data[i]), 8)
			i++
		}
	}
	for n%8 != 0 {
		put(0, 1)
	}
	return out
}

// pack is an encoder of packed text, written from its description. narrow leaves out blanks of commands, and so has E.
func pack(data []byte, narrow bool) []byte {
	table := "0123456789. \nGX"
	out := []byte{255, 255, 251}
	if narrow {
		table = "0123456789.E\nGX"
		out = append(out, 255, 255, 247)
		data = bytes.ReplaceAll(data, []byte(" "), nil)
	}
	if len(data)%2 == 1 {
		data = append(bytes.Clone(data), '\n')
	}
	for i := 0; i < len(data); i += 2 {
		low, high := strings.IndexByte(table, data[i]), strings.IndexByte(table, data[i+1])
		b := byte(255)
		if low >= 0 {
			b = b&0xf0 | byte(low)
		}
		if high >= 0 {
			b = b&0x0f | byte(high)<<4
		}
		out = append(out, b)
		if low < 0 {
			out = append(out, data[i])
		}
		if high < 0 {
			out = append(out, data[i+1])
		}
	}
	return append(out, 255, 255, 250)
}

// Every compression and encoding reads as the plain text does, wherever blocks part lines.
func TestBinary(t *testing.T) {
	t.Parallel()
	text := tower() + "; a comment, with 'all' sorts: {of} letters\nM117 Grüße\nG1 X7.25 Y-3 E+.5\n"
	want := read(t, text, toolpath.Options{})
	for compression := range uint16(4) {
		for encoding := range uint16(3) {
			sizes := []int{1 << 16, 1000, 333, 17}
			if encoding != 0 { // an odd number of characters is filled up by a line end, which may part a line
				sizes = sizes[:1]
			}
			for _, size := range sizes {
				data := binaryCode(t, compression, encoding, text, size)
				if got := readBytes(data, toolpath.Options{}); got != want {
					t.Errorf("compression %d, encoding %d, blocks of %d: got %s, want %s", compression, encoding, size, got, want)
				}
				f, err := toolpath.Read(iotest.OneByteReader(bytes.NewReader(data)), "job", toolpath.Options{})
				if err != nil || tell(f) != want {
					t.Errorf("compression %d, encoding %d, byte by byte: got %v, %v", compression, encoding, f, err)
				}
			}
		}
	}
}

// Packed bytes by hand, from the description: the low nibble first; 15 stands for a whole byte.
func TestPackedVectors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, packed, want string }{
		{"off", "G1 X1 E1\n", "G1 X1 E1\n"},
		{"two in a byte", "\xff\xff\xfb\x1d\xeb\xb1\xbfE\x51\xcc", "G1 X1 E 15\n\n"}, // G1, blank X, 1 blank, whole E and blank, 1 5, LF LF
		{"low whole", "\xff\xff\xfb\x1fT", "T1"},
		{"high whole", "\xff\xff\xfb\xfdY", "GY"},
		{"both whole", "\xff\xff\xfb\xffab", "ab"},
		{"blanks left out", "\xff\xff\xfb\xff\xff\xf7\x1d\x1e\x2b\xff\xff\xf6\x2b", "G1X1E2 2"},
		{"off again", "\xff\xff\xfb\x1d\xff\xff\xfa\x1d", "G1\x1d"},
		{"reset", "\xff\xff\xfb\xff\xff\xf7\x2b\xff\xff\xf9+\xff\xff\xfb\x2b", "E2+ 2"},
		{"a byte 255 while off", "a\xffb", "a\xffb"},
		{"line feed low", "\xff\xff\xfb\x1c", "\n1"},
	} {
		if got := toolpath.Unpack([]byte(c.packed)); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// Bits by hand, from the description: "aaaa" is the byte a (1 01100001), then a repeat (0), distance 1 (11 bits of 0) and
// length 3 (0010): 10110000 10000000 00000001 0, filled up to 10110000 10000000 00000001 00000000.
func TestShrunkVectors(t *testing.T) {
	t.Parallel()
	if got, err := toolpath.Grow([]byte{0b10110000, 0b10000000, 0b00000001, 0b00000000}, 11); got != "aaaa" || err != nil {
		t.Errorf("got %q, %v", got, err)
	}
	// A repeat before anything: 0, distance 1, length 1.
	if got, err := toolpath.Grow([]byte{0, 0}, 11); got != "" || err == nil {
		t.Errorf("got %q, %v, want an error", got, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SliceOfN(rapid.ByteRange('a', 'd'), 0, 5000).Draw(t, "text")
		window := rapid.IntRange(11, 12).Draw(t, "window")
		if got, err := toolpath.Grow(shrink(text, window), uint(window)); got != string(text) || err != nil {
			t.Fatalf("%q: got %q, %v", text, got, err)
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SliceOf(rapid.SampledFrom([]byte("0189. \nGXEYab;\xc3"))).Draw(t, "text")
		want := string(text)
		if len(text)%2 == 1 {
			want += "\n"
		}
		if got := toolpath.Unpack(pack(text, false)); got != want {
			t.Fatalf("%q: got %q", text, got)
		}
	})
}

// What is wrong with a block names it. Metadata may state the total.
func TestBlockFaults(t *testing.T) {
	t.Parallel()
	const text = "M83\nG1 X1 E1\n"
	whole := func(parts ...[]byte) []byte { return bytes.Join(append([][]byte{[]byte(blocksHead)}, parts...), nil) }
	code := block(1, 0, 0, len(text), []byte(text))
	wrong := bytes.Clone(code)
	wrong[len(wrong)-1] ^= 1
	huge := block(1, 0, 0, 0xffffffff, nil)
	bomb := block(1, 1, 0, 5, []byte(zlibbed(t, strings.Repeat("G1 X1 E1\n", 100_000))))
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"sound", whole(code), "1/0 T0 part 1 @1-1"},
		{"without sums", append([]byte("GCDE\x01\x00\x00\x00\x00\x00"), code[:len(code)-4]...), "1/0 T0 part 1 @1-1"},
		{"wrong sum", whole(code, wrong), fmt.Sprintf("job:5: block 2 of the binary G-code is damaged: its CRC32 is %08x, and should be %08x; copy the file again, or export it as text",
			binary.LittleEndian.Uint32(code[len(code)-4:]), binary.LittleEndian.Uint32(wrong[len(wrong)-4:]))},
		{"4 GB", whole(huge), "job: block 1 of the binary G-code claims to hold 4294967295 bytes, more than 1073741824; copy the file again, or export it as text"},
		{"more than it says", whole(bomb), "job: block 1 of the binary G-code holds more than it says; copy the file again, or export it as text"},
		{"less than it says", whole(block(1, 1, 0, 99, []byte(zlibbed(t, text)))), "job:3: block 1 of the binary G-code holds less than it says; copy the file again, or export it as text"},
		{"cut in the data", whole(code)[:len(blocksHead)+15], "job:2: block 1 of the binary G-code is cut; copy the file again, or export it as text"},
		{"cut in the header", whole(code)[:len(blocksHead)+5], "job: block 1 of the binary G-code is cut; copy the file again, or export it as text"},
		{"cut in the sum", whole(code)[:len(blocksHead)+len(code)-2], "job:3: block 1 of the binary G-code is cut; copy the file again, or export it as text"},
		{"cut in the file's header", []byte(blocksHead)[:6], "job: the compressed file is cut; copy it again"},
		{"no zlib", whole(block(1, 1, 0, 5, []byte("abcdefgh"))), "job: block 1 of the binary G-code is damaged; copy the file again, or export it as text"},
		{"no heatshrink", whole(block(1, 2, 0, 5, []byte{0, 0})), "job: block 1 of the binary G-code is damaged; copy the file again, or export it as text"},
		{"unknown compression", whole(block(1, 7, 0, 5, []byte("abcde"))), "job: block 1 of the binary G-code has the unknown compression 7; copy the file again, or export it as text"},
		{"unknown encoding", whole(block(1, 0, 7, 5, []byte("abcde"))), "job: block 1 of the binary G-code has the unknown encoding 7; copy the file again, or export it as text"},
		{"unknown version", []byte("GCDE\x02\x00\x00\x00\x01\x00"), "job: binary G-code of version 2 with checksum 1 is unknown; export the G-code as text"},
		{"no block", whole(), "0/0\n0: nothing is extruded"},
		{"an error has its line", whole(block(1, 0, 0, 10, []byte("M83\nG1 E{e"))), `job:2: E "{e" is not a number; the file ends here and may be cut`},
		{"a line over two blocks", whole(block(1, 0, 0, 7, []byte(text[:7])), block(1, 0, 0, len(text)-7, []byte(text[7:]))), "1/0 T0 part 1 @1-1"},
		{"stated within 5 %", whole(block(4, 0, 0, 27, []byte("filament used [mm]=1.01\na=b")), code), "1/0 T0 part 1 @1-1"},
		{"stated and off", whole(block(2, 1, 0, 23, []byte(zlibbed(t, "filament used [mm]=2.00"))), code),
			"1/0 T0 part 1 @1-1\n0: 0.001 m were read, but the file states 0.002 m, 50 % apart; look for moves that start macros make, or for parts that the statement leaves out"},
	} {
		if got := readBytes(c.data, toolpath.Options{}); got != c.want {
			t.Errorf("%s: got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func zlibbed(t testing.TB, text string) string {
	var b strings.Builder
	w := zlib.NewWriter(&b)
	io.WriteString(w, text)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func FuzzBinary(f *testing.F) {
	for compression := range uint16(4) {
		for encoding := range uint16(3) {
			f.Add(binaryCode(f, compression, encoding, tower()[:400], 100), uint16(0))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, compression uint16) {
		whole, err := toolpath.Read(bytes.NewReader(data), "x", toolpath.Options{})
		if err != nil && (whole != nil || !strings.HasPrefix(err.Error(), "x:")) {
			t.Fatalf("%v and %v", whole, err)
		}
		// The same bytes as the data of a block without a sum, so that each decoder is reached.
		head := []byte("GCDE\x01\x00\x00\x00\x00\x00")
		one := block(1, compression%4, compression/4%3, len(data), data)
		toolpath.Read(bytes.NewReader(append(head, one[:len(one)-4]...)), "x", toolpath.Options{})
		if len(data) > 2000 {
			return
		}
		want := read(t, string(data), toolpath.Options{})
		if strings.HasPrefix(want, "part.gcode") || bytes.IndexByte(data, 0) >= 0 {
			return
		}
		for c := range uint16(4) {
			if got := readBytes(binaryCode(t, c, 0, string(data), 50), toolpath.Options{}); len(data) > 0 && !strings.HasPrefix(got, "job: ") && got != want {
				t.Fatalf("%q by compression %d: got %s, want %s", data, c, got, want)
			}
		}
	})
}
