package light

import (
	"fmt"
	"math"

	"underlamp/science/lightfield"
	"underlamp/science/residualfield"
)

// FieldUse says whether the residual field of the readings is used.
type FieldUse int

// The uses of the residual field.
const (
	FieldAuto FieldUse = iota // from four usable readings on
	FieldOn                   // whenever there is a reading
	FieldOff                  // lamps and walls alone
)

// fewestReadings is from how many usable readings on the field is used by itself.
// The fit takes three things from the readings: level, beam and walls. The fourth
// is the first that can contradict lamps and walls; with less, the field would be
// its prior alone.
const fewestReadings = 4

// sharedLight is how alike the lamps of a reading must be to those of the bench
// as it is set for the reading to count: the cosine whose square is a half, so
// that half of the variance of the field is shared.
const sharedLight = math.Sqrt2 / 2

// lowestDepth is the least distance under the lamps, in m, at which the field is
// asked: a crown in the lamps counts as at it.
const lowestDepth = 0.02

// fieldUsed is what became of the field.
type fieldUsed struct {
	on       bool
	usable   int
	readings []residualfield.Place // of all readings
	slope    [][]float64
	before   []float64 // what the fit alone expects of each reading, as Value of the data
	minM     float64   // bounds of the length
	maxM     float64
}

// addField conditions parameters and field on the readings together and moves
// the lamps and walls of the fit to where they stand beside the field.
func (m *Model) addField(readings []lightfield.Reading) error {
	lin := m.fit.Linear()
	d := residualfield.Data{Noise: lin.Noise, Spread: lin.Spread, Slope: lin.Slope, Prior: lin.Prior}
	dim, _ := m.weights(nil)
	now := m.mix(dim)
	for i, r := range readings {
		p := residualfield.Place{X: r.At.X, Y: r.At.Y, Depth: m.depth(float64(m.bench.Setting().Height), r.At.Z), Mix: m.mix(r.Dimming)}
		d.Places = append(d.Places, p)
		before := 0.0
		for j, s := range lin.Slope[i] {
			before += s * m.fit.Param[j]
		}
		m.use.before = append(m.use.before, before)
		d.Value = append(d.Value, lin.Residual[i]+before)
		alike := 0.0
		for k, v := range now {
			alike += v * p.Mix[k]
		}
		if !m.fit.Readings[i].FarOff && alike >= sharedLight {
			m.use.usable++
		}
	}
	m.use.readings, m.use.slope = d.Places, d.Slope
	m.use.on = len(readings) > 0 && (m.opt.Field == FieldOn || m.opt.Field == FieldAuto && m.use.usable >= fewestReadings)
	m.use.minM, m.use.maxM = m.lengths()
	var err error
	m.field, err = residualfield.Fit(d, residualfield.Grid{MinLength: m.use.minM, MaxLength: m.use.maxM, Off: !m.use.on})
	if err != nil {
		return err
	}
	if m.use.on {
		m.fit = m.fit.Moved(m.field.Param(), m.field.ParamCov())
	}
	return nil
}

// lengths are the bounds of the field's length: from half of the distance of two
// neighbouring lamps, below which the lamps' own pattern lies, to the longer side
// of the bench, at most 16 times as long, since what is longer than the readings
// reach is level. A single lamp counts half of its height.
func (m *Model) lengths() (least, most float64) {
	nearest := math.Inf(1)
	for i, l := range m.fit.Lamps {
		for _, k := range m.fit.Lamps[:i] {
			nearest = min(nearest, math.Hypot(l.Centre.X-k.Centre.X, l.Centre.Y-k.Centre.Y))
		}
	}
	if math.IsInf(nearest, 1) {
		nearest = float64(m.bench.Setting().Height)
	}
	least = max(nearest/2, 0.05)
	return least, clamp(max(float64(m.bench.Space.Width), float64(m.bench.Space.Depth)), least, 16*least)
}

// depth is the coordinate of the field along the height.
func (m *Model) depth(lamps, z float64) float64 { return math.Log(max(lamps-z, lowestDepth)) }

// mix is the unit vector of the light that each lamp gives.
func (m *Model) mix(dim []float64) []float64 {
	v := make([]float64, len(dim))
	for i, d := range dim {
		v[i] = d * float64(m.bench.Lamps[i].Flux.Value)
	}
	return residualfield.Unit(v)
}

// factors returns what the field multiplies the light by at points that share a
// height; nil if there is no field.
func (l *Lit) factors(mix []float64, pts []lightfield.Point, z float64) []float64 {
	if !l.m.use.on {
		return nil
	}
	x, y := make([]float64, len(pts)), make([]float64, len(pts))
	for i, p := range pts {
		x[i], y[i] = p.X, p.Y
	}
	out := l.m.field.Correction(nil, residualfield.Place{Depth: l.m.depth(float64(l.height), z), Mix: mix}, x, y)
	for i, v := range out {
		out[i] = math.Exp(v)
	}
	return out
}

// targets are points at a height as the field is asked about them.
func (m *Model) targets(lamps, z float64, mix []float64, pts []lightfield.Point, slopes [][]float64) []residualfield.Target {
	out := make([]residualfield.Target, len(pts))
	for i, p := range pts {
		out[i] = residualfield.Target{
			Place: residualfield.Place{X: p.X, Y: p.Y, Depth: m.depth(lamps, z), Mix: mix},
			Slope: slopes[i],
		}
	}
	return out
}

// expected is what each reading should show by lamps, walls, meter and field.
func (m *Model) expected() []float64 {
	out := make([]float64, len(m.use.readings))
	for i, p := range m.use.readings {
		v := m.field.Mean(residualfield.Target{Place: p, Slope: m.use.slope[i]})
		out[i] = m.fit.Readings[i].Model * math.Exp(v-m.use.before[i])
	}
	return out
}

// why says in one sentence whether the field is used, and why.
func (m *Model) why() string {
	n := len(m.bench.Readings)
	switch {
	case m.opt.Field == FieldOff:
		return "The residual field is switched off: between readings the light is that of lamps and walls alone."
	case n == 0:
		return "There is no reading, so there is no residual field."
	case m.use.on && m.opt.Field == FieldOn:
		return "The residual field is switched on."
	case m.use.on:
		return fmt.Sprintf("%d usable readings: what lamps and walls leave of them is carried to their surroundings.", m.use.usable)
	}
	return fmt.Sprintf("%d of %d readings can be used for the residual field (near the model, under the lamps of this setting); it takes %d, so the light is that of lamps and walls alone.", m.use.usable, n, fewestReadings)
}
