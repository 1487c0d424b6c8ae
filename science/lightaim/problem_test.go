package lightaim_test

import (
	"errors"
	"math"
	"testing"

	"underlamp/science/lightaim"
)

// shelf is lamps in a row over plants in a row: light falls with the distance.
func shelf(lamps, plants int) []float64 {
	var out []float64
	for k := range lamps {
		for i := range plants {
			x := (float64(k)+0.5)/float64(lamps) - (float64(i)+0.5)/float64(plants)
			out = append(out, 150*0.09/(0.09+x*x))
		}
	}
	return out
}

func fill(n int, v float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func alike(n int, l lightaim.Lamp) []lightaim.Lamp {
	out := make([]lightaim.Lamp, n)
	for i := range out {
		out[i] = l
	}
	return out
}

var plain = lightaim.Lamp{Lower: 0.1, Upper: 1, Power: lightaim.Proportional(50)}

func answer(t *testing.T, a *lightaim.Answer, err error) *lightaim.Answer {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// By hand: two lamps that each light their own plant with 300 µmol at full power
// and the other with 100. Both plants at 200: x + y/3 = 2/3 for both, so x = ½.
func TestByHand(t *testing.T) {
	t.Parallel()
	p := lightaim.Problem{Points: 2, Responses: []float64{300, 100, 100, 300}, Lamps: alike(2, plain), Min: []float64{200, 200}, Target: []float64{200, 200}}
	a, err := p.LeastPower()
	a = answer(t, a, err)
	near(t, "first lamp", a.Dim[0], 0.5, 1e-9)
	near(t, "second lamp", a.Dim[1], 0.5, 1e-9)
	near(t, "power", a.Watt, 50, 1e-7)
	if !a.Proven || a.Within != 2 {
		t.Errorf("%+v", a)
	}
	// Plants of unequal wants: 300x + 100y = 250, 100x + 300y = 150 gives x = 3/4, y = 1/4.
	p.Target, p.Min = []float64{250, 150}, nil
	a, err = p.MostEven()
	a = answer(t, a, err)
	near(t, "first lamp", a.Dim[0], 0.75, 1e-5)
	near(t, "second lamp", a.Dim[1], 0.25, 1e-5)
	// On one dimmer: least (4x/2.5 − 1)² + (4x/1.5 − 1)² is at x = (1.6 + 8/3)/(1.6² + (8/3)²).
	p.Group = []int{7, 7}
	a, err = p.MostEven()
	a = answer(t, a, err)
	near(t, "one dimmer", a.Dim[0], (1.6+8.0/3)/(1.6*1.6+64.0/9), 1e-6)
	if a.Dim[0] != a.Dim[1] {
		t.Errorf("one dimmer, two dimmings: %v", a.Dim)
	}
	// The mean alone: either lamp gives 400 in all; the cheaper one is taken.
	p = lightaim.Problem{Points: 2, Responses: []float64{300, 100, 100, 300}, Lamps: alike(2, plain), MinMean: 150}
	p.Lamps[1].Power = lightaim.Proportional(40)
	a, err = p.LeastPower()
	a = answer(t, a, err)
	near(t, "dear lamp", a.Dim[0], 0.1, 1e-9)
	near(t, "cheap lamp", a.Dim[1], 0.65, 1e-9)
	// Highest common level: B's factor 2 stands for twice the hours.
	p = lightaim.Problem{Points: 2, Responses: []float64{300, 0, 0, 100}, Lamps: alike(2, plain), Equal: []lightaim.Equal{{A: []int{0}, B: []int{1}, FactorA: 1, FactorB: 2}}}
	a, err = p.HighestMean([]int{0})
	a = answer(t, a, err)
	near(t, "level", a.Aim, 200, 1e-6)
	near(t, "first lamp", a.Dim[0], 2.0/3, 1e-9)
}

// By hand: a lamp that draws 10 W and 50 W per dimming up to 0.4, 33.3 W beyond.
// 40 W are a dimming of 0.7; the straight line between the ends would say 0.733.
func TestEvenUnderBentPower(t *testing.T) {
	t.Parallel()
	l := lightaim.Lamp{Lower: 0.2, Upper: 1, Power: lightaim.Curve{Dim: []float64{0, 0.4, 1}, Watt: []float64{10, 30, 50}}}
	p := lightaim.Problem{Points: 1, Responses: []float64{300}, Lamps: []lightaim.Lamp{l}, Target: []float64{300}, MaxWatt: 40}
	a, err := p.MostEven()
	a = answer(t, a, err)
	near(t, "dimming", a.Dim[0], 0.7, 1e-3)
	near(t, "power", a.Watt, 40, 0.05)
	// Least power of two such lamps for 420 µmol, so 1.4 of dimming in all: beyond 0.4
	// both rise by 33.3 W, so any split there draws 30 + 30 + 0.6 · 33.3 W.
	p = lightaim.Problem{Points: 1, Responses: []float64{300, 300}, Lamps: alike(2, l), Min: []float64{420}}
	a, err = p.LeastPower()
	a = answer(t, a, err)
	near(t, "power of two", a.Watt, 80, 1e-3)
}

// Out of reach: which points, how far, and the nearest.
func TestOutOfReach(t *testing.T) {
	t.Parallel()
	p := lightaim.Problem{Points: 2, Responses: []float64{300, 100, 100, 200}, Lamps: alike(2, plain), Min: []float64{350, 320}}
	_, err := p.LeastPower()
	var e *lightaim.InfeasibleError
	if !errors.As(err, &e) || len(e.Dark) != 1 || e.Dark[0] != (lightaim.Reach{Point: 1, Want: 320, Can: 300}) {
		t.Fatalf("%v", err)
	}
	near(t, "short", e.Short, 20.0/320, 1e-9)
	// Each alone can be had, not both: 300x + 100y ≤ 200 and 100x + 300y ≥ 300 with x at least 0.1.
	p = lightaim.Problem{Points: 2, Responses: []float64{300, 300, 100, 100}, Lamps: alike(2, plain), Min: []float64{100, 250}, Max: []float64{200, 400}}
	_, err = p.LeastPower()
	if !errors.As(err, &e) || len(e.Dark)+len(e.Bright) != 0 {
		t.Fatalf("%v", err)
	}
	// 200 (1 + s) = 250 (1 − s).
	near(t, "short of both", e.Short, 50.0/450, 1e-9)
	// Steps of 0.5 with limits of 190 to 210 around what 0.65 gives.
	step := plain
	step.Step = 0.5
	p = lightaim.Problem{Points: 1, Responses: []float64{300}, Lamps: []lightaim.Lamp{step}, Min: []float64{190}, Max: []float64{210}}
	_, err = p.LeastPower()
	if !errors.As(err, &e) || !e.Steps {
		t.Fatalf("%v", err)
	}
}

func TestWrongProblems(t *testing.T) {
	t.Parallel()
	ok := lightaim.Problem{Points: 1, Responses: []float64{300}, Lamps: []lightaim.Lamp{plain}, Min: []float64{100}}
	for name, change := range map[string]func(p *lightaim.Problem){
		"no lamps":  func(p *lightaim.Problem) { p.Lamps = nil },
		"responses": func(p *lightaim.Problem) { p.Responses = []float64{1, 2} },
		"NaN":       func(p *lightaim.Problem) { p.Responses = []float64{math.NaN()} },
		"limits":    func(p *lightaim.Problem) { p.Lamps = []lightaim.Lamp{{Lower: 0.5, Upper: 0.4, Power: plain.Power}} },
		"curve": func(p *lightaim.Problem) {
			p.Lamps = []lightaim.Lamp{{Lower: 0.1, Upper: 1, Power: lightaim.Curve{Dim: []float64{0.5, 1}, Watt: []float64{1, 2}}}}
		},
		"target": func(p *lightaim.Problem) { p.Target = []float64{0} },
		"share":  func(p *lightaim.Problem) { p.Share = 1.5 },
		"group":  func(p *lightaim.Problem) { p.Group = []int{1, 2} },
	} {
		p := ok
		change(&p)
		var e *lightaim.ProblemError
		if _, err := p.LeastPower(); !errors.As(err, &e) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Dim steps and lamps that may be off, against HiGHS on the same mixed program.
func TestStepsAgainstLibrary(t *testing.T) {
	t.Parallel()
	for i, c := range scipy().Steps {
		points := len(c.Responses[0])
		p := lightaim.Problem{Points: points, Min: fill(points, c.Low), Max: fill(points, high(c.High)), MaxNodes: 20000}
		for k, r := range c.Responses {
			p.Responses = append(p.Responses, r...)
			p.Lamps = append(p.Lamps, lightaim.Lamp{Lower: 0.3, Upper: 1, Step: c.Step, MayBeOff: c.Off, Power: lightaim.Curve{Dim: []float64{0, 1}, Watt: []float64{c.Start[k], c.Start[k] + c.More[k]}}})
		}
		a, err := p.LeastPower()
		if err != nil {
			t.Errorf("%d: %v, the library has %v", i, err, c.Status)
			continue
		}
		// Both hold limits to about 1 in a million.
		if !a.Proven || math.Abs(a.Watt-*c.Watt) > 1e-4*(*c.Watt) {
			t.Errorf("%d: %.6f W (bound %.6f, %d programs), the library has %.6f", i, a.Watt, a.Bound, a.Nodes, *c.Watt)
		}
		p.MaxNodes = 0
		quick, err := p.LeastPower()
		if err != nil || quick.Bound > *c.Watt*(1+1e-4) || quick.Watt < *c.Watt*(1-1e-4) || quick.Watt > *c.Watt*1.03 {
			t.Errorf("%d with few nodes: %v, %+v; best is %g W", i, err, quick, *c.Watt)
		}
	}
}

// Most points within limits: a search, held against the exact answer of HiGHS.
// The bound must hold always; the search may miss by a point, seldom.
func TestMostWithinAgainstLibrary(t *testing.T) {
	t.Parallel()
	missed := 0
	for i, c := range scipy().Within {
		points := len(c.Responses[0])
		p := lightaim.Problem{Points: points, Min: fill(points, c.Low), Max: fill(points, c.High), Target: fill(points, c.Target)}
		for _, r := range c.Responses {
			p.Responses = append(p.Responses, r...)
			p.Lamps = append(p.Lamps, plain)
		}
		a, err := p.MostWithin()
		if err != nil {
			t.Errorf("%d: %v", i, err)
			continue
		}
		if a.Within > c.Count || a.Bound < float64(c.Count) || a.Within < c.Count-1 {
			t.Errorf("%d: %d points within, bound %g; the library has %d", i, a.Within, a.Bound, c.Count)
		}
		missed += c.Count - a.Within
	}
	if missed > 2 {
		t.Errorf("%d points missed in %d programs", missed, len(scipy().Within))
	}
	t.Logf("missed %d points of all", missed)
}
