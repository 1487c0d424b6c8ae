package photometry

import (
	"math"

	"underlamp/science/quantity"
)

// Shares of the peak at whose edge a beam and a field of light end.
const (
	BeamShare  = 0.5 // beam angle: half of the peak (usual in the trade and in CIE S 017; from memory)
	FieldShare = 0.1 // field angle: a tenth (usual for floodlights; from memory)
)

// Spread is a full angle in the two principal planes and as the mean over all.
type Spread struct {
	C0, C90 quantity.Degree // in the planes C0-C180 and C90-C270
	Mean    quantity.Degree // over 24 planes, 7.5° apart
}

// BeamAngle returns the full angle within which the intensity is at least half
// of the peak of its plane.
func (w *Web) BeamAngle() Spread { return w.spread(BeamShare) }

// FieldAngle returns the full angle within which the intensity is at least a
// tenth of the peak of its plane.
func (w *Web) FieldAngle() Spread { return w.spread(FieldShare) }

func (w *Web) spread(share float64) Spread {
	s := Spread{C0: w.AngleAbove(share, 0), C90: w.AngleAbove(share, 90)}
	const planes = 24
	for i := range planes {
		s.Mean += w.AngleAbove(share, quantity.Degree(180*float64(i)/planes)) / planes
	}
	return s
}

// AngleAbove returns the full angle, in the plane of C and its opposite half
// plane, between the outermost directions whose intensity is at least a share of
// the highest in that plane. The angle runs through the beam axis, or through
// the opposite axis if the lamp sends more light up than down. Where the data
// end above the share, their end counts. A dark plane gives 0.
func (w *Web) AngleAbove(share float64, c quantity.Degree) quantity.Degree {
	up := w.Up() > w.Down()
	// Both half planes as one run of signed angles, from the far left to the far
	// right.
	n := len(w.gammas)
	angle := make([]float64, 0, 2*n)
	value := make([]float64, 0, 2*n)
	add := func(half quantity.Degree, sign float64, k int) {
		g := w.gammas[k]
		v := w.At(half, quantity.Degree(g))
		if up {
			g = 180 - g
		}
		angle = append(angle, sign*g)
		value = append(value, v)
	}
	for k := range n {
		if up {
			add(c+180, -1, k)
		} else {
			add(c+180, -1, n-1-k)
		}
	}
	for k := range n {
		if up {
			add(c, 1, n-1-k)
		} else {
			add(c, 1, k)
		}
	}
	peak := 0.0
	for _, v := range value {
		peak = math.Max(peak, v)
	}
	if peak == 0 {
		return 0
	}
	limit := share * peak
	left, right := 0, len(value)-1
	for value[left] < limit {
		left++
	}
	for value[right] < limit {
		right--
	}
	from, to := angle[left], angle[right]
	if left > 0 {
		from = crossing(angle[left-1], angle[left], value[left-1], value[left], limit)
	}
	if right < len(value)-1 {
		to = crossing(angle[right+1], angle[right], value[right+1], value[right], limit)
	}
	return quantity.Degree(math.Max(0, to-from))
}

// crossing is where the intensity passes a limit between two angles of one half
// plane, linear in the cosine as everywhere in a web.
func crossing(a, b, va, vb, limit float64) float64 {
	if a*b < 0 || va == vb { // from one half plane to the other: no data between
		return b
	}
	ca, cb := cosDeg(math.Abs(a)), cosDeg(math.Abs(b))
	cos := ca + (limit-va)/(vb-va)*(cb-ca)
	return math.Copysign(math.Acos(math.Min(math.Max(cos, -1), 1))*180/math.Pi, a+b)
}

// A CosineFit is the law I(γ) = Φ (m+1)/(2π) cosᵐ γ that comes nearest to a web
// in the lower hemisphere, Φ being the light that goes down.
type CosineFit struct {
	Exponent  float64 // m; NaN if no light goes down
	Misplaced float64 // share of the downward light that goes elsewhere than the law says
	Uneven    float64 // share that would have to move about the axis to make the lamp the same all round
}

// FitCosine finds the exponent of the cosine law with the least squared error
// over the lower hemisphere,
//
//	S(m) = ∫₀¹ (Ī(u) − Φ (m+1)/(2π) uᵐ)² du,  u = cos γ,
//
// and says how much light the law puts in the wrong place: half of ∫ |I − law|
// dΩ, as a share of Φ. 0 is a perfect cosine lamp; from about 0.1 on the law
// misleads. The exponent is sought from 0.02 to 5000.
func (w *Web) FitCosine() CosineFit {
	down := w.Down()
	if !(down > 0) {
		return CosineFit{math.NaN(), math.NaN(), math.NaN()}
	}
	us, vs := w.lowerMean()
	score := func(logM float64) float64 {
		m := math.Exp(logM)
		k := down * (m + 1) / (2 * math.Pi)
		// S without ∫ Ī², which does not depend on m.
		return k*k/(2*m+1) - 2*k*moment(us, vs, m)
	}
	const steps = 160
	lo, hi := math.Log(0.02), math.Log(5000)
	best, least := lo, math.Inf(1)
	for i := range steps + 1 {
		x := lo + (hi-lo)*float64(i)/steps
		if s := score(x); s < least {
			best, least = x, s
		}
	}
	a, b := math.Max(lo, best-(hi-lo)/steps), math.Min(hi, best+(hi-lo)/steps)
	ratio := (math.Sqrt(5) - 1) / 2 // golden section
	for range 40 {
		x1, x2 := b-ratio*(b-a), a+ratio*(b-a)
		if score(x1) < score(x2) {
			b = x2
		} else {
			a = x1
		}
	}
	fit := CosineFit{Exponent: math.Exp((a + b) / 2)}
	fit.Misplaced = w.misplaced(down, func(u, _ float64) float64 {
		return down * (fit.Exponent + 1) / (2 * math.Pi) * math.Pow(u, fit.Exponent)
	})
	fit.Uneven = w.misplaced(down, func(_, mean float64) float64 { return mean })
	return fit
}

// lowerMean is the mean intensity over cos γ from 1 down to 0, as the corners of
// straight pieces.
func (w *Web) lowerMean() (us, vs []float64) {
	for k, u := range w.cosG {
		if u >= 0 {
			us, vs = append(us, u), append(vs, w.mean[k])
		}
	}
	if last := w.cosG[len(w.cosG)-1]; last < 0 && len(us) > 0 && us[len(us)-1] > 0 {
		us, vs = append(us, 0), append(vs, w.meanAt(90))
	}
	return us, vs
}

// moment is ∫ Ī uᵐ du, exact for straight pieces.
func moment(us, vs []float64, m float64) float64 {
	sum := 0.0
	for k := 1; k < len(us); k++ {
		u0, u1 := us[k-1], us[k]
		slope := (vs[k-1] - vs[k]) / (u0 - u1)
		base := vs[k] - slope*u1
		sum += base*(math.Pow(u0, m+1)-math.Pow(u1, m+1))/(m+1) + slope*(math.Pow(u0, m+2)-math.Pow(u1, m+2))/(m+2)
	}
	return sum
}

// misplaced is half of ∫ |I − law| dΩ over the lower hemisphere, as a share of
// the downward flux. law gets cos γ and the mean intensity there.
func (w *Web) misplaced(down float64, law func(u, mean float64) float64) float64 {
	const cells = 900 // of cos γ: the middle rule is then exact to 10⁻⁵
	sum := 0.0
	for k := range cells {
		u := (float64(k) + 0.5) / cells
		deg := quantity.Degree(math.Acos(u) * 180 / math.Pi)
		target := law(u, w.meanAt(float64(deg)))
		for i, c := range w.planes {
			sum += w.arc(i) / 360 * math.Abs(w.At(quantity.Degree(c), deg)-target)
		}
	}
	return 0.5 * 2 * math.Pi * sum / cells / down
}
