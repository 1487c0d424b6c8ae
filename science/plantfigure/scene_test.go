package plantfigure

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"
	"testing"
)

var (
	green = [3]uint8{104, 150, 58}
	deep  = [3]uint8{62, 104, 44}
	pale  = [3]uint8{196, 214, 126}
)

// scenes with what a bench shows: every ground, red leaves, pale hearts, burn, yellow
// leaves, highlights, shadows, algae, blur, noise, JPEG, uneven light and casts.
var scenes = map[string]scene{
	"plain":          {leaves: 14, length: 85, colour: green, heart: pale, ground: "grey bench", noise: 0.01},
	"white tray":     {leaves: 16, length: 90, colour: green, heart: pale, ground: "white tray", shadow: 0.55, noise: 0.015, jpeg: 88, shine: 10},
	"black tray":     {leaves: 12, length: 80, colour: deep, heart: pale, ground: "black tray", shadow: 0.5, noise: 0.015, jpeg: 88, shine: 8},
	"coir":           {leaves: 14, length: 85, colour: green, heart: pale, ground: "coir", shadow: 0.6, noise: 0.02, jpeg: 85, ruffle: 0.012, lobes: 0.08},
	"peat":           {leaves: 14, length: 70, colour: deep, heart: green, ground: "peat", shadow: 0.6, noise: 0.02, jpeg: 85},
	"rock wool":      {leaves: 15, length: 85, colour: green, heart: pale, ground: "rock wool", shadow: 0.5, noise: 0.015, jpeg: 88},
	"wood":           {leaves: 15, length: 85, colour: green, heart: pale, ground: "wood", shadow: 0.5, noise: 0.015, jpeg: 88},
	"red leaf":       {leaves: 16, length: 85, colour: green, heart: [3]uint8{150, 170, 90}, red: 0.55, ground: "grey bench", shadow: 0.5, noise: 0.015, jpeg: 88},
	"red on white":   {leaves: 16, length: 85, colour: deep, heart: [3]uint8{150, 170, 90}, red: 0.7, ground: "white tray", shadow: 0.5, noise: 0.015, jpeg: 88, ruffle: 0.015},
	"red on coir":    {leaves: 16, length: 85, colour: deep, heart: [3]uint8{150, 170, 90}, red: 0.5, ground: "coir", shadow: 0.5, noise: 0.015, jpeg: 88},
	"pale heart":     {leaves: 20, length: 80, width: 0.8, colour: green, heart: [3]uint8{232, 236, 190}, ground: "black tray", shadow: 0.35, noise: 0.015, jpeg: 88},
	"burnt":          {mm: 0.33, leaves: 18, length: 42, width: 0.7, colour: green, heart: pale, ground: "grey bench", burnt: 9, shadow: 0.45, noise: 0.015, jpeg: 90},
	"burnt on white": {mm: 0.33, leaves: 18, length: 42, width: 0.7, colour: green, heart: pale, ground: "white tray", burnt: 9, shadow: 0.45, noise: 0.015, jpeg: 90},
	"yellow leaves":  {leaves: 14, length: 85, colour: green, heart: pale, ground: "grey bench", yellow: 3, shadow: 0.5, noise: 0.015, jpeg: 88},
	"algae":          {leaves: 14, length: 80, colour: green, heart: pale, ground: "rock wool", algae: true, shadow: 0.5, noise: 0.015, jpeg: 88},
	"blurred":        {leaves: 14, length: 85, colour: green, heart: pale, ground: "white tray", shadow: 0.5, noise: 0.01, blur: 2},
	"blurred more":   {leaves: 14, length: 85, colour: green, heart: pale, ground: "coir", shadow: 0.5, noise: 0.01, blur: 3},
	"noisy":          {leaves: 14, length: 85, colour: deep, heart: pale, ground: "peat", shadow: 0.5, noise: 0.05, jpeg: 75},
	"uneven light":   {leaves: 14, length: 85, colour: green, heart: pale, ground: "grey bench", shadow: 0.5, noise: 0.015, grade: 0.6, jpeg: 88},
	"warm":           {leaves: 14, length: 85, colour: green, heart: pale, ground: "grey bench", shadow: 0.5, noise: 0.015, cast: [3]float64{1.12, 1, 0.82}, jpeg: 88},
	"cold":           {leaves: 14, length: 85, colour: green, heart: pale, ground: "grey bench", shadow: 0.5, noise: 0.015, cast: [3]float64{0.9, 1, 1.15}, jpeg: 88},
	"narrow":         {leaves: 11, length: 88, width: 0.25, colour: green, heart: pale, ground: "white tray", shadow: 0.5, noise: 0.015, jpeg: 88, lobes: 0.25},
	"seedling":       {mm: 0.25, w: 240, h: 240, leaves: 4, length: 22, colour: green, ground: "rock wool", shadow: 0.5, noise: 0.015, jpeg: 88},
	"off the middle": {leaves: 14, length: 60, colour: green, heart: pale, ground: "white tray", shadow: 0.5, noise: 0.015, jpeg: 88, at: Point{-35, 28}},
}

// overlap is intersection over union of what was found with the truth, in shares.
func overlap(c *cut, truth []float32, w int) float64 {
	var both, any float64
	for y := range c.h {
		for x := range c.w {
			var t float64
			for dy := range c.per {
				for dx := range c.per {
					t += float64(truth[(y*c.per+dy)*w+x*c.per+dx])
				}
			}
			t /= float64(c.per * c.per)
			v := float64(c.share[y*c.w+x])
			both += math.Min(t, v)
			any += math.Max(t, v)
		}
	}
	return both / any
}

var seeds = flag.Int("seeds", 1, "rosettes of each scene; figures of 6 are in docs/photos.md")

// Every scene: intersection over union 0.9 or better, area within 3 %, greatest width
// within 2 %, as the job demands. None of these rosettes was looked at while the method was
// made, but another one of each scene.
func TestScenes(t *testing.T) {
	type error3 struct{ iou, area, width, z float64 }
	var mutex sync.Mutex
	found := map[string][]error3{}
	t.Run("all", func(t *testing.T) {
		for i, name := range slices.Sorted(maps.Keys(scenes)) {
			if testing.Short() && i%3 != 0 {
				continue
			}
			for seed := range *seeds {
				s := scenes[name]
				s.seed = uint64(seed) + 1 // 0 was looked at while the method was made
				t.Run(fmt.Sprintf("%s/%d", name, seed), func(t *testing.T) {
					t.Parallel()
					r := s.render()
					w := Wanted{Seed: r.seed, Reach: 30, Base: math.NaN()}
					c, err := segment(r.Picture, w)
					if err != nil {
						r.show(t, name, nil, nil)
						t.Fatal(err)
					}
					top, err := FromTop(r.Picture, w)
					if err != nil {
						t.Fatal(err)
					}
					r.show(t, name, top.Outline, top.Spots)
					e := error3{overlap(c, r.share, r.Width), top.Area.Value/r.area - 1, top.Width.Value/r.feret - 1, (top.Area.Value - r.area) / top.Area.SD}
					mutex.Lock()
					found[name] = append(found[name], e)
					mutex.Unlock()
					if e.iou < 0.9 {
						t.Errorf("intersection over union %.3f", e.iou)
					}
					if math.Abs(e.area) > 0.03 {
						t.Errorf("area %.1f cm², true %.1f: %+.1f %% (standard deviation %.1f)", top.Area.Value, r.area, 100*e.area, 100*top.Area.SD/r.area)
					}
					if math.Abs(e.width) > 0.02 {
						t.Errorf("width %.1f mm, true %.1f", top.Width.Value, r.feret)
					}
					if math.Abs(top.Yellow.Value-r.yellow) > 0.05 {
						t.Errorf("yellow %.3f, true %.3f", top.Yellow.Value, r.yellow)
					}
					r.checkBurn(t, top)
				})
			}
		}
	})
	for _, name := range slices.Sorted(maps.Keys(found)) {
		var line error3
		line.iou = 1
		for _, e := range found[name] {
			line.iou = min(line.iou, e.iou)
			for _, v := range [3][2]*float64{{&line.area, &e.area}, {&line.width, &e.width}, {&line.z, &e.z}} {
				if math.Abs(*v[1]) > math.Abs(*v[0]) {
					*v[0] = *v[1]
				}
			}
		}
		t.Logf("| %s | %.3f | %+.1f | %+.1f | %+.1f |", name, line.iou, 100*line.area, 100*line.width, line.z)
	}
}

// checkBurn: of burnt discs that are seen with 3 mm² or more, four in five are among the
// spots, with a chance above one half; and what is not burnt makes no spot of a chance
// above one half, but for bronze leaves, of which the doubt warns.
func (r *rendered) checkBurn(t *testing.T, top *Top) {
	seen, hit := 0, 0
	taken := make([]bool, len(top.Spots))
	for i, p := range r.burnt {
		if r.burntMM[i] < 3 {
			continue
		}
		seen++
		ok := false
		for k, s := range top.Spots {
			if math.Hypot(s.At.X-p.X, s.At.Y-p.Y)*r.PerPixel < 2.5 {
				taken[k] = true
				ok = ok || s.Chance > 0.5
			}
		}
		hit += b2i(ok)
	}
	if 5*hit < 4*seen {
		t.Errorf("%d of %d burnt spots found", hit, seen)
	}
	for k, s := range top.Spots {
		near := false
		for _, p := range r.burnt {
			near = near || math.Hypot(s.At.X-p.X, s.At.Y-p.Y)*r.PerPixel < 4
		}
		if !taken[k] && !near && s.Chance > 0.5 && top.Red.Value < 0.15 {
			t.Errorf("a spot of %.1f mm² at %v where nothing is burnt, chance %.2f, %+v", s.Area, s.At, s.Chance, s.Seen)
		}
	}
}
