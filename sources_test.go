package underlamp_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"underlamp/science/reference"
)

var (
	// sourceItem is one item of a "# Sources" list: "- Sago2016, Cox1976: what".
	sourceItem = regexp.MustCompile(`(?m)^\s*- ([^:]+):`)
	// keyWithYear is how nearly every key looks, wherever it stands.
	keyWithYear = regexp.MustCompile(`\b[A-Z][A-Za-z]{2,}(?:19|20)\d\d[a-z]?\b`)
)

// Every work that is cited by key stands in the bibliography, with how it was
// read: in the sources of package comments, in the workings of figures, in the
// rows of the validation, and wherever else a comment or a text names one. (Rows
// that get their source as an argument, by a key without a year, are held by
// the test of package validation, which has the rows themselves.)
func TestEveryCitedWorkIsInTheBibliography(t *testing.T) {
	cited := map[string]int{}
	cite := func(where, key string) {
		cited[key]++
		if _, ok := reference.Cite(key); !ok {
			t.Errorf("%s cites %s, which science/reference/bibliography.go does not have", where, key)
		}
	}
	sections, fields := 0, 0
	goFiles(t, func(name, _ string, file *ast.File) {
		if doc := file.Doc.Text(); doc != "" {
			if _, list, ok := strings.Cut(doc, "# Sources"); ok {
				sections++
				list, _, _ = strings.Cut(list, "\n# ")
				for _, m := range sourceItem.FindAllStringSubmatch(list, -1) {
					for key := range strings.SplitSeq(m[1], ",") {
						cite(name, strings.TrimSpace(key))
					}
				}
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			kv, ok := n.(*ast.KeyValueExpr)
			if !ok {
				return true
			}
			field, ok := kv.Key.(*ast.Ident)
			if !ok || field.Name != "Sources" && !strings.EqualFold(field.Name, "source") {
				return true
			}
			ast.Inspect(kv.Value, func(n ast.Node) bool {
				// A source that is a sentence is read below, word by word.
				if key, ok := textOf(n); ok && key != "" && !strings.Contains(key, " ") {
					fields++
					cite(name, key)
				}
				return true
			})
			return true
		})
	})
	if sections < 8 || fields < 20 {
		t.Errorf("found %d lists of sources and %d sources of figures and rows; does this test still read what is there?", sections, fields)
	}

	everyGoFile(t, func(name string, file *ast.File) {
		for _, c := range file.Comments {
			for _, key := range keyWithYear.FindAllString(c.Text(), -1) {
				cite(name, key)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if text, ok := textOf(n); ok {
				for _, key := range keyWithYear.FindAllString(text, -1) {
					cite(name, key)
				}
			}
			return true
		})
	})
	if len(cited) < 40 {
		t.Errorf("only %d works are cited", len(cited))
	}
}

// textOf is the text of a string literal.
func textOf(n ast.Node) (string, bool) {
	lit, ok := n.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(lit.Value)
	return text, err == nil
}

// everyGoFile is goFiles with the tests.
func everyGoFile(t *testing.T, f func(name string, file *ast.File)) {
	t.Helper()
	err := filepath.WalkDir(".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		f(filepath.ToSlash(name), file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
