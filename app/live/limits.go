package live

import (
	"fmt"
	"math"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// WorkdayCO2 is the limit of carbon dioxide for a working day of 8 h in ppm. Source:
// OSHATableZ1. Nobody can switch its warning off.
const WorkdayCO2 = 5000

// usualBase is the base of degree hours: lettuce hardly grows below it; common practice,
// no source.
const usualBase = 4

// A limit is what is watched of one key, with what is usual where nobody said more.
type limit struct {
	key        underlamp.WatchKey
	kind       quantity.Kind
	low, high  *underlamp.Given[float64] // nil: no limit on that side
	delay      time.Duration
	hysteresis float64
	off        bool
	urgent     bool
	why        string // off by itself, because
}

const common = "; common practice, no source"

type limits struct {
	lights, quiet *underlamp.Window
	base          underlamp.Given[quantity.Celsius]
	by            map[underlamp.WatchKey]limit
}

// WatchKind is the kind of amount in which a key has its limits.
func WatchKind(k underlamp.WatchKey) quantity.Kind {
	switch k {
	case underlamp.WatchDLI:
		return quantity.DailyIntegral
	case underlamp.WatchAir, underlamp.WatchLeaf, underlamp.WatchSolution, underlamp.WatchDew:
		return quantity.Temperature
	case underlamp.WatchHumidity, underlamp.WatchBurn:
		return quantity.Share
	case underlamp.WatchCO2:
		return quantity.GasShare
	case underlamp.WatchEC:
		return quantity.Conductivity
	case underlamp.WatchPH:
		return quantity.Acidity
	case underlamp.WatchVPD:
		return quantity.Pressure
	}
	return quantity.Duration
}

func assumed(v float64, why string) *underlamp.Given[float64] {
	g := underlamp.Assumed(v, why)
	return &g
}

// newLimits are the limits that follow from a bench, with what a person said in their
// place.
func newLimits(p *plan, w *underlamp.Watch) limits {
	b := p.bench
	l := limits{base: underlamp.Assumed[quantity.Celsius](usualBase, "lettuce hardly grows below; common practice, no source"), by: map[underlamp.WatchKey]limit{}}
	set := func(x limit) {
		x.kind = WatchKind(x.key)
		l.by[x.key] = x
	}
	// Light.
	dli := limit{key: underlamp.WatchDLI, hysteresis: 0.2}
	hours := quantity.Hours(p.day)
	if t := b.Limits.Target; t > 0 {
		dli.low = assumed(0.9*float64(quantity.DailyLight(t, hours)), "nine tenths of the target of the bench file over its hours")
	} else {
		dli.low = assumed(0.9*float64(quantity.DailyLight(quantity.PPFD(p.mean), hours)), "nine tenths of what the bench file gives")
	}
	if c := b.Limits.Ceiling; c > 0 {
		dli.high = assumed(float64(quantity.DailyLight(c, hours)), "the ceiling of the bench file over its hours; for the brightest plant")
	}
	set(dli)
	dark := limit{key: underlamp.WatchDark}
	if rest := 24 - p.day; rest >= 1 {
		dark.low = assumed(rest/2, "half of the dark hours of the bench file"+common)
	} else {
		dark.off, dark.why = true, "the bench file plans no dark period"
	}
	set(dark)
	set(limit{key: underlamp.WatchLamp, delay: 10 * time.Minute})
	// Air.
	d, n := b.Air.Day, b.Air.Night
	vpd := float64(moistair.VPD(d.Temperature.Value, d.Humidity.Value))
	set(limit{key: underlamp.WatchVPD, low: assumed(vpd/2, "half of the deficit of the bench file's day"+common), high: assumed(1.5*vpd, "one and a half times the deficit of the bench file's day"+common), delay: 4 * time.Hour, hysteresis: 0.05})
	cold, warm := min(d.Temperature.Value, n.Temperature.Value), max(d.Temperature.Value, n.Temperature.Value)
	air := limit{key: underlamp.WatchAir, low: assumed(float64(cold-4), "4 °C below the cooler of day and night in the bench file"+common), high: assumed(float64(warm+4), "4 °C above the warmer of day and night in the bench file"+common), delay: 30 * time.Minute, hysteresis: 0.5}
	set(air)
	set(limit{key: underlamp.WatchLeaf, high: assumed(float64(warm+6), "6 °C above the warmer of day and night in the bench file"+common), delay: 30 * time.Minute, hysteresis: 0.5})
	dry, moist := min(d.Humidity.Value, n.Humidity.Value), max(d.Humidity.Value, n.Humidity.Value)
	set(limit{key: underlamp.WatchHumidity, low: assumed(max(float64(dry)-0.15, 0.2), "15 points below the drier of day and night in the bench file"+common), high: assumed(min(float64(moist)+0.1, 0.97), "10 points above the moister of day and night in the bench file"+common), delay: time.Hour, hysteresis: 0.02})
	co2 := limit{key: underlamp.WatchCO2, high: assumed(max(2*float64(b.Air.CO2.Value), 1500), "twice the share of the bench file, at least 1500 ppm"+common), delay: 30 * time.Minute, hysteresis: 50}
	if v := float64(b.Air.CO2.Value); v >= 600 {
		co2.low = assumed(0.6*v, "six tenths of the share of the bench file"+common)
	}
	set(co2)
	// Feed.
	f := b.Feed
	root := float64(f.RootTemp.Value)
	set(limit{key: underlamp.WatchSolution, low: assumed(root-5, "5 °C below the bench file"+common), high: assumed(root+4, "4 °C above the bench file"+common), delay: time.Hour, hysteresis: 0.3})
	ec := float64(f.EC.Value)
	set(limit{key: underlamp.WatchEC, low: assumed(0.75*ec, "a quarter below the bench file"+common), high: assumed(1.25*ec, "a quarter above the bench file"+common), delay: 2 * time.Hour, hysteresis: 0.05})
	set(limit{key: underlamp.WatchPH, low: assumed(5.3, "common practice, no source"), high: assumed(6.7, "common practice, no source"), delay: 2 * time.Hour, hysteresis: 0.1})
	// Around them.
	set(limit{key: underlamp.WatchDew, low: assumed(1, "common practice, no source"), delay: 30 * time.Minute, hysteresis: 0.3})
	set(limit{key: underlamp.WatchBurn, high: assumed(float64(b.Limits.Burn.Value), "the limit of burn of the bench file")})
	set(limit{key: underlamp.WatchSilent, high: assumed(0, "three times the usual time between readings, at least 15 min"+common)})
	set(limit{key: underlamp.WatchSensor})
	if w == nil {
		return l
	}
	l.lights, l.quiet = w.Lights, w.Quiet
	if w.Base != nil {
		l.base = *w.Base
	}
	for _, r := range w.Rules {
		x := l.by[r.Key]
		x.key, x.kind = r.Key, WatchKind(r.Key)
		if r.Low != nil {
			x.low = r.Low
		}
		if r.High != nil {
			x.high = r.High
		}
		if r.Low != nil || r.High != nil {
			x.off, x.why = false, ""
			// What was assumed gives way where it contradicts what was said.
			if x.low != nil && x.high != nil && x.low.Value >= x.high.Value {
				if x.low.IsDefault() {
					x.low = nil
				} else if x.high.IsDefault() {
					x.high = nil
				}
			}
		}
		if r.Delay != nil {
			x.delay = *r.Delay
		}
		if r.Hysteresis != nil {
			x.hysteresis = *r.Hysteresis
		}
		if r.Off {
			x.off, x.why = true, ""
		}
		x.urgent = r.Urgent
		l.by[r.Key] = x
	}
	return l
}

// text prints an amount of the limit.
func (l limit) text(v float64, sys quantity.System) string {
	switch {
	case l.key == underlamp.WatchDew:
		return quantity.Temperature.Difference(v, sys, 2)
	case l.key == underlamp.WatchPH:
		return "pH " + quantity.Fixed(v, 1)
	case l.key == underlamp.WatchHumidity, l.key == underlamp.WatchBurn:
		return quantity.Fixed(100*v, 0) + " %"
	}
	return l.kind.Format(v, sys, 3)
}

func durationText(d time.Duration) string {
	if d < 2*time.Hour {
		return quantity.Number(d.Minutes(), 3) + " min"
	}
	return quantity.Number(d.Hours(), 3) + " h"
}

func windowText(w underlamp.Window) string {
	at := func(d time.Duration) string { return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60) }
	return at(w.From) + "–" + at(w.To)
}

// shown lists the limits as people read them.
func (l limits) shown(sys quantity.System) []Limit {
	out := []Limit{}
	for _, k := range underlamp.WatchKeys() {
		x := l.by[k]
		s := Limit{Key: k, Off: x.off, Origin: "default", Note: x.why}
		switch {
		case k == underlamp.WatchLamp && l.lights != nil:
			s.Text, s.Origin = "on from "+windowText(*l.lights), "stated"
		case k == underlamp.WatchLamp:
			s.Text, s.Off, s.Note = "not said", true, "say when the lamps burn: lights: 06:00-22:00 in the watch file"
		case k == underlamp.WatchSensor:
			s.Text = "stuck, drifting, jumping, or beyond what can be"
		case k == underlamp.WatchSilent && x.high != nil && x.high.Value <= 0:
			s.Text, s.Note = "three times its interval", x.high.Note
		default:
			if x.low != nil {
				s.Text = "at least " + x.text(x.low.Value, sys)
				s.Origin, s.Note = x.low.Origin.String(), x.low.Note
			}
			if x.high != nil {
				if s.Text != "" {
					s.Text += ", "
				}
				s.Text += "at most " + x.text(x.high.Value, sys)
				if x.low == nil || x.high.Origin != x.low.Origin {
					o := x.high.Origin.String()
					if x.low != nil {
						o = x.low.Origin.String() + ", " + o
					}
					s.Origin = o
				}
				if x.high.Note != "" && x.high.Note != s.Note {
					if s.Note != "" { // the end that both share is said once
						s.Note = strings.TrimSuffix(s.Note, common) + "; "
					}
					s.Note += x.high.Note
				}
			}
		}
		if s.Text == "" {
			s.Text = "no limit"
		}
		if x.off && x.why == "" {
			s.Note, s.Origin = "switched off", "stated"
		}
		if !s.Off && x.delay > 0 {
			s.Text += ", for " + durationText(x.delay)
		}
		out = append(out, s)
	}
	return out
}

// outside says whether a value is beyond a limit, and on which side; while it has been
// told it counts until it has come back by the hysteresis.
func (l limit) outside(v float64, toldLow, toldHigh bool) (low, high bool) {
	back := func(told bool) float64 {
		if told {
			return l.hysteresis
		}
		return 0
	}
	if l.off || math.IsNaN(v) {
		return false, false
	}
	return l.low != nil && v < l.low.Value+back(toldLow), l.high != nil && v > l.high.Value-back(toldHigh)
}
