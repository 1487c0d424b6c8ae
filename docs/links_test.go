package docs_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"underlamp/book"
	"underlamp/docs"
)

var (
	fenced  = regexp.MustCompile("(?ms)^ *```.*?^ *```$")
	inCode  = regexp.MustCompile("`[^`\n]*`")
	links   = regexp.MustCompile(`!?\[[^\]]*\]\(([^)\s]+)\)|<img src="([^"]+)"`)
	heading = regexp.MustCompile(`(?m)^#{1,6} +(.+?) *$`)
)

// anchorsOf are the anchors of a document.
func anchorsOf(t testing.TB, name string) map[string]bool {
	t.Helper()
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	text := fenced.ReplaceAllString(string(raw), "")
	out, seen := map[string]bool{}, map[string]int{}
	for _, m := range heading.FindAllStringSubmatch(text, -1) {
		title := regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`).ReplaceAllString(m[1], "$1")
		id := book.Anchor(strings.NewReplacer("`", "", "*", "").Replace(title))
		if n := seen[id]; n > 0 {
			out[id+"-"+string(rune('0'+n))] = true
		} else {
			out[id] = true
		}
		seen[id]++
	}
	return out
}

// Every link of the documents to a file or a heading leads somewhere.
func TestLinks(t *testing.T) {
	n := 0
	for _, page := range append(pages(t), "CHANGELOG.md") {
		name := filepath.Join("..", page)
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := inCode.ReplaceAllString(fenced.ReplaceAllString(string(raw), ""), "")
		for _, m := range links.FindAllStringSubmatch(text, -1) {
			to := m[1] + m[2]
			if strings.Contains(to, "://") {
				continue
			}
			n++
			file, anchor, _ := strings.Cut(to, "#")
			at := name
			if file != "" {
				at = filepath.Join(filepath.Dir(name), file)
			}
			info, err := os.Stat(at)
			if err != nil {
				t.Errorf("%s: the link %s leads nowhere", page, to)
				continue
			}
			if anchor != "" && (info.IsDir() || !anchorsOf(t, at)[anchor]) {
				t.Errorf("%s: %s has no heading #%s", page, file, anchor)
			}
		}
	}
	if n < 100 {
		t.Errorf("only %d links were found", n)
	}
}

// Every page of the folder is in the contents, and no picture lies there that no page shows.
func TestContents(t *testing.T) {
	b, err := book.Open(docs.Files, "/help")
	if err != nil {
		t.Fatal(err)
	}
	in := map[string]bool{"README": true}
	for _, at := range b.Pages() {
		if in[at] {
			t.Errorf("the contents name %s twice", at)
		}
		in[at] = true
	}
	shown := ""
	size := 0
	for _, page := range pages(t) {
		raw, err := os.ReadFile(filepath.Join("..", page))
		if err != nil {
			t.Fatal(err)
		}
		shown += string(raw)
		if at, ok := strings.CutPrefix(strings.TrimSuffix(filepath.ToSlash(page), ".md"), "docs/"); ok && !in[at] {
			t.Errorf("docs/README.md does not name %s", page)
		}
	}
	pictures, err := filepath.Glob("*.png")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pictures {
		if !strings.Contains(shown, p) {
			t.Errorf("no page shows docs/%s", p)
		}
		info, err := os.Stat(p)
		if err != nil {
			t.Fatal(err)
		}
		size += int(info.Size())
	}
	if size > 2_000_000 {
		t.Errorf("pictures take %d bytes, and 2 MB at most", size)
	}
}
