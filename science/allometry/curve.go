package allometry

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// A Seen is what a photo, or several of one day, show of a plant.
type Seen struct {
	Area   float64 // projected leaf area, cm²
	AreaSD float64 // its standard deviation, cm²; 0: exact
	Height float64 // from the planting surface to the highest leaf, mm; 0: not known
	Width  float64 // greatest width of the crown, mm; 0: not known
}

// A Weighed is a plant that was photographed and weighed on the same day.
type Weighed struct {
	Seen
	Grams   float64 // fresh shoot
	GramsSD float64 // standard deviation of the scale; 0: 1 g or 2 %, whichever is less (assumed)
}

// terms are the coefficients: level, and exponents of area, height and compactness.
const terms = 4

// A Curve is what is known of mass by what is seen. It can be kept as JSON, by cultivar. The zero
// value is no curve; begin with [Lettuce].
type Curve struct {
	// Mean and Precision are of the coefficients given a variance of plants of 1: the
	// logarithm of the mass at 300 cm², then exponents of area, of height over the usual
	// height of that area, and of roundness over the usual one. Freedom and Sum are shape
	// and scale, each doubled, of the inverse gamma distribution of the variance of plants.
	Mean      []float64   `json:"mean"`
	Precision [][]float64 `json:"precision"`
	Freedom   float64     `json:"freedom"`
	Sum       float64     `json:"sum"`

	Plants int     `json:"plants"` // weighed plants that it learned from
	Least  float64 `json:"least"`  // areas between which it may be used, cm²
	Most   float64 `json:"most"`
}

// Constants of the curve; assumed but where a source stands.
const (
	standArea   = 300.0 // cm², at which the level is told
	usualHeight = 6.5   // mm over the root of the area in cm²: a head of 300 cm² is 11 cm high
	usualRound  = 0.6   // 4·area/(π·width²) of an open rosette
	heightSD    = 0.25  // of the logarithm of height between plants of one area
	roundSD     = 0.25  // of the logarithm of roundness
	plantVar    = 0.04  // variance of ln mass about the curve: ZhangEtAl2022 leave 16 % from photos with depth, by a trained network; 20 % here
	plantWeight = 6.0   // observations that this is worth
	beyond      = 1.3   // times the areas of weighed plants, to which the curve is carried on
	cultivarSD  = 0.2   // of the level between cultivars of one room
	cultivarExp = 0.1   // of the exponent of area between them
)

// Lettuce is the curve before any plant was weighed.
//
// Its level is that of the 68 plants of 50 to 100 g of WUR2021: crowns 21.8 cm wide of
// which leaves are taken to fill three quarters, 280 cm², and the middle mass is 71 g; with
// a standard deviation of 0.4 of the logarithm, for the filling is assumed and cultivars
// differ. The exponent of area is 1.6 ± 0.35: 1.5 is that of bodies of one shape and
// density (Huxley1932), and heads become denser. Height and compactness: 0.5 ± 0.3 and
// 0 ± 0.3, assumed. It may be used from 150 to 600 cm², about 15 to 500 g; smaller plants
// were wider in that greenhouse for their mass than this curve makes them.
func Lettuce() Curve {
	c := Curve{
		Mean:    []float64{math.Log(71) + 1.6*math.Log(standArea/280), 1.6, 0.5, 0},
		Freedom: plantWeight, Sum: plantWeight * plantVar,
		Least: 150, Most: 600,
	}
	for i, sd := range [terms]float64{0.4, 0.35, 0.3, 0.3} {
		row := make([]float64, terms)
		row[i] = plantVar / (sd * sd)
		c.Precision = append(c.Precision, row)
	}
	return c
}

// row is the regressors of a plant, and the variance of ln mass that what is not known of
// it adds, both with the exponents of c.
func (c Curve) row(s Seen) (x [terms]float64, extra float64) {
	x[0], x[1] = 1, math.Log(s.Area/standArea)
	relative := s.AreaSD / s.Area
	slope := c.Mean[1]
	if s.Height > 0 {
		x[2] = math.Log(s.Height / (usualHeight * math.Sqrt(s.Area)))
		slope -= c.Mean[2] / 2
	} else {
		extra += c.Mean[2] * c.Mean[2] * heightSD * heightSD
	}
	if s.Width > 0 {
		x[3] = math.Log(400 * s.Area / (math.Pi * s.Width * s.Width) / usualRound)
		slope += c.Mean[3]
	} else {
		extra += c.Mean[3] * c.Mean[3] * roundSD * roundSD
	}
	return x, extra + slope*slope*relative*relative
}

func (s Seen) check() error {
	for _, v := range []struct {
		name  string
		value float64
	}{{"leaf area", s.Area}, {"standard deviation of the leaf area", s.AreaSD}, {"height", s.Height}, {"width", s.Width}} {
		if math.IsNaN(v.value) || math.IsInf(v.value, 0) || v.value < 0 {
			return fmt.Errorf("the %s is %g, which no plant has", v.name, v.value)
		}
	}
	if s.Area == 0 {
		return fmt.Errorf("the leaf area is 0: measure it first")
	}
	return nil
}

func (c Curve) check() (*mat.SymDense, *mat.Cholesky, error) {
	if len(c.Mean) != terms || len(c.Precision) != terms || !(c.Freedom > 0) || !(c.Sum > 0) || !(c.Least > 0) || !(c.Most >= c.Least) {
		return nil, nil, fmt.Errorf("this is no curve of mass: it has %d coefficients instead of %d, or no spread, or no range", len(c.Mean), terms)
	}
	p := mat.NewSymDense(terms, nil)
	for i, r := range c.Precision {
		if len(r) != terms || math.IsNaN(c.Mean[i]) || math.IsInf(c.Mean[i], 0) {
			return nil, nil, fmt.Errorf("row %d of the curve of mass is broken", i+1)
		}
		for j := range i + 1 {
			if d := math.Abs(r[j] - c.Precision[j][i]); !(d <= 1e-9*(1+math.Abs(r[j]))) {
				return nil, nil, fmt.Errorf("the precision of the curve of mass is not symmetric")
			}
			p.SetSym(i, j, r[j])
		}
	}
	chol := &mat.Cholesky{}
	if !chol.Factorize(p) {
		return nil, nil, fmt.Errorf("the precision of the curve of mass is not positive definite")
	}
	return p, chol, nil
}

// Learn is the curve after plants were weighed. Errors name the plant, by its place in
// the list from 1, whose figures cannot be.
//
// A curve that learned from plants can learn from more; what is known twice must not be
// given twice.
func (c Curve) Learn(plants []Weighed) (Curve, error) {
	p, _, err := c.check()
	if err != nil {
		return Curve{}, err
	}
	base := plantVar
	after := mat.NewSymDense(terms, nil)
	after.CopySym(p)
	mean := mat.NewVecDense(terms, c.Mean)
	var right mat.VecDense
	right.MulVec(p, mean)
	sum := c.Sum + mat.Inner(mean, p, mean)
	out := Curve{Freedom: c.Freedom, Plants: c.Plants + len(plants), Least: c.Least, Most: c.Most}
	for i, w := range plants {
		if err := w.Seen.check(); err != nil {
			return Curve{}, fmt.Errorf("weighed plant %d: %w", i+1, err)
		}
		if !(w.Grams > 0) || math.IsInf(w.Grams, 0) || !(w.GramsSD >= 0) || math.IsInf(w.GramsSD, 0) {
			return Curve{}, fmt.Errorf("weighed plant %d has a mass of %g g, ± %g", i+1, w.Grams, w.GramsSD)
		}
		x, extra := c.row(w.Seen)
		weight := 1 / (1 + (extra+math.Pow(w.scaleSD()/w.Grams, 2))/base)
		y := math.Log(w.Grams)
		for j := range terms {
			right.SetVec(j, right.AtVec(j)+weight*x[j]*y)
			for k := range j + 1 {
				after.SetSym(j, k, after.At(j, k)+weight*x[j]*x[k])
			}
		}
		sum += weight * y * y
		out.Freedom++
		out.Least, out.Most = min(out.Least, w.Area/beyond), max(out.Most, w.Area*beyond)
	}
	var chol mat.Cholesky
	if !chol.Factorize(after) {
		return Curve{}, fmt.Errorf("the weighed plants cannot be learned from: their figures are too far from any plant's")
	}
	var m mat.VecDense
	if err := chol.SolveVecTo(&m, &right); err != nil {
		return Curve{}, fmt.Errorf("the weighed plants cannot be learned from: their figures are too far from any plant's")
	}
	out.Sum = sum - mat.Inner(&m, after, &m)
	if !(out.Sum > 0) {
		return Curve{}, fmt.Errorf("the weighed plants cannot be learned from: their figures are too far from any plant's")
	}
	for i := range terms {
		out.Mean = append(out.Mean, m.AtVec(i))
		row := make([]float64, terms)
		for j := range terms {
			row[j] = after.At(i, j)
		}
		out.Precision = append(out.Precision, row)
	}
	return out, nil
}

func (w Weighed) scaleSD() float64 {
	if w.GramsSD > 0 {
		return w.GramsSD
	}
	return min(1, 0.02*w.Grams)
}

// A Mass is what a plant weighs, as far as it can be told.
type Mass struct {
	Grams        float64 // median
	Lower, Upper float64 // between which it lies with a chance of Level
	Level        float64

	LogMean float64 // of the Student distribution of the logarithm of the mass in g
	LogSD   float64 // its scale
	DF      float64 // its degrees of freedom

	// PlantSD and CurveSD are the parts of LogSD: this plant about the curve, with the error
	// of its area; and the curve, which is the same for plants alike and for each day. A
	// plant that is dense today is dense tomorrow: much of PlantSD stays too, how much is not
	// known, so that how fast a plant grew is told better by its areas.
	PlantSD, CurveSD float64
}

// ErrorGrams is a standard deviation of the mass for who takes one, such as a weighing that
// learning reads: that of the Student distribution at the median. The part of it that
// photos of one cultivar share is CurveSD/LogSD of it, squared.
func (m Mass) ErrorGrams() float64 {
	sd := m.LogSD
	if m.DF > 2 {
		sd *= math.Sqrt(m.DF / (m.DF - 2))
	}
	return m.Grams * sd
}

// Mass tells the mass of a plant, between limits that hold with a chance of level (0.9).
// A plant smaller or larger than the curve stands on is refused with a [*stat.Refusal].
func (c Curve) Mass(s Seen, level float64) (Mass, error) {
	_, chol, err := c.check()
	if err != nil {
		return Mass{}, err
	}
	if err := s.check(); err != nil {
		return Mass{}, err
	}
	if !(level > 0 && level < 1) {
		return Mass{}, fmt.Errorf("limits that hold with a chance of %g: it must lie between 0 and 1", level)
	}
	if s.Area < c.Least || s.Area > c.Most {
		return Mass{}, stat.Refuse(fmt.Sprintf("the mass of a plant of %.3g cm²", s.Area),
			"the curve stands on plants of %.3g to %.3g cm²; weigh some plants of this size after taking their photo", c.Least, c.Most)
	}
	x, extra := c.row(s)
	v := mat.NewVecDense(terms, x[:])
	var solved mat.VecDense
	if err := chol.SolveVecTo(&solved, v); err != nil {
		return Mass{}, fmt.Errorf("the curve of mass is nearly singular")
	}
	variance := c.Sum / c.Freedom
	m := Mass{
		LogMean: mat.Dot(v, mat.NewVecDense(terms, c.Mean)), DF: c.Freedom, Level: level,
		PlantSD: math.Sqrt(variance * (1 + extra/plantVar)),
		CurveSD: math.Sqrt(variance * mat.Dot(v, &solved)),
	}
	m.LogSD = math.Hypot(m.PlantSD, m.CurveSD)
	t := dist.TQuantile((1+level)/2, m.DF)
	m.Grams, m.Lower, m.Upper = math.Exp(m.LogMean), math.Exp(m.LogMean-t*m.LogSD), math.Exp(m.LogMean+t*m.LogSD)
	return m, nil
}

// ForAnother is the curve of another cultivar of the same room of which no plant was weighed: the
// same level and exponents, with what cultivars differ in added to what is not known of
// them (0.2 of the logarithm of the level, 0.1 of the exponent of area; assumed).
func (c Curve) ForAnother() (Curve, error) {
	_, chol, err := c.check()
	if err != nil {
		return Curve{}, err
	}
	var cov mat.SymDense
	if err := chol.InverseTo(&cov); err != nil {
		return Curve{}, fmt.Errorf("the curve of mass is nearly singular")
	}
	variance := c.Sum / c.Freedom
	cov.SetSym(0, 0, cov.At(0, 0)+cultivarSD*cultivarSD/variance)
	cov.SetSym(1, 1, cov.At(1, 1)+cultivarExp*cultivarExp/variance)
	var wide mat.Cholesky
	var p mat.SymDense
	if !wide.Factorize(&cov) || wide.InverseTo(&p) != nil {
		return Curve{}, fmt.Errorf("the curve of mass is nearly singular")
	}
	out := c
	out.Plants = 0
	out.Mean = append([]float64(nil), c.Mean...)
	out.Precision = nil
	for i := range terms {
		row := make([]float64, terms)
		for j := range terms {
			row[j] = p.At(i, j)
		}
		out.Precision = append(out.Precision, row)
	}
	return out, nil
}

// Doubtful are the weighed plants that do not fit what the others tell: of each the
// Student residual of its mass when the curve is learned from the others, where that is
// beyond 3. A wrong label or a slip of the pen is likelier than such a plant.
func (c Curve) Doubtful(plants []Weighed) (map[int]float64, error) {
	out := map[int]float64{}
	others := make([]Weighed, 0, len(plants))
	for i, w := range plants {
		others = append(append(others[:0], plants[:i]...), plants[i+1:]...)
		learned, err := c.Learn(others)
		if err != nil {
			return nil, err
		}
		learned.Least, learned.Most = math.SmallestNonzeroFloat64, math.MaxFloat64
		m, err := learned.Mass(w.Seen, 0.9)
		if err != nil {
			return nil, fmt.Errorf("weighed plant %d: %w", i+1, err)
		}
		if r := (math.Log(w.Grams) - m.LogMean) / math.Hypot(m.LogSD, w.scaleSD()/w.Grams); math.Abs(r) > 3 {
			out[i] = r
		}
	}
	return out, nil
}
