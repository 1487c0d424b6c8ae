package underlamp_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "underlamp"

// forbidden are the packages by which science would reach the world.
var forbidden = []string{"os", "net", "net/http", "database/sql", "time", "testing", "log", "log/slog", "io/ioutil", "syscall"}

// readLayers returns the arrows of layers.txt.
func readLayers(t *testing.T) map[string][]string {
	t.Helper()
	text, err := os.ReadFile("layers.txt")
	if err != nil {
		t.Fatal(err)
	}
	allowed := map[string][]string{}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		if p, deps, ok := strings.Cut(line, ":"); ok {
			allowed[p] = strings.Fields(deps)
		}
	}
	return allowed
}

// goFiles calls f with every Go file that is not a test, parsed with comments.
// It parses the files itself instead of asking the go command: the test cache
// notices files that a test opened, not those that a child process opened.
func goFiles(t *testing.T, f func(name, pkg string, file *ast.File)) {
	t.Helper()
	err := filepath.WalkDir(".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && name != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata" || name == "tools") { // tools are a module of their own
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		f(name, path.Dir(filepath.ToSlash(name)), file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestImportsFollowLayers(t *testing.T) {
	allowed := readLayers(t)
	found := map[string]bool{}
	goFiles(t, func(name, pkg string, file *ast.File) {
		found[pkg] = true
		for _, spec := range file.Imports {
			imp, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			inside, ours := strings.CutPrefix(imp, module+"/")
			if imp == module {
				inside, ours = ".", true
			}
			if ours && !slices.Contains(allowed[pkg], inside) {
				t.Errorf("%s: %s may not import %s; layers.txt holds the arrows", name, pkg, inside)
			}
			if strings.HasPrefix(pkg, "science/") && slices.Contains(forbidden, imp) {
				t.Errorf("%s: science does no I/O and reads no clock, yet imports %s", name, imp)
			}
			if (strings.HasPrefix(pkg, "formats/") || strings.HasPrefix(pkg, "app/")) && (imp == "os" || imp == "net/http") {
				t.Errorf("%s: %s gets its data from its caller, yet imports %s", name, pkg, imp)
			}
		}
	})
	for p := range found {
		if _, ok := allowed[p]; !ok {
			t.Errorf("package %s is missing from layers.txt", p)
		}
	}
	for p := range allowed {
		if !found[p] {
			t.Errorf("layers.txt names package %s, which does not exist", p)
		}
	}
}

// A package says what it answers in one comment, in one file, and no two
// packages share a name.
func TestPackageComments(t *testing.T) {
	comments := map[string][]string{}
	names := map[string]string{}
	goFiles(t, func(name, pkg string, file *ast.File) {
		if other, ok := names[file.Name.Name]; ok && other != pkg && file.Name.Name != "main" {
			t.Errorf("packages %s and %s share the name %s", other, pkg, file.Name.Name)
		}
		names[file.Name.Name] = pkg
		if _, ok := comments[pkg]; !ok {
			comments[pkg] = nil
		}
		if file.Doc != nil && len(file.Doc.Text()) > 60 {
			comments[pkg] = append(comments[pkg], name)
		}
	})
	for pkg, files := range comments {
		if len(files) != 1 {
			t.Errorf("package %s has %d package comments (%s), want exactly one", pkg, len(files), strings.Join(files, ", "))
		}
	}
}

// Every exported name has a comment that begins with it.
func TestExportedNamesAreDescribed(t *testing.T) {
	goFiles(t, func(name, pkg string, file *ast.File) {
		for _, d := range file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && d.Doc == nil && (d.Recv == nil || receiverExported(d)) {
					t.Errorf("%s: %s has no comment", name, d.Name.Name)
				}
			case *ast.GenDecl:
				for _, s := range d.Specs {
					ts, ok := s.(*ast.TypeSpec)
					if ok && ts.Name.IsExported() && d.Doc == nil && ts.Doc == nil {
						t.Errorf("%s: type %s has no comment", name, ts.Name.Name)
					}
				}
			}
		}
	})
}

func receiverExported(d *ast.FuncDecl) bool {
	typ := d.Recv.List[0].Type
	if star, ok := typ.(*ast.StarExpr); ok {
		typ = star.X
	}
	id, ok := typ.(*ast.Ident)
	return ok && id.IsExported()
}

// pathInText finds what looks like a path of this repository in a document.
var pathInText = regexp.MustCompile("`((?:science|app|formats|draw|report|web|cli|cmd|demo|working|docs|\\.ci)/[A-Za-z0-9_./-]*)`")

// Every path that a document names exists.
func TestPathsInDocumentsExist(t *testing.T) {
	var docs []string
	for _, pattern := range []string{"*.md", "docs/*.md", "docs/*/*.md"} {
		m, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		docs = append(docs, m...)
	}
	if len(docs) < 3 {
		t.Fatalf("found only %d documents; is the test run at the root?", len(docs))
	}
	for _, doc := range docs {
		text, err := os.ReadFile(doc)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range pathInText.FindAllStringSubmatch(string(text), -1) {
			if _, err := os.Stat(strings.TrimSuffix(m[1], "/")); err != nil {
				t.Errorf("%s names %s, which does not exist", doc, m[1])
			}
		}
	}
}
