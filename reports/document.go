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

// web holds the templates, styles and scripts of documents.
//
//go:embed web
var web embed.FS

// document is a self-contained HTML file: it loads nothing, and its content policy forbids that. html/template escapes all text from the
// book. The parts of a document are in web: NAME.html, which defines the template "body", NAME.css and an optional NAME.js.
type document struct {
	name  string
	title string
	body  any // the values of the template
}

// write writes the document, whole or not at all. It parses the templates here and not at start-up, since most commands write no
// document.
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
		script = nil // most documents have none
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

// Marks near the beginning of a document, by which the program recognises its own.
var marks = []string{`<meta name="generator" content="tarebook">`, "<metadata>tarebook</metadata>"}

// IsDocument reports whether a file is empty or a document that this program wrote.
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

// policy returns a content policy that allows the document's own style and script, by their digests, and nothing else (W3C Content
// Security Policy Level 3, 2.3.1). It forbids style attributes, so drawings set colours by attributes such as fill.
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
