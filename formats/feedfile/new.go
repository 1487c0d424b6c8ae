package feedfile

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"underlamp/science/nutrients"
)

// Answers are what a first feed is made of.
type Answers struct {
	Name    string
	Benches []string
	Recipe  string // by name
	Litres  string // as typed, "80 L"
	// Water is the lines of the analysis as typed, each "ca: 38 mg/L"; empty: pure water.
	Water []string
	// Products are names of substances, with what must be said of them: "iron DTPA", "nitric acid".
	Products []string
	Metal    string // share of metal of the chelate, as typed
	Strength string // of the acid, as typed
}

// New writes the description of a first feed. It reads it again before it hands it back: an
// answer that is wrong gives the problem.
func New(a Answers) (string, error) {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("underlamp feed: %d", Version)
	line("name: %s", strconv.Quote(one(a.Name)))
	if len(a.Benches) > 0 {
		var q []string
		for _, n := range a.Benches {
			q = append(q, strconv.Quote(one(n)))
		}
		line("benches: [%s]", strings.Join(q, ", "))
	}
	line("target:")
	line("  recipe: %s", strconv.Quote(one(a.Recipe)))
	line("  strength: 100 %%")
	line("  ph: 5.8")
	line("limits: {na: 50 mg/L, cl: 70 mg/L}   # Oklahoma State and a trade article advise them for water")
	if len(a.Water) > 0 {
		line("water:")
		for _, w := range a.Water {
			line("  %s", one(w))
		}
	} else {
		line("# No analysis yet: pure water is assumed. Ask the waterworks, then write for example:")
		line("# water: {name: tap, ph: 7.6, alkalinity: 2.1 meq/L, ca: 38 mg/L, mg: 6 mg/L, na: 12 mg/L, cl: 18 mg/L, so4: 24 mg/L}")
	}
	line("cupboard:   # add a price to see what it costs: price: 1.20 EUR/kg")
	for _, name := range a.Products {
		s, err := nutrients.Find(name)
		extra := ""
		if err == nil && s.Kind == nutrients.Chelate {
			extra = ", metal: " + one(a.Metal)
		}
		if err == nil && s.Kind == nutrients.Acid && s.Name != "citric acid" {
			extra = ", strength: " + one(a.Strength)
		}
		line("  - {product: %s%s}", strconv.Quote(one(name)), extra)
	}
	line("tank: {volume: %s, scale: 0.1 g, temperature: 20 °C}", one(a.Litres))
	line("# stock: {kind: two tanks, factor: 100, volume: 10 L, temperature: 15 °C}   # to keep concentrates")
	text := b.String()
	p, problems, err := Read(bytes.NewReader([]byte(text)))
	if err != nil {
		return "", err
	}
	if p == nil {
		return "", problems
	}
	return text, nil
}

// one is a text in one line, without what would end a value.
func one(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == '#' {
			return ' '
		}
		return r
	}, s))
}
