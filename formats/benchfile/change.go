package benchfile

import (
	"slices"
	"strings"

	"underlamp/formats/handwritten"
)

// What changes a bench file, and what two of them say differently.
type (
	Change     = handwritten.Change
	Difference = handwritten.Difference
)

// What changes do.
const (
	Set    = handwritten.Set
	Put    = handwritten.Put
	Add    = handwritten.Add
	Remove = handwritten.Remove
)

// Apply makes changes in the text of a bench file, all or none. Every byte that they do not
// concern stays: comments, order, amounts as they were typed. Whether the bench is one
// afterwards, [Read] tells. Lamps, plants, readings and shelves may be called by their names:
// `lamps["A"].height`.
func Apply(source []byte, changes ...Change) ([]byte, error) {
	return grammar.Apply(source, changes...)
}

// Carry makes the differences between two bench files in a third.
func Carry(to, was, is []byte) ([]byte, error) { return grammar.Carry(to, was, is) }

// Differences are what two bench files say differently, value by value.
func Differences(was, is []byte) ([]Difference, error) { return grammar.Differences(was, is) }

// Words says in a sentence each what two bench files say differently: "lamp A, height: 34 cm
// to 30 cm". What became the same of all lamps is said once.
func Words(was, is []byte) ([]string, error) {
	all, err := Differences(was, is)
	if err != nil {
		return nil, err
	}
	lamps := map[string]int{} // by what is said of them
	for _, d := range all {
		if thing, rest := split(d.Path); thing != "" && strings.HasPrefix(d.Path, "lamps") {
			lamps[rest+"\x00"+change(d)]++
		}
	}
	n := countOf(is, "lamps")
	var out []string
	for _, d := range all {
		thing, rest := split(d.Path)
		said := change(d)
		if strings.HasPrefix(d.Path, "lamps") && n > 1 && lamps[rest+"\x00"+said] == n && !d.Whole {
			thing = "all lamps"
		}
		s := rest
		switch {
		case d.Whole && d.Was == "":
			s = thing + " added"
		case d.Whole:
			s = thing + " taken away"
		case thing != "" && rest != "":
			s = thing + ", " + rest + ": " + said
		default:
			s = thing + rest + ": " + said
		}
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out, nil
}

func countOf(source []byte, list string) int {
	n, err := Items(source, list)
	if err != nil {
		return 0
	}
	return n
}

// Items is how many items a list of a bench file has: "lamps", "plants.at".
func Items(source []byte, list string) (int, error) { return grammar.Items(source, list) }

// Written are the values at paths as they stand in a bench file, each in one line; empty where
// nothing is written.
func Written(source []byte, paths ...string) ([]string, error) {
	return grammar.Written(source, paths...)
}

// longest is how much of a part is said in words.
const longest = 60

func change(d Difference) string {
	switch was, is := brief(d.Was), brief(d.Is); {
	case d.Was == "":
		return is + ", before not said"
	case d.Is == "":
		return was + ", now not said"
	default:
		return was + " to " + is
	}
}

func brief(s string) string {
	s = strings.Trim(s, `"`)
	if r := []rune(s); len(r) > longest {
		return string(r[:longest]) + "…"
	}
	return s
}

// split parts a path into the thing that has a name and the words for the rest.
func split(path string) (thing, rest string) {
	head, tail, found := strings.Cut(path, `["`)
	if !found {
		return "", words(path)
	}
	name, after, _ := strings.Cut(tail, `"]`)
	one := map[string]string{"lamps": "lamp", "readings": "reading", "plants.at": "plant", "shelves": "shelf"}[head]
	if one == "" {
		one = words(head)
	}
	if one == "shelf" && strings.HasPrefix(name, "shelf ") {
		one = ""
	}
	return strings.TrimSpace(one + " " + strings.ReplaceAll(name, `\"`, `"`)), words(strings.TrimPrefix(after, "."))
}

// said are words for keys that alone do not tell what they mean.
var said = map[string]string{"at": "place", "grid": "rows and columns", "electricity": "price of electricity"}

func words(path string) string {
	var out []string
	for key := range strings.SplitSeq(path, ".") {
		if w := said[key]; w != "" {
			key = w
		}
		out = append(out, key)
	}
	return strings.Join(out, ", ")
}

// Marks are the comments that [Write] puts beside what nobody said.
var Marks = []string{"assumed, please measure", "spread evenly, please measure"}

// Assumed says which values nobody has said yet: [Write] assumed them, and their mark still
// stands beside them.
func Assumed(source []byte, paths ...string) ([]bool, error) {
	_, comments, err := grammar.WrittenBeside(source, paths...)
	if err != nil {
		return nil, err
	}
	out := make([]bool, len(paths))
	for i, c := range comments {
		out[i] = slices.Contains(Marks, c)
	}
	return out, nil
}

// Say is a change that sets a value, and takes the mark of one that was assumed away.
func Say(source []byte, path, text string) Change {
	c := Change{Do: Set, Path: path, Text: text}
	if _, comments, err := grammar.WrittenBeside(source, path); err == nil && slices.Contains(Marks, comments[0]) {
		c.Mark = comments[0]
	}
	return c
}
