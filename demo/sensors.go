package demo

import (
	"hash/fnv"
	"math"
	"time"
)

// A Sensor is one of the sensors of the middle tier. All that they read is invented: an
// even life with lights from 6 to 22 by the clock, and what a cellar does to it.
type Sensor struct {
	Key      string
	Quantity string
	Unit     string
	X, Y, Z  float64 // m; 0 where the place does not matter
	Note     string
	read     func(t time.Time, on float64, noise func(span time.Duration) float64) float64
	digits   int
}

// SensorBench is the bench that the sensors stand on, by the name of its file.
const SensorBench = "tier-2-middle"

// SensorEvery is the time between two readings.
const SensorEvery = 10 * time.Minute

// Sensors are the sensors of the middle tier.
func Sensors() []Sensor {
	return []Sensor{
		{Key: "middle/ppfd", Quantity: "PPFD", Unit: "µmol/m²/s", X: 0.60, Y: 0.30, Z: 0.05, Note: "between the panels", digits: 0, read: func(t time.Time, on float64, noise func(time.Duration) float64) float64 {
			age := 0.03 * float64(t.YearDay()) / 365 // what lamps lose in a year
			return 238 * on * (1 - age + 0.006*noise(SensorEvery))
		}},
		{Key: "middle/air", Quantity: "air temperature", Unit: "°C", X: 0.60, Y: 0.30, Z: 0.15, digits: 1, read: func(t time.Time, _ float64, noise func(time.Duration) float64) float64 {
			return 18.7 + 1.4*season(t) + 2.6*lag(t, 80*time.Minute) + 0.5*noise(24*time.Hour) + 0.15*noise(SensorEvery)
		}},
		{Key: "middle/humidity", Quantity: "humidity", Unit: "%", X: 0.60, Y: 0.30, Z: 0.15, digits: 0, read: func(t time.Time, _ float64, noise func(time.Duration) float64) float64 {
			return math.Min(79+3*season(t)-13*lag(t, 50*time.Minute)+3*noise(24*time.Hour)+0.8*noise(SensorEvery), 98)
		}},
		{Key: "middle/co2", Quantity: "CO2", Unit: "ppm", X: 0.60, Y: 0.30, Z: 0.15, digits: 0, read: func(t time.Time, _ float64, noise func(time.Duration) float64) float64 {
			return 540 - 70*lag(t, 2*time.Hour) + 25*noise(24*time.Hour) + 9*noise(SensorEvery)
		}},
		{Key: "middle/feed", Quantity: "solution temperature", Unit: "°C", Note: "in the tank", digits: 1, read: func(t time.Time, _ float64, noise func(time.Duration) float64) float64 {
			return 18.9 + 1.2*season(t) + 0.9*lag(t, 5*time.Hour) + 0.2*noise(24*time.Hour)
		}},
		{Key: "middle/power", Quantity: "power", Unit: "W", Note: "both panels", digits: 0, read: func(_ time.Time, on float64, noise func(time.Duration) float64) float64 {
			return 94*on + 0.6*on*noise(SensorEvery)
		}},
	}
}

// Read is what the sensor reads at a time, in the clock of its zone. The same time gives the
// same.
func (s Sensor) Read(t time.Time) float64 {
	noise := func(span time.Duration) float64 { // between −1 and 1, the same for a stretch of time
		h := fnv.New64a()
		h.Write([]byte(s.Key + t.Truncate(span).UTC().String()))
		return float64(h.Sum64()>>11)/(1<<52) - 1
	}
	v := s.read(t, lit(t), noise)
	scale := math.Pow10(s.digits)
	return math.Round(v*scale) / scale
}

// lit is 1 while the lamps burn.
func lit(t time.Time) float64 {
	if h := t.Hour(); h >= 6 && h < 22 {
		return 1
	}
	return 0
}

// lag follows the lamps as what they warm does: the share of the way that is done after
// they went on or off.
func lag(t time.Time, after time.Duration) float64 {
	const day = 24.0
	h := float64(t.Hour()) + float64(t.Minute())/60
	since := func(at float64) time.Duration {
		return time.Duration(math.Mod(h-at+day, day) * float64(time.Hour))
	}
	if lit(t) == 1 {
		return 1 - math.Exp(-float64(since(6))/float64(after))
	}
	return math.Exp(-float64(since(22)) / float64(after))
}

// season is −1 at the end of January and 1 at the end of July.
func season(t time.Time) float64 { return -math.Cos(2 * math.Pi * float64(t.YearDay()-30) / 365) }
