package handwritten

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Severity says whether a problem stops the reading.
type Severity int

// The severities.
const (
	Error   Severity = iota // the file describes nothing until this is changed
	Warning                 // the file is read, but look here
)

// String is the word that a person reads.
func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "error"
}

// A Problem is one thing to change in a file.
type Problem struct {
	Line, Column int    // from 1; the column counts characters
	Path         string // the key it concerns: "lamps[0].height"; empty for the file as a whole
	Severity     Severity
	Message      string // what is wrong, a clause without full stop
	Want         string // what would be right; may be empty
	Suggest      string // the nearest right word; empty if none is near
}

// String gives the problem in one line, with its place first.
func (p Problem) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d:%d: %s: %s", p.Line, p.Column, p.Severity, p.headline())
	if p.Want != "" {
		fmt.Fprintf(&b, "; wanted: %s", p.Want)
	}
	if p.Suggest != "" {
		fmt.Fprintf(&b, "; did you mean %q?", p.Suggest)
	}
	return b.String()
}

func (p Problem) headline() string {
	if p.Path == "" {
		return p.Message
	}
	return p.Path + ": " + p.Message
}

// Error makes a problem an error; it is [Problem.String].
func (p Problem) Error() string { return p.String() }

// Problems are the problems of one file, in the order of the file.
type Problems []Problem

// HasErrors says that at least one problem is an [Error].
func (ps Problems) HasErrors() bool {
	return slices.ContainsFunc(ps, func(p Problem) bool { return p.Severity == Error })
}

// Error makes problems an error with one line for each [Error].
func (ps Problems) Error() string {
	var lines []string
	for _, p := range ps {
		if p.Severity == Error {
			lines = append(lines, p.String())
		}
	}
	return strings.Join(lines, "\n")
}

// sort brings the problems into the order of the file.
func (ps Problems) sort() {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// Terminal colours (ECMA-48, select graphic rendition).
const (
	red    = "\x1b[31m"
	yellow = "\x1b[33m"
	plain  = "\x1b[0m"
)

// Render prints the problems for a terminal: the place in the form
// name:line:column that editors jump to, the line of the source with a caret
// under the place, what was wanted and the nearest word. Characters of the
// source that would steer the terminal are shown as "�".
func (ps Problems) Render(name string, source []byte, colour bool) string {
	lines := strings.Split(unixLines(strings.TrimPrefix(string(source), bom)), "\n")
	paint := func(s Severity, text string) string {
		switch {
		case !colour:
			return text
		case s == Warning:
			return yellow + text + plain
		}
		return red + text + plain
	}
	var b strings.Builder
	for _, p := range ps {
		fmt.Fprintf(&b, "%s:%d:%d: %s: %s\n", printable(name), p.Line, p.Column, paint(p.Severity, p.Severity.String()), p.headline())
		if p.Line >= 1 && p.Line <= len(lines) {
			text, caret := excerpt(lines[p.Line-1], p.Column)
			fmt.Fprintf(&b, "%5d | %s\n      | %s%s\n", p.Line, text, strings.Repeat(" ", caret), paint(p.Severity, "^"))
		}
		if p.Want != "" {
			fmt.Fprintf(&b, "      wanted: %s\n", p.Want)
		}
		if p.Suggest != "" {
			fmt.Fprintf(&b, "      did you mean %q?\n", p.Suggest)
		}
	}
	return b.String()
}

// excerpt cuts a line to what fits a terminal around the column and returns
// where the caret goes.
func excerpt(line string, column int) (text string, caret int) {
	const width, before = 100, 60
	r := []rune(printable(line))
	caret = min(max(column-1, 0), len(r))
	if len(r) <= width {
		return string(r), caret
	}
	from := min(max(0, caret-before), len(r)-width)
	to := from + width
	head, tail := "", ""
	if from > 0 {
		head = "…"
		caret++
	}
	if to < len(r) {
		tail = "…"
	}
	return head + string(r[from:to]) + tail, caret - from
}

// printable replaces what would steer a terminal; a tab becomes one blank, so
// that the caret stays under its place.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return '�'
		}
		return r
	}, s)
}
