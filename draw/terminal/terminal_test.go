package terminal_test

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/draw"
	"underlamp/draw/terminal"
	"underlamp/science/quantity"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference")

// hill is a bench of 80 × 60 cm that is brightest in the middle.
func hill() terminal.Map {
	m := terminal.Map{
		Columns: 60, Width: 0.8, Depth: 0.6, Quantity: "PPFD", Unit: "µmol/m²/s", Scale: draw.ScaleLight,
		Target: 180, Ceiling: 240,
		Plants: []terminal.Mark{{0.2, 0.2, "P1"}, {0.6, 0.2, "P2"}, {0.2, 0.45, "白菜"}, {0.79, 0.45, "P4"}},
	}
	for i := range 17 {
		m.Values.X = append(m.Values.X, 0.8*float64(i)/16)
	}
	for j := range 13 {
		m.Values.Y = append(m.Values.Y, 0.6*float64(j)/12)
	}
	for _, y := range m.Values.Y {
		for _, x := range m.Values.X {
			m.Values.Values = append(m.Values.Values, 260*math.Exp(-3*(math.Pow(x-0.4, 2)+math.Pow(y-0.3, 2))))
		}
	}
	return m
}

func course() terminal.Curve {
	c := terminal.Curve{Columns: 60, Title: "fresh mass in g", Across: "days", From0: true}
	for d := range 36 {
		y := 150 / (1 + math.Exp(-(float64(d)-22)/4))
		c.X, c.Y, c.Low, c.High = append(c.X, float64(d)), append(c.Y, y), append(c.Low, 0.8*y), append(c.High, 1.25*y)
	}
	return c
}

func TestPictures(t *testing.T) {
	rising := []float64{1, 2, 3, math.NaN(), 5, 8, 7, 7.5, 2, 1}
	for name, draw := range map[string]func() string{
		"map":          func() string { return hill().Text() },
		"map-ascii":    func() string { m := hill(); m.Style.ASCII = true; m.Units = quantity.US; return m.Text() },
		"map-16":       func() string { m := hill(); m.Style.Colours = terminal.Colours16; return m.Text() },
		"map-256":      func() string { m := hill(); m.Style.Colours = terminal.Colours256; return m.Text() },
		"map-true":     func() string { m := hill(); m.Style.Colours = terminal.TrueColour; return m.Text() },
		"curve":        func() string { return course().Text() },
		"curve-ascii":  func() string { c := course(); c.Style.ASCII = true; return c.Text() },
		"spark":        func() string { return terminal.Spark(terminal.Style{}, rising) + "\n" },
		"spark-ascii":  func() string { return terminal.Spark(terminal.Style{ASCII: true}, rising) + "\n" },
		"curve-absent": func() string { return terminal.Curve{Title: "nothing"}.Text() },
	} {
		got, file := draw(), filepath.Join("testdata", name+".txt")
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s is drawn otherwise:\n%s", name, got)
		}
	}
}

// Whatever the numbers, no line is wider than asked, none ends with a blank, and nothing
// panics.
func TestPicturesKeepTheirWidth(t *testing.T) {
	hostile := rapid.OneOf(rapid.Float64Range(-1e6, 1e6), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, 5e-324}))
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.IntRange(30, 200).Draw(t, "columns")
		style := terminal.Style{Colours: terminal.Colours(rapid.IntRange(0, 3).Draw(t, "colours")), ASCII: rapid.Bool().Draw(t, "ascii")}
		m := hill()
		m.Columns, m.Style = columns, style
		m.Depth = quantity.Metre(rapid.Float64Range(0.05, 5).Draw(t, "depth"))
		some := rapid.SliceOfN(hostile, 1, 12).Draw(t, "values")
		for i := range m.Values.Values {
			m.Values.Values[i] = some[i%len(some)]
		}
		for i := range m.Plants {
			m.Plants[i].Name = rapid.StringN(0, 6, 12).Draw(t, "name")
			m.Plants[i].Name = strings.Map(func(r rune) rune {
				if r < 0x20 || r == 0x7f {
					return -1
				}
				return r
			}, m.Plants[i].Name)
		}
		c := course()
		c.Columns, c.Style = columns, style
		for i := range c.Y {
			c.Y[i] = some[i%len(some)]
		}
		for _, text := range []string{m.Text(), c.Text()} {
			for line := range strings.Lines(text) {
				line = strings.TrimSuffix(line, "\n")
				if n := terminal.Cells(plain(line)); n > columns && !strings.Contains(line, "–") || strings.HasSuffix(line, " ") {
					t.Fatalf("%d columns for %d: %q", n, columns, line)
				}
			}
		}
	})
}

// plain takes codes out of a text.
func plain(s string) string {
	for {
		before, rest, found := strings.Cut(s, "\x1b[")
		if !found {
			return s
		}
		_, after, _ := strings.Cut(rest, "m")
		s = before + after
	}
}

// Widths as UAX #11 (East Asian Width) and UAX #44 (combining marks) have them.
func TestCells(t *testing.T) {
	for text, want := range map[string]int{"P12": 3, "白菜": 4, "ﾗ": 1, "Ａ": 2, "e\u0301": 1, "µmol/m²/s": 9, "🥬": 2, "": 0, "\x1b": 0} {
		if got := terminal.Cells(text); got != want {
			t.Errorf("%q: %d cells, want %d", text, got, want)
		}
	}
	if got := terminal.Cut("白菜白菜", 5); got != "白菜…" {
		t.Errorf("cut: %q", got)
	}
	if got := terminal.Pad("白", 4, true); got != "  白" {
		t.Errorf("padded: %q", got)
	}
}

// The environment: NO_COLOR as no-color.org has it ("when present and not an empty
// string, regardless of its value"); the rest is common practice, no source.
func TestColoursOf(t *testing.T) {
	for _, c := range []struct {
		env   map[string]string
		want  terminal.Colours
		ascii bool
	}{
		{map[string]string{}, terminal.NoColours, false},
		{map[string]string{"TERM": "dumb"}, terminal.NoColours, true},
		{map[string]string{"TERM": "xterm"}, terminal.Colours16, false},
		{map[string]string{"TERM": "linux"}, terminal.Colours16, true},
		{map[string]string{"TERM": "xterm-256color"}, terminal.Colours256, false},
		{map[string]string{"TERM": "xterm-256color", "COLORTERM": "truecolor"}, terminal.TrueColour, false},
		{map[string]string{"TERM": "xterm-256color", "NO_COLOR": "0"}, terminal.NoColours, false},
		{map[string]string{"TERM": "xterm-256color", "NO_COLOR": ""}, terminal.Colours256, false},
		{map[string]string{"TERM": "xterm", "LANG": "C"}, terminal.Colours16, true},
		{map[string]string{"TERM": "xterm", "LANG": "C", "LC_ALL": "de_DE.UTF-8"}, terminal.Colours16, false},
	} {
		env := func(name string) string { return c.env[name] }
		got := terminal.ColoursOf(env)
		if ascii := terminal.StyleOf(got, env).ASCII; got != c.want || ascii != c.ascii {
			t.Errorf("%v: %d, ASCII %v", c.env, got, ascii)
		}
	}
}

func TestMistakesPanic(t *testing.T) {
	for name, do := range map[string]func(){
		"no area":   func() { terminal.Map{}.Text() },
		"no grid":   func() { m := hill(); m.Values.Values = m.Values.Values[1:]; m.Text() },
		"no course": func() { c := course(); c.Y = c.Y[1:]; c.Text() },
	} {
		func() {
			defer func() {
				if r, ok := recover().(string); !ok || !strings.HasPrefix(r, "terminal: ") {
					t.Errorf("%s: %v", name, r)
				}
			}()
			do()
		}()
	}
}

func BenchmarkMap(b *testing.B) {
	m := hill()
	m.Columns, m.Style.Colours = 100, terminal.TrueColour
	b.ReportAllocs()
	for b.Loop() {
		m.Text()
	}
}
