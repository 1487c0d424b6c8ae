package lightfield

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Linear is the fit seen close up: each reading as a straight line in the
// parameters. It is what a later estimate needs to go on where [Fit] stopped.
type Linear struct {
	Residual []float64   // ln(reading/model) at Param, meter included
	Slope    [][]float64 // ∂ ln model/∂Param of each reading
	Noise    []float64   // SD/√weight: the robust spread that found the mode
	Spread   []float64   // the same by the expected information, behind Cov
	Prior    []float64   // standard deviation of each parameter about 0
}

// Linear returns the fit as straight lines. With the weights (ν+1)/(ν+z²) of the
// t distribution in Noise, the normal equations of the lines have Param as their
// solution, and with Spread they have Cov.
func (f *Fitted) Linear() Linear {
	l := Linear{Prior: append([]float64(nil), f.layout.sd...)}
	if len(f.base.readings) == 0 {
		return l
	}
	for i, r := range f.near.res {
		z := r / f.near.sd[i]
		noise := f.near.sd[i] * math.Sqrt((freedom+z*z)/(freedom+1))
		l.Residual = append(l.Residual, r)
		l.Noise = append(l.Noise, noise)
		l.Spread = append(l.Spread, noise*math.Sqrt((freedom+3.0)/freedom))
		l.Slope = append(l.Slope, append([]float64(nil), f.near.jac.RawRowView(i)...))
	}
	return l
}

// Moved is the fit with other parameters and covariance: lamps, space and
// factors follow, while Readings and Notes still speak of the fit as it was. It
// panics if the number of parameters differs.
func (f *Fitted) Moved(param []float64, cov *mat.SymDense) *Fitted {
	if len(param) != len(f.Param) || cov.SymmetricDim() != len(param) {
		panic("lightfield: Fitted.Moved: the number of parameters differs")
	}
	out := *f
	out.Param, out.Cov = append([]float64(nil), param...), cov
	for j := range out.Param {
		if b := f.layout.bound(j); b > 0 {
			out.Param[j] = clamp(out.Param[j], -b, b)
		}
	}
	out.FluxFactor, out.Exponent = nil, nil
	out.apply()
	return &out
}

// Expected is what readings at the points would spread by if taken now with the
// lamps dimmed, as ln: their own error and that of their place, by the expected
// information of the t distribution as in Cov. light must give the PPFD at any
// points with these lamps. Points without light get +Inf.
func Expected(pts []Point, light func(pts []Point) []float64) []float64 {
	// Points of one height stand together: their light is worked out together.
	n := len(pts)
	around := make([]Point, 7*n)
	for i, p := range pts {
		for j, q := range appendAround(nil, p) {
			around[j*n+i] = q
		}
	}
	e := light(around)
	out := make([]float64, n)
	for i := range pts {
		var at [7]float64
		for j := range at {
			at[j] = e[j*n+i]
		}
		if !(at[0] > 0) {
			out[i] = math.Inf(1)
			continue
		}
		v := defaultOwnSD * defaultOwnSD
		for axis := range 3 {
			slope := (at[2+2*axis] - at[1+2*axis]) / (2 * neighbour * at[0])
			v += slope * slope * defaultPlaceSD * defaultPlaceSD
		}
		// (ν+1)/(ν+3) of the information of a normal error (LangeLittleTaylor1989).
		out[i] = math.Sqrt(min(v, 1) * (freedom + 3.0) / (freedom + 1))
	}
	return out
}

// slopeStep is by how much parameters are moved for differences.
const slopeStep = 0.02

// Slopes tells how the light follows the parameters of a fit, for lamps at any
// height. Making one prepares the space; it may be used in parallel.
type Slopes struct {
	f               *Fitted
	now, less, more *Room // as fitted, walls duller, walls brighter; the last two nil if walls are fixed
	matt, shiny     *Room // with less and more of the reflectance mirrored; nil if that is fixed
}

// Slopes prepares the space of the fit for [Slopes.At].
func (f *Fitted) Slopes() (*Slopes, error) {
	s := &Slopes{f: f}
	moved := func(param int, step float64) Space {
		th := append([]float64(nil), f.Param...)
		if param >= 0 {
			th[param] += step
		}
		_, space := f.base.at(f.layout, th)
		return space
	}
	var err error
	if s.now, err = NewRoom(moved(-1, 0), Options{Patches: fitPatches}); err != nil {
		return nil, err
	}
	if f.layout.walls {
		if s.less, err = s.now.withSides(moved(f.layout.wall(), -slopeStep)); err != nil {
			return nil, err
		}
		if s.more, err = s.now.withSides(moved(f.layout.wall(), slopeStep)); err != nil {
			return nil, err
		}
	}
	if f.layout.mirrors {
		if s.matt, err = s.now.withMirrors(moved(f.layout.mirror(), -mirrorStep)); err != nil {
			return nil, err
		}
		if s.shiny, err = s.now.withMirrors(moved(f.layout.mirror(), mirrorStep)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// A Slope holds the responses of lamps to the parameters at fixed points; any
// dimming is then a matter of adding up.
type Slope struct {
	lay     layout
	n       int
	now     []float64 // responses as [Field.Responses]
	beams   []float64 // by how much they grow with the exponent of every lamp, per 1 of its logarithm; nil if fixed
	walls   []float64 // with the reflectances, per 1 of their logit; nil if fixed
	mirrors []float64 // with the mirrored shares, per 1 of their logit; nil if fixed
}

// At solves the light of the fitted lamps, moved to where they hang now, at the
// points. lamps must be those of [Fitted].Lamps but for their places.
func (s *Slopes) At(lamps []Lamp, pts []Point) (*Slope, error) {
	if len(lamps) != len(s.f.layout.of) {
		panic("lightfield: Slopes.At: other lamps than those of the fit")
	}
	out := &Slope{lay: s.f.layout, n: len(pts)}
	rooms := []*Room{s.now}
	if s.f.layout.mirrors {
		rooms = append(rooms, s.matt, s.shiny)
	}
	fields, err := solveAlike(rooms, lamps)
	if err != nil {
		return nil, err
	}
	field := fields[0]
	out.now = field.Responses(nil, pts)
	if s.f.layout.beams {
		with := func(exponent float64) ([]float64, error) {
			moved := append([]Lamp(nil), lamps...)
			for i := range moved {
				moved[i].Exponent = min(moved[i].Exponent*math.Exp(exponent), largestExponent)
			}
			field, err := s.now.Solve(moved)
			if err != nil {
				return nil, err
			}
			return field.Responses(nil, pts), nil
		}
		narrow, err := with(-slopeStep)
		if err != nil {
			return nil, err
		}
		if out.beams, err = with(slopeStep); err != nil {
			return nil, err
		}
		perStep(out.beams, narrow, slopeStep)
	}
	if s.f.layout.walls {
		if out.walls, err = s.byWalls(field, pts); err != nil {
			return nil, err
		}
	}
	if s.f.layout.mirrors {
		out.mirrors = fields[2].Responses(nil, pts)
		perStep(out.mirrors, fields[1].Responses(nil, pts), mirrorStep)
	}
	return out, nil
}

// perStep turns responses two steps apart into their growth per 1.
func perStep(more, less []float64, step float64) {
	for i, v := range less {
		more[i] = (more[i] - v) / (2 * step)
	}
}

// byWalls is how the responses grow with the reflectances. Only what the sides
// scatter changes with them, and it is linear in what they send out.
func (s *Slopes) byWalls(field *Field, pts []Point) ([]float64, error) {
	dst := make([]float64, len(field.lamps)*len(pts))
	if field.onSides == nil {
		return dst, nil
	}
	less, err := field.In(s.less)
	if err != nil {
		return nil, err
	}
	more, err := field.In(s.more)
	if err != nil {
		return nil, err
	}
	growth := mat.DenseCopyOf(more.byPatch)
	growth.Sub(growth, less.byPatch)
	growth.Scale(1/(2*slopeStep), growth)
	scattered := &Field{room: field.room}
	cols := columns{growth, len(field.lamps), nil}
	scattered.addShared(dst, pts, cols, touching, nil)
	if field.room.ringOne < len(field.room.images) {
		scattered.addShared(dst, pts, cols, distant, nil)
	}
	return dst, nil
}

// Log returns ∂ ln E/∂Param at each point with dimmed lamps, the parameter of the
// meter at 0: the light itself does not depend on it. A point without light has
// NaN.
func (s *Slope) Log(dimming []float64) [][]float64 {
	if len(dimming) != len(s.lay.of) {
		panic("lightfield: Slope.Log: one dimming for each lamp is needed")
	}
	all := Combine(make([]float64, s.n), s.now, dimming)
	out := make([][]float64, s.n)
	for i := range out {
		out[i] = make([]float64, s.lay.count())
	}
	part := func(param int, growth, d []float64) {
		for i, v := range Combine(make([]float64, s.n), growth, d) {
			out[i][param] = v / all[i]
		}
	}
	for g := range s.lay.groups {
		d := make([]float64, len(dimming))
		for k, of := range s.lay.of {
			if of == g {
				d[k] = dimming[k]
			}
		}
		part(g, s.now, d)
		if s.lay.beams {
			part(len(s.lay.groups)+g, s.beams, d)
		}
	}
	if s.lay.walls {
		part(s.lay.wall(), s.walls, dimming)
	}
	if s.lay.mirrors {
		part(s.lay.mirror(), s.mirrors, dimming)
	}
	return out
}

// WithMeter turns slopes of light into slopes of a reading of it: the parameter
// of the meter counts in full. It changes and returns its argument.
func (f *Fitted) WithMeter(slopes [][]float64) [][]float64 {
	for _, s := range slopes {
		s[f.layout.meter()] = 1
	}
	return slopes
}

// RelativeSD returns the relative standard deviation of the PPFD at the points,
// with all lamps at full power where the fit has them, that labels and readings
// leave open: the scale error of the meter is in it, errors of single lamps within
// a group are not.
//
//	sd² = gᵀ Cov g,  g = ∂ ln E/∂Param
//
// At a point that no light reaches it is NaN.
func (f *Fitted) RelativeSD(pts []Point) []float64 {
	out := make([]float64, len(pts))
	full := make([]float64, len(f.Lamps))
	for i := range full {
		full[i] = 1
	}
	s, err := f.Slopes()
	if err != nil { // the parameters are within the bounds of Fit
		return out
	}
	at, err := s.At(f.Lamps, pts)
	if err != nil {
		return out
	}
	for i, g := range at.Log(full) {
		v := 0.0
		for j, gj := range g {
			for k, gk := range g {
				v += gj * gk * f.Cov.At(j, k)
			}
		}
		out[i] = math.Sqrt(max(v, 0))
		if math.IsNaN(v) {
			out[i] = math.NaN()
		}
	}
	return out
}
