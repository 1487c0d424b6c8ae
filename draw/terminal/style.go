package terminal

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Colours is how many colours a terminal shows.
type Colours int

// The depths of colour, from none to all.
const (
	NoColours  Colours = iota // letters alone
	Colours16                 // those that a user has set for the terminal: used for marks, not for scales
	Colours256                // a cube of 6 × 6 × 6, and greys
	TrueColour                // 8 bits each of red, green, blue
)

// A Style is what a terminal can show.
type Style struct {
	Colours Colours
	ASCII   bool // letters of ASCII alone: no blocks, no braille
}

// ColoursOf says how many colours the environment asks for: none where NO_COLOR is set
// to anything (no-color.org) or TERM is dumb or empty, else by COLORTERM and TERM. It
// does not know whether anybody looks.
func ColoursOf(env func(name string) string) Colours {
	term := env("TERM")
	switch {
	case env("NO_COLOR") != "" || term == "" || term == "dumb":
		return NoColours
	case env("COLORTERM") == "truecolor" || env("COLORTERM") == "24bit" || strings.HasSuffix(term, "-direct"):
		return TrueColour
	case strings.Contains(term, "256color"):
		return Colours256
	}
	return Colours16
}

// StyleOf is the style of a terminal of so many colours. The console of Linux, and what
// calls itself dumb, lack the letters that pictures are made of, and so does a locale
// that says C or POSIX.
func StyleOf(c Colours, env func(name string) string) Style {
	locale := env("LC_ALL")
	for _, name := range []string{"LC_CTYPE", "LANG"} {
		if locale == "" {
			locale = env(name)
		}
	}
	term := env("TERM")
	return Style{Colours: c, ASCII: term == "dumb" || term == "linux" || locale == "C" || locale == "POSIX"}
}

// Cells is how many columns of a terminal a text takes: two for a wide letter, none for
// a mark that stands over another letter (UAX #11).
func Cells(s string) int {
	n := 0
	for _, r := range s {
		n += cellsOf(r)
	}
	return n
}

func cellsOf(r rune) int {
	switch {
	case r < 0x300:
		if r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0xad {
			return 0
		}
		return 1
	case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// Cut shortens a text to so many columns; where something is lost it ends with a mark.
func Cut(s string, columns int) string {
	if Cells(s) <= columns {
		return s
	}
	n := 0
	for i, r := range s {
		if n += cellsOf(r); n > columns-1 {
			return s[:i] + "…"
		}
	}
	return s
}

// Pad fills a text with blanks up to so many columns, on its left if right is true.
func Pad(s string, columns int, right bool) string {
	blanks := strings.Repeat(" ", max(0, columns-Cells(s)))
	if right {
		return blanks + s
	}
	return s + blanks
}

// rgb is a colour in sRGB.
type rgb struct{ r, g, b uint8 }

// parse reads what draw.Scale gives: "#rrggbb".
func parse(hex string) rgb {
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil {
		panic("terminal: colour: " + err.Error())
	}
	return rgb{uint8(n >> 16), uint8(n >> 8), uint8(n)}
}

// light is the relative luminance of a colour, near enough to choose an ink by.
func (c rgb) light() float64 {
	lin := func(v uint8) float64 { return math.Pow(float64(v)/255, 2.2) }
	return 0.2126*lin(c.r) + 0.7152*lin(c.g) + 0.0722*lin(c.b)
}

// ink is black or white, whichever is read better on the colour: the two have the same
// contrast (WCAG 2.2) at a luminance of 0.179.
func (c rgb) ink() rgb {
	if c.light() > 0.179 {
		return rgb{0, 0, 0}
	}
	return rgb{255, 255, 255}
}

// mix is the mean of two colours.
func mix(a, b rgb) rgb {
	m := func(x, y uint8) uint8 { return uint8((int(x) + int(y)) / 2) }
	return rgb{m(a.r, b.r), m(a.g, b.g), m(a.b, b.b)}
}

// The levels of the colour cube of terminals with 256 colours.
var cube = [6]int{0, 95, 135, 175, 215, 255}

// index256 is the nearest of the 240 fixed colours: of the cube (from 16) or the greys
// (from 232, 8 to 238 in steps of 10).
func (c rgb) index256() int {
	near := func(v uint8) int {
		best := 0
		for i, l := range cube {
			if abs(l-int(v)) < abs(cube[best]-int(v)) {
				best = i
			}
		}
		return best
	}
	far := func(r, g, b int) int {
		dr, dg, db := r-int(c.r), g-int(c.g), b-int(c.b)
		return dr*dr + dg*dg + db*db
	}
	r, g, b := near(c.r), near(c.g), near(c.b)
	best, distance := 16+36*r+6*g+b, far(cube[r], cube[g], cube[b])
	for i := range 24 {
		if v := 8 + 10*i; far(v, v, v) < distance {
			best, distance = 232+i, far(v, v, v)
		}
	}
	return best
}

func abs(n int) int { return max(n, -n) }

// A cell is one place of the terminal: a letter, and its colours where there are any.
type cell struct {
	letter   string
	ink      *rgb
	ground   *rgb
	occupied bool // the right half of a wide letter
	marked   bool // its colours are those of a mark
}

// write adds cells to a line, with as few codes as they need.
func (s Style) write(b *strings.Builder, cells []cell) {
	now := ""
	for _, c := range cells {
		if c.occupied {
			continue
		}
		code := ""
		if s.Colours >= Colours256 {
			if c.ink != nil {
				code += ";38;" + s.code(*c.ink)
			}
			if c.ground != nil {
				code += ";48;" + s.code(*c.ground)
			}
		}
		if code != now {
			b.WriteString("\x1b[0" + code + "m")
			now = code
		}
		b.WriteString(c.letter)
	}
	if now != "" {
		b.WriteString("\x1b[0m")
	}
}

func (s Style) code(c rgb) string {
	if s.Colours == TrueColour {
		return fmt.Sprintf("2;%d;%d;%d", c.r, c.g, c.b)
	}
	return fmt.Sprintf("5;%d", c.index256())
}
