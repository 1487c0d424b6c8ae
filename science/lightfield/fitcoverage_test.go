package lightfield_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

var whole = flag.Bool("whole", false, "run TestLampsKnownByReadingsAlone on 200 benches instead of 24, and TestAgainstPhotons in 20 rooms instead of 10")

// Lamps of which no label is known: photon flux within a factor of 2, beam and
// walls wide open (ln sd 0.7, 0.4 and 1.0), a meter that is 5 % off, nine readings
// that err by 2.5 % and 1 cm. Benches drawn from that are fitted from the same
// guess. The 90 % band of the light at places without a reading must hold 90 % of
// them: three standard errors of the benches either way (6.4 points of 200), and
// as the covariance is that of t errors, which are wider than the normal errors
// drawn here, 4 points more above.
func TestLampsKnownByReadingsAlone(t *testing.T) {
	n := 24
	if *whole {
		n = 200
	}
	inside, all, rms, bias := 0.0, 0.0, 0.0, 0.0
	for seed := range n {
		rng := rand.New(rand.NewPCG(77, uint64(seed)))
		space := boxed(1.2, 0.6, 0.6, 0.6)
		space.Walls[lightfield.Front].Open = true
		space.Walls[lightfield.Below].Reflectance = 0.2
		guess := []lightfield.Lamp{
			{Centre: lightfield.Point{X: 0.35, Y: 0.3, Z: 0.4}, Width: 0.3, Depth: 0.2, Flux: 100, Exponent: 1},
			{Centre: lightfield.Point{X: 0.85, Y: 0.3, Z: 0.4}, Width: 0.3, Depth: 0.2, Flux: 100, Exponent: 1},
		}
		trueLamps, trueSpace := append([]lightfield.Lamp(nil), guess...), space
		flux, beam, shift, meter := 0.7*rng.NormFloat64(), 0.4*rng.NormFloat64(), rng.NormFloat64(), 0.05*rng.NormFloat64()
		for i := range trueLamps {
			trueLamps[i].Flux *= quantity.PPF(math.Exp(flux))
			trueLamps[i].Exponent *= math.Exp(beam)
		}
		for side, w := range space.Walls {
			if rho := float64(w.Reflectance); !w.Open {
				trueSpace.Walls[side].Reflectance = quantity.Fraction(1 / (1 + math.Exp(-shift)*(1-rho)/rho))
			}
		}
		truth := solve(t, trueSpace, trueLamps...)
		var rs []lightfield.Reading
		dim := []float64{1, 1}
		for i := range 9 {
			p := lightfield.Point{X: 0.1 + 0.5*float64(i%3), Y: 0.08 + 0.22*float64(i/3), Z: 0.05 + 0.1*float64(i%2)}
			moved := lightfield.Point{X: p.X + 0.01*rng.NormFloat64(), Y: p.Y + 0.01*rng.NormFloat64(), Z: p.Z + 0.01*rng.NormFloat64()}
			e := truth.PPFD(nil, dim, []lightfield.Point{moved})[0]
			rs = append(rs, lightfield.Reading{At: p, PPFD: quantity.PPFD(e * math.Exp(meter+0.025*rng.NormFloat64())), Dimming: dim})
		}
		f, err := lightfield.Fit(space, guess, rs, lightfield.Prior{FluxSD: []float64{0.7, 0.7}, Group: []int{0, 0}, ExponentSD: 0.4, ReflectanceSD: 1})
		if err != nil {
			t.Fatal(err)
		}
		pts := []lightfield.Point{{X: 0.3, Y: 0.15}, {X: 0.75, Y: 0.45}, {X: 1.1, Y: 0.3}}
		got, want := solve(t, f.Space, f.Lamps...).PPFD(nil, dim, pts), truth.PPFD(nil, dim, pts)
		for i, sd := range f.RelativeSD(pts) {
			off := math.Log(got[i] / want[i])
			if math.Abs(off) < 1.645*sd {
				inside++
			}
			all++
			rms += off * off
			bias += off
		}
	}
	share := inside / all
	t.Logf("%d benches: the 90 %% band holds %.1f %%; error rms %.1f %%, mean %+.1f %%", n, 100*share, 100*math.Sqrt(rms/all), 100*bias/all)
	slack := 3 * math.Sqrt(0.9*0.1/float64(n))
	if share < 0.9-slack || share > 0.94+slack {
		t.Errorf("the 90 %% band holds %.1f %%", 100*share)
	}
	// The meter alone leaves 5 %: what flux, beam and walls add must stay below it.
	if r := math.Sqrt(rms / all); r > 0.05*math.Sqrt2*(1+3/math.Sqrt(2*float64(n))) {
		t.Errorf("root mean square error %.3f", r)
	}
}
