package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// Makes JSON Schemas (draft 2020-12) of the structs that are encoded. What a property is comes from the comment on its field, else from the
// words of import --columns. A field whose type can be null is never null unless its comment says "null".

type schema struct {
	Dialect     string     `json:"$schema,omitempty"`
	Title       string     `json:"title,omitempty"`
	Description string     `json:"description,omitempty"`
	Ref         string     `json:"$ref,omitempty"`
	AnyOf       []*schema  `json:"anyOf,omitempty"`
	Type        any        `json:"type,omitempty"` // a name, or a list of them
	Format      string     `json:"format,omitempty"`
	Enum        []string   `json:"enum,omitempty"`
	Items       *schema    `json:"items,omitempty"`
	Properties  properties `json:"properties,omitempty"`
	Required    []string   `json:"required,omitempty"`
	Additional  *bool      `json:"additionalProperties,omitempty"`
	Defs        properties `json:"$defs,omitempty"`
}

// properties are named schemas that keep their order.
type properties []property

type property struct {
	name string
	*schema
}

func (p properties) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	for i, one := range p {
		b.WriteByte("{,"[min(i, 1)])
		value, err := json.Marshal(one.schema)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", one.name, value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// A shape is one form of a command's answer.
type shape struct {
	when  string // it is answered; blank for the only one
	value any    // of its type
	by    []string
}

// schemaMaker makes the schema of one command.
type schemaMaker struct {
	t        *testing.T
	comments map[string]string // of a type by its package and name, of a field by that and its name
	columns  map[string]string // what a column holds, as import --columns has it
	defs     properties
}

func (m *schemaMaker) command(c *command, shapes []shape) string {
	top := &schema{Dialect: "https://json-schema.org/draft/2020-12/schema", Title: "tarebook " + c.name + " --format json", Description: c.summary}
	for _, s := range shapes {
		one := m.value(s)
		one.Description = cmp.Or(sentence(s.when), one.Description)
		top.AnyOf = append(top.AnyOf, one)
	}
	if len(top.AnyOf) == 1 {
		one := top.AnyOf[0]
		top.AnyOf, top.Ref, top.Type, top.Items = nil, one.Ref, one.Type, one.Items
	}
	slices.SortFunc(m.defs, func(a, b property) int { return cmp.Compare(a.name, b.name) })
	top.Defs = m.defs
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(top); err != nil {
		m.t.Fatal(err)
	}
	return shortLists.ReplaceAllStringFunc(text.String(), func(list string) string {
		if line := strings.Join(strings.Fields(list[1:len(list)-1]), " "); len(line) <= 60 {
			return "[" + line + "]"
		}
		return list
	})
}

// shortLists are lists of words. A few words stand in one line.
var shortLists = regexp.MustCompile(`\[[^][{}]*\]`)

func (m *schemaMaker) value(s shape) *schema {
	if rows, ok := s.value.(ledgerRows); ok {
		return &schema{Type: "array", Items: m.ledgerRow(rows)}
	}
	one := m.of(reflect.TypeOf(s.value))
	if s.by != nil {
		def := m.defs[slices.IndexFunc(m.defs, func(p property) bool { return "#/$defs/"+p.name == one.Ref })]
		def.Properties[0].Enum = s.by
	}
	return one
}

// exact are the types that encode themselves.
var exact = map[reflect.Type]struct {
	schema schema
	null   bool // it can be
}{
	reflect.TypeFor[ledger.Grams]():       {schema{Type: "number"}, false},
	reflect.TypeFor[ledger.Mass]():        {schema{Type: "number"}, true},
	reflect.TypeFor[ledger.Number]():      {schema{Type: "number"}, true},
	reflect.TypeFor[ledger.Time]():        {schema{Type: "string", Format: "date-time"}, true},
	reflect.TypeFor[reports.Date]():       {schema{Type: "string", Format: "date"}, true},
	reflect.TypeFor[reports.Money]():      {schema{Type: "number"}, true},
	reflect.TypeFor[reports.Exact]():      {schema{Type: "number"}, true},
	reflect.TypeFor[reports.SpoolPrice](): {schema{Type: "number"}, true},
	reflect.TypeFor[reports.Rounded]():    {schema{Type: "number"}, false},
}

// of returns the schema of a type, which is not null.
func (m *schemaMaker) of(t reflect.Type) *schema {
	if own, ok := exact[t]; ok {
		return &own.schema
	}
	if t.Kind() == reflect.Pointer {
		return m.of(t.Elem())
	}
	if t.Implements(reflect.TypeFor[json.Marshaler]()) {
		m.t.Fatalf("%s encodes itself; say in exact as what", t)
	}
	switch t.Kind() {
	case reflect.String:
		return &schema{Type: "string"}
	case reflect.Bool:
		return &schema{Type: "boolean"}
	case reflect.Int:
		return &schema{Type: "integer"}
	case reflect.Float64:
		return &schema{Type: "number"}
	case reflect.Slice:
		return &schema{Type: "array", Items: m.of(t.Elem())}
	case reflect.Struct:
		return m.object(t)
	}
	m.t.Fatalf("no schema of %s", t)
	return nil
}

// object returns a reference to the schema of a struct.
func (m *schemaMaker) object(t reflect.Type) *schema {
	ref := &schema{Ref: "#/$defs/" + t.Name()}
	if slices.ContainsFunc(m.defs, func(p property) bool { return p.name == t.Name() }) {
		return ref
	}
	about := m.comments[t.PkgPath()+"."+t.Name()]
	begins := regexp.MustCompile(`^(A )?` + t.Name() + ` (is|are) `)
	if !begins.MatchString(about) {
		m.t.Errorf("the comment on %s should begin with %[1]s is: %q", t.Name(), about)
	}
	s := &schema{Description: sentence(begins.ReplaceAllString(about, "")), Type: "object", Additional: new(bool)}
	m.defs = append(m.defs, property{t.Name(), s}) // before its fields: it may hold itself
	m.fields(s, t, false)
	for i, p := range s.Properties {
		s.Properties[i].Description = sentence(p.Description) + inUnit(p, s)
	}
	return ref
}

// fields adds the fields of a struct as encoding/json finds them. never says that none of them is null.
func (m *schemaMaker) fields(s *schema, t reflect.Type, never bool) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, tagged := f.Tag.Lookup("json")
		name, options, _ := strings.Cut(tag, ",")
		about := m.comments[t.PkgPath()+"."+t.Name()+"."+f.Name]
		switch {
		case f.Anonymous && !tagged:
			embedded := f.Type
			if embedded.Kind() == reflect.Pointer {
				embedded = embedded.Elem()
			}
			m.fields(s, embedded, never || strings.Contains(about, "never null"))
			continue
		case !f.IsExported(), name == "-":
			continue
		case name == "":
			m.t.Errorf("%s.%s has no json tag", t, f.Name)
		}
		if about = cmp.Or(about, m.columns[name]); never {
			about = nullClause.ReplaceAllString(about, "")
		}
		p := m.of(f.Type)
		optional := strings.HasPrefix(options, "omit")
		null := sayNull.MatchString(about) && !never
		switch can := f.Type.Kind() == reflect.Pointer && !optional || exact[f.Type].null; {
		case null && can && p.Type == nil:
			*p = schema{AnyOf: []*schema{{Ref: p.Ref}, {Type: "null"}}}
		case null && can:
			p.Type = []any{p.Type, "null"}
		case null, f.Type.Kind() == reflect.Pointer && !optional:
			m.t.Errorf("the comment on %s.%s says %q; is it ever null?", t, f.Name, about)
		}
		if about == "" {
			m.t.Errorf("nothing says what %s.%s is; write it in a comment on the field", t, f.Name)
		}
		p.Description = about
		of := p
		if p.Items != nil {
			of = p.Items
		}
		of.Enum = closed[name]
		if closed[t.Name()+"."+name] != nil {
			of.Enum = closed[t.Name()+"."+name]
		}
		s.Properties = append(s.Properties, property{name, p})
		if !optional {
			s.Required = append(s.Required, name)
		}
	}
}

var (
	sayNull    = regexp.MustCompile(`\bnull\b`)
	nullClause = regexp.MustCompile(`; null [^;]*$`)
)

// inUnit says in what a property is measured, by its name.
func inUnit(p property, in *schema) string {
	if !strings.Contains(fmt.Sprint(p.Type), "number") {
		return ""
	}
	has := func(name string) bool {
		return slices.ContainsFunc(in.Properties, func(p property) bool { return p.name == name })
	}
	unit := ""
	switch i := strings.LastIndexByte(p.name, '_'); {
	case p.name == "density_g_cm3":
		unit = "g/cm3"
	case p.name == "price_per_g":
		unit = "money a gram"
	case p.name == "g", p.name == "grams":
		unit = "g"
	case slices.Contains([]string{"price", "cost", "billed", "bill", "house", "value"}, p.name), regexp.MustCompile(`_(cost|bill|a_month)$|^billed_|_client_cost$`).MatchString(p.name):
		unit = "money"
	case i >= 0 && slices.Contains([]string{"g", "m", "mm", "mm3", "s", "months", "days"}, p.name[i+1:]):
		unit = p.name[i+1:]
	}
	switch {
	case unit == "":
		return ""
	case strings.HasPrefix(unit, "money") && has("currency"):
		unit += ", in currency"
	case strings.HasPrefix(unit, "money"):
		unit += ", in the currency of the object around it"
	}
	return " Unit: " + unit + "."
}

// sentence makes a sentence of a comment.
func sentence(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if text == "" {
		return ""
	}
	if first, _, _ := strings.Cut(text, " "); !strings.Contains(first, "_") { // else it is a name
		text = strings.ToUpper(text[:1]) + text[1:]
	}
	if !unicode.IsPunct(rune(text[len(text)-1])) || strings.HasSuffix(text, ")") {
		text += "."
	}
	return text
}

// ledgerRows are rows that an import would book, as objects of the ledger's columns.
type ledgerRows struct {
	kind, file string
	row        reflect.Type
}

// blank reports whether a column of a row may be a blank number.
func (rows ledgerRows) blank(column string) bool {
	for _, f := range reflect.VisibleFields(rows.row) {
		if f.Tag.Get("csv") == column {
			return f.Type != reflect.TypeFor[ledger.Grams]() && column != "diameter_mm" // 1.75 stands for a blank one
		}
	}
	return false
}

func (m *schemaMaker) ledgerRow(rows ledgerRows) *schema {
	name := strings.TrimSuffix(rows.file, ".csv")
	s := &schema{Description: "A row of " + rows.file + ", without its entry.", Type: "object", Additional: new(bool)}
	for column := range strings.SplitSeq(strings.TrimSpace(ledger.Header(rows.file)), ",") {
		if column == "entry" {
			continue
		}
		p := &schema{Type: "string", Description: cmp.Or(m.columns[rows.kind+"."+column], m.columns[column], m.comments["tarebook/ledger.Consumption."+strings.ToUpper(column[:1])+column[1:]])}
		if p.Description == "" {
			m.t.Errorf("nothing says what the column %s is", column)
		}
		p.Description, p.Enum = sentence(p.Description), closed[rows.row.Name()+"."+column]
		if recording.IsNumber(column) {
			if p.Type = "number"; rows.blank(column) {
				p.Type = []any{"number", "null"}
				p.Description += " Null where it is blank."
			}
		}
		s.Properties, s.Required = append(s.Properties, property{column, p}), append(s.Required, column)
	}
	m.defs = append(m.defs, property{name, s})
	return &schema{Ref: "#/$defs/" + name}
}

// commentsOf reads the comments on the types and fields of packages.
func commentsOf(t *testing.T, folders ...string) map[string]string {
	all := map[string]string{}
	for _, folder := range folders {
		files, err := fs.Glob(os.DirFS(filepath.Join("..", "..", filepath.FromSlash(folder))), "*.go")
		if err != nil || len(files) == 0 {
			t.Fatalf("no Go files in %s: %v", folder, err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join("..", "..", filepath.FromSlash(folder), name), nil, parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range file.Decls {
				if d, ok := d.(*ast.GenDecl); ok && d.Tok == token.TYPE {
					commentsIn(all, path.Join("tarebook", folder), d)
				}
			}
		}
	}
	return all
}

func commentsIn(all map[string]string, folder string, d *ast.GenDecl) {
	for _, spec := range d.Specs {
		spec := spec.(*ast.TypeSpec)
		key := folder + "." + spec.Name.Name
		all[key] = strings.TrimSpace(cmp.Or(spec.Doc.Text(), d.Doc.Text()))
		of, ok := spec.Type.(*ast.StructType)
		if !ok {
			continue
		}
		for _, f := range of.Fields.List {
			about := strings.TrimSpace(cmp.Or(f.Comment.Text(), f.Doc.Text()))
			for _, name := range f.Names {
				all[key+"."+name.Name] = about
			}
			if name, ok := f.Type.(*ast.Ident); ok && f.Names == nil {
				all[key+"."+name.Name] = about
			}
		}
	}
}
