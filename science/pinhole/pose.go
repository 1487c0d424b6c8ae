package pinhole

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Camera has square pixels; all in pixels of the photo.
type Camera struct{ Focal, CX, CY float64 }

// A Prior is what is known of the camera before the photo is looked at.
type Prior struct {
	Camera
	FocalSD  float64 // relative
	CentreSD float64 // pixels, each way
}

// FullFrame is the diagonal of the frame to which focal lengths are compared, mm.
const FullFrame = 43.267 // √(36² + 24²)

// Usual is the prior for a photo of a size. equivalent is the focal length in 35 mm film of
// its EXIF data, mm; 0: not known, then that of the main camera of a phone is taken with a
// spread that holds the others of it too (26 mm, a third: common practice, no source).
// EXIF gives whole millimetres: 4 % for it.
func Usual(width, height int, equivalent float64) Prior {
	p := Prior{Camera{0, float64(width) / 2, float64(height) / 2}, 0.04, 0.01 * math.Hypot(float64(width), float64(height))}
	if !(equivalent > 0) {
		equivalent, p.FocalSD = 26, 0.33
	}
	p.Focal = equivalent / FullFrame * math.Hypot(float64(width), float64(height))
	return p
}

// A Match is a point of the plane and where it was seen.
type Match struct {
	Plane Point   // mm
	Photo Point   // pixels
	SD    float64 // pixels, each way
}

// A Fit is a plane before a camera.
type Fit struct {
	Camera
	R   [3][3]float64 // from the plane's axes to the camera's: right, down, forward
	T   [3]float64    // place of the plane's origin before the camera, mm
	Chi float64       // sum of squared residuals in units of their SD, with those of the priors
	RMS float64       // root mean square distance of the points, pixels

	cov []float64 // 9 × 9: rotation about the camera's axes, place, ln focal, centre
}

const unknowns = 9

// FitPlane finds the plane. The error is [ErrPoints].
func FitPlane(m []Match, prior Prior) (*Fit, error) {
	var from, to []Point
	for _, q := range m {
		from, to = append(from, q.Plane), append(to, q.Photo)
	}
	h, err := Estimate(from, to)
	if err != nil {
		return nil, err
	}
	f, ok := poseOf(h, prior.Camera)
	if !ok {
		return nil, ErrPoints
	}
	n := 2*len(m) + 3
	residuals := func(g Fit, r []float64) {
		h := g.Plane(0)
		for i, q := range m {
			s := h.Apply(q.Plane)
			r[2*i], r[2*i+1] = (s.X-q.Photo.X)/q.SD, (s.Y-q.Photo.Y)/q.SD
		}
		r[n-3] = math.Log(g.Focal/prior.Focal) / prior.FocalSD
		r[n-2], r[n-1] = (g.CX-prior.CX)/prior.CentreSD, (g.CY-prior.CY)/prior.CentreSD
	}
	out := *f
	var jtj []float64
	for range 2 { // the second time from where the first ended: the covariance is about there
		base, p := out, make([]float64, unknowns)
		jtj, out.Chi = levenberg(p, n, func(p, r []float64) { residuals(base.moved(p), r) })
		chi := out.Chi
		out = base.moved(p)
		out.Chi = chi
	}
	h = out.Plane(0)
	for _, q := range m {
		s := h.Apply(q.Plane)
		out.RMS += (math.Pow(s.X-q.Photo.X, 2) + math.Pow(s.Y-q.Photo.Y, 2)) / float64(len(m))
	}
	out.RMS = math.Sqrt(out.RMS)
	var chol mat.Cholesky
	a := mat.NewSymDense(unknowns, jtj)
	for i := range unknowns {
		a.SetSym(i, i, a.At(i, i)*(1+1e-12))
	}
	if !chol.Factorize(a) || !(out.T[2] > 0) {
		return nil, ErrPoints
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil && !isCondition(err) {
		return nil, ErrPoints
	}
	out.cov = make([]float64, unknowns*unknowns)
	for i := range unknowns {
		for j := range unknowns {
			out.cov[i*unknowns+j] = inv.At(i, j)
		}
	}
	return &out, nil
}

// poseOf is the closed form (Zhang2000, section 3.1): columns of K⁻¹H, of one length.
func poseOf(h Homography, c Camera) (*Fit, bool) {
	k := Homography{{1 / c.Focal, 0, -c.CX / c.Focal}, {0, 1 / c.Focal, -c.CY / c.Focal}, {0, 0, 1}}.Times(h)
	col := func(j int) [3]float64 { return [3]float64{k[0][j], k[1][j], k[2][j]} }
	a, b, t := col(0), col(1), col(2)
	s := 2 / (norm(a) + norm(b))
	if t[2]*s < 0 {
		s = -s
	}
	for i := range 3 {
		a[i], b[i], t[i] = a[i]*s, b[i]*s, t[i]*s
	}
	// The nearest pair of right angle: move both by half of what is too much.
	d := dot3(a, b) / 2
	u, v := a, b
	for i := range 3 {
		u[i], v[i] = a[i]-d*b[i], b[i]-d*a[i]
	}
	nu, nv := norm(u), norm(v)
	if !(nu > 1e-6) || !(nv > 1e-6) || math.IsInf(s, 0) {
		return nil, false
	}
	for i := range 3 {
		u[i] /= nu
	}
	d = dot3(u, v)
	for i := range 3 {
		v[i] -= d * u[i]
	}
	nv = norm(v)
	for i := range 3 {
		v[i] /= nv
	}
	w := [3]float64{u[1]*v[2] - u[2]*v[1], u[2]*v[0] - u[0]*v[2], u[0]*v[1] - u[1]*v[0]}
	f := Fit{Camera: c, T: t}
	for i := range 3 {
		f.R[i] = [3]float64{u[i], v[i], w[i]}
	}
	return &f, true
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func norm(a [3]float64) float64    { return math.Sqrt(dot3(a, a)) }

// moved is the fit after a step of its nine numbers: rotation about the camera's axes
// (Rodrigues), place as a share of the distance, ln focal, centre as a share of the focal length.
func (f Fit) moved(p []float64) Fit {
	out := f
	w := [3]float64{p[0], p[1], p[2]}
	if a := norm(w); a > 0 {
		k := [3]float64{w[0] / a, w[1] / a, w[2] / a}
		s, c := math.Sincos(a)
		var r [3][3]float64
		skew := [3][3]float64{{0, -k[2], k[1]}, {k[2], 0, -k[0]}, {-k[1], k[0], 0}}
		for i := range 3 {
			for j := range 3 {
				r[i][j] = s*skew[i][j] + (1-c)*k[i]*k[j]
				if i == j {
					r[i][j] += c
				}
			}
		}
		for i := range 3 {
			for j := range 3 {
				out.R[i][j] = r[i][0]*f.R[0][j] + r[i][1]*f.R[1][j] + r[i][2]*f.R[2][j]
			}
		}
	}
	for i := range 3 {
		out.T[i] += p[3+i] * f.T[2]
	}
	out.Focal *= math.Exp(p[6])
	out.CX += p[7] * f.Focal
	out.CY += p[8] * f.Focal
	return out
}

// Plane takes mm on the plane that lies a height over the fitted one, mm towards the
// camera, to pixels: K·[r1 r2 t − height·r3]. (r3 points away from the camera.)
func (f *Fit) Plane(height float64) Homography {
	var h Homography
	for i := range 3 {
		h[i] = [3]float64{f.R[i][0], f.R[i][1], f.T[i] - height*f.R[i][2]}
	}
	return Homography{{f.Focal, 0, f.CX}, {0, f.Focal, f.CY}, {0, 0, 1}}.Times(h)
}

// Tilt is the angle between the normal of the plane and the line from a point of it to the
// camera, radians.
func (f *Fit) Tilt(p Point) float64 {
	var c, n [3]float64
	for i := range 3 {
		c[i] = f.R[i][0]*p.X + f.R[i][1]*p.Y + f.T[i]
		n[i] = f.R[i][2]
	}
	return math.Acos(min(1, math.Abs(dot3(c, n))/norm(c)))
}

// Distance is how far the camera stands from the plane along its normal, mm, with its
// standard deviation.
func (f *Fit) Distance() (d, sd float64) {
	of := func(g *Fit) float64 {
		n := [3]float64{g.R[0][2], g.R[1][2], g.R[2][2]}
		return dot3(n, g.T)
	}
	return of(f), f.spread(of)
}

// Scale is how many pixels a mm takes up at a place of the plane that lies a height over
// the fitted one (the root of the areas' ratio), with its relative standard deviation by
// the marks and the priors.
func (f *Fit) Scale(p Point, height float64) (perMM, relative float64) {
	of := func(g *Fit) float64 {
		h := g.Plane(height)
		j := h.Jacobian(p)
		return math.Log(math.Abs(j[0][0]*j[1][1]-j[0][1]*j[1][0])) / 2
	}
	return math.Exp(of(f)), f.spread(of)
}

// PlaceScale is the scale of true lengths at a place of the photo that is shown on the
// plane: mm of the plane a pixel, as [Fit.Scale], for a place fixed in pixels, which is how
// a leaf is given; relative is the standard deviation of that.
func (f *Fit) PlaceScale(px Point, height float64) (mm, relative float64) {
	of := func(g *Fit) float64 {
		h := g.Plane(height).Inverse()
		j := h.Jacobian(px)
		return math.Log(math.Abs(j[0][0]*j[1][1]-j[0][1]*j[1][0])) / 2
	}
	return math.Exp(of(f)), f.spread(of)
}

// spread is the standard deviation of a function of the fit, by its slopes.
func (f *Fit) spread(of func(*Fit) float64) float64 {
	g := make([]float64, unknowns)
	p := make([]float64, unknowns)
	for i := range g {
		const step = 1e-5
		p[i] = step
		a := f.moved(p)
		p[i] = -step
		b := f.moved(p)
		p[i] = 0
		g[i] = (of(&a) - of(&b)) / (2 * step)
	}
	v := 0.0
	for i := range g {
		for j := range g {
			v += g[i] * g[j] * f.cov[i*unknowns+j]
		}
	}
	return math.Sqrt(max(0, v))
}

// Lens is how much a lens that was not corrected could change the scale at one place of the
// photo against another, as a relative standard deviation. A radial distortion k r² with r
// as a share of half the diagonal changes areas by (1 + k r²)(1 + 3 k r²), lengths by about
// 2 k r². sd is the spread of k: the cameras of phones correct their lenses, and what is
// left is below a hundredth (common practice, no source).
func Lens(width, height int, a, b Point, sd float64) float64 {
	r2 := func(p Point) float64 {
		w, h := float64(width), float64(height)
		return (math.Pow(p.X-w/2, 2) + math.Pow(p.Y-h/2, 2)) * 4 / (w*w + h*h)
	}
	return 2 * sd * math.Abs(r2(a)-r2(b))
}

// Stretched is the fit for a plane whose lengths are k times what was thought: all lengths
// grow with it.
func (f *Fit) Stretched(k float64) *Fit {
	out := *f // the covariance has place as a share of the distance, and so stays
	for i := range out.T {
		out.T[i] *= k
	}
	return &out
}
