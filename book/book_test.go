package book_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"underlamp/book"
	"underlamp/docs"
)

// small is a book of four pages.
var small = fstest.MapFS{
	"README.md":   {Data: []byte("# Small\n\n[outside](../README.md)\n\n## First\n\n- [One *page*](one.md): of salt\n\n## Second\n\n- [Two](sub/two.md)\n- nothing\n\n## Last\n\n- [Log](log.md): figures\n")},
	"one.md":      {Data: []byte("# One\n\nSalt `a < b`, see [two](sub/two.md#what-ph-is) and [the code](../web/web.go).\n\n## Twice\n\n<b onclick=\"x()\">raw</b>\n\n## Twice\n\n```console\n$ echo '<hi>'\n<hi>\n```\n\n| a | b |\n|---|---|\n| µmol | NO₃ |\n")},
	"sub/two.md":  {Data: []byte("# Two\n\n![p](../p.png) [up](../one.md)\n\n## What pH is\n\nAcid water and salts dissolve photosynthesis.\n")},
	"log.md":      {Data: []byte("# Log\n\nSalt salt salt salt acid.\n")},
	"sub/free.md": {Data: []byte("# Free\n")},
}

func open(t testing.TB) *book.Book {
	t.Helper()
	b, err := book.Open(small, "/help")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestContents(t *testing.T) {
	b := open(t)
	parts := b.Contents()
	if len(parts) != 3 || parts[0].Title != "First" || len(parts[1].Pages) != 1 || parts[0].Pages[0] != (book.Entry{At: "one", Title: "One page", Says: "of salt"}) {
		t.Errorf("%+v", parts)
	}
	if _, err := book.Open(fstest.MapFS{"README.md": {Data: []byte("## A\n\n- [x](gone.md)\n")}}, ""); err == nil || !strings.Contains(err.Error(), "gone.md") {
		t.Errorf("a page that is not there: %v", err)
	}
	if _, err := book.Open(fstest.MapFS{}, ""); err == nil {
		t.Error("a book without contents")
	}
}

func TestPage(t *testing.T) {
	b := open(t)
	one, err := b.Page("one")
	if err != nil {
		t.Fatal(err)
	}
	if one.Title != "One" || one.Part != "First" || one.Before != nil || one.After == nil || one.After.At != "sub/two" || len(one.Heads) != 2 || one.Heads[1] != (book.Head{Level: 2, ID: "twice-1", Text: "Twice"}) {
		t.Errorf("%+v", one)
	}
	for _, want := range []string{`href="/help/sub/two#what-ph-is"`, "and the code.", "<code>a &lt; b</code>", `<span class="prompt">$ </span><b>echo &#39;&lt;hi&gt;&#39;</b>`, `<span class="out">&lt;hi&gt;`, `id="twice-1"`, `<table class="d-table">`} {
		if !strings.Contains(string(one.Body), want) {
			t.Errorf("the page lacks %s:\n%s", want, one.Body)
		}
	}
	for _, not := range []string{"onclick", "<h1", "web.go"} {
		if strings.Contains(string(one.Body), not) {
			t.Errorf("the page has %s", not)
		}
	}
	two, err := b.Page("sub/two")
	if err != nil || !strings.Contains(string(two.Body), `src="/help/p.png"`) || !strings.Contains(string(two.Body), `href="/help/one"`) {
		t.Errorf("%v %s", err, two.Body)
	}
	if front, err := b.Page(""); err != nil || strings.Contains(string(front.Body), "README") {
		t.Errorf("%v %s", err, front.Body)
	}
	for _, none := range []string{"README", "gone", "../x", "sub", "one.md"} {
		if p, err := b.Page(none); err == nil {
			t.Errorf("%q is %+v", none, p)
		}
	}
}

// Anchors as repositories of Markdown give them (GitHub's, as they are seen there; from memory).
func TestAnchor(t *testing.T) {
	for heading, want := range map[string]string{"What pH is": "what-ph-is", "Air and leaf (`science/moistair`)": "air-and-leaf-sciencemoistair", "`value`, `from`": "value-from", "1. Get it": "1-get-it", "Größe": "größe", "a–b": "ab", "x_y": "x_y"} {
		if got := book.Anchor(heading); got != want {
			t.Errorf("%q: %q, want %q", heading, got, want)
		}
	}
}

func TestSearch(t *testing.T) {
	b := open(t)
	at := func(question string) string {
		var out []string
		for _, h := range b.Search(question) {
			out = append(out, h.At+"#"+h.ID)
		}
		return strings.Join(out, " ")
	}
	for question, want := range map[string]string{
		"SALT":       "one# log# sub/two#what-ph-is", // records last but for mere beginnings
		"photosyn":   "sub/two#what-ph-is",
		"salt acid":  "sub/two#what-ph-is log#",
		"salt zebra": "one# log# sub/two#what-ph-is", // as many of the words as there are
		"umol no3":   "one#twice-1",
		"zebra":      "", "": "", "…": "",
	} {
		if question == "SALT" || question == "salt zebra" || question == "salt acid" {
			if got := at(question); got == "" || len(strings.Fields(got)) != len(strings.Fields(want)) {
				t.Errorf("%q: %q, want those of %q", question, got, want)
			}
			continue
		}
		if got := at(question); got != want {
			t.Errorf("%q: %q, want %q", question, got, want)
		}
	}
	hit := b.Search("photosyn")[0]
	if hit.Page != "Two" || hit.Heading != "What pH is" || !strings.Contains(hit.Excerpt, "dissolve <mark>photosynthesis</mark>.") {
		t.Errorf("%+v", hit)
	}
	if h := b.Search("hi"); len(h) == 0 || !strings.Contains(h[0].Excerpt, "&lt;<mark>hi</mark>&gt;") {
		t.Errorf("%+v", h)
	}
}

func FuzzSearch(f *testing.F) {
	for _, s := range []string{"salt", "µ₂", "a\xff", "<b>", strings.Repeat("a ", 50)} {
		f.Add(s)
	}
	b := open(f)
	f.Fuzz(func(t *testing.T, question string) {
		for _, h := range b.Search(question) {
			if strings.Contains(h.Excerpt, "<hi>") {
				t.Fatal(h.Excerpt)
			}
		}
	})
}

func BenchmarkSearch(b *testing.B) {
	own, err := book.Open(docs.Files, "/help")
	if err != nil {
		b.Fatal(err)
	}
	own.Search("")
	b.ReportAllocs()
	for b.Loop() {
		own.Search("inner burn of the hearts")
	}
}

func BenchmarkIndex(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		own, err := book.Open(docs.Files, "/help")
		if err != nil {
			b.Fatal(err)
		}
		own.Search("")
	}
}
