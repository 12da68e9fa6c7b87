package reports

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"io"
	"os"
	"slices"
	"strings"

	"tarebook/ledger"
)

// web holds what documents are made of: templates, styles and scripts, by the name of the document.
//
//go:embed web
var web embed.FS

// document is an HTML file that needs nothing but itself: it asks nobody for anything, and its policy forbids it to. All that
// comes from the book is escaped by html/template; what is of one document stands in web as NAME.html (which defines the
// template "body"), NAME.css and, where it has one, NAME.js.
type document struct {
	name  string
	title string
	body  any // the values of the template
}

// write writes the document, whole or not at all. Templates are parsed here and not when the program starts, which most often
// writes none.
func (d document) write(w io.Writer) error {
	t, err := template.New("frame.html").Funcs(template.FuncMap{"clean": ledger.Clean}).ParseFS(web, "web/frame.html", "web/"+d.name+".html")
	if err != nil {
		return err
	}
	style, err := web.ReadFile("web/" + d.name + ".css")
	if err != nil {
		return err
	}
	script, err := web.ReadFile("web/" + d.name + ".js")
	if err != nil {
		script = nil // most have none
	}
	var b bytes.Buffer
	if err := t.Execute(&b, map[string]any{
		"Title": d.title, "Policy": policy(style, script), "Style": template.CSS(style), "Script": template.JS(script), "Body": d.body,
	}); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// Marks by which a document is known again. They stand near its beginning.
var marks = []string{`<meta name="generator" content="tarebook">`, "<metadata>tarebook</metadata>"}

// IsDocument reports whether a file is a document that this program wrote, or empty.
func IsDocument(path string) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close()
	head := make([]byte, 2048)
	n, err := io.ReadFull(f, head)
	if n == 0 && err == io.EOF {
		return true, nil
	}
	if err != nil && err != io.ErrUnexpectedEOF {
		return false, err
	}
	return slices.ContainsFunc(marks, func(mark string) bool { return strings.Contains(string(head[:n]), mark) }), nil
}

// policy allows the document's own style and script, known by their digests, and nothing else (W3C Content Security Policy
// Level 3, 2.3.1). No attribute may hold style, so marks of a drawing are coloured by attributes of their own, as fill.
func policy(style, script []byte) string {
	p := "default-src 'none'; base-uri 'none'; form-action 'none'; style-src " + digest(style)
	if script != nil {
		p += "; script-src " + digest(script)
	}
	return p
}

func digest(text []byte) string {
	sum := sha256.Sum256(text)
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
