package trial_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

// A point of the tests: small Lambertian lamps over a bench without walls.
type emitter struct{ x, y, z, flux float64 }

const (
	hoursTest = 16.0
)

// bare is a bench of small Lambertian lamps (half of the intensity at 60° off the axis, so
// a beam of 120°) with open sides and a black ground.
func bare(t testing.TB, lamps []emitter, plants [][2]float64, more string) *light.Model {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "underlamp: 1\nname: bare\nspace: {width: 300 cm, depth: 100 cm, height: 120 cm}\nwalls: {left: open, right: open, front: open, back: open, above: open, below: 0 %%}\nlamps:\n")
	for i, l := range lamps {
		fmt.Fprintf(&b, "  - {name: L%d, at: [%g m, %g m], height: %g m, opening: {diameter: 2 cm}, flux: %g µmol/s, watts: 130 W, beam: 120°, dimming: 60 %%, hours: %g h}\n", i+1, l.x, l.y, l.z, l.flux, hoursTest)
	}
	b.WriteString("plants:\n  at:\n")
	for i, p := range plants {
		fmt.Fprintf(&b, "    - {name: P%d, at: [%g m, %g m]}\n", i+1, p[0], p[1])
	}
	b.WriteString("crop: {species: lettuce, transplanted: 2026-10-12, days: 30}\nlimits: {dimming: 5 % to 100 %}\n" + more)
	bench, problems, err := benchfile.Read(strings.NewReader(b.String()))
	if err != nil || bench == nil {
		t.Fatal(err, problems.Render("bare", []byte(b.String()), false))
	}
	m, err := light.NewModel(bench)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// law is the PPFD of an emitter at a place by the inverse square and two cosines: I = Φ/π
// cos θ, E = I cos α/d² = Φ h²/(π d⁴); mean over a disc, in rings and spokes.
func law(l emitter, x, y, radius float64) float64 {
	const rings, spokes = 24, 48
	sum := 0.0
	for i := range rings { // rings of equal area
		r := radius * math.Sqrt((float64(i)+0.5)/rings)
		for j := range spokes {
			sin, cos := math.Sincos(2 * math.Pi * float64(j) / spokes)
			dx, dy := x+r*cos-l.x, y+r*sin-l.y
			d2 := dx*dx + dy*dy + l.z*l.z
			sum += l.flux * l.z * l.z / (math.Pi * d2 * d2)
		}
	}
	return sum / (rings * spokes)
}

// plan gives treatments to lamps, one block.
func plan(levels ...float64) *underlamp.Trial {
	t := &underlamp.Trial{Name: "x", Response: underlamp.ResponseMass, Layout: underlamp.CompleteLayout, Seed: 1, Columns: map[string]string{}}
	seen := map[float64]bool{}
	for i, v := range levels {
		name := fmt.Sprintf("%g mol", v)
		if !seen[v] {
			seen[v] = true
			t.Treatments = append(t.Treatments, underlamp.Treatment{Name: name, DLI: quantity.DLI(v)})
		}
		t.Places = append(t.Places, underlamp.TrialUnit{Name: fmt.Sprintf("U%d", i+1), Treatment: name, Block: "b", Lamp: fmt.Sprintf("L%d", i+1)})
	}
	return t
}

// Three lamps in a row over six plants each.
func row(flux ...float64) (lamps []emitter, plants [][2]float64) {
	for i, f := range flux {
		x := 0.5 + float64(i)
		lamps = append(lamps, emitter{x, 0.5, 0.6, f})
		for _, dx := range []float64{-0.12, 0, 0.13} {
			for _, dy := range []float64{-0.1, 0.11} {
				plants = append(plants, [2]float64{x + dx, 0.5 + dy})
			}
		}
	}
	return lamps, plants
}

// means is the light of each unit by the law, at full power of each lamp: [unit][lamp].
func byLaw(lamps []emitter, plants [][2]float64, units [][]int, radius float64) [][]float64 {
	out := make([][]float64, len(units))
	for u, members := range units {
		for _, l := range lamps {
			s := 0.0
			for _, i := range members {
				s += law(l, plants[i][0], plants[i][1], radius) / float64(len(members))
			}
			out[u] = append(out[u], s)
		}
	}
	return out
}

// counted are the indices of the plants of a unit that count.
func counted(u trial.LitUnit) (out []int) {
	for _, p := range u.Plants {
		if p.Guard == "" {
			var i int
			if _, err := fmt.Sscanf(p.Name, "P%d", &i); err != nil {
				panic(err)
			}
			out = append(out, i-1)
		}
	}
	return out
}

// Means and spread of the units are those of the inverse-square cosine law, summed here,
// before and after; the dimmings are, to a step, the solution of the linear system.
func TestLightIsThatOfTheLaw(t *testing.T) {
	lamps, plants := row(260, 300, 280)
	m := bare(t, lamps, plants, "")
	radius := float64(m.CrownRadius())
	l, err := trial.CheckLight(m, plan(8, 10, 13), trial.LightOptions{})
	if err != nil {
		t.Fatal(err)
	}
	units := l.Blocks[0].Units
	var members [][]int
	for _, u := range units {
		members = append(members, counted(u))
	}
	a := byLaw(lamps, plants, members, radius)
	// Lamps of 2 cm at 60 cm are points to 0.1 %; seven places of a crown and the fit of
	// lamps without readings make the rest.
	const near = 0.005
	perDay := 0.0036 * hoursTest
	full := mat.NewDense(3, 3, nil)
	aim := mat.NewVecDense(3, nil)
	for u, v := range units {
		now, got := 0.0, 0.0
		for k := range lamps {
			now += 0.6 * a[u][k]
			got += float64(l.Blocks[0].Lamps[k].After) * a[u][k]
			full.Set(u, k, a[u][k])
		}
		aim.SetVec(u, float64(v.Aim)/perDay)
		if math.Abs(float64(v.Now)/(now*perDay)-1) > near || math.Abs(float64(v.Got)/(got*perDay)-1) > near || math.Abs(float64(v.GotPPFD)/got-1) > near {
			t.Errorf("%s: now %.3f and then %.3f mol, the law has %.3f and %.3f", v.Unit, float64(v.Now), float64(v.Got), now*perDay, got*perDay)
		}
		if !v.Achieved || math.Abs(v.Miss) > 0.01 {
			t.Errorf("%s misses by %g", v.Unit, v.Miss)
		}
		// Spread: n−1 in the divisor.
		var e []float64
		mean, ss := 0.0, 0.0
		for _, i := range members[u] {
			s := 0.0
			for k := range lamps {
				s += float64(l.Blocks[0].Lamps[k].After) * law(lamps[k], plants[i][0], plants[i][1], radius)
			}
			e = append(e, s)
			mean += s / float64(len(members[u]))
		}
		for _, s := range e {
			ss += (s - mean) * (s - mean)
		}
		if want := math.Sqrt(ss/float64(len(e)-1)) / mean; math.Abs(v.Spread-want) > 0.003 {
			t.Errorf("%s: spread %.4f, the law has %.4f", v.Unit, v.Spread, want)
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(full, aim); err != nil {
		t.Fatal(err)
	}
	for k := range lamps {
		if got := float64(l.Blocks[0].Lamps[k].After); math.Abs(got-x.AtVec(k)) > 0.01+near || math.Abs(100*got-math.Round(100*got)) > 1e-9 {
			t.Errorf("lamp %d: %g, the system of equations has %.4f", k+1, got, x.AtVec(k))
		}
	}
}

// Whole percents are the best of all of them, tried one by one; the same where a level is
// out of reach.
func TestStepsAreTheBest(t *testing.T) {
	lamps, plants := row(120, 150)
	m := bare(t, lamps, plants, "")
	radius := float64(m.CrownRadius())
	lit, err := m.At(0.6)
	if err != nil {
		t.Fatal(err)
	}
	r := lit.Responses(0) // held against the law above
	for _, aims := range [][2]float64{{4, 6}, {5, 5}, {3, 20}, {0.2, 3}} {
		l, err := trial.CheckLight(m, plan(aims[0], aims[1]), trial.LightOptions{KeepPlaces: true})
		if err != nil {
			t.Fatal(err)
		}
		units := l.Blocks[0].Units
		mean := func(u, k int) float64 {
			s := 0.0
			members := counted(units[u])
			for _, i := range members {
				s += r[k*len(plants)+i] / float64(len(members))
			}
			return s
		}
		loss := func(d0, d1 float64) float64 {
			sum := 0.0
			for u := range units {
				e := (d0*mean(u, 0)+d1*mean(u, 1))*0.0036*hoursTest/aims[u] - 1
				sum += e * e
			}
			return sum
		}
		best, b0, b1 := math.Inf(1), 0, 0
		for i := 5; i <= 100; i++ {
			for j := 5; j <= 100; j++ {
				if v := loss(float64(i)/100, float64(j)/100); v < best {
					best, b0, b1 = v, i, j
				}
			}
		}
		got := loss(float64(l.Blocks[0].Lamps[0].After), float64(l.Blocks[0].Lamps[1].After))
		if got > best*(1+1e-9)+1e-15 {
			t.Errorf("%v: %v and %v lose %g, %d %% and %d %% lose %g", aims, l.Blocks[0].Lamps[0].After, l.Blocks[0].Lamps[1].After, got, b0, b1, best)
		}
		if (aims[1] == 20 || aims[0] == 0.2) != strings.Contains(strings.Join(l.Blocks[0].Says, " "), "cannot have") {
			t.Errorf("%v: %q", aims, l.Blocks[0].Says)
		}
		_ = radius
	}
}

// A bright level under a weak lamp: to swap the two is proposed, and brings both to their
// level; a Latin square has no swaps.
func TestSwaps(t *testing.T) {
	lamps, plants := row(60, 220, 150)
	m := bare(t, lamps, plants, "")
	p := plan(6, 2.5, 5)
	l, err := trial.CheckLight(m, p, trial.LightOptions{})
	if err != nil {
		t.Fatal(err)
	}
	b := l.Blocks[0]
	if len(b.Swaps) == 0 || b.Swaps[0].A != "U1" || b.Swaps[0].B != "U2" {
		t.Fatalf("swaps %+v, %v", b.Swaps, b.Says)
	}
	// Done by hand it is as said.
	p.Places[0].Lamp, p.Places[1].Lamp = p.Places[1].Lamp, p.Places[0].Lamp
	after, err := trial.CheckLight(m, p, trial.LightOptions{})
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for _, u := range after.Blocks[0].Units {
		worst = max(worst, math.Abs(u.Miss))
	}
	if worst > 0.05 || b.Swaps[0].Before < 0.05 {
		t.Errorf("after the swap %g, before %g", worst, b.Swaps[0].Before)
	}
	p = plan(6, 2.5, 5)
	p.Layout = underlamp.LatinLayout
	if l, err = trial.CheckLight(m, p, trial.LightOptions{}); err != nil || len(l.Blocks[0].Swaps) > 0 {
		t.Errorf("%v %v", l.Blocks[0].Swaps, err)
	}
}

// Lamps that burn for fewer hours than others give less a day, and dimmings mean what the
// dimmer says where a curve was measured.
func TestHours(t *testing.T) {
	lamps, plants := row(200, 200)
	m := bare(t, lamps, plants, "")
	short := *m.Bench()
	short.Lamps = append([]underlamp.Lamp{}, short.Lamps...)
	short.Lamps[1].Hours.Value = hoursTest / 2
	short.Lamps[1].Curve = []underlamp.DimPoint{{Dimming: 0.5, Light: 0.4, Power: 0.45}, {Dimming: 1, Light: 1, Power: 1}}
	half, err := light.NewModel(&short)
	if err != nil {
		t.Fatal(err)
	}
	l, err := trial.CheckLight(half, plan(4, 3), trial.LightOptions{KeepEdge: true})
	if err != nil {
		t.Fatal(err)
	}
	u := l.Blocks[0].Units[1]
	got := 0.0
	members := counted(u)
	a := byLaw(lamps, plants, [][]int{members}, float64(m.CrownRadius()))[0]
	share := func(d float64) float64 { // the curve, by hand
		if d <= 0.5 {
			return d * 0.4 / 0.5
		}
		return 0.4 + (d-0.5)*0.6/0.5
	}
	got = 0.0036 * (hoursTest*float64(l.Blocks[0].Lamps[0].After)*a[0] + hoursTest/2*share(float64(l.Blocks[0].Lamps[1].After))*a[1])
	if math.Abs(float64(u.Got)/got-1) > 0.005 || math.Abs(u.Miss) > 0.02 {
		t.Errorf("%v mol, by the law %g; aim 3", u.Got, got)
	}
}

// Guards are the same in every block, each with its reason; parts of a split plot share
// bright and dim places; a unit whose lamp the bench lacks is told.
func TestGuardsAndParts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lamps, _ := row(200, 200)
		var plants [][2]float64
		for i := range 12 {
			for j := range 4 {
				plants = append(plants, [2]float64{0.3 + 0.125*float64(i), 0.3 + 0.13*float64(j)})
			}
		}
		lamps[0].flux = rapid.Float64Range(120, 300).Draw(rt, "flux")
		m := bare(t, lamps, plants, "")
		p := plan(rapid.Float64Range(3, 9).Draw(rt, "a"), rapid.Float64Range(3, 9).Draw(rt, "b"))
		if len(p.Treatments) < 2 {
			return
		}
		p.Seed = rapid.Uint64().Draw(rt, "seed")
		p.Layout = underlamp.SplitLayout
		var split []underlamp.TrialUnit
		for c, flip := range []bool{false, true, false} {
			for i := range 2 {
				u := p.Places[i]
				u.Block, u.Whole = fmt.Sprint(c), fmt.Sprintf("C%d-U%d", c, i)
				if flip {
					u.Treatment = p.Places[1-i].Treatment
				}
				for _, part := range []string{"x", "y"} {
					v := u
					v.Name, v.Part = u.Whole+part, part
					split = append(split, v)
				}
			}
		}
		p.Places = split
		l, err := trial.CheckLight(m, p, trial.LightOptions{})
		if err != nil {
			rt.Fatal(err)
		}
		guards := map[string]string{}
		for _, b := range l.Blocks {
			for _, u := range b.Units {
				var names []string
				light, n := map[string]float64{}, map[string]float64{}
				codes := map[string]bool{}
				for _, x := range u.Plants {
					if codes[x.Code] {
						rt.Fatalf("code %s twice", x.Code)
					}
					codes[x.Code] = true
					if x.Guard != "" {
						names = append(names, x.Name)
						continue
					}
					light[x.Part] += float64(x.PPFD)
					n[x.Part]++
				}
				key := strings.Join(names, " ")
				if old, seen := guards[u.Lamp]; seen && old != key {
					rt.Fatalf("guards of %s are %s and %s", u.Lamp, old, key)
				}
				guards[u.Lamp] = key
				if math.Abs(n["x"]-n["y"]) > 1 {
					rt.Fatalf("parts of %v plants", n)
				}
				if n["x"] > 3 && math.Abs(light["x"]/n["x"]/(light["y"]/n["y"])-1) > 0.15 {
					rt.Fatalf("parts in %g and %g", light["x"]/n["x"], light["y"]/n["y"])
				}
			}
		}
	})
	lamps, plants := row(200, 200)
	p := plan(3, 4)
	p.Places[1].Lamp = "moon"
	l, err := trial.CheckLight(bare(t, lamps, plants, ""), p, trial.LightOptions{})
	if err != nil || !strings.Contains(strings.Join(l.Blocks[0].Says, " "), `no lamp "moon"`) {
		t.Errorf("%v %v", l.Blocks[0].Says, err)
	}
}

// R 4.2.2: chisq.test(table(a, b), correct = FALSE) → √(χ²/(n·1)).
func TestCramersV(t *testing.T) {
	a := strings.Split("p p q q r r p q r p q p", " ")
	b := strings.Split("x y x x y y x y y x x x", " ")
	v, chance, ok := trial.CramersV(a, b)
	if !ok || math.Abs(v-0.684522774326) > 1e-9 || math.Abs(chance-math.Sqrt(2.0/11)) > 1e-12 {
		t.Errorf("%.12f %g %v", v, chance, ok)
	}
	if _, _, ok := trial.CramersV(a, make([]string, 12)); ok {
		t.Error("one group has an association")
	}
}

func BenchmarkCheckLight(b *testing.B) {
	lamps, plants := row(260, 300, 280)
	m := bare(b, lamps, plants, "")
	p := plan(8, 10, 13)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := trial.CheckLight(m, p, trial.LightOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
