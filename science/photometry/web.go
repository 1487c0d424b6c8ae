package photometry

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"underlamp/science/quantity"
)

// Symmetry says what part of the circle of C a table holds, and so how the rest
// follows.
type Symmetry int

// The symmetries.
const (
	NoSymmetry  Symmetry = iota // all planes are given
	Axial                       // one plane, the same all round
	Quadrant                    // C0 to C90; the four quadrants are alike
	Bilateral0                  // C0 to C180; mirrored in the plane C0-C180
	Bilateral90                 // C90 to C270; mirrored in the plane C90-C270
)

// String says it in words.
func (s Symmetry) String() string {
	switch s {
	case Axial:
		return "the same all round"
	case Quadrant:
		return "four quadrants alike"
	case Bilateral0:
		return "mirrored in the plane C0-C180"
	case Bilateral90:
		return "mirrored in the plane C90-C270"
	}
	return "none"
}

// A Table is intensity as a file stores it.
type Table struct {
	PlanesDeg []float64 // angles C, ascending; as many as the symmetry wants
	GammasDeg []float64 // angles γ, ascending, from 0 to 180
	Candela   []float64 // cd, plane by plane: all γ of the first plane, then of the next
	Symmetry  Symmetry
}

// A Web is the intensity of a lamp in every direction. Make one with [NewWeb].
type Web struct {
	planes []float64 // °, ascending, 0 ≤ C < 360, the whole circle
	gammas []float64 // °, ascending
	cosG   []float64
	cd     []float64 // plane by plane
	mean   []float64 // cd, mean over the circle at each gamma
	below  []float64 // lm, flux from the first gamma to each
	grid   grid
}

// angleSlack is the difference in degrees under which two angles of a file are
// the same: files print three decimals at most.
const angleSlack = 1e-3

// NewWeb folds a table out to the whole circle and prepares it for use.
//
// A table is refused with an error if an angle or a value is no number, if
// angles do not ascend or leave their range, if the planes do not fit the
// symmetry, if a value is negative, or if there is no light in it at all. With
// [NoSymmetry] the planes must lie within 360°; where both ends of the circle are
// given, C0 gets the mean of both. It panics if the values are not as many as
// planes times gammas.
func NewWeb(t Table) (*Web, error) {
	if len(t.Candela) != len(t.PlanesDeg)*len(t.GammasDeg) {
		panic("photometry: NewWeb: values are not planes times gammas")
	}
	if err := t.check(); err != nil {
		return nil, err
	}
	w := &Web{gammas: slices.Clone(t.GammasDeg)}
	w.unfold(t)
	w.prepare()
	if !(w.Flux() > 0) {
		return nil, fmt.Errorf("photometry: every intensity is 0, so there is no light")
	}
	w.grid = newGrid(w)
	return w, nil
}

// check finds what makes a table unusable.
func (t Table) check() error {
	if len(t.PlanesDeg) == 0 || len(t.GammasDeg) < 2 {
		return fmt.Errorf("photometry: %d planes and %d gamma angles, want at least 1 and 2", len(t.PlanesDeg), len(t.GammasDeg))
	}
	for i, g := range t.GammasDeg {
		if !(g >= 0 && g <= 180) {
			return fmt.Errorf("photometry: gamma angle %d is %g°, want 0 to 180", i+1, g)
		}
		// Their cosines must differ too: the web is linear between these.
		if i > 0 && !(cosDeg(g) < cosDeg(t.GammasDeg[i-1])) {
			return fmt.Errorf("photometry: gamma angle %d is %g° after %g°, want ascending", i+1, g, t.GammasDeg[i-1])
		}
	}
	for i, c := range t.PlanesDeg {
		if math.IsNaN(c) || math.Abs(c) > 360 {
			return fmt.Errorf("photometry: plane %d is at C = %g°, want 0 to 360", i+1, c)
		}
		if i > 0 && !(c > t.PlanesDeg[i-1]) {
			return fmt.Errorf("photometry: plane %d is at C = %g° after %g°, want ascending", i+1, c, t.PlanesDeg[i-1])
		}
	}
	for i, v := range t.Candela {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("photometry: value %d is %g cd, want 0 or more", i+1, v)
		}
		// A sum of at most some millions of them must stay finite.
		if v > 1e12 {
			return fmt.Errorf("photometry: value %d is %g cd, beyond any lamp", i+1, v)
		}
	}
	first, last := t.PlanesDeg[0], t.PlanesDeg[len(t.PlanesDeg)-1]
	from, to := 0.0, 0.0
	switch t.Symmetry {
	case Axial:
		if len(t.PlanesDeg) != 1 {
			return fmt.Errorf("photometry: %d planes, want one for a lamp that is the same all round", len(t.PlanesDeg))
		}
		return nil
	case Quadrant:
		from, to = 0, 90
	case Bilateral0:
		from, to = 0, 180
	case Bilateral90:
		from, to = 90, 270
	default:
		if last-first > 360+angleSlack {
			return fmt.Errorf("photometry: planes run from %g° to %g°, more than a circle", first, last)
		}
		return nil
	}
	if math.Abs(first-from) > angleSlack || math.Abs(last-to) > angleSlack {
		return fmt.Errorf("photometry: planes run from C = %g° to %g°, want %g° to %g° (symmetry: %v)", first, last, from, to, t.Symmetry)
	}
	return nil
}

// unfold writes every plane of the circle, in ascending order of C from 0.
func (w *Web) unfold(t Table) {
	n := len(t.GammasDeg)
	type plane struct {
		c    float64
		from int // index in the table
	}
	var all []plane
	add := func(c float64, from int) {
		c = math.Mod(c, 360)
		if c < 0 {
			c += 360
		}
		if c > 360-angleSlack {
			c = 0
		}
		all = append(all, plane{c, from})
	}
	for i, c := range t.PlanesDeg {
		switch t.Symmetry {
		case Axial:
			add(0, i)
		case Quadrant:
			add(c, i)
			add(180-c, i)
			add(180+c, i)
			add(-c, i)
		case Bilateral0:
			add(c, i)
			add(-c, i)
		case Bilateral90:
			add(c, i)
			add(180-c, i)
		default:
			add(c, i)
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].c < all[b].c })
	for i := 0; i < len(all); {
		// Planes at the same angle: the mirror image of a plane onto itself, or
		// C0 and C360.
		j := i
		for j < len(all) && all[j].c-all[i].c <= angleSlack {
			j++
		}
		w.planes = append(w.planes, all[i].c)
		for k := range n {
			sum := 0.0
			for _, p := range all[i:j] {
				sum += t.Candela[p.from*n+k]
			}
			w.cd = append(w.cd, sum/float64(j-i))
		}
		i = j
	}
}

// prepare computes the means and the running flux.
func (w *Web) prepare() {
	n := len(w.gammas)
	w.cosG = make([]float64, n)
	w.mean = make([]float64, n)
	w.below = make([]float64, n)
	for k, g := range w.gammas {
		w.cosG[k] = cosDeg(g)
	}
	for i := range w.planes {
		share := w.arc(i) / 360
		for k := range n {
			w.mean[k] += share * w.cd[i*n+k]
		}
	}
	for k := 1; k < n; k++ {
		// Zonal flux: LM57; 2π (cos γ₁ − cos γ₂) times the mean of both edges.
		w.below[k] = w.below[k-1] + math.Pi*(w.cosG[k-1]-w.cosG[k])*(w.mean[k-1]+w.mean[k])
	}
}

// arc is the part of the circle, in °, that plane i stands for.
func (w *Web) arc(i int) float64 {
	n := len(w.planes)
	if n == 1 {
		return 360
	}
	next, before := w.planes[(i+1)%n]-w.planes[i], w.planes[i]-w.planes[(i+n-1)%n]
	if next <= 0 {
		next += 360
	}
	if before <= 0 {
		before += 360
	}
	return (next + before) / 2
}

// cosDeg is the cosine of an angle in °, exact at the quarters: 90° must not
// leave a trace of light above the horizon.
func cosDeg(deg float64) float64 {
	switch deg {
	case 0:
		return 1
	case 90:
		return 0
	case 180:
		return -1
	}
	return math.Cos(deg * math.Pi / 180)
}

// At returns the intensity in cd toward C and gamma. C may be any angle; gamma
// outside those of the web gives 0, NaN gives NaN.
func (w *Web) At(c, gamma quantity.Degree) float64 {
	g := float64(gamma)
	n := len(w.gammas)
	if math.IsNaN(g) || math.IsNaN(float64(c)) || math.IsInf(float64(c), 0) {
		return math.NaN()
	}
	if g < w.gammas[0] || g > w.gammas[n-1] {
		return 0
	}
	k := min(max(sort.SearchFloat64s(w.gammas, g)-1, 0), n-2)
	u := (w.cosG[k] - cosDeg(g)) / (w.cosG[k] - w.cosG[k+1])
	i, j, t := w.between(float64(c))
	low := w.cd[i*n+k] + t*(w.cd[j*n+k]-w.cd[i*n+k])
	high := w.cd[i*n+k+1] + t*(w.cd[j*n+k+1]-w.cd[i*n+k+1])
	return low + u*(high-low)
}

// between returns the planes on both sides of c and the share of the way from
// the first to the second.
func (w *Web) between(c float64) (i, j int, t float64) {
	n := len(w.planes)
	if n == 1 {
		return 0, 0, 0
	}
	c = math.Mod(c, 360)
	if c < 0 {
		c += 360
	}
	j = sort.SearchFloat64s(w.planes, c)
	if j < n && w.planes[j] == c {
		return j, j, 0
	}
	i = (j + n - 1) % n
	j %= n
	span, way := w.planes[j]-w.planes[i], c-w.planes[i]
	if span <= 0 {
		span += 360
	}
	if way < 0 {
		way += 360
	}
	return i, j, way / span
}

// PlanesDeg returns the planes of the whole circle in °, from 0 up.
func (w *Web) PlanesDeg() []float64 { return slices.Clone(w.planes) }

// GammasDeg returns the gamma angles in °.
func (w *Web) GammasDeg() []float64 { return slices.Clone(w.gammas) }

// Peak returns the highest intensity in cd and the first direction that has it.
func (w *Web) Peak() (candela float64, c, gamma quantity.Degree) {
	n := len(w.gammas)
	for at, v := range w.cd {
		if v > candela {
			candela, c, gamma = v, quantity.Degree(w.planes[at/n]), quantity.Degree(w.gammas[at%n])
		}
	}
	return candela, c, gamma
}

// OnAxis returns the intensity in cd straight along the beam axis (the mean over
// the planes, which should agree there), and how far the planes disagree as a
// share of it. It is 0 and NaN for a web that does not reach the axis.
func (w *Web) OnAxis() (candela, disagree float64) {
	if w.gammas[0] > angleSlack {
		return 0, math.NaN()
	}
	n := len(w.gammas)
	lo, hi := math.Inf(1), 0.0
	for i := range w.planes {
		lo, hi = math.Min(lo, w.cd[i*n]), math.Max(hi, w.cd[i*n])
	}
	return w.mean[0], (hi - lo) / w.mean[0]
}

// Turn returns the web turned about the beam axis: what went toward C goes
// toward C + by.
func (w *Web) Turn(by quantity.Degree) *Web {
	return w.moved(func(c float64) float64 { return c + float64(by) })
}

// Mirror returns the mirror image in the plane C0-C180: what went toward C goes
// toward −C.
func (w *Web) Mirror() *Web { return w.moved(func(c float64) float64 { return -c }) }

func (w *Web) moved(to func(float64) float64) *Web {
	n := len(w.gammas)
	type plane struct {
		c    float64
		from int
	}
	all := make([]plane, len(w.planes))
	for i, c := range w.planes {
		c = math.Mod(to(c), 360)
		if c < 0 {
			c += 360
		}
		if c >= 360 { // a tiny negative angle, rounded
			c = 0
		}
		all[i] = plane{c, i}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].c < all[b].c })
	out := &Web{gammas: w.gammas, planes: make([]float64, 0, len(all)), cd: make([]float64, 0, len(w.cd))}
	for _, p := range all {
		out.planes = append(out.planes, p.c)
		out.cd = append(out.cd, w.cd[p.from*n:(p.from+1)*n]...)
	}
	if len(all) == 1 {
		out.planes[0] = 0
	}
	out.prepare()
	out.grid = newGrid(out)
	return out
}

// Symmetry finds the highest symmetry that the web has, up to a part in 10⁵ of
// its peak (files print four to six digits).
func (w *Web) Symmetry() Symmetry {
	peak, _, _ := w.Peak()
	n := len(w.gammas)
	same := func(to func(float64) float64) bool {
		for i, c := range w.planes {
			a, b, t := w.between(to(c))
			for k := range n {
				v := w.cd[a*n+k] + t*(w.cd[b*n+k]-w.cd[a*n+k])
				if math.Abs(v-w.cd[i*n+k]) > 1e-5*peak {
					return false
				}
			}
		}
		return true
	}
	round := true
	for i := range w.planes {
		for k := range n {
			if math.Abs(w.cd[i*n+k]-w.mean[k]) > 1e-5*peak {
				round = false
			}
		}
	}
	in0, in90 := same(func(c float64) float64 { return -c }), same(func(c float64) float64 { return 180 - c })
	switch {
	case round:
		return Axial
	case in0 && in90:
		return Quadrant
	case in0:
		return Bilateral0
	case in90:
		return Bilateral90
	}
	return NoSymmetry
}
