package sheet

import "testing"

// Bytes and letters by the table of Windows-1252 (WHATWG Encoding, index windows-1252; from memory).
func TestWindows1252(t *testing.T) {
	t.Parallel()
	text, encoding, err := decode([]byte("\x80 \x84gr\xfc\xdf\x93 \x96 caf\xe9"), Windows1252)
	if want := "€ „grüß“ – café"; err != nil || text != want || encoding != Windows1252 {
		t.Errorf("got %q, %s, %v; want %q", text, encoding, err, want)
	}
	for _, none := range []string{"\x81", "\x8d", "\x8f", "\x90", "\x9d"} {
		if text, _, err := decode([]byte("a\n"+none), Windows1252); err == nil || text != "" {
			t.Errorf("%q: got %q, %v; want a refusal", none, text, err)
		}
	}
}

// The encodings of U+00E9 and U+1F600 by RFC 2781, 2.
func TestUTF16(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ bytes, named string }{
		{"\xff\xfe\xe9\x00\x3d\xd8\x00\xde", ""}, {"\xfe\xff\x00\xe9\xd8\x3d\xde\x00", ""}, {"\xfe\xff\x00\xe9\xd8\x3d\xde\x00", UTF16},
		{"\xe9\x00\x3d\xd8\x00\xde", UTF16LE}, {"\x00\xe9\xd8\x3d\xde\x00", UTF16BE},
	} {
		if text, _, err := decode([]byte(c.bytes), c.named); err != nil || text != "é\U0001f600" {
			t.Errorf("%q as %q: got %q, %v", c.bytes, c.named, text, err)
		}
	}
}
