package lightfield_test

import (
	"math/rand/v2"
	"testing"

	"underlamp/science/lightfield"
)

// Thirty rooms at random with mirrors, panels and lamps at any angle: what is
// swallowed and what leaves adds up to what the lamps send, within 1 %, and 2.5 % with
// panels, the edges of whose shadows cross the coarse patches used here; direct and
// reflected light add up; a brighter floor never takes light away.
func TestLawsOfMirrorsAndPanels(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for seed := range uint64(30) {
		c := anyScene(1000 + seed)
		s, bound := c.s, 0.01
		if len(s.Panels) > 0 {
			bound = 0.025
		}
		flux := 0.0
		for _, l := range c.lamps {
			flux += float64(l.Flux)
		}
		f, err := lightfield.Solve(s, c.lamps, lightfield.Options{Patches: 100})
		if err != nil {
			t.Fatal(err)
		}
		dim := []float64{1, 1, 1}
		e := f.WallIrradiance(dim)
		for i, w := range s.Walls {
			if !w.Open {
				e[i] *= 1 - float64(w.Mirror+w.Reflectance)
			}
		}
		got := total(s, e)
		top, bottom := f.PanelIrradiance(dim)
		for i, p := range s.Panels {
			got += (p.X2 - p.X1) * (p.Y2 - p.Y1) * (top[i]*(1-float64(p.Top)) + bottom[i]*(1-float64(p.Bottom)))
		}
		if relative(got, flux) > bound {
			t.Errorf("room %d: %v of %v is found again", seed, got, flux)
		}
		var pts []lightfield.Point
		for range 5 {
			pts = append(pts, lightfield.Point{X: s.Width * rng.Float64(), Y: s.Depth * rng.Float64(), Z: s.Height * 0.9 * rng.Float64()})
		}
		resp, direct, reflected := f.Responses(nil, pts), f.Direct(nil, pts), f.Reflected(nil, pts)
		for i := range resp {
			if !(resp[i] >= 0) || relative(resp[i]+1e-6, direct[i]+reflected[i]+1e-6) > 1e-9 {
				t.Fatalf("room %d, parts: %v of %v and %v", seed, resp[i], direct[i], reflected[i])
			}
		}
		if w := s.Walls[lightfield.Below]; w.Open || w.Reflectance == 0 || w.Reflectance+w.Mirror > 0.95 {
			continue
		}
		brighter, err := f.In(must(f.Room().WithReflectance(lightfield.Below, s.Walls[lightfield.Below].Reflectance+0.04)))
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range brighter.Responses(nil, pts) {
			if v < resp[i]*(1-1e-9) {
				t.Fatalf("a brighter floor took light away: %v from %v", v, resp[i])
			}
		}
	}
}

func must(r *lightfield.Room, err error) *lightfield.Room {
	if err != nil {
		panic(err)
	}
	return r
}
