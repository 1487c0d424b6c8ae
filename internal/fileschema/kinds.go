package fileschema

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	_ "time/tzdata" // zones in the samples, whatever the machine

	"underlamp/formats/aboutfile"
	"underlamp/formats/actfile"
	"underlamp/formats/benchfile"
	"underlamp/formats/cyclefile"
	"underlamp/formats/evidencefile"
	"underlamp/formats/feedfile"
	"underlamp/formats/handwritten"
	"underlamp/formats/notifyfile"
	"underlamp/formats/profilefile"
	"underlamp/formats/tablefile"
	"underlamp/formats/trialfile"
	"underlamp/formats/watchfile"
	"underlamp/science/quantity"
)

// A Kind is a kind of file that people write.
type Kind struct {
	Name     string // of its schema: "bench" is bench.schema.json
	Title    string // what such a file is
	Version  string // its first key
	Document string // its reference, in docs/formats

	read func(in io.Reader) (ok bool, problems handwritten.Problems, err error)
}

// Kinds are all kinds, in the order of the contents of the book.
func Kinds() []Kind {
	return []Kind{
		{"bench", "A bench: space, lamps, plants, crop, air, feed", "underlamp", "bench.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			b, p, err := benchfile.ReadWith(in, files)
			return b != nil, p, err
		}},
		{"cycle", "The record of a crop from transplanting to harvest", "underlamp cycle", "cycle.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			c, p, err := cyclefile.Read(in, nil)
			return c != nil, p, err
		}},
		{"trial", "The plan of a trial", "underlamp trial", "trial.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			t, p, err := trialfile.Read(in)
			return t != nil, p, err
		}},
		{"feed", "How a nutrient solution is made, and its log", "underlamp feed", "feed.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			f, p, err := feedfile.Read(in)
			return f != nil, p, err
		}},
		{"profile", "What cycles taught of a cultivar; the program writes it", "underlamp profile", "profile.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			x, p, err := profilefile.Read(in)
			return x != nil, p, err
		}},
		{"watch", "What somebody wants to be told of a bench", "underlamp watch", "watch.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			w, p, err := watchfile.Read(in, quantity.Metric)
			return w != nil, p, err
		}},
		{"notify", "Who is told of messages, and on which way", "underlamp notify", "notify.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			n, p, err := notifyfile.Read(in)
			return n != nil, p, err
		}},
		{"act", "How lamps are turned", "underlamp act", "act.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			a, p, err := actfile.Read(in)
			return a != nil, p, err
		}},
		{"override", "What a person wants of lamps, whatever the plan says", "underlamp override", "act.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			o, p, err := actfile.ReadOverrides(in)
			return o != nil, p, err
		}},
		{"table", "Which column of a logger's table is which sensor", "underlamp table", "intake.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			t, p, err := tablefile.Read(in)
			return t != nil, p, err
		}},
		{"evidence", "What is to be otherwise in the table of evidence", "underlamp evidence", "evidence.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			t, p, err := evidencefile.Read(in, evidencefile.Builtin())
			return t != nil, p, err
		}},
		{"about", "What is said of data that leave: title, licence, people, place", "underlamp about", "about.md", func(in io.Reader) (bool, handwritten.Problems, error) {
			a, p, err := aboutfile.Read(in)
			return a != nil, p, err
		}},
	}
}

// Read says whether the reader of the kind takes a text, and what it finds wrong.
func (k Kind) Read(text string) (bool, handwritten.Problems) {
	ok, problems, err := k.read(strings.NewReader(text))
	if err != nil {
		problems = append(problems, handwritten.Problem{Line: 1, Column: 1, Message: err.Error()})
	}
	return ok && err == nil, problems
}

// trace reads texts, right or wrong, and gives what was asked of them.
func (k Kind) trace(texts ...string) handwritten.Asked {
	t := &handwritten.Traced{}
	for _, text := range texts {
		t.Reader = strings.NewReader(text)
		_, _, _ = k.read(t) // what is wrong with a probe does not matter
	}
	return t.Asked
}

// probes are texts that write every key of a format in several shapes, so that its reader
// comes by everything that it could ask.
func (k Kind) probes(g handwritten.Grammar) (out []string) {
	leaves := []string{"x", "[x]", "[[x, y]]", "{}", "[{}]", "{value: x}"}
	for _, s := range g.Sections { // parts that stand in more than one place
		leaves = append(leaves, "{"+strings.Join(s.Keys, ": x, ")+": x}")
	}
	for _, leaf := range leaves {
		out = append(out, fmt.Sprintf("%s: 1\n", k.Version)+k.written(g, "", leaf, "", 0))
	}
	var keys []string
	for _, s := range g.Sections {
		keys = append(keys, s.Keys...)
	}
	slices.Sort(keys)
	for _, without := range slices.Compact(keys) { // of keys that exclude each other each is read once
		out = append(out, fmt.Sprintf("%s: 1\n", k.Version)+k.written(g, "", "x", without, 0))
	}
	return out
}

// written is a part of a probe.
func (k Kind) written(g handwritten.Grammar, section, leaf, without string, depth int) string {
	var b bytes.Buffer
	for _, key := range keysOf(g, section) {
		if section == "" && key == k.Version || key == without {
			continue
		}
		path := strings.TrimPrefix(section+"."+key, ".")
		pad := strings.Repeat("  ", depth)
		switch {
		case keysOf(g, path) != nil:
			fmt.Fprintf(&b, "%s%s:\n%s", pad, key, k.written(g, path, leaf, without, depth+1))
		case keysOf(g, path+"[]") != nil:
			inner := k.written(g, path+"[]", leaf, without, depth+2)
			fmt.Fprintf(&b, "%s%s:\n%s  - %s", pad, key, pad, strings.TrimLeft(inner, " "))
		default:
			fmt.Fprintf(&b, "%s%s: %s\n", pad, key, leaf)
		}
	}
	return b.String()
}

func keysOf(g handwritten.Grammar, section string) []string {
	for _, s := range g.Sections {
		if s.Name == section {
			return s.Keys
		}
	}
	return nil
}
