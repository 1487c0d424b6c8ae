package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/working"
)

// A Confound is how far something goes along with the treatments.
type Confound struct {
	With   string         // "the lamp", "distance from the left"
	Figure working.Figure // a share from 0 to 1, or a correlation from −1 to 1
	Chance float64        // root mean square that a draw would give
	Strong bool           // so strong that it can hardly be told from the treatments
	Says   string         // empty if not strong
}

// strong is the size from which something is named: half of the variance shared. Common
// practice, no source.
var strong = math.Sqrt(0.5)

// confounds measures what goes along with the treatments over the units: numbers by their
// correlation with the level of light (Pearson), or by the root of the share of variance
// between treatments (correlation ratio η) where treatments are no levels; groups by
// Cramér's V (Cramer1946).
func confounds(l *TrialLight) (out []Confound) {
	var units []LitUnit
	for _, b := range l.Blocks {
		units = append(units, b.Units...)
	}
	if len(units) < 3 {
		return nil
	}
	var treat, lamp, block []string
	levels := true
	for _, u := range units {
		treat, lamp, block = append(treat, u.Treatment), append(lamp, u.Lamp), append(block, u.Block)
		levels = levels && u.Aim > 0
	}
	place := map[string][2]float64{}
	for _, p := range l.Bench.Lamps {
		place[p.Name] = [2]float64{float64(p.X), float64(p.Y)}
	}
	order := stat.NewFactor("block", block)
	groups := []struct {
		with string
		of   []string
		part string
	}{
		{"the lamp", lamp, "Lamps and treatments can hardly be told apart: what is odd about a lamp looks like its treatment. Change the lamps round from cycle to cycle."},
		{"the block", block, "Blocks and treatments can hardly be told apart: what a season does looks like the treatment. Give every treatment in every block."},
	}
	for _, g := range groups {
		v, chance, ok := CramersV(treat, g.of)
		if !ok {
			continue
		}
		c := Confound{With: g.with, Chance: chance, Strong: v > strong, Figure: working.Figure{Name: "treatments with " + g.with, Value: v, Digits: 2, Working: working.Working{
			Formula: "Cramér's V = √(χ²/(n (min(rows, columns) − 1)))",
			Inputs:  []working.Input{working.Plain("units", fmt.Sprint(len(units)), underlamp.Computed.String()), working.Plain("a draw gives about", fmt.Sprintf("%.2g", chance), underlamp.Computed.String())},
			Notes:   []string{"0: every treatment had every one of them equally often; 1: each had its own."}, Sources: []string{"Cramer1946"},
		}}}
		if c.Strong {
			c.Says = g.part
		}
		out = append(out, c)
	}
	for _, x := range []struct {
		with  string
		of    func(LitUnit) float64
		comes bool // it comes with the treatment itself
		says  string
	}{
		{"distance from the left", func(u LitUnit) float64 { return place[u.Lamp][0] }, false, "Treatments go along with the place from left to right; a draught or a warm wall at one end looks like the treatment."},
		{"distance from the front", func(u LitUnit) float64 { return place[u.Lamp][1] }, false, "Treatments go along with the place from front to back."},
		{"plants at the edge", func(u LitUnit) float64 { return u.AtEdge }, false, "Treatments go along with the share of plants at the edge."},
		{"light from the lamps of neighbours", func(u LitUnit) float64 { return u.FromOthers }, true, "The dimmer the treatment, the more of its light comes from lamps of other treatments, from the side; a board between the lamps helps."},
		{"spread of the light within the unit", func(u LitUnit) float64 { return u.Spread }, false, "Treatments go along with how unevenly their plants are lit."},
		{"number of the block", func(u LitUnit) float64 {
			return float64(slices.Index(order.Levels, u.Block))
		}, false, "Treatments go along with the order of the blocks."},
		{"power of the lamp", func(u LitUnit) float64 { return float64(u.Power) }, true, ""},
	} {
		var v, level []float64
		for _, u := range units {
			v, level = append(v, x.of(u)), append(level, float64(u.Got))
		}
		c := Confound{With: x.with}
		w := working.Working{Inputs: []working.Input{working.Plain("units", fmt.Sprint(len(units)), underlamp.Computed.String())}}
		if levels {
			r, ok := correlation(level, v)
			if !ok {
				continue
			}
			c.Chance = 1 / math.Sqrt(float64(len(v)-1))
			w.Formula = "Pearson's r between the light that units get and " + x.with
			c.Figure = working.Figure{Name: "light with " + x.with, Value: r, Digits: 2}
		} else {
			eta, k, ok := correlationRatio(treat, v)
			if !ok {
				continue
			}
			c.Chance = math.Sqrt(float64(k-1) / float64(len(v)-1))
			w.Formula = "η = √(sum of squares between treatments / whole sum of squares) of " + x.with
			c.Figure = working.Figure{Name: "treatments with " + x.with, Value: eta, Digits: 2}
		}
		w.Inputs = append(w.Inputs, working.Plain("a draw gives about", fmt.Sprintf("%.2g", c.Chance), underlamp.Computed.String()))
		if x.comes {
			w.Notes = []string{"It comes with the treatment itself; no layout parts the two."}
		}
		c.Figure.Working = w
		c.Strong = math.Abs(c.Figure.Value) > strong
		if c.Strong {
			c.Says = x.says
		}
		out = append(out, c)
	}
	return out
}

// flat is the size under which a sum of squares is rounding, as a share of the squares.
const flat = 1e-12

// correlation is Pearson's r; ok is false if one of the two does not vary.
func correlation(x, y []float64) (r float64, ok bool) {
	n := float64(len(x))
	mx, my, qx, qy := 0.0, 0.0, 0.0, 0.0
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
		qx, qy = qx+x[i]*x[i], qy+y[i]*y[i]
	}
	sxx, syy, sxy := 0.0, 0.0, 0.0
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		syy += (y[i] - my) * (y[i] - my)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	if !(sxx > flat*qx && syy > flat*qy) {
		return 0, false
	}
	return sxy / math.Sqrt(sxx*syy), true
}

// correlationRatio is the root of the share of the variance of v that lies between groups.
func correlationRatio(groups []string, v []float64) (eta float64, k int, ok bool) {
	f := stat.NewFactor("group", groups)
	mean, square := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
		square += x * x
	}
	between, whole := 0.0, 0.0
	for _, g := range f.Split(v) {
		m := 0.0
		for _, x := range g {
			m += x / float64(len(g))
			whole += (x - mean) * (x - mean)
		}
		between += float64(len(g)) * (m - mean) * (m - mean)
	}
	if !(whole > flat*square) || len(f.Levels) < 2 || len(f.Levels) >= len(v) {
		return 0, 0, false
	}
	return math.Sqrt(min(between/whole, 1)), len(f.Levels), true
}

// CramersV is the association of two groupings, from 0 to 1, with the root mean square
// that pairs drawn at random would give. ok is false if one of them has a single group.
func CramersV(a, b []string) (v, chance float64, ok bool) {
	fa, fb := stat.NewFactor("a", a), stat.NewFactor("b", b)
	r, c, n := len(fa.Levels), len(fb.Levels), float64(len(a))
	if r < 2 || c < 2 {
		return 0, 0, false
	}
	cells := make([]float64, r*c)
	for i := range a {
		cells[fa.Of[i]*c+fb.Of[i]]++
	}
	na, nb := fa.Counts(), fb.Counts()
	chi := 0.0
	for i := range r {
		for j := range c {
			want := float64(na[i]) * float64(nb[j]) / n
			e := cells[i*c+j] - want
			chi += e * e / want
		}
	}
	least := float64(min(r, c) - 1)
	// Over all ways to pair them, χ² is n (r−1)(c−1)/(n−1) on average.
	return math.Sqrt(min(chi/(n*least), 1)), math.Sqrt(min(float64((r-1)*(c-1))/((n-1)*least), 1)), true
}
