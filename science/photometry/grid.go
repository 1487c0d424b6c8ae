package photometry

import "math"

// A grid is the web on even steps, in rad and per unit of flux, for looking up
// without a search.
type grid struct {
	first, last float64 // γ, rad
	perG, perC  float64 // cells per rad
	ng, nc      int     // cells; nc is 0 for a web that is the same all round
	rel         []float64
}

// Steps of the grid in °. Half a degree follows the curve of an ordinary lamp
// within 0.01 % of its peak; a file with finer angles gets finer steps, down to
// a tenth.
const (
	usualStep  = 0.5
	finestStep = 0.1
)

func newGrid(w *Web) grid {
	n := len(w.gammas)
	step := usualStep
	for k := 1; k < n; k++ {
		step = math.Min(step, math.Max(w.gammas[k]-w.gammas[k-1], finestStep))
	}
	g := grid{first: w.gammas[0] * math.Pi / 180, last: w.gammas[n-1] * math.Pi / 180}
	g.ng = max(1, int(math.Ceil((w.gammas[n-1]-w.gammas[0])/step-1e-9)))
	g.perG = float64(g.ng) / (g.last - g.first)
	if len(w.planes) > 1 {
		// Files have planes at multiples of 5° or 2.5°; then the grid has a line on
		// each and changes nothing.
		g.nc = 144
		for _, c := range w.planes {
			if math.Abs(c/2.5-math.Round(c/2.5)) > 1e-6 {
				g.nc = 360
			}
		}
		g.perC = float64(g.nc) / (2 * math.Pi)
	}
	rows := g.nc + 1
	g.rel = make([]float64, rows*(g.ng+1))
	at := make([]int, g.ng+1)
	u := make([]float64, g.ng+1)
	for k, j := 0, 0; k <= g.ng; k++ {
		deg := w.gammas[0] + (w.gammas[n-1]-w.gammas[0])*float64(k)/float64(g.ng)
		for j < n-2 && w.gammas[j+1] <= deg {
			j++
		}
		at[k] = j
		u[k] = math.Min(math.Max((w.cosG[j]-cosDeg(deg))/(w.cosG[j]-w.cosG[j+1]), 0), 1)
	}
	for r := range rows {
		c := 0.0
		if g.nc > 0 {
			c = 360 * float64(r%g.nc) / float64(g.nc)
		}
		i, j, t := w.between(c)
		for k := range at {
			a := w.cd[i*n+at[k]] + t*(w.cd[j*n+at[k]]-w.cd[i*n+at[k]])
			b := w.cd[i*n+at[k]+1] + t*(w.cd[j*n+at[k]+1]-w.cd[i*n+at[k]+1])
			g.rel[r*(g.ng+1)+k] = a + u[k]*(b-a)
		}
	}
	total := g.integral()
	for i := range g.rel {
		g.rel[i] /= total
	}
	return g
}

// integral is the flux of the grid, exact for what lies linearly between its
// points.
func (g *grid) integral() float64 {
	h := 1 / g.perG
	width := 2 * math.Pi
	rows := 1
	if g.nc > 0 {
		rows = g.nc // the last row repeats the first
		width /= float64(g.nc)
	}
	sum := 0.0
	for r := range rows {
		row := g.rel[r*(g.ng+1) : (r+1)*(g.ng+1)]
		for k := range g.ng {
			s0, c0 := math.Sincos(g.first + float64(k)*h)
			s1, c1 := math.Sincos(g.first + float64(k+1)*h)
			// ∫ (a + (b−a)(γ−γ₀)/h) sin γ dγ by parts.
			sum += row[k]*c0 - row[k+1]*c1 + (row[k+1]-row[k])/h*(s1-s0)
		}
	}
	return sum * width
}

// Relative returns the intensity per unit of the total flux, in sr⁻¹, toward c
// and gamma in radians; gamma is 0 along the beam axis. Its integral over all
// directions is 1, so flux times Relative is intensity in the unit of the flux
// per steradian.
//
// Any angle may be given: c is taken round the circle, and a gamma beyond 0 to π
// is carried over the pole. NaN and infinities give 0. It allocates nothing.
func (w *Web) Relative(c, gamma float64) float64 {
	g := &w.grid
	if !(gamma >= 0 && gamma <= math.Pi) {
		gamma = math.Mod(gamma, 2*math.Pi) // NaN for an infinity
		if gamma < 0 {
			gamma += 2 * math.Pi
		}
		if gamma > math.Pi {
			gamma, c = 2*math.Pi-gamma, c+math.Pi
		}
		if math.IsNaN(gamma) {
			return 0
		}
	}
	// The limits of the web, with room for the rounding of π/2 and its like.
	const slack = 1e-9
	if gamma < g.first-slack || gamma > g.last+slack {
		return 0
	}
	x := max((gamma-g.first)*g.perG, 0)
	k := min(int(x), g.ng-1)
	x = min(x-float64(k), 1)
	if g.nc == 0 {
		a := g.rel[k : k+2]
		return a[0] + x*(a[1]-a[0])
	}
	if !(c >= 0 && c < 2*math.Pi) {
		if !(c < 0 && c >= -math.Pi) { // what an arctangent gives needs no division
			c = math.Mod(c, 2*math.Pi)
		}
		if c < 0 {
			c += 2 * math.Pi
		}
		if math.IsNaN(c) {
			return 0
		}
	}
	y := c * g.perC
	r := min(int(y), g.nc-1)
	y = min(y-float64(r), 1)
	a := g.rel[r*(g.ng+1)+k:]
	b := a[g.ng+1:]
	low := a[0] + x*(a[1]-a[0])
	high := b[0] + x*(b[1]-b[0])
	return low + y*(high-low)
}
