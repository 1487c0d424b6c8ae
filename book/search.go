package book

import (
	"bytes"
	"cmp"
	"html"
	"io/fs"
	"math"
	"slices"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
)

// A Hit is a section of a page in which the words of a question stand.
type Hit struct {
	At      string // address of the page, without the root
	ID      string // anchor of the section; empty: the page
	Page    string // title of the page
	Heading string // of the section; that of the page at its begin
	Excerpt string // HTML: text around the words, which are marked
}

// section is what stands between two headings.
type section struct {
	at, id, page, heading, text string
	words                       float64 // of its text, with a floor
	part                        int
}

// posting is how much a word weighs in a section.
type posting struct {
	section int
	weight  float64
}

// index is an inverted index by words as they are written: a question finds what begins
// with its words, so that no endings of words need to be cut.
type index struct {
	sections []section
	words    []string // sorted
	in       map[string][]posting
}

// Weights of a word by where it stands. Those of headings say what a section is about.
const (
	inTitle   = 6
	inHeading = 8
	leastText = 40.0 // words; shorter sections do not win by being short
	quiet     = 0.4  // of records and lists of figures, the last part of the contents
	notWhole  = 0.6  // of a word that only begins as asked
)

func (b *Book) makeIndex() *index {
	x := &index{in: map[string][]posting{}}
	for part, p := range b.parts {
		for _, e := range p.Pages {
			source, err := fs.ReadFile(b.files, e.At+".md")
			if err != nil {
				continue // that it is there was looked at when the book was opened
			}
			for _, s := range sections(e.At, source) {
				s.part = part
				x.sections = append(x.sections, s)
			}
		}
	}
	for i, s := range x.sections {
		weight := map[string]float64{}
		for w := range words(s.text) {
			weight[w]++
		}
		for w, n := range weight {
			weight[w] = (1 + math.Log(n)) / math.Sqrt(s.words/leastText)
		}
		for w := range words(s.heading) {
			weight[w] += inHeading
		}
		for w := range words(s.page) {
			weight[w] += inTitle
			if s.id == "" {
				weight[w] += inHeading
			}
		}
		factor := 1.0
		if s.part == len(b.parts)-1 {
			factor = quiet
		}
		for w, v := range weight {
			x.in[w] = append(x.in[w], posting{i, v * factor})
		}
	}
	for w := range x.in {
		x.words = append(x.words, w)
	}
	slices.Sort(x.words)
	return x
}

// sections cuts a page at its headings of the first three levels.
func sections(at string, source []byte) []section {
	doc := markdown().Parser().Parse(text.NewReader(source), parser.WithContext(parser.NewContext(parser.WithIDs(&anchors{seen: map[string]int{}}))))
	out, typed := []section{{at: at}}, map[int]string{}
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		if h, ok := n.(*ast.Heading); ok && h.Level <= 3 {
			title := plain(h, source)
			if h.Level == 1 && out[0].page == "" {
				out[0].page, out[0].heading = title, title
				continue
			}
			id, _ := h.AttributeString("id")
			word, _ := id.([]byte)
			out = append(out, section{at: at, id: string(word), page: out[0].page, heading: title})
			continue
		}
		last := &out[len(out)-1]
		if n.IsRaw() { // what is said is shown before what is typed and printed
			typed[len(out)-1] += strings.Join(strings.Fields(plain(n, source)), " ") + " "
			continue
		}
		last.text += strings.Join(strings.Fields(plain(n, source)), " ") + " "
	}
	for i := range out {
		out[i].text += typed[i]
		n := 0.0
		for range words(out[i].text) {
			n++
		}
		out[i].words = math.Max(n, leastText)
	}
	return out
}

// folded brings signs that people seldom type to those that they type.
func folded(c rune) rune {
	switch {
	case c >= '₀' && c <= '₉':
		return c - '₀' + '0'
	case c == 'µ' || c == 'μ':
		return 'u'
	}
	return unicode.ToLower(c)
}

// words goes through the words of a text, in small letters.
func words(s string) func(func(string) bool) {
	return func(yield func(string) bool) {
		var word []rune
		for _, c := range s + " " {
			c = folded(c)
			if unicode.IsLetter(c) || unicode.IsDigit(c) {
				word = append(word, c)
				continue
			}
			if len(word) > 0 && !yield(string(word)) {
				return
			}
			word = word[:0]
		}
	}
}

// Bounds of a question.
const (
	mostAsked = 12 // words
	mostHits  = 30
)

// Search finds the sections in which all words stand, or words that begin so; where there is
// none, those with as many of the words as there are. The best come first.
func (b *Book) Search(question string) []Hit {
	x := b.index() // also for no words: it is then ready
	var asked []string
	for w := range words(question) {
		if !slices.Contains(asked, w) && len(asked) < mostAsked {
			asked = append(asked, w)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	score, has := make([]float64, len(x.sections)), make([]int, len(x.sections))
	for _, w := range asked {
		best := map[int]float64{}
		for i := sort.SearchStrings(x.words, w); i < len(x.words) && strings.HasPrefix(x.words[i], w); i++ {
			word := x.words[i]
			if word != w && utf8.RuneCountInString(w) < 2 { // a single letter begins too much
				break
			}
			rare := math.Log(1 + float64(len(x.sections))/float64(len(x.in[word])))
			if word != w {
				rare *= notWhole
			}
			for _, p := range x.in[word] {
				best[p.section] = math.Max(best[p.section], p.weight*rare)
			}
		}
		for s, v := range best {
			score[s] += v
			has[s]++
		}
	}
	most := slices.Max(has)
	if most == 0 {
		return nil
	}
	var found []int
	for s, n := range has {
		if n == most {
			found = append(found, s)
		}
	}
	slices.SortStableFunc(found, func(a, c int) int { return cmp.Compare(score[c], score[a]) })
	var out []Hit
	for _, s := range found[:min(len(found), mostHits)] {
		sec := x.sections[s]
		out = append(out, Hit{At: sec.at, ID: sec.id, Page: sec.page, Heading: sec.heading, Excerpt: excerpt(sec.text, asked)})
	}
	return out
}

// excerpt is the text around the first word that was asked for, with those words marked.
func excerpt(s string, asked []string) string {
	const before, length = 60, 220
	type place struct{ from, to int }
	var marks []place
	start := -1
	flush := func(i int) {
		if start < 0 {
			return
		}
		var w []rune
		for _, c := range s[start:i] {
			w = append(w, folded(c))
		}
		if slices.ContainsFunc(asked, func(a string) bool {
			return strings.HasPrefix(string(w), a) && (len(a) > 1 || string(w) == a)
		}) {
			marks = append(marks, place{start, i})
		}
		start = -1
	}
	for i, c := range s {
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			if start < 0 {
				start = i
			}
			continue
		}
		flush(i)
	}
	flush(len(s))
	from := 0
	if len(marks) > 0 {
		from = max(0, marks[0].from-before)
	}
	from = boundary(s, from, true)
	to := boundary(s, min(len(s), from+length), false)
	var out bytes.Buffer
	if from > 0 {
		out.WriteString("… ")
	}
	at := from
	for _, m := range marks {
		if m.from < at || m.to > to {
			continue
		}
		out.WriteString(html.EscapeString(s[at:m.from]) + "<mark>" + html.EscapeString(s[m.from:m.to]) + "</mark>")
		at = m.to
	}
	out.WriteString(html.EscapeString(strings.TrimRight(s[at:to], " ")))
	if to < len(s) {
		out.WriteString(" …")
	}
	return out.String()
}

// boundary moves a place in a text to the next blank, or to the one before.
func boundary(s string, i int, forward bool) int {
	if i <= 0 || i >= len(s) {
		return max(0, min(i, len(s)))
	}
	if forward {
		if n := strings.IndexByte(s[i:], ' '); n >= 0 {
			return i + n + 1
		}
		return len(s)
	}
	if n := strings.LastIndexByte(s[:i], ' '); n >= 0 {
		return n
	}
	return len(s)
}
