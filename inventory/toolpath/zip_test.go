package toolpath_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"tarebook/inventory/toolpath"
)

// zipped packs members, each a name and a text, by archive/zip.
func zipped(t testing.TB, method uint16, members ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(members); i += 2 {
		w, err := z.CreateHeader(&zip.FileHeader{Name: members[i], Method: method})
		if err == nil {
			_, err = io.WriteString(w, members[i+1])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// readBytes reads a container and tells what was read, or the error.
func readBytes(data []byte, o toolpath.Options) string {
	f, err := toolpath.Read(bytes.NewReader(data), "job", o)
	if err != nil {
		return err.Error()
	}
	return tell(f)
}

func TestZip(t *testing.T) {
	t.Parallel()
	const one, two, got1, got2 = "M83\nG1 X1 E1\n", "M83\nG1 X1 E2\n", "1/0 T0 part 1 @1-1", "1/0 T0 part 2 @1-1"
	bad := zipped(t, zip.Store, "a.gcode", one)
	bad[bytes.Index(bad, []byte("E1"))+1] = '5'
	locked := zipped(t, zip.Store, "a.gcode", one)
	locked[bytes.Index(locked, []byte("PK\x01\x02"))+8] |= 1 // the flag of encryption, 4.4.4 of the format's description
	for _, c := range []struct {
		name string
		data []byte
		o    toolpath.Options
		want string
	}{
		{"deflated", zipped(t, zip.Deflate, "[Content_Types].xml", "<x/>", "Metadata/plate_1.gcode", one), toolpath.Options{}, got1},
		{"stored", zipped(t, zip.Store, "/3D/model.gcode", one), toolpath.Options{}, got1},
		{"by its ending in any case", zipped(t, zip.Store, "a.md5", two, "a.gcode.md5", two, "__MACOSX/._a.gcode", two, "._b.gcode", two, "d.gcode/", "", "A.GCODE", one), toolpath.Options{}, got1},
		{"the first of two", zipped(t, zip.Deflate, "p/1.gcode", one, "p/2.gcode", two), toolpath.Options{},
			got1 + "\n0: the zip container holds 2 members with G-code: p/1.gcode, p/2.gcode; the first was read, name another with --member"},
		{"named", zipped(t, zip.Deflate, "p/1.gcode", one, "p/2.gcode", two), toolpath.Options{Member: "p/2.gcode"}, got2},
		{"named by its last part", zipped(t, zip.Deflate, "p/1.gcode", one, "p/2.gcode", two), toolpath.Options{Member: "2.GCODE"}, got2},
		{"named, of any ending", zipped(t, zip.Deflate, "a.txt", two), toolpath.Options{Member: "A.txt"}, got2},
		{"named and not there", zipped(t, zip.Deflate, "a.gcode", one), toolpath.Options{Member: "b"}, `job: the zip container has no member "b"; it has a.gcode`},
		{"gzip within", zipped(t, zip.Store, "a.gcode.gz", string(compressed(t, one))), toolpath.Options{}, got1},
		{"blocks within", zipped(t, zip.Store, "a.bgcode", string(binaryCode(t, 1, 0, one, 100))), toolpath.Options{}, got1},
		{"a zip within", zipped(t, zip.Store, "a.gcode", string(zipped(t, zip.Store, "b.gcode", one))), toolpath.Options{},
			"job: a.gcode: a zip container can only be read as a file of its own; save it, or unpack it, and read that"},
		{"a zip within gzip", compressed(t, string(zipped(t, zip.Store, "b.gcode", one))), toolpath.Options{}, "job: a zip container can only be read as a file of its own; save it, or unpack it, and read that"},
		{"no G-code", zipped(t, zip.Store, "3D/3dmodel.model", "<x/>", "a\x1b.png", ""), toolpath.Options{},
			`job: the zip container holds no G-code, only 3D/3dmodel.model, "a\x1b.png"; slice it and export the G-code, or name a member with --member`},
		{"empty", zipped(t, zip.Store), toolpath.Options{}, "job: the zip container holds no G-code, only nothing; slice it and export the G-code, or name a member with --member"},
		{"cut", zipped(t, zip.Deflate, "a.gcode", one)[:60], toolpath.Options{}, "job: the compressed file is damaged; copy it again"},
		{"damaged", bad, toolpath.Options{}, "job: a.gcode: the compressed file is damaged; copy it again"},
		{"encrypted", locked, toolpath.Options{}, `job: "a.gcode" in the zip container is encrypted`},
		{"an error has its line", zipped(t, zip.Store, "a.gcode", one+"G1 E{e}\n"), toolpath.Options{}, `job: a.gcode:3: E "{e}" is not a number; the file ends here and may be cut`},
		{"no zip", []byte(one), toolpath.Options{Member: "a"}, "job: --member names a part of a zip container, and this is none"},
	} {
		got := readBytes(c.data, c.o)
		got = strings.Replace(got, "write it as E1.5", "the file ends here and may be cut", 1)
		if got != c.want {
			t.Errorf("%s: got %s\nwant %s", c.name, got, c.want)
		}
	}
	_, err := toolpath.Read(iotest.HalfReader(bytes.NewReader(zipped(t, zip.Store, "a.gcode", one))), "job", toolpath.Options{})
	if err == nil || !strings.Contains(err.Error(), "can only be read as a file") {
		t.Errorf("from a stream: got %v", err)
	}
}

// A zip container is read from a file, also behind wrappers.
func TestZipFile(t *testing.T) {
	t.Parallel()
	name := filepath.Join(t.TempDir(), "a.zip")
	if err := os.WriteFile(name, zipped(t, zip.Deflate, "a.gcode", "G1 X1 E1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got, err := toolpath.Read(wrapped{f}, "a.zip", toolpath.Options{})
	if err != nil || tell(got) != "1/0 T0 part 1 @1-1" {
		t.Errorf("got %v, %v", got, err)
	}
}

type wrapped struct{ r io.Reader }

func (w wrapped) Read(p []byte) (int, error) { return w.r.Read(p) }
func (w wrapped) Unwrap() io.Reader          { return w.r }

// A list of members that would fill the memory is refused.
func TestZipOfManyMembers(t *testing.T) {
	t.Parallel()
	var members []string
	for i := range 150_000 { // 46 bytes and a name each: 4.3.12 of the format's description
		members = append(members, fmt.Sprintf("%020d", i), "")
	}
	if got, want := readBytes(zipped(t, zip.Store, members...), toolpath.Options{}), "job: the zip container's list of members is too long"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// What is no text is named for what it is.
func TestNotText(t *testing.T) {
	t.Parallel()
	for data, want := range map[string]string{
		"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR": "a PNG picture, not a sliced file; export the G-code as text",
		"\xff\xd8\xff\xe0\x00\x10JFIF":          "a JPEG picture, not a sliced file; export the G-code as text",
		"%PDF-1.7\n":                            "a PDF document, not a sliced file; export the G-code as text",
		"7z\xbc\xaf\x27\x1c\x00\x04":            "a 7z archive, not a sliced file; export the G-code as text",
		"BZh91AY&SY":                            "a bzip2 file, not a sliced file; export the G-code as text",
		"\xff\xfeG\x001\x00":                    "text in UTF-16, not a sliced file; export the G-code as text",
		"solid cube\n facet normal 0 0 1\n":     "a model (STL), not a sliced file; export the G-code as text",
		strings.Repeat(" ", 80) + "\x0c\x00\x00\x00\x00\x00\x80\x3f": "a binary file, not a sliced file; export the G-code as text",
	} {
		if got := readBytes([]byte(data), toolpath.Options{}); got != "job: "+want {
			t.Errorf("%q: got %s, want %s", data, got, want)
		}
	}
}

// A stop within compressed text ends the decoding.
func TestStopAhead(t *testing.T) {
	t.Parallel()
	text := ";LAYER:0\n" + strings.Repeat("G1 X1 E1\nG1 X2 E2\nG92 E0\n", 200_000) + ";LAYER:1\nG1 X1 E1\n"
	f, err := toolpath.Read(bytes.NewReader(compressed(t, text)), "", toolpath.Options{Until: toolpath.AtTotal(3 * toolpath.MM)})
	if err != nil || f.Use().Total() != 3*toolpath.MM || f.Stopped == nil || f.Stopped.Line != 6 {
		t.Errorf("got %+v, %v", f, err)
	}
}

func FuzzZip(f *testing.F) {
	f.Add(zipped(f, zip.Deflate, "a.gcode", tower()), "")
	f.Add(zipped(f, zip.Store, "b", "G1 X1 E1\n", "a.gcode", "G1 X1 E2\n"), "b")
	f.Fuzz(func(t *testing.T, data []byte, member string) {
		whole, err := toolpath.Read(bytes.NewReader(data), "x", toolpath.Options{Member: member})
		if err != nil && (whole != nil || !strings.HasPrefix(err.Error(), "x:")) {
			t.Fatalf("%v and %v", whole, err)
		}
	})
}
