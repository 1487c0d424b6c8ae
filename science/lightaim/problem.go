package lightaim

import (
	"fmt"
	"math"
	"slices"
)

// A Lamp is what may be turned, and what it costs.
type Lamp struct {
	Lower, Upper float64 // dimming while on, 0 to 1
	Step         float64 // of the dimmer: multiples of it, and both ends, can be set; 0 is free
	MayBeOff     bool    // may also be switched off, and then draws nothing
	Power        Curve
}

// A Problem is the light of points under lamps, and what is asked of it.
type Problem struct {
	Points    int
	Responses []float64 // PPFD that each lamp at full power gives at each point: element k·Points+i is lamp k at point i
	Lamps     []Lamp
	Group     []int // lamps with one number hang on one dimmer; nil gives each its own

	Target []float64 // PPFD wanted at each point, above 0; for evenness
	Min    []float64 // at each point; nil is none
	Max    []float64 // at each point; nil is none

	MinMean float64 // least mean over the points; 0 is none
	MaxMean float64 // most; 0 is none
	Means   []Mean  // the same of some points
	Share   float64 // of the points that must keep Min and Max; 0 and 1 are all of them
	Equal   []Equal // groups of points whose means must agree
	MaxWatt float64 // most power of all lamps; 0 is none

	MaxNodes int // of branch and bound; 0 means 400
}

// Mean asks for a mean PPFD over Points of at least Low, and at most High; 0 is
// none.
type Mean struct {
	Points    []int
	Low, High float64
}

// Equal asks that the mean over A, times FactorA, is the mean over B times
// FactorB, within a share Tolerance of the former. Factors stand for hours where
// daily light is meant; 0 is 1.
type Equal struct {
	A, B             []int // points
	FactorA, FactorB float64
	Tolerance        float64 // what dim steps may leave; 0 is none
}

// An Answer is how the lamps should be dimmed.
type Answer struct {
	Dim    []float64 // of each lamp; 0 is off
	PPFD   []float64 // at each point
	Watt   float64
	Lowest float64 // of PPFD
	Mean   float64
	Top    float64 // highest PPFD
	Uneven float64 // root mean square of PPFD/Target − 1; NaN without Target
	Within int     // points that keep Min and Max

	Aim    float64 // what was made least or most
	Bound  float64 // no answer can be better than this
	Proven bool    // Aim is within 1 in 10 000 of Bound, or (for a count) equal to it
	Nodes  int     // linear or quadratic programs solved
	Method string  // in words
}

// A ProblemError tells what is wrong with a problem.
type ProblemError struct{ Reason string }

// Error is the reason.
func (e *ProblemError) Error() string { return "lightaim: " + e.Reason }

func wrong(format string, args ...any) error { return &ProblemError{fmt.Sprintf(format, args...)} }

// column is what one dimmer turns.
type column struct {
	lamps  []int
	resp   []float64 // at each point
	lower  float64
	upper  float64
	off    bool
	levels []float64 // that can be set, ascending, with 0 if off; nil is free
	curve  Curve
}

// model is a problem made ready.
type model struct {
	p    *Problem
	cols []column
	side []Row   // conditions other than Min and Max, over the columns
	cap  float64 // MaxWatt as the relaxed programs see it
	sets int     // programs solved
}

const maxLevels = 1001

// prepare checks a problem and puts lamps of one dimmer together.
func prepare(p *Problem) (*model, error) {
	n := len(p.Lamps)
	switch {
	case n == 0:
		return nil, wrong("no lamps")
	case p.Points <= 0:
		return nil, wrong("no points")
	case len(p.Responses) != n*p.Points:
		return nil, wrong("%d responses for %d lamps and %d points", len(p.Responses), n, p.Points)
	case p.Group != nil && len(p.Group) != n:
		return nil, wrong("%d group numbers for %d lamps", len(p.Group), n)
	case !(p.Share >= 0 && p.Share <= 1):
		return nil, wrong("the share of points is %g, want 0 to 1", p.Share)
	}
	for i, v := range p.Responses {
		if !(v >= 0) || math.IsInf(v, 0) {
			return nil, wrong("lamp %d gives %g at point %d, want a number of at least 0", i/p.Points, v, i%p.Points)
		}
	}
	for _, s := range []struct {
		name string
		v    []float64
		low  float64
	}{{"target", p.Target, math.SmallestNonzeroFloat64}, {"least PPFD", p.Min, 0}, {"greatest PPFD", p.Max, 0}} {
		if s.v != nil && len(s.v) != p.Points {
			return nil, wrong("%d values of %s for %d points", len(s.v), s.name, p.Points)
		}
		for i, v := range s.v {
			if !(v >= s.low) {
				return nil, wrong("the %s of point %d is %g", s.name, i, v)
			}
		}
	}
	m := &model{p: p, cap: p.MaxWatt}
	at := map[int]int{}
	for k, l := range p.Lamps {
		if !(l.Lower >= 0 && l.Lower <= l.Upper && l.Upper <= 1) || !(l.Step >= 0 && l.Step <= 1) || l.Step > 0 && l.Step < 1.0/maxLevels {
			return nil, wrong("lamp %d: dimming from %g to %g in steps of %g", k, l.Lower, l.Upper, l.Step)
		}
		if err := l.Power.check(l.Lower, l.Upper); err != nil {
			return nil, wrong("lamp %d: %v", k, err)
		}
		g := -1 - k
		if p.Group != nil {
			g = p.Group[k]
		}
		resp := p.Responses[k*p.Points : (k+1)*p.Points]
		c, ok := at[g]
		if !ok || p.Group == nil {
			at[g] = len(m.cols)
			m.cols = append(m.cols, column{lamps: []int{k}, resp: clone(resp), lower: l.Lower, upper: l.Upper, off: l.MayBeOff && l.Lower > 0, levels: levelsOf(l), curve: l.Power})
			continue
		}
		col := &m.cols[c]
		first := p.Lamps[col.lamps[0]]
		if l.Step != first.Step || l.MayBeOff != first.MayBeOff || l.Lower != first.Lower || l.Upper != first.Upper {
			return nil, wrong("lamps %d and %d hang on one dimmer but have other limits or steps", col.lamps[0], k)
		}
		col.lamps = append(col.lamps, k)
		for i, v := range resp {
			col.resp[i] += v
		}
		col.curve = col.curve.plus(l.Power)
	}
	return m, m.conditions()
}

// levelsOf are the dimmings that can be set; nil if free.
func levelsOf(l Lamp) []float64 {
	if l.Step == 0 {
		return nil
	}
	out := []float64{l.Lower}
	for k := math.Ceil(l.Lower/l.Step + 1e-9); k*l.Step < l.Upper-1e-9; k++ {
		out = append(out, math.Round(k*l.Step*1e9)/1e9)
	}
	if l.Upper > l.Lower {
		out = append(out, l.Upper)
	}
	if l.MayBeOff && l.Lower > 0 {
		out = slices.Insert(out, 0, 0)
	}
	return out
}

// conditions writes the mean, the equal means and the power as rows. Power is a
// row only where it is linear; else branch and bound and the segments see to it.
func (m *model) conditions() error {
	p := m.p
	mean := func(points []int) []float64 {
		out := make([]float64, len(m.cols))
		for k, c := range m.cols {
			for _, i := range points {
				out[k] += c.resp[i] / float64(len(points))
			}
		}
		return out
	}
	known := func(points []int) error {
		if len(points) == 0 {
			return wrong("a group of points is empty")
		}
		for _, i := range points {
			if i < 0 || i >= p.Points {
				return wrong("a group names point %d of %d", i, p.Points)
			}
		}
		return nil
	}
	means := clone(p.Means)
	if p.MinMean > 0 || p.MaxMean > 0 {
		all := make([]int, p.Points)
		for i := range all {
			all[i] = i
		}
		means = append(means, Mean{all, p.MinMean, p.MaxMean})
	}
	for _, e := range means {
		if err := known(e.Points); err != nil {
			return err
		}
		r := Row{Coef: mean(e.Points), Low: math.Inf(-1), High: math.Inf(1)}
		if e.Low > 0 {
			r.Low = e.Low
		}
		if e.High > 0 {
			r.High = e.High
		}
		m.side = append(m.side, r)
	}
	for _, e := range p.Equal {
		if err := known(e.A); err != nil {
			return err
		}
		if err := known(e.B); err != nil {
			return err
		}
		a, b := mean(e.A), mean(e.B)
		fa, fb := orOne(e.FactorA), orOne(e.FactorB)
		between := func(share, low, high float64) {
			r := Row{Coef: make([]float64, len(a)), Low: low, High: high}
			for k := range a {
				r.Coef[k] = fb*b[k] - share*fa*a[k]
			}
			m.side = append(m.side, r)
		}
		if e.Tolerance == 0 {
			between(1, 0, 0)
			continue
		}
		between(1-e.Tolerance, 0, math.Inf(1))
		between(1+e.Tolerance, math.Inf(-1), 0)
	}
	return nil
}

func orOne(v float64) float64 {
	if v == 0 {
		return 1
	}
	return v
}

// light is the PPFD at each point for dimmings of the columns.
func (m *model) light(x []float64) []float64 {
	out := make([]float64, m.p.Points)
	for k, c := range m.cols {
		for i, a := range c.resp {
			out[i] += a * x[k]
		}
	}
	return out
}

// watt is the true power.
func (m *model) watt(x []float64) float64 {
	sum := 0.0
	for k := range m.cols {
		sum += m.cols[k].watt(x[k])
	}
	return sum
}

func (c *column) watt(x float64) float64 {
	if x == 0 && c.off {
		return 0
	}
	return c.curve.At(x)
}

// low is the least dimming, off included.
func (c *column) low() float64 {
	if c.off {
		return 0
	}
	return c.lower
}

// min and max are the limits of point i.
func (m *model) min(i int) float64 {
	if m.p.Min == nil {
		return math.Inf(-1)
	}
	return m.p.Min[i]
}

func (m *model) max(i int) float64 {
	if m.p.Max == nil {
		return math.Inf(1)
	}
	return m.p.Max[i]
}

// slackOf is what a limit may be missed by.
func slackOf(limit float64) float64 { return 1e-6 * (1 + math.Abs(limit)) }

func (m *model) within(i int, v float64) bool {
	lo, hi := m.min(i), m.max(i)
	return v >= lo-slackOf(lo) && v <= hi+slackOf(hi)
}

// need is how many points must keep their limits.
func (m *model) need() int {
	if m.p.Share == 0 {
		return m.p.Points
	}
	return int(math.Ceil(m.p.Share*float64(m.p.Points) - 1e-9))
}

// answer describes dimmings of the columns.
func (m *model) answer(x []float64) *Answer {
	p := m.p
	a := &Answer{Dim: make([]float64, len(p.Lamps)), PPFD: m.light(x), Watt: m.watt(x), Lowest: math.Inf(1), Uneven: math.NaN(), Nodes: m.sets}
	for k, c := range m.cols {
		for _, l := range c.lamps {
			a.Dim[l] = x[k]
		}
	}
	sum := 0.0
	for i, v := range a.PPFD {
		a.Lowest, a.Top = min(a.Lowest, v), max(a.Top, v)
		a.Mean += v / float64(p.Points)
		if m.within(i, v) {
			a.Within++
		}
		if p.Target != nil {
			d := v/p.Target[i] - 1
			sum += d * d
		}
	}
	if p.Target != nil {
		a.Uneven = math.Sqrt(sum / float64(p.Points))
	}
	return a
}
