package lightfield

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/quantity"
)

// farOff is how many standard deviations make a reading far off.
const farOff = 3

// judge holds every reading against the fitted model, solved anew.
func (f *Fitted) judge(sd []float64) error {
	if len(f.base.readings) == 0 {
		return nil
	}
	field, err := Solve(f.Space, f.Lamps, Options{Patches: fitPatches})
	if err != nil {
		return err
	}
	for i, r := range f.base.readings {
		model := field.PPFD(nil, r.Dimming, []Point{r.At})[0] * f.MeterFactor
		res := ReadingResult{Name: r.Name, Measured: float64(r.PPFD), Model: model, SD: sd[i]}
		res.Residual = math.Log(res.Measured / model)
		res.Z = res.Residual / res.SD
		if math.Abs(res.Z) > farOff {
			res.FarOff = true
			res.noted = r.At.Z
			res.Reasons = f.reasons(field, r, &res)
		}
		f.Readings = append(f.Readings, res)
	}
	return nil
}

// reasons lists what could explain a reading that is far off, likeliest kinds
// first. The first of each list are common practice, no source.
func (f *Fitted) reasons(field *Field, r Reading, res *ReadingResult) []string {
	var out []string
	if res.Residual > 0 {
		out = append(out, "more light arrives there than the lamps and walls described can give: the surroundings reflect, or another lamp adds light")
	} else {
		out = append(out, "less light arrives there than the lamps and walls described give: something shades the place, a lamp was dimmed, dirty or still cold, or the sensor was tilted")
	}
	if z, ok := f.fittingHeight(field, r); ok {
		res.fits, res.ruler = z, len(out)
		out = append(out, res.misread(quantity.Metric))
	}
	if s := f.otherLamps(field, r, *res); s != "" {
		out = append(out, s)
	}
	return out
}

// misread is the reason that the height was noted wrongly.
func (r *ReadingResult) misread(units quantity.System) string {
	return fmt.Sprintf("the ruler was misread: the reading would fit at a height of %s instead of %s",
		quantity.Length.Format(r.fits, units, 3), quantity.Length.Format(r.noted, units, 3))
}

// ReasonsIn are Reasons with lengths in the units given.
func (r ReadingResult) ReasonsIn(units quantity.System) []string {
	out := slices.Clone(r.Reasons)
	if r.ruler > 0 {
		out[r.ruler] = r.misread(units)
	}
	return out
}

// fittingHeight finds the height nearest to the noted one at which the model
// gives the reading, below the lowest lamp that was on.
func (f *Fitted) fittingHeight(field *Field, r Reading) (float64, bool) {
	top := math.Inf(1)
	for k, d := range r.Dimming {
		if d > 0 {
			top = min(top, f.Lamps[k].Centre.Z)
		}
	}
	const n = 100
	excess := func(z float64) float64 {
		e := field.PPFD(nil, r.Dimming, []Point{{r.At.X, r.At.Y, z}})[0] * f.MeterFactor
		return e - float64(r.PPFD)
	}
	best, found := 0.0, false
	lo := 0.0
	before := excess(lo)
	for i := 1; i < n; i++ {
		hi := top * float64(i) / n
		after := excess(hi)
		if before*after <= 0 {
			a, b, fa := lo, hi, before
			for range 40 {
				mid := (a + b) / 2
				if v := excess(mid); v*fa > 0 {
					a, fa = mid, v
				} else {
					b = mid
				}
			}
			if !found || math.Abs(a-r.At.Z) < math.Abs(best-r.At.Z) {
				best, found = a, true
			}
		}
		lo, before = hi, after
	}
	return best, found
}

// otherLamps looks for another set of lamps that would explain the reading to
// within 2 standard deviations: one switched over, one alone, or all.
func (f *Fitted) otherLamps(field *Field, r Reading, res ReadingResult) string {
	resp := field.Responses(nil, []Point{r.At})
	level := 0.0
	for _, d := range r.Dimming {
		level = max(level, d)
	}
	var fits []string
	try := func(dim []float64, what string) {
		e := 0.0
		same := true
		for k, d := range dim {
			e += d * resp[k] * f.MeterFactor
			same = same && d == r.Dimming[k]
		}
		if !same && e > 0 && math.Abs(math.Log(res.Measured/e)) < 2*res.SD {
			fits = append(fits, what)
		}
	}
	n := len(r.Dimming)
	if n < 2 {
		return ""
	}
	all := make([]float64, n)
	for k := range all {
		all[k] = level
	}
	try(all, "all lamps on")
	for k, d := range r.Dimming {
		dim := append([]float64(nil), r.Dimming...)
		if d > 0 {
			dim[k] = 0
			try(dim, f.lampName(k)+" off")
		} else {
			dim[k] = level
			try(dim, f.lampName(k)+" on as well")
		}
		alone := make([]float64, n)
		alone[k] = level
		try(alone, f.lampName(k)+" alone")
	}
	if len(fits) == 0 {
		return ""
	}
	if len(fits) > 3 {
		fits = fits[:3]
	}
	return "the lamps that were on were noted wrongly: it would fit with " + strings.Join(fits, ", or ")
}

// note gathers the doubts about the whole answer.
func (f *Fitted) note() {
	say := func(format string, args ...any) { f.Notes = append(f.Notes, fmt.Sprintf(format, args...)) }
	switch n := len(f.Readings); {
	case len(f.Lamps) == 0:
		return
	case n == 0:
		say("There are no readings: the light rests on labels and typical values alone.")
	case n == 1:
		say("One reading sets the level of the light, not the width of the beams nor the walls; two or more at different places would.")
	}
	far := 0
	for i, r := range f.Readings {
		if r.FarOff {
			far++
		}
		for j, q := range f.Readings[:i] {
			a, b := f.base.readings[i], f.base.readings[j]
			if samePlace(a, b) && math.Abs(math.Log(r.Measured/q.Measured)) > 4*math.Hypot(r.SD, q.SD) {
				say("Readings %s and %s contradict each other: same place, same lamps, but %.0f and %.0f µmol/m²/s. Repeat both.",
					nameOf(b, j), nameOf(a, i), q.Measured, r.Measured)
			}
		}
	}
	if n := len(f.Readings); n >= 2 && 2*far >= n {
		say("%d of %d readings are far off, so the description of lamps, walls or places is more likely wrong than the readings.", far, n)
	}
	lay := f.layout
	var odd []string
	for g := range lay.groups {
		if math.Abs(f.Param[g]) > 2*lay.sd[g] {
			odd = append(odd, fmt.Sprintf("%s %.0f %%", f.givers(g), 100*f.FluxFactor[g]))
		}
	}
	if len(odd) > 0 {
		say("By the readings %s of the photon flux that is described, which is more than two standard deviations away. Look at the flux or watts, the height, the dimming, and for dust or shade.", strings.Join(odd, ", "))
	}
	for j := range f.Param {
		if b := lay.bound(j); b > 0 && math.Abs(f.Param[j]) > 0.999*b {
			say("The fit pushed %q to its limit; the description does not suit the readings.", f.ParamNames[j])
		}
	}
}

// lampName names a lamp in a sentence.
func (f *Fitted) lampName(k int) string {
	switch name := f.Lamps[k].Name; {
	case strings.HasPrefix(strings.ToLower(name), "lamp "):
		return name
	case name != "":
		return "lamp " + name
	}
	return fmt.Sprintf("lamp %d", k+1)
}

// givers are the lamps of the group at place g of the layout with their verb.
func (f *Fitted) givers(g int) string {
	var names []string
	for k, of := range f.layout.of {
		if of == g {
			names = append(names, f.lampName(k)[len("lamp "):])
		}
	}
	switch n := len(names); {
	case n == 1:
		return "lamp " + names[0] + " gives"
	case n > 6:
		return fmt.Sprintf("lamps %s and %d more give", strings.Join(names[:5], ", "), n-5)
	default:
		return fmt.Sprintf("lamps %s and %s give", strings.Join(names[:n-1], ", "), names[n-1])
	}
}

// samePlace tells whether two readings were taken at one place, to a
// millimetre, under the same lamps.
func samePlace(a, b Reading) bool {
	d := Point{a.At.X - b.At.X, a.At.Y - b.At.Y, a.At.Z - b.At.Z}
	if math.Sqrt(d.X*d.X+d.Y*d.Y+d.Z*d.Z) > 0.001 {
		return false
	}
	for k := range a.Dimming {
		if math.Abs(a.Dimming[k]-b.Dimming[k]) > 0.001 {
			return false
		}
	}
	return true
}
