package api

import (
	"bytes"
	"flag"
	"fmt"
	"go/format"
	"go/token"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode"

	"underlamp/app/tasks"
)

var writeClient = flag.Bool("write-client", false, "write client/operations.go anew")

// byHand are the methods of package client that are not generated: answers that go on.
var byHand = map[string]bool{"watchTask": true}

// The methods of package client are those of the table: what is committed is what the table says.
//
//	go test ./api -run ClientIsOfTheTable -write-client
func TestClientIsOfTheTable(t *testing.T) {
	work := tasks.New(tasks.Options{})
	defer work.Close()
	a := New(Options{Work: work})
	text, err := format.Source(a.clientSource())
	if err != nil {
		t.Fatalf("%v\n%s", err, a.clientSource())
	}
	const file = "../client/operations.go"
	if *writeClient {
		if err := os.WriteFile(file, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if committed, err := os.ReadFile(file); err != nil || !bytes.Equal(committed, text) {
		t.Errorf("client/operations.go is not of the table (%v); the comment here says how to write it", err)
	}
}

func exported(id string) string { return strings.ToUpper(id[:1]) + id[1:] }

// goType is how a type is written in package client.
func goType(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Pointer:
		return "*" + goType(t.Elem())
	case reflect.Slice:
		return "[]" + goType(t.Elem())
	}
	if t == reflect.TypeFor[time.Time]() {
		return "time.Time"
	}
	if t.PkgPath() == "" {
		return t.String()
	}
	if !strings.HasSuffix(t.PkgPath(), "/wire") {
		panic(fmt.Sprintf("api: %s is no type of package wire", t))
	}
	name := t.Name()
	if i := strings.IndexByte(name, '['); i > 0 {
		arg := name[i+1 : len(name)-1]
		name = name[:i] + "[wire." + arg[strings.LastIndexByte(arg, '.')+1:] + "]"
	}
	return "wire." + name
}

// lowered is a name for an argument.
func lowered(name string) string {
	var b strings.Builder
	up := false
	for _, r := range name {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			up = true
			continue
		}
		if up {
			r = unicode.ToUpper(r)
		}
		up = false
		b.WriteRune(r)
	}
	if token.IsKeyword(b.String()) {
		return b.String() + "ID"
	}
	return b.String()
}

// wrapped is text as a comment.
func wrapped(indent, text string) string {
	var b strings.Builder
	line := indent + "//"
	for word := range strings.FieldsSeq(text) {
		if len(line)+len(word) > 100 {
			b.WriteString(line + "\n")
			line = indent + "//"
		}
		line += " " + word
	}
	return b.String() + line + "\n"
}

func (a *API) clientSource() []byte {
	var b bytes.Buffer
	b.WriteString("// Code generated from the table of operations of package api. DO NOT EDIT.\n\npackage client\n\nimport (\n\t\"context\"\n\t\"iter\"\n\t\"time\"\n\n\t\"underlamp/wire\"\n)\n\nvar _ time.Time\n")
	for i := range a.ops {
		o := &a.ops[i]
		if byHand[o.ID] {
			continue
		}
		name := exported(o.ID)
		doc := name + ": " + o.Summary + "."
		if o.Doc != "" {
			doc += " " + o.Doc
		}
		if len(o.Scopes) > 0 {
			var need []string
			for _, s := range o.Scopes {
				need = append(need, string(s))
			}
			doc += " Needs the scope " + strings.Join(need, " or ") + "."
		}
		if o.Match {
			doc += " Needs [IfMatch]."
		}
		args, path, query := "ctx context.Context", fmt.Sprintf("%q", o.Path), "nil"
		var fields strings.Builder
		paged := false
		for _, p := range a.params[o.ID] {
			if p.in == "path" {
				args += ", " + lowered(p.name) + " " + goType(p.field.Type)
				path = strings.Replace(path, "{"+p.name+"}", `" + seg(`+lowered(p.name)+`) + "`, 1)
				continue
			}
			paged = paged || p.name == "cursor"
			if d, ok := p.schema["description"].(string); ok {
				fields.WriteString(wrapped("\t", d))
			}
			fmt.Fprintf(&fields, "\t%s %s `query:%q`\n", p.field.Name, goType(p.field.Type), p.name)
		}
		path = strings.TrimSuffix(path, ` + ""`)
		if fields.Len() > 0 {
			fmt.Fprintf(&b, "\n// %sParams are the parameters of [Client.%s].\ntype %sParams struct {\n%s}\n", name, name, name, fields.String())
			args += ", q *" + name + "Params"
			query = "q"
		}
		if o.Body > 0 {
			if o.body != nil {
				args += ", in " + goType(o.body)
			} else {
				args += ", in []byte"
			}
		}
		args += ", opts ...Option"
		x := fmt.Sprintf("call{method: %q, path: %s, query: %s", o.Method, path, query)
		if o.Once {
			x += ", once: true"
		}
		if o.Body > 0 && o.body == nil {
			x += ", body: in"
		}
		x += "}"
		send := "opts"
		if o.Body > 0 && o.body == nil {
			send = fmt.Sprintf("append([]Option{ContentType(%q)}, opts...)", o.takes()[0])
		}
		b.WriteString("\n" + wrapped("", doc))
		switch {
		case o.answer == nil && len(o.Gives) == 0: // nothing comes back
			if o.body != nil {
				fmt.Fprintf(&b, "func (c *Client) %s(%s) error {\n\t_, err := doJSON[struct{}](ctx, c, %s, in, opts)\n\treturn err\n}\n", name, args, x)
			} else {
				fmt.Fprintf(&b, "func (c *Client) %s(%s) error {\n\t_, err := c.send(ctx, %s, %s)\n\treturn err\n}\n", name, args, x, send)
			}
		case o.answer == nil: // bytes
			if o.body != nil {
				panic("api: " + o.ID + " takes JSON and gives bytes; the client has no method for that")
			}
			fmt.Fprintf(&b, "func (c *Client) %s(%s) ([]byte, error) {\n\treturn c.send(ctx, %s, %s)\n}\n", name, args, x, send)
		case paged:
			items, _ := o.answer.FieldByName("Items")
			item, p := goType(items.Type.Elem()), goType(o.answer)
			fmt.Fprintf(&b, "func (c *Client) %s(%s) iter.Seq2[%s, error] {\n\treturn all(ctx, c, %s, func(p %s) ([]%s, string) { return p.Items, p.Next }, opts)\n}\n", name, args, item, x, p, item)
		case o.body != nil:
			fmt.Fprintf(&b, "func (c *Client) %s(%s) (%s, error) {\n\treturn doJSON[%s](ctx, c, %s, in, opts)\n}\n", name, args, goType(o.answer), goType(o.answer), x)
		default:
			fmt.Fprintf(&b, "func (c *Client) %s(%s) (%s, error) {\n\treturn do[%s](ctx, c, %s, %s)\n}\n", name, args, goType(o.answer), goType(o.answer), x, send)
		}
	}
	return b.Bytes()
}
