package handwritten

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

const (
	maxBytes  = 1 << 20
	maxLines  = 10_000
	maxTokens = 100_000
	maxDepth  = 16

	bom = "\ufeff"
)

// ErrTooLarge is in the error of [Read] for more than 1 MiB of text.
var ErrTooLarge = errors.New("the file is larger than 1 MiB")

// Read reads a file from its top, which whole makes something of. The result is
// nil exactly when the problems hold an error; they are sorted by their place.
// The error is for what is no matter of the text: a failing reader, or
// [ErrTooLarge].
func Read[T any](r *Reader, in io.Reader, whole func(top Value) *T) (*T, Problems, error) {
	top, ok, err := r.Top(in)
	if err != nil {
		return nil, nil, err
	}
	var t *T
	if ok {
		t = whole(top)
	}
	r.Problems.sort()
	if r.Problems.HasErrors() {
		return nil, r.Problems, nil
	}
	return t, r.Problems, nil
}

// Top reads a text to the top of its tree; false when there is none, which the
// problems then say. Errors are those of [Read].
func (r *Reader) Top(in io.Reader) (Value, bool, error) {
	if t, ok := in.(*Traced); ok {
		r.asked, t.Asked.Grammar = &t.Asked, r.Grammar
	}
	data, err := io.ReadAll(io.LimitReader(in, maxBytes+1))
	if err != nil {
		return Value{}, false, fmt.Errorf("%s: reading: %w", r.Grammar.Package, err)
	}
	if len(data) > maxBytes {
		return Value{}, false, fmt.Errorf("%s: %w, too large for %s; look whether it is the right file", r.Grammar.Package, ErrTooLarge, r.Grammar.File)
	}
	r.lines = 1
	text, ok := r.text(data)
	if !ok {
		return Value{}, false, nil
	}
	top, ok := r.parse(text)
	return Value{Node: top, At: Place{1, 1}}, ok, nil
}

// unixLines ends every line with \n alone. The YAML library miscounts lines
// that end with \r\n after a comment.
func unixLines(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}

// text turns bytes into the text to parse; false when it is no text.
func (r *Reader) text(data []byte) (string, bool) {
	whole := Place{1, 1}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		r.Add(whole, Problem{Message: "the file is stored as UTF-16", Want: "UTF-8; choose it as the encoding when you save the file"})
		return "", false
	}
	s := unixLines(strings.TrimPrefix(string(data), bom))
	r.lines = strings.Count(s, "\n") + 1
	line, column := 1, 1
	for i, c := range s {
		at := Place{line, column}
		switch {
		case c == utf8.RuneError && !strings.HasPrefix(s[i:], "\ufffd"):
			r.Add(at, Problem{Message: "a byte here is not UTF-8 text", Want: "UTF-8; choose it as the encoding when you save the file"})
			return "", false
		case c == '\n':
			line, column = line+1, 0
		// U+FEFF inside the text and U+2028/2029 look like nothing and would
		// shift what the YAML library sees.
		case c != '\t' && unicode.IsControl(c), c == '\ufeff', c == '\u2028', c == '\u2029':
			r.Add(at, Problem{Message: fmt.Sprintf("an invisible character (U+%04X) stands here", c), Want: "plain text; delete the character"})
			return "", false
		}
		column++
	}
	if r.lines > maxLines {
		r.Add(Place{maxLines, 1}, Problem{Message: fmt.Sprintf("the file has %d lines", r.lines), Want: fmt.Sprintf("at most %d lines", maxLines)})
		return "", false
	}
	return s, true
}

// refused are the parts of YAML that a file may not use.
var refused = map[token.Type]string{
	token.AnchorType:     "anchors (&)",
	token.AliasType:      "aliases (*)",
	token.TagType:        "tags (!)",
	token.MergeKeyType:   "merge keys (<<)",
	token.MappingKeyType: "keys that begin with ?",
	token.DirectiveType:  "directives (%)",
}

// parse gives the top mapping of the text; false when there is none.
func (r *Reader) parse(text string) (ast.Node, bool) {
	tokens := r.tokens(text)
	if tokens == nil {
		return nil, false
	}
	file, err := parseTokens(tokens)
	if err != nil {
		r.syntax(err, text)
		return nil, false
	}
	var bodies []ast.Node
	for _, d := range file.Docs {
		if d != nil && d.Body != nil {
			bodies = append(bodies, d.Body)
		}
	}
	switch {
	case len(bodies) == 0:
		r.Add(Place{1, 1}, Problem{Message: "nothing is written in this file", Want: r.Grammar.Begin})
		return nil, false
	case len(bodies) > 1:
		r.Add(placeOf(bodies[1]), Problem{Message: "a second document begins after ---", Want: r.Grammar.One})
		return nil, false
	}
	return bodies[0], true
}

// tokens cuts the text and refuses what a file may not use; nil when
// something was refused.
func (r *Reader) tokens(text string) token.Tokens {
	tokens := lexer.Tokenize(text)
	if len(tokens) > maxTokens {
		r.Add(Place{1, 1}, Problem{Message: fmt.Sprintf("the file has %d parts", len(tokens)), Want: fmt.Sprintf("at most %d words and signs", maxTokens)})
		return nil
	}
	ok := true
	depth, dashes, line := 0, 0, 0
	for _, tk := range tokens {
		if tk == nil || tk.Position == nil {
			continue
		}
		if what, bad := refused[tk.Type]; bad {
			ok = false
			p := Problem{Message: "YAML's " + what + " are not read here", Want: "the value itself"}
			if tk.Type == token.DirectiveType || tk.Type == token.AliasType || tk.Type == token.TagType || tk.Type == token.AnchorType {
				p.Want = "the value itself; put text that begins with such a sign between quotes"
			}
			r.Add(placeOfToken(tk), p)
			continue
		}
		if tk.Position.Line != line {
			line, dashes = tk.Position.Line, 0
		}
		switch tk.Type {
		case token.SequenceStartType, token.MappingStartType:
			depth++
		case token.SequenceEndType, token.MappingEndType:
			depth--
		case token.SequenceEntryType:
			dashes++
		}
		if depth > maxDepth || dashes > maxDepth {
			r.Add(placeOfToken(tk), Problem{Message: "brackets or dashes are nested too deep", Want: fmt.Sprintf("at most %d levels", maxDepth)})
			return nil
		}
	}
	if !ok {
		return nil
	}
	if tokens == nil {
		tokens = token.Tokens{}
	}
	return tokens
}

// parseTokens calls the YAML library. It is guarded because outside text must
// never end the program, whatever the library makes of it.
func parseTokens(tokens token.Tokens) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			file, err = nil, errors.New("the YAML reader could not make sense of it")
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// sayings put the library's complaints into words for a person who does not
// know YAML. The first that is contained in the complaint counts.
var sayings = []struct{ complaint, message, want string }{
	{"cannot start any token", "a character stands here that can't begin a value", "text with unusual signs between quotes"},
	{"tab character", "a tab stands here", "blanks instead of tabs"},
	{"reserved character", "a value can't begin with this character", "the value between quotes"},
	{"mapping value is not allowed", "a second colon stands here, or a line is indented further than the one above it", "one key: value in a line; text with a colon between quotes"},
	{"map key-value is pre-defined", "a line is indented further than the one above it", "the same indentation for all keys of one part"},
	{"',' or ']' must be specified", "a list that began with [ is not closed", "] at its end, with commas between the values"},
	{"sequence end token ']' not found", "a list that began with [ is not closed", "] at its end, with commas between the values"},
	{"',' or '}' must be specified", "a part that began with { is not closed", "} at its end, with commas between the values"},
	{"flow mapping end token", "a part that began with { is not closed", "} at its end, with commas between the values"},
	{"'[' character corresponding", "a ] stands here that closes nothing", "a [ before it"},
	{"'{' character corresponding", "a } stands here that closes nothing", "a { before it"},
	{"could not find end character", "text that began with a quote is not closed", "the same quote at its end"},
	{"non-map value is specified", "this line is no key: value", "a key, a colon, a blank and a value"},
	{"implicit line break", "this line is no key: value", "a key, a colon, a blank and a value"},
	{"unexpected key name", "this line is no key: value", "a key, a colon, a blank and a value"},
	{"block sequence entries", "a dash for a list stands on the line of its key", "each - on a line of its own below the key"},
	{"directive", "a value can't begin with %", "the number first: 80 %"},
	{"after document separator", "a value stands behind ---", "the value in a line of its own"},
}

// syntax reports a complaint of the YAML library.
func (r *Reader) syntax(err error, text string) {
	at := Place{1, 1}
	complaint := err.Error()
	var ye yaml.Error
	if errors.As(err, &ye) {
		complaint = ye.GetMessage()
		if tk := ye.GetToken(); tk != nil {
			at = placeOfToken(tk)
		}
	}
	at = r.within(at)
	p := Problem{Message: "this is not YAML: " + complaint}
	for _, s := range sayings {
		if strings.Contains(complaint, s.complaint) {
			p.Message, p.Want = s.message, s.want
			break
		}
	}
	line := strings.Split(text, "\n")[at.Line-1]
	indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
	if i := strings.IndexByte(indent, '\t'); i >= 0 {
		at.Column = i + 1
		p.Message, p.Want = "this line is indented with a tab", "blanks, as many as in the lines of the same part"
	}
	r.Add(at, p)
}
