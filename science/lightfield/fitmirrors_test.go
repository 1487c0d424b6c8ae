package lightfield_test

import (
	"math"
	"slices"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// shiny is a space with two sides that send back 0.75, of which share is mirrored.
func shiny(share float64) lightfield.Space {
	s := boxed(1.2, 0.6, 0.5, 0.3)
	for _, side := range []lightfield.Side{lightfield.Left, lightfield.Back} {
		s.Walls[side] = lightfield.Wall{Reflectance: quantity.Fraction(0.75 * (1 - share)), Mirror: quantity.Fraction(0.75 * share)}
	}
	return s
}

var shinyLamps = []lightfield.Lamp{
	{Centre: lightfield.Point{X: 0.3, Y: 0.3, Z: 0.35}, Width: 0.3, Depth: 0.05, Flux: 60, Exponent: 1},
	{Centre: lightfield.Point{X: 0.9, Y: 0.35, Z: 0.35}, Width: 0.3, Depth: 0.05, Flux: 80, Distribution: newTable()},
}

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

// With flux and meter all but known, the doubt that the mirrored share leaves is its
// spread times the change of ln PPFD by its logit, here from two rooms solved anew at
// shares of 0.74 and 0.85. The program takes its difference over a wider step, whose
// curvature is below a tenth of the slope; the difference of two rooms has the
// lattice's 0.1 % of light in it.
func TestDoubtOfMirroredShares(t *testing.T) {
	prior := lightfield.Prior{FluxSD: []float64{1e-5, 1e-5}, MeterSD: 1e-5, MirrorSD: 0.8}
	fit, err := lightfield.Fit(shiny(0.8), shinyLamps, nil, prior)
	if err != nil {
		t.Fatal(err)
	}
	pts := []lightfield.Point{{X: 0.1, Y: 0.5}, {X: 0.05, Y: 0.1}, {X: 0.6, Y: 0.3}, {X: 1.1, Y: 0.1}}
	less := solve(t, shiny(0.74), shinyLamps...).PPFD(nil, []float64{1, 1}, pts)
	more := solve(t, shiny(0.85), shinyLamps...).PPFD(nil, []float64{1, 1}, pts)
	for i, got := range fit.RelativeSD(pts) {
		want := 0.8 * math.Abs(math.Log(more[i]/less[i])) / (logit(0.85) - logit(0.74))
		if math.Abs(got-want) > 0.1*want+0.0015 {
			t.Errorf("at %+v: %.4f, want %.4f", pts[i], got, want)
		}
	}
}

// Readings along a mirror tell how much of the wall mirrors: made with a share of
// 0.92 where 0.8 is expected, they must move it up and narrow it.
func TestReadingsTellTheMirroredShare(t *testing.T) {
	var pts []lightfield.Point
	for _, x := range []float64{0.03, 0.15, 0.4, 0.8, 1.1} {
		pts = append(pts, lightfield.Point{X: x, Y: 0.57, Z: 0.05}, lightfield.Point{X: x, Y: 0.1, Z: 0.05})
	}
	full := []float64{1, 1}
	var readings []lightfield.Reading
	for i, e := range solve(t, shiny(0.92), shinyLamps...).PPFD(nil, full, pts) {
		readings = append(readings, lightfield.Reading{At: pts[i], PPFD: quantity.PPFD(e), Dimming: full, OwnSD: 0.003, PlaceSD: 0.0005})
	}
	fit, err := lightfield.Fit(shiny(0.8), shinyLamps, readings, lightfield.Prior{MirrorSD: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	j := slices.Index(fit.ParamNames, "logit shift of the mirrored shares")
	if j < 0 {
		t.Fatalf("no such parameter: %q", fit.ParamNames)
	}
	sd, want := math.Sqrt(fit.Cov.At(j, j)), logit(0.92)-logit(0.8)
	if sd > 0.6 || math.Abs(fit.Param[j]-want) > 2*sd || fit.Param[j] < 0.3*want {
		t.Errorf("shift %.2f ± %.2f, want %.2f", fit.Param[j], sd, want)
	}
	w := fit.Space.Walls[lightfield.Left]
	if got := w.Mirror / (w.Mirror + w.Reflectance); got <= 0.8 || got > 0.97 {
		t.Errorf("mirrored share %.3f", got)
	}
}

// A space whose walls do not mirror has no such parameter, whatever the prior.
func TestNoMirrorNoParameter(t *testing.T) {
	fit, err := lightfield.Fit(boxed(1, 1, 1, 0.5), shinyLamps[:0], nil, lightfield.Prior{MirrorSD: 0.8, ReflectanceSD: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	if slices.Contains(fit.ParamNames, "logit shift of the mirrored shares") {
		t.Errorf("%q", fit.ParamNames)
	}
}
