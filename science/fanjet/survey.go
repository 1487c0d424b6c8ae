package fanjet

import (
	"errors"
	"math"
	"slices"
)

// A Reading is one of an anemometer.
type Reading struct {
	Speed float64 // m/s
	// Depth says how deep in the crop: 1 at its top and above it, 0 at the ground; see
	// [Reading.AtTop].
	Depth float64
}

// attenuation is a of u(z) = u(h) exp(a (z/h − 1)); 2 to 3 in dense crops (CampbellNorman1998,
// from memory).
const (
	attenuation   = 2.5
	attenuationSD = 0.5
)

// AtTop is the speed at the top of the crop that a reading means.
//
//	u(h) = u(z) exp(a (1 − z/h)),  a = 2.5
//
// The hearts of heads stand at their top, so that is the speed which counts. A reading above
// the crop stands for it as it is. Source: CampbellNorman1998, from memory.
func (r Reading) AtTop() float64 {
	return r.Speed * math.Exp(attenuation*(1-min(max(r.Depth, 0), 1)))
}

// A Survey is what readings at several places say of the air over a crop.
type Survey struct {
	N      int     `doc:"number of places"`
	Mean   float64 `doc:"speed of air at the top of the crop, m/s"`   // m/s at the top of the crop
	Low    float64 `doc:"low end of the 90 % band of the mean, m/s"`  // 90 % of the mean: places and instrument
	High   float64 `doc:"high end of the 90 % band of the mean, m/s"` // 90 % of the mean: places and instrument
	Least  float64 `doc:"speed at the stillest place, m/s"`
	Most   float64 `doc:"speed at the windiest place, m/s"`
	Uneven float64 `doc:"standard deviation over mean, of the places"`
}

// Instrument is how far a vane or hot wire for hobby use reads off, relative and m/s; common
// practice, no source.
const (
	instrumentSD    = 0.05
	instrumentFloor = 0.03 // m/s
)

// ErrNoReadings says that there is nothing to take the mean of.
var ErrNoReadings = errors.New("a survey needs at least one reading")

// SurveyOf takes the mean of readings. With one reading the spread of places is taken as 40 %
// (common practice, no source).
func SurveyOf(readings []Reading) (Survey, error) {
	if len(readings) == 0 {
		return Survey{}, ErrNoReadings
	}
	v := make([]float64, len(readings))
	deep := 0.0 // spread that the unknown attenuation brings, relative
	for i, r := range readings {
		v[i] = r.AtTop()
		deep += attenuationSD * (1 - min(max(r.Depth, 0), 1)) / float64(len(readings))
	}
	s := Survey{N: len(v), Least: slices.Min(v), Most: slices.Max(v)}
	for _, x := range v {
		s.Mean += x / float64(len(v))
	}
	sum := 0.0
	for _, x := range v {
		sum += (x - s.Mean) * (x - s.Mean)
	}
	sd := 0.4 * s.Mean
	if len(v) > 1 {
		sd = math.Sqrt(sum / float64(len(v)-1))
	}
	if s.Mean > 0 {
		s.Uneven = sd / s.Mean
	}
	places := sd / math.Sqrt(float64(len(v)))
	meter := math.Hypot(instrumentSD*s.Mean, instrumentFloor)
	half := 1.645 * math.Sqrt(places*places+meter*meter+deep*deep*s.Mean*s.Mean)
	s.Low, s.High = max(s.Mean-half, 0), s.Mean+half
	return s, nil
}
