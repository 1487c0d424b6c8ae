package headlearn

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"underlamp/science/headcycle"
)

func learn(t testing.TB, ev Evidence, opt Options) *Posterior {
	t.Helper()
	p, err := Learn(context.Background(), ev, LettucePrior(headcycle.Lettuce()), opt)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (p *Posterior) of(key string) Parameter {
	i := slices.IndexFunc(p.Parameters, func(a Parameter) bool { return a.Key == key })
	return p.Parameters[i]
}

// logSpread is the standard deviation of the logarithm of something over plants.
func logSpread(plants []headcycle.Traits, of func(headcycle.Traits) float64) (mean, sd float64) {
	x := make([]float64, len(plants))
	for i, t := range plants {
		x[i] = math.Log(of(t))
	}
	return meanSD(x)
}

// Without evidence the answer is the prior, and its plants are those of the spread
// that the tool forecasts with, trait by trait.
func TestNoEvidence(t *testing.T) {
	t.Parallel()
	p := learn(t, Evidence{}, Options{Seed: 3})
	for _, a := range p.Parameters {
		if a.Shrinkage != 0 || a.Learned || a.Posterior != a.Prior {
			t.Errorf("%s: shrinkage %g", a.Key, a.Shrinkage)
		}
	}
	const n = 20000
	traits := headcycle.UncertainTraits()
	prior := LettucePrior(headcycle.Lettuce())
	got := p.Traits(n, 5)
	for _, tr := range traits {
		// The spread of one trait is read from its own factor on a plant of all ones.
		want := math.Hypot(tr.SD(prior.Between), tr.SD(prior.Within))
		_, sd := logSpread(got, fieldOf(tr))
		if math.Abs(sd/want-1) > 0.04 { // bounded at 3 sd: 0.4 %; 20000 draws: 0.5 %; a spread that itself varies has longer tails
			t.Errorf("%s: spread %.4f, that of the forecast %.4f", tr.Name, sd, want)
		}
	}
	if !reflect.DeepEqual(got[:5], p.Traits(n, 5)[:5]) || reflect.DeepEqual(got[0], p.Traits(n, 6)[0]) {
		t.Error("draws do not follow the seed")
	}
}

// fieldOf reads the trait that an uncertain trait multiplies, by trying it.
func fieldOf(u headcycle.UncertainTrait) func(headcycle.Traits) float64 {
	return func(t headcycle.Traits) float64 {
		switch u.Name {
		case "Vigour":
			return t.Growth.Vigour
		case "GrowthMax":
			return t.Growth.GrowthMax
		case "Respiration":
			return t.Growth.RespShoot
		case "AreaScale":
			return t.Growth.AreaScale
		case "AreaLight":
			return t.Growth.AreaLight
		case "DryShare":
			return t.Growth.DryShare
		case "Stretch":
			return t.Stretch
		case "Compact":
			return t.Compact
		case "Need":
			return t.Heart.Need
		case "Bearing":
			return t.Heart.Bearing
		case "CloseMass":
			return t.Heart.CloseMass
		case "HeartResistance":
			return t.Heart.HeartResistance
		case "Sap":
			return t.Heart.Sap
		case "RootFlow":
			return t.Heart.RootFlow
		case "DryNight":
			return t.Heart.DryNight
		case "YoungGrowth":
			return t.Heart.GrowthMax
		case "Rivals":
			return t.Heart.Rivals
		}
		panic("no field for " + u.Name)
	}
}

// oneCycle is a cycle of equal plants in usual air.
func oneCycle(plants int, fill func(k int, p *Plant)) Evidence {
	c := Cycle{Name: "one", Days: 35, Start: headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, StartSD: 0.05, Stages: []Stage{{Environment: usualAir()}}}
	for k := range plants {
		p := Plant{Name: string(rune('a' + k)), Light: []headcycle.Profile{headcycle.Flat(190)}}
		fill(k, &p)
		c.Plants = append(c.Plants, p)
	}
	return Evidence{Cycles: []Cycle{c}}
}

// usualMass is what the central traits give.
func usualMass(day int) float64 {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usualAir())
	return headcycle.Run(&tr, &pre, headcycle.Flat(190), headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, day, nil, nil).Last.Fresh
}

// One plant is little evidence. How far a mass a quarter above the usual moves and
// narrows the vigour is what a linear response with normal errors gives (conditional
// mean and variance of a normal, GelmanBDA2013, section 3.5), computed here from the
// slopes of the full model; Student errors may move it a little less. Everything else
// hardly moves. Nor does the burn of one plant move the heart far.
func TestOnePlantStaysNearThePrior(t *testing.T) {
	t.Parallel()
	p := learn(t, oneCycle(1, func(_ int, p *Plant) {
		p.Weighings = []Weighing{{Day: 35, FreshGrams: 1.25 * usualMass(35)}}
	}), Options{Seed: 1})

	const step = 0.02
	prior := LettucePrior(headcycle.Lettuce())
	mass := func(u headcycle.UncertainTrait, f, start float64) float64 {
		tr := headcycle.Lettuce()
		u.Multiply(&tr, f)
		pre := headcycle.Prepare(&tr, usualAir())
		return math.Log(headcycle.Run(&tr, &pre, headcycle.Flat(190), headcycle.Start{FreshGrams: start, GroundM2: 0.04}, 35, nil, nil).Last.Fresh)
	}
	var total, vigour, slope float64
	for _, u := range headcycle.UncertainTraits() {
		g := (mass(u, math.Exp(step), 1.5) - mass(u, math.Exp(-step), 1.5)) / (2 * step)
		total += g * g * (math.Pow(u.SD(prior.Between), 2) + math.Pow(u.SD(prior.Within), 2))
		if u.Name == "Vigour" {
			slope, vigour = g, u.SD(prior.Between)*math.Sqrt(1-CycleShare)
		}
	}
	u := headcycle.UncertainTraits()[0]
	g := (mass(u, 1, 1.5*math.Exp(step)) - mass(u, 1, 1.5*math.Exp(-step))) / (2 * step)
	total += math.Pow(0.05*g, 2) + pathFresh*pathFresh
	want := 1 - math.Sqrt(1-math.Pow(slope*vigour, 2)/total)

	v := p.of("vigour")
	t.Logf("vigour %+.3f ± %.3f, prior %.3f: shrinkage %.3f, of a linear normal response %.3f", v.LogMean, v.LogSD, v.PriorLogSD, v.Shrinkage, want)
	if v.Shrinkage > want+0.05 || v.Shrinkage < want-0.15 {
		t.Errorf("vigour shrinks by %.3f, a linear normal response gives %.3f", v.Shrinkage, want)
	}
	if mean := math.Log(1.25) * slope * vigour * vigour / total; math.Abs(v.LogMean-mean) > 0.02 {
		t.Errorf("vigour %+.3f after one plant at 1.25 times the usual mass; a linear normal response gives %+.3f", v.LogMean, mean)
	}
	for _, a := range p.Parameters {
		if a.Key != "vigour" && (a.Shrinkage > 0.15 || math.Abs(a.LogMean) > 0.5*a.PriorLogSD) {
			t.Errorf("%s: mean %+.3f, sd %.3f of %.3f", a.Key, a.LogMean, a.LogSD, a.PriorLogSD)
		}
	}
	if !p.Sampling.Good {
		t.Errorf("%+v", p.Sampling)
	}

	// An event of prior chance p moves the mean of a normal by at most φ(z)/p of its
	// standard deviation, z its quantile, and that only along the one direction that
	// decides it (mean of a truncated normal).
	const day = 23
	chance := 0.0
	draws := headcycle.LettuceSpread().Draws(headcycle.Lettuce(), 400, 1)
	for i := range draws {
		pre := headcycle.Prepare(&draws[i], usualAir())
		out := headcycle.Run(&draws[i], &pre, headcycle.Flat(190), headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, 35, nil, nil)
		chance += phi((day-out.BurnDay)/burnDays) / float64(len(draws))
	}
	for _, c := range []struct {
		burn Burn
		p    float64
	}{{Seen(day), chance}, {Sound(day), 1 - chance}} {
		z := math.Sqrt2 * math.Erfinv(2*c.p-1)
		most := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / c.p
		t.Logf("burn %+v, of prior chance %.2f: means may move by %.2f sd", c.burn, c.p, most)
		for _, a := range learn(t, oneCycle(1, func(_ int, p *Plant) { p.Burns = []Burn{c.burn} }), Options{Seed: 1}).Parameters {
			if moved := math.Abs(a.LogMean) / a.PriorLogSD; moved > most || a.Shrinkage > 0.3 {
				t.Errorf("%s: mean %+.2f sd of the prior, at most %.2f; shrinkage %.2f", a.Key, moved, most, a.Shrinkage)
			}
		}
	}
}

// Many plants of one cycle count less than the same number in several cycles: what a
// cycle brings of its own does not go away with more plants.
func TestCyclesCountMoreThanPlants(t *testing.T) {
	if testing.Short() {
		t.Skip("takes about 10 s")
	}
	t.Parallel()
	heavy := func(_ int, p *Plant) {
		p.Weighings = []Weighing{{Day: 35, FreshGrams: 1.2 * usualMass(35), DryGrams: 0.05 * 1.2 * usualMass(35)}}
	}
	one := oneCycle(24, heavy)
	var four Evidence
	for range 4 {
		four.Cycles = append(four.Cycles, oneCycle(6, heavy).Cycles...)
	}
	a, b := learn(t, one, Options{Seed: 1}).of("vigour"), learn(t, four, Options{Seed: 1}).of("vigour")
	t.Logf("one cycle of 24: sd %.3f; four of 6: %.3f; prior %.3f", a.LogSD, b.LogSD, a.PriorLogSD)
	if b.LogSD > 0.9*a.LogSD || a.Shrinkage < 0.2 {
		t.Errorf("sd of vigour %.3f after one cycle of 24 plants, %.3f after four of 6, prior %.3f", a.LogSD, b.LogSD, a.PriorLogSD)
	}
}

// Burn of every plant, or of none, moves the need to its side, is bounded, and draws
// soundly.
func TestAllBurntAndNone(t *testing.T) {
	t.Parallel()
	all := learn(t, oneCycle(10, func(_ int, p *Plant) { p.Burns = []Burn{Sound(15), Seen(18)} }), Options{Seed: 1})
	none := learn(t, oneCycle(10, func(_ int, p *Plant) { p.Burns = []Burn{Sound(20), Sound(35)} }), Options{Seed: 1})
	count := learn(t, func() Evidence {
		e := oneCycle(10, func(int, *Plant) {})
		e.Cycles[0].Counts = []Count{{Day: 35, Burnt: 0, Of: 10}}
		return e
	}(), Options{Seed: 1})
	a, n, c := all.of("need"), none.of("need"), count.of("need")
	t.Logf("need: all burnt %+.3f ± %.3f, none %+.3f ± %.3f, none by count %+.3f ± %.3f", a.LogMean, a.LogSD, n.LogMean, n.LogSD, c.LogMean, c.LogSD)
	if !(a.LogMean > 0 && n.LogMean < 0) || math.Abs(n.LogMean-c.LogMean) > 0.3*n.LogSD {
		t.Errorf("need %+.3f after all burnt early, %+.3f after none, %+.3f after a count of none", a.LogMean, n.LogMean, c.LogMean)
	}
	for _, p := range []*Posterior{all, none, count} {
		if !p.Sampling.Good {
			t.Errorf("%+v", p.Sampling)
		}
		for _, tr := range p.Traits(200, 1) {
			if !finite(tr.Heart.Need, tr.Growth.Vigour) || tr.Heart.Need <= 0 {
				t.Fatalf("traits %+v", tr)
			}
		}
	}
}

// A weighing that is ten times too large is named, and hardly moves the rest.
func TestSlipOfThePen(t *testing.T) {
	t.Parallel()
	clean := func(k int, p *Plant) {
		p.Weighings = []Weighing{{Day: 35, FreshGrams: usualMass(35) * math.Exp(0.1*math.Sin(float64(k)))}}
	}
	wrong := func(k int, p *Plant) {
		clean(k, p)
		if k == 3 {
			p.Weighings[0].FreshGrams *= 10
		}
	}
	opt := Options{Seed: 1, Draws: 800}
	a, b := learn(t, oneCycle(10, clean), opt), learn(t, oneCycle(10, wrong), opt)
	for _, d := range a.Fit {
		if d.Misfit {
			t.Errorf("clean data, yet a misfit: %+v", d)
		}
	}
	for _, d := range b.Fit {
		if d.Misfit != (d.Plant == 3) {
			t.Errorf("plant %d: misfit %v, tail %.4f", d.Plant, d.Misfit, d.Tail)
		}
	}
	if len(b.Warnings) == 0 || !strings.Contains(b.Warnings[len(b.Warnings)-1]+b.Warnings[0], "plant d") {
		t.Errorf("warnings %q do not name plant d", b.Warnings)
	}
	va, vb := a.of("vigour"), b.of("vigour")
	if math.Abs(va.LogMean-vb.LogMean) > 0.5*va.LogSD {
		t.Errorf("vigour %+.3f without, %+.3f with the slip; sd %.3f", va.LogMean, vb.LogMean, va.LogSD)
	}
}

// Two cycles under the same conditions, one at half the mass of the other, cannot
// both fit: the answer says so, and is wider than one cycle alone would suggest.
func TestCyclesThatDisagree(t *testing.T) {
	if testing.Short() {
		t.Skip("takes about 5 s")
	}
	t.Parallel()
	at := func(f float64) Cycle {
		return oneCycle(8, func(k int, p *Plant) {
			p.Weighings = []Weighing{{Day: 35, FreshGrams: f * usualMass(35) * math.Exp(0.08*math.Sin(3*float64(k)))}}
		}).Cycles[0]
	}
	p := learn(t, Evidence{Cycles: []Cycle{at(1.6), at(0.62)}}, Options{Seed: 1})
	t.Log(p.Cycles[0].MassZ, p.Cycles[1].MassZ, p.Warnings)
	if !p.Cycles[0].Misfit || !p.Cycles[1].Misfit || len(p.Warnings) < 2 {
		t.Errorf("cycles %+v, warnings %q", p.Cycles, p.Warnings)
	}
}

// A plant that burnt and then did not is told.
func TestBurnThatWentAway(t *testing.T) {
	t.Parallel()
	p := learn(t, oneCycle(2, func(k int, p *Plant) {
		p.Burns = []Burn{Seen(22), Sound(30)}
	}), Options{Seed: 1, Draws: 160})
	if told := strings.Join(p.Warnings, "\n"); strings.Count(told, "day 22, yet none on day 30") != 2 {
		t.Errorf("warnings %q", p.Warnings)
	}
}

func TestDeterministic(t *testing.T) {
	t.Parallel()
	ev := oneCycle(3, func(k int, p *Plant) {
		p.Weighings = []Weighing{{Day: 20, FreshGrams: 80}}
		p.Burns = []Burn{Sound(20)}
	})
	one := learn(t, ev, Options{Seed: 1, Draws: 160, workers: 1})
	two := learn(t, ev, Options{Seed: 1, Draws: 160, workers: 3})
	if !reflect.DeepEqual(one.Parameters, two.Parameters) || !reflect.DeepEqual(one.Fit[0].Tail, two.Fit[0].Tail) || !reflect.DeepEqual(one.draws, two.draws) {
		t.Error("another number of workers gave another posterior")
	}
}

// What a summary keeps comes back: means and spreads of the traits agree with those of
// the draws.
func TestSummary(t *testing.T) {
	t.Parallel()
	m := simulate(rand.New(rand.NewPCG(5, 5)), plan{cycles: 1, plants: 6, ppfd: 190, burns: true})
	p := learn(t, m.evidence, Options{Seed: 1, Draws: 800})
	s := p.Summary()
	if s.Cycles != 1 || s.Plants != 6 || s.Method != Method || s.Seed != 1 || s.Data < 6 {
		t.Errorf("%+v", s)
	}
	back, err := FromSummary(s, LettucePrior(headcycle.Lettuce()))
	if err != nil {
		t.Fatal(err)
	}
	const n = 8000
	a, b := p.Traits(n, 1), back.Traits(n, 2)
	for _, u := range headcycle.UncertainTraits() {
		am, as := logSpread(a, fieldOf(u))
		bm, bs := logSpread(b, fieldOf(u))
		// 2000 draws of the posterior: 1/√2000 of the spread each for the mean.
		if math.Abs(am-bm) > 0.07*as || math.Abs(bs/as-1) > 0.06 {
			t.Errorf("%s: draws %+.4f ± %.4f, from the summary %+.4f ± %.4f", u.Name, am, as, bm, bs)
		}
	}
	for name, spoil := range map[string]func(*Summary){
		"method":       func(s *Summary) { s.Method++ },
		"keys":         func(s *Summary) { s.Keys = s.Keys[1:] },
		"means":        func(s *Summary) { s.Mean = s.Mean[1:] },
		"not a number": func(s *Summary) { s.Mean[0] = math.NaN() },
		"beyond":       func(s *Summary) { s.Mean[0] = 50 },
		"crooked":      func(s *Summary) { s.Covariance[0][1] += 1 },
		"short row":    func(s *Summary) { s.Covariance[2] = nil },
		"indefinite":   func(s *Summary) { s.Covariance[0][1], s.Covariance[1][0] = 5, 5 },
		"negative":     func(s *Summary) { s.Covariance[0][0] = -1 },
	} {
		bad := p.Summary()
		spoil(&bad)
		if _, err := FromSummary(bad, LettucePrior(headcycle.Lettuce())); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestEvidenceThatCannotBe(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*Cycle){
		"days":            func(c *Cycle) { c.Days = 0 },
		"start":           func(c *Cycle) { c.Start.FreshGrams = 0 },
		"no stage":        func(c *Cycle) { c.Stages = nil },
		"stage order":     func(c *Cycle) { c.Stages = append(c.Stages, c.Stages[0]) },
		"air":             func(c *Cycle) { c.Stages[0].Environment.DayRH = 65 },
		"no light":        func(c *Cycle) { c.Plants[0].Light = nil },
		"dark":            func(c *Cycle) { c.Plants[0].Light = []headcycle.Profile{headcycle.Flat(0)} },
		"weighing late":   func(c *Cycle) { c.Plants[0].Weighings = []Weighing{{Day: 36, FreshGrams: 1}} },
		"mass":            func(c *Cycle) { c.Plants[0].Weighings = []Weighing{{Day: 3, FreshGrams: -1}} },
		"not a number":    func(c *Cycle) { c.Plants[0].Weighings = []Weighing{{Day: 3, FreshGrams: math.NaN()}} },
		"all dry":         func(c *Cycle) { c.Plants[0].Weighings = []Weighing{{Day: 3, FreshGrams: 5, DryGrams: 5}} },
		"height":          func(c *Cycle) { c.Plants[0].Heights = []Height{{Day: 3}} },
		"burn day":        func(c *Cycle) { c.Plants[0].Burns = []Burn{Seen(0)} },
		"burn of a mean":  func(c *Cycle) { c.Plants[0].Of = 3; c.Plants[0].Burns = []Burn{Seen(9)} },
		"count":           func(c *Cycle) { c.Counts = []Count{{Day: 9, Burnt: 3, Of: 2}} },
		"count light":     func(c *Cycle) { c.Counts = []Count{{Day: 9, Of: 2, Light: []headcycle.Profile{{}}}} },
		"count no plants": func(c *Cycle) { c.Plants = nil; c.Counts = []Count{{Day: 9, Of: 2}} },
	} {
		ev := oneCycle(1, func(int, *Plant) {})
		spoil(&ev.Cycles[0])
		_, err := Learn(context.Background(), ev, LettucePrior(headcycle.Lettuce()), Options{})
		if err == nil || !strings.Contains(err.Error(), "cycle one") {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

func TestCancel(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	m := simulate(rand.New(rand.NewPCG(1, 1)), plan{cycles: 1, plants: 4, ppfd: 190, burns: true})
	_, err := Learn(ctx, m.evidence, LettucePrior(headcycle.Lettuce()), Options{Progress: func(float64) { cancel() }})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

// Plants between the lights that are computed are as if they were computed
// themselves: masses to 0.5 %, a sixth of what a plant's own path is taken to be (the
// response has a kink where the factor of light on leaf area meets its bound), the day
// of burn to half a day, a third of the delay with which it is seen.
func TestBetweenNodes(t *testing.T) {
	t.Parallel()
	ev := oneCycle(9, func(k int, p *Plant) {
		p.Light = []headcycle.Profile{{Spacing: 0.1, Levels: []float64{1, 1.1, 1.2}}}
		for i := range p.Light[0].Levels {
			p.Light[0].Levels[i] *= 140 + 12*float64(k)
		}
		p.Weighings = []Weighing{{Day: 12, FreshGrams: 1}, {Day: 35, FreshGrams: 1}}
		p.Burns = []Burn{Sound(35)}
	})
	m, err := compile(ev, LettucePrior(headcycle.Lettuce()))
	if err != nil {
		t.Fatal(err)
	}
	c := &m.cycles[0]
	w := m.worker()
	tr := headcycle.Lettuce()
	w.run(c, &tr)
	pre := headcycle.Prepare(&tr, usualAir())
	for _, s := range c.series[fresh] {
		course := make([]headcycle.Day, c.last)
		out := headcycle.Run(&tr, &pre, c.Plants[s.plant].Light[0], c.Start, c.last, nil, course)
		for _, day := range s.day {
			got := math.Exp(w.expected(c, fresh, day, c.between(s.x)))
			if want := course[day-1].Fresh; math.Abs(got/want-1) > 0.005 {
				t.Errorf("plant %d, day %d: %.2f g between nodes, %.2f g by itself", s.plant, day, got, want)
			}
		}
		var days [tendencies]float64
		w.dayOf(c, s.x, 0, &days)
		if !math.IsInf(out.BurnDay, 1) && math.Abs(days[tendencies/2]-out.BurnDay) > 0.5 {
			t.Errorf("plant %d: burn on day %.2f between nodes, %.2f by itself", s.plant, days[tendencies/2], out.BurnDay)
		}
	}
}

func BenchmarkLikelihood3x20(b *testing.B) {
	m := simulate(rand.New(rand.NewPCG(1, 1)), plan{cycles: 3, plants: 20, ppfd: 180, burns: true})
	mm, err := compile(m.evidence, LettucePrior(headcycle.Lettuce()))
	if err != nil {
		b.Fatal(err)
	}
	w := mm.worker()
	p := point{logs: make([]float64, len(mm.axes))}
	b.ReportAllocs()
	for b.Loop() {
		w.logLikelihood(p)
	}
}

func BenchmarkLearn3x20(b *testing.B) {
	m := simulate(rand.New(rand.NewPCG(1, 1)), plan{cycles: 3, plants: 20, ppfd: 180, burns: true})
	b.ReportAllocs()
	for b.Loop() {
		learn(b, m.evidence, Options{Seed: 1})
	}
}

// Everything that can be written down goes in: two stages, heights, classes and shares
// of burn, a mean of several plants, counts. Heights move the stretch and nothing else of
// note; the worse the burn, the higher the need.
func TestEveryKindOfEvidence(t *testing.T) {
	t.Parallel()
	severe := func(class int, share float64) *Posterior {
		ev := oneCycle(6, func(k int, p *Plant) {
			p.Light = append(p.Light, headcycle.Flat(210))
			p.Heights = []Height{{Day: 20, Metres: 0.2}}
			if k == 0 {
				p.Of = 4
				p.Weighings = []Weighing{{Day: 20, DryGrams: 0.05 * usualMass(20)}}
				return
			}
			p.Burns = []Burn{Severity(25, class), BurntShare(30, share)}
		})
		c := &ev.Cycles[0]
		later := c.Stages[0]
		later.FromDay, later.Environment.NightRH = 15, 0.85
		c.Stages = append(c.Stages, later)
		c.Counts = []Count{{Day: 30, Burnt: 3, Of: 5, Light: c.Plants[0].Light}}
		return learn(t, ev, Options{Seed: 1, Draws: 1200})
	}
	mild, bad := severe(1, 0.08), severe(4, 0.45)
	if a, b := mild.of("need"), bad.of("need"); a.LogMean >= b.LogMean {
		t.Errorf("need %+.3f after mild burn, %+.3f after bad burn", a.LogMean, b.LogMean)
	}
	if s := mild.of("stretch"); !s.Learned || s.LogMean < 0.1 {
		t.Errorf("stretch after plants of 20 cm on day 20: %+v", s)
	}
	kinds := map[string]int{}
	for _, d := range mild.Fit {
		kinds[d.Kind]++
		if math.IsNaN(d.Tail) || d.Tail < 0 || d.Tail > 1.0000001 {
			t.Errorf("tail %g of %+v", d.Tail, d)
		}
	}
	if want := map[string]int{DryMass: 1, CanopyTop: 6, HeartBurn: 10, BurnCount: 1}; !reflect.DeepEqual(kinds, want) {
		t.Errorf("data %v, want %v", kinds, want)
	}
}

// The constructors of burn bound what they say.
func TestBurnBounds(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ got, want Burn }{
		"no leaves":     {BurntLeaves(9, 0), Sound(9)},
		"no share":      {BurntShare(9, 0), Sound(9)},
		"class 0":       {Severity(9, 0), Sound(9)},
		"class below 0": {Severity(9, -3), Sound(9)},
		"class 9":       {Severity(9, 9), Severity(9, MaxSeverity)},
		"three leaves":  {BurntLeaves(9, 3), Burn{9, Extent{Leaves: 2.5}, Extent{Leaves: 3.5}}},
	} {
		if c.got != c.want {
			t.Errorf("%s: %+v, want %+v", name, c.got, c.want)
		}
	}
	for class := 1; class <= MaxSeverity; class++ {
		if Severity(9, class).Low != Severity(9, class-1).High {
			t.Errorf("class %d does not begin where %d ends", class, class-1)
		}
	}
}
