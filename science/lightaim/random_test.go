package lightaim_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/lightaim"
)

// drawProblem is a random shelf.
func drawProblem(t *rapid.T, lamps, points int) lightaim.Problem {
	p := lightaim.Problem{Points: points}
	for range lamps {
		for range points {
			p.Responses = append(p.Responses, float64(rapid.IntRange(0, 300).Draw(t, "response")))
		}
		watt := float64(rapid.IntRange(20, 80).Draw(t, "watt"))
		l := lightaim.Lamp{Lower: 0.2, Upper: 1, MayBeOff: rapid.Bool().Draw(t, "off"), Power: lightaim.Proportional(watt)}
		switch rapid.IntRange(0, 2).Draw(t, "curve") {
		case 0: // convex: dear near full power
			l.Power = lightaim.Curve{Dim: []float64{0, 0.6, 1}, Watt: []float64{1, watt * 0.5, watt}}
		case 1: // not convex: draws much as soon as it is on
			l.Power = lightaim.Curve{Dim: []float64{0, 0.4, 1}, Watt: []float64{watt * 0.2, watt * 0.6, watt}}
		}
		l.Step = rapid.SampledFrom([]float64{0, 0.1, 0.2}).Draw(t, "step")
		p.Lamps = append(p.Lamps, l)
	}
	return p
}

func keeps(p *lightaim.Problem, a *lightaim.Answer) error {
	for k, d := range a.Dim {
		l := p.Lamps[k]
		off := d == 0 && (l.MayBeOff || l.Lower == 0)
		if !off && (d < l.Lower-1e-9 || d > l.Upper+1e-9) {
			return fmt.Errorf("lamp %d at %g", k, d)
		}
		if f := d / l.Step; l.Step > 0 && !off && math.Abs(f-math.Round(f)) > 1e-6 && math.Abs(d-l.Lower) > 1e-9 && math.Abs(d-l.Upper) > 1e-9 {
			return fmt.Errorf("lamp %d at %g between steps", k, d)
		}
	}
	watt := 0.0
	for k, d := range a.Dim {
		if d > 0 || !p.Lamps[k].MayBeOff {
			watt += p.Lamps[k].Power.At(d)
		}
	}
	if math.Abs(watt-a.Watt) > 1e-9*(1+watt) {
		return fmt.Errorf("%g W, said %g W", watt, a.Watt)
	}
	for i, v := range a.PPFD {
		e := 0.0
		for k, d := range a.Dim {
			e += d * p.Responses[k*p.Points+i]
		}
		if math.Abs(e-v) > 1e-9*(1+e) {
			return fmt.Errorf("point %d has %g, said %g", i, e, v)
		}
		if p.Share == 0 && p.Min != nil && v < p.Min[i]*(1-2e-6)-2e-6 {
			return fmt.Errorf("point %d has %g, wants %g", i, v, p.Min[i])
		}
		if p.Share == 0 && p.Max != nil && v > p.Max[i]*(1+2e-6)+2e-6 {
			return fmt.Errorf("point %d has %g, bears %g", i, v, p.Max[i])
		}
	}
	return nil
}

// brute is the least power over all settings of a fine grid, and the least of a
// measure.
func brute(p *lightaim.Problem, grid int, measure func(dim, ppfd []float64) float64) float64 {
	var lists [][]float64
	for _, l := range p.Lamps {
		var v []float64
		if l.MayBeOff {
			v = append(v, 0)
		}
		n := grid
		if l.Step > 0 {
			n = int(math.Round((l.Upper - l.Lower) / l.Step))
		}
		for i := range n + 1 {
			v = append(v, l.Lower+(l.Upper-l.Lower)*float64(i)/float64(n))
		}
		lists = append(lists, v)
	}
	best := inf
	at := make([]int, len(lists))
	for {
		dim, ppfd := make([]float64, len(lists)), make([]float64, p.Points)
		for k, l := range lists {
			dim[k] = l[at[k]]
			for i := range ppfd {
				ppfd[i] += dim[k] * p.Responses[k*p.Points+i]
			}
		}
		best = min(best, measure(dim, ppfd))
		k := 0
		for ; k < len(at); k++ {
			if at[k]++; at[k] < len(lists[k]) {
				break
			}
			at[k] = 0
		}
		if k == len(at) {
			return best
		}
	}
}

func wattOf(p *lightaim.Problem, dim []float64) float64 {
	w := 0.0
	for k, d := range dim {
		if d > 0 || !p.Lamps[k].MayBeOff {
			w += p.Lamps[k].Power.At(d)
		}
	}
	return w
}

// Least power by trying a fine grid of all settings: the answer keeps all limits,
// no setting of the grid that keeps them draws less, and where all lamps have
// steps the grid is everything, so it is the same.
func TestLeastPowerAgainstAllSettings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, rapid.IntRange(1, 3).Draw(t, "lamps"), rapid.IntRange(1, 5).Draw(t, "points"))
		p.Min, p.Max = fill(p.Points, float64(rapid.IntRange(20, 200).Draw(t, "min"))), fill(p.Points, float64(rapid.IntRange(200, 600).Draw(t, "max")))
		p.MaxNodes = 5000
		ok := func(ppfd []float64) bool {
			for i, v := range ppfd {
				if v < p.Min[i]-1e-9 || v > p.Max[i]+1e-9 {
					return false
				}
			}
			return true
		}
		want := brute(&p, 40, func(dim, ppfd []float64) float64 {
			if !ok(ppfd) {
				return inf
			}
			return wattOf(&p, dim)
		})
		a, err := p.LeastPower()
		var e *lightaim.InfeasibleError
		if errors.As(err, &e) {
			if !math.IsInf(want, 1) {
				t.Fatalf("%v, yet %g W does it", err, want)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := keeps(&p, a); err != nil {
			t.Fatal(err)
		}
		if a.Watt > want*(1+1e-4)+1e-6 || !a.Proven || a.Bound > a.Watt*(1+1e-9) {
			t.Fatalf("%g W (bound %g, proven %v), a setting with %g W does it", a.Watt, a.Bound, a.Proven, want)
		}
		stepped := true
		for _, l := range p.Lamps {
			stepped = stepped && l.Step > 0
		}
		if stepped && a.Watt < want*(1-1e-4)-1e-6 {
			t.Fatalf("%g W, all settings tried give %g W", a.Watt, want)
		}
	})
}

// Most even light by trying a grid.
func TestMostEvenAgainstAllSettings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, rapid.IntRange(1, 3).Draw(t, "lamps"), rapid.IntRange(1, 6).Draw(t, "points"))
		p.Target = fill(p.Points, float64(rapid.IntRange(50, 300).Draw(t, "target")))
		if rapid.Bool().Draw(t, "cap") {
			p.MaxWatt = float64(rapid.IntRange(20, 150).Draw(t, "watt"))
		}
		uneven := func(ppfd []float64) float64 {
			s := 0.0
			for i, v := range ppfd {
				d := v/p.Target[i] - 1
				s += d * d
			}
			return math.Sqrt(s / float64(p.Points))
		}
		want := brute(&p, 25, func(dim, ppfd []float64) float64 {
			if p.MaxWatt > 0 && wattOf(&p, dim) > p.MaxWatt {
				return inf
			}
			return uneven(ppfd)
		})
		a, err := p.MostEven()
		if err != nil {
			if p.MaxWatt == 0 {
				t.Fatal(err)
			}
			return // a limit of power, bent curves and steps together may be too much for rounding
		}
		if err := keeps(&p, a); err != nil {
			t.Fatal(err)
		}
		if a.Bound > want+1e-5 {
			t.Fatalf("bound %g, a setting has %g", a.Bound, want)
		}
		if a.Proven && a.Uneven > want*(1+2e-4)+1e-5 {
			t.Fatalf("%g called proven, a setting has %g", a.Uneven, want)
		}
		if math.Abs(uneven(a.PPFD)-a.Uneven) > 1e-9 || p.MaxWatt > 0 && a.Watt > p.MaxWatt*(1+1e-5) {
			t.Fatalf("%+v", a)
		}
	})
}

// A share of the points needs no more than all of them, and no less than the
// bound; trying all sets of points gives the least.
func TestShare(t *testing.T) {
	t.Parallel()
	off := 0
	rapid.Check(t, func(t *rapid.T) {
		points := rapid.IntRange(2, 6).Draw(t, "points")
		p := drawProblem(t, rapid.IntRange(1, 3).Draw(t, "lamps"), points)
		for k := range p.Lamps {
			p.Lamps[k].Step, p.Lamps[k].MayBeOff, p.Lamps[k].Power = 0, false, lightaim.Proportional(float64(30+k))
		}
		p.Min = fill(points, float64(rapid.IntRange(20, 200).Draw(t, "min")))
		p.Share = float64(points-1) / float64(points)
		best := inf
		for d := range points {
			q := p
			q.Share = 0
			q.Min = append([]float64(nil), p.Min...)
			q.Min[d] = 0
			if a, err := q.LeastPower(); err == nil {
				best = min(best, a.Watt)
			}
		}
		a, err := p.LeastPower()
		if err != nil {
			if !math.IsInf(best, 1) {
				t.Fatalf("%v, yet %g W does it", err, best)
			}
			return
		}
		if a.Within < points-1 || a.Watt < best*(1-1e-6) || a.Bound > best*(1+1e-6) {
			t.Fatalf("%d of %d within at %g W (bound %g); the least is %g W", a.Within, points, a.Watt, a.Bound, best)
		}
		if a.Watt > best*(1+1e-6) {
			off++
		}
	})
	if off > 5 {
		t.Errorf("the search missed the least in %d of 100", off)
	}
}

// Along the trade-off less unevenness costs power, and no point is beaten by another.
func TestTradeOff(t *testing.T) {
	t.Parallel()
	p := lightaim.Problem{Points: 12, Responses: shelf(4, 12), Lamps: alike(4, plain), Target: fill(12, 250), MinMean: 225}
	// Unlike lamps, or the cheapest light would be the most even.
	p.Lamps[0].Power = lightaim.Proportional(80)
	curve, err := p.TradeOff(8)
	if err != nil {
		t.Fatal(err)
	}
	if len(curve) < 4 {
		t.Fatalf("%d points", len(curve))
	}
	for i, a := range curve {
		if a.Mean < 225*(1-1e-6) {
			t.Errorf("point %d has a mean of %g", i, a.Mean)
		}
		if i > 0 && (a.Watt < curve[i-1].Watt || a.Uneven > curve[i-1].Uneven) {
			t.Errorf("point %d: %g W, %g; the one before: %g W, %g", i, a.Watt, a.Uneven, curve[i-1].Watt, curve[i-1].Uneven)
		}
	}
}

// More light can only cost more, and twice the light twice the power where the
// lower end of the dimmers does not bind.
func TestLeastPowerLaws(t *testing.T) {
	t.Parallel()
	free := plain
	free.Lower = 0
	p := lightaim.Problem{Points: 9, Responses: shelf(3, 9), Lamps: alike(3, free), Min: fill(9, 60)}
	a, err := p.LeastPower()
	a = answer(t, a, err)
	p.Min = fill(9, 120)
	b, err := p.LeastPower()
	b = answer(t, b, err)
	near(t, "twice the light", b.Watt, 2*a.Watt, 1e-6)
}
