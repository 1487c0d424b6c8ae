package benchfile

import (
	"math"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

var (
	burnSpan       = handwritten.Span{Min: 0.005, Max: 1}
	dimLimitSpan   = handwritten.Span{Min: 0.01, Max: 1}
	hoursLimitSpan = handwritten.Span{Min: 0.5, Max: 24}
	ppfdLimitSpan  = handwritten.Span{Min: 1, Max: 3000}
)

const (
	usualBurn   = 0.10
	leastHeight = 0.10 // m: nearer, a bar lights a stripe, not a plant
)

// limits reads how far the bench may be turned.
func (r *reader) limits(v handwritten.Value, b *underlamp.Bench, where []handwritten.Fields) {
	f, _ := r.Mapping(v, "limits")
	now := b.Setting()
	var lim underlamp.Limits
	lim.Burn = handwritten.Given(r.Reader, f.Get("burn"), quantity.Share, burnSpan, underlamp.Assumed[quantity.Fraction](usualBurn, "one head in ten; common practice, no source"))

	if x, ok := r.Amount(f.Get("target"), quantity.PhotonFluxDensity, ppfdLimitSpan); ok {
		lim.Target = quantity.PPFD(x)
	}
	if x, ok := r.Amount(f.Get("ceiling"), quantity.PhotonFluxDensity, ppfdLimitSpan); ok {
		lim.Ceiling = quantity.PPFD(x)
	}
	if lim.Target > 0 && lim.Ceiling > 0 && lim.Ceiling <= lim.Target {
		r.Errorf(f.Get("ceiling"), "more than the target of "+r.Show(quantity.PhotonFluxDensity, float64(lim.Target)), "the ceiling is not above the target")
	}

	// The mean height is turned and the lamps keep their differences, so the
	// highest and the lowest lamp bound the mean.
	above, below := 0.0, 0.0
	for _, l := range b.Lamps {
		above = math.Max(above, float64(l.Height-now.Height))
		below = math.Max(below, float64(now.Height-l.Height))
	}
	ceiling := float64(b.Space.Height)
	high := math.Max(ceiling-above, float64(now.Height))
	low := math.Min(leastHeight+below, float64(now.Height))
	lim.MinHeight = underlamp.Assumed(quantity.Metre(low), "10 cm, or the present height if the lamps hang lower; common practice, no source")
	lim.MaxHeight = underlamp.Assumed(quantity.Metre(high), "the height of the space")
	height := f.Get("lamp height")
	if lo, hi, ok := r.RangeOf(height, quantity.Length, handwritten.Span{Min: 0.001, Max: heightSpan.Max}); ok {
		lim.MinHeight, lim.MaxHeight = underlamp.Said(quantity.Metre(lo)), underlamp.Said(quantity.Metre(hi))
		switch {
		case ceiling > 0 && hi+above > ceiling+handwritten.Slack && above > handwritten.Slack:
			r.Errorf(height, "at most "+r.Show(quantity.Length, ceiling-above), "at %s the highest lamp would be above the ceiling, which is %s high", r.Show(quantity.Length, hi), r.Show(quantity.Length, ceiling))
		case ceiling > 0 && hi > ceiling+handwritten.Slack:
			r.Errorf(height, "at most "+r.Show(quantity.Length, ceiling), "%s is above the ceiling", r.Show(quantity.Length, hi))
		case below > handwritten.Slack && lo-below <= 0:
			r.Errorf(height, "more than "+r.Show(quantity.Length, below), "at %s the lowest lamp would be at or below the planting surface", r.Show(quantity.Length, lo))
		}
	}

	lowDim, highDim, lowHours, highHours := 0.30, 1.0, 10.0, 20.0
	for _, l := range b.Lamps {
		lowDim = math.Min(lowDim, math.Max(float64(l.Dimming.Value), dimLimitSpan.Min))
		lowHours = math.Min(lowHours, math.Max(float64(l.Hours.Value), hoursLimitSpan.Min))
		highHours = math.Max(highHours, float64(l.Hours.Value))
	}
	const widened = "usual, widened to the present setting; common practice, no source"
	lim.MinDim, lim.MaxDim = underlamp.Assumed(quantity.Fraction(lowDim), widened), underlamp.Assumed(quantity.Fraction(highDim), widened)
	if lo, hi, ok := r.RangeOf(f.Get("dimming"), quantity.Share, dimLimitSpan); ok {
		lim.MinDim, lim.MaxDim = underlamp.Said(quantity.Fraction(lo)), underlamp.Said(quantity.Fraction(hi))
	}
	lim.MinHours, lim.MaxHours = underlamp.Assumed(quantity.Hours(lowHours), widened), underlamp.Assumed(quantity.Hours(highHours), widened)
	if lo, hi, ok := r.RangeOf(f.Get("hours"), quantity.Duration, hoursLimitSpan); ok {
		lim.MinHours, lim.MaxHours = underlamp.Said(quantity.Hours(lo)), underlamp.Said(quantity.Hours(hi))
	}
	r.otherLimits(f, b, &lim)
	b.Limits = lim

	if !r.Problems.HasErrors() {
		r.outsideLimits(b, where)
	}
}

// otherLimits reads what may be turned besides the lamps.
func (r *reader) otherLimits(f handwritten.Fields, b *underlamp.Bench, lim *underlamp.Limits) {
	outside := func(v handwritten.Value, what string, k quantity.Kind, x, low, high float64) {
		if s := (handwritten.Span{Min: low, Max: high}); !s.Holds(x) {
			r.Warnf(v, r.Wanted(k, s)+", or a wider limit", "%s is %s now, outside its limit", what, r.Show(k, x))
		}
	}
	if lo, hi, ok := r.RangeOf(f.Get("fan speed"), quantity.AirSpeed, speedSpan); ok {
		lim.Fan = &underlamp.Range[quantity.MetrePerSecond]{Low: quantity.MetrePerSecond(lo), High: quantity.MetrePerSecond(hi)}
	}
	if lo, hi, ok := r.RangeOf(f.Get("night humidity"), quantity.Share, humiditySpan); ok {
		lim.NightHumidity = &underlamp.Range[quantity.Fraction]{Low: quantity.Fraction(lo), High: quantity.Fraction(hi)}
		outside(f.Get("night humidity"), "the humidity by night", quantity.Share, float64(b.Air.Night.Humidity.Value), lo, hi)
	}
	if v := f.Get("co2"); v.Written() {
		if lo, hi, ok := r.RangeOf(v, quantity.GasShare, co2Span); ok {
			lim.CO2 = &underlamp.Range[quantity.PPM]{Low: quantity.PPM(lo), High: quantity.PPM(hi)}
			outside(v, "the CO2", quantity.GasShare, float64(b.Air.CO2.Value), lo, hi)
			if hi > co2Warning {
				// OSHATableZ1.
				r.Warnf(v, "an alarm in the room, and never a sleeping room", "%s is far more than plants use; the exposure limit is 5000 ppm for 8 h (29 CFR 1910.1000, Table Z-1)", r.Show(quantity.GasShare, hi))
			}
		}
	}
	if lo, hi, ok := r.RangeOf(f.Get("density"), quantity.PlantDensity, densitySpan); ok {
		lim.Density = &underlamp.Range[float64]{Low: lo, High: hi}
	}
	if v := f.Get("harvest"); v.Written() {
		want := "for example 28 d to 42 d"
		if lo, hi, ok := r.RangeOf(v, quantity.Days, handwritten.Span{Min: leastDays, Max: mostDays}); ok {
			if lo != math.Trunc(lo) || hi != math.Trunc(hi) {
				r.Errorf(v, want, "whole days are needed")
			} else {
				lim.Harvest = &underlamp.Range[int]{Low: int(lo), High: int(hi)}
				outside(v, "the harvest", quantity.Days, float64(b.Crop.Days.Value), lo, hi)
			}
		}
	}
}

// outsideLimits warns of lamps whose present setting the limits exclude.
func (r *reader) outsideLimits(b *underlamp.Bench, where []handwritten.Fields) {
	lim, now := b.Limits, b.Setting()
	outside := func(v handwritten.Value, what string, k quantity.Kind, x, low, high float64) {
		s := handwritten.Span{Min: low, Max: high}
		if !s.Holds(x) {
			r.Warnf(v, r.Wanted(k, s)+", or wider limits", "%s is %s now, outside the limits of this file", what, r.Show(k, x))
		}
	}
	outside(where[0].Get("height"), "the mean lamp height", quantity.Length, float64(now.Height), float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value))
	for i, l := range b.Lamps {
		outside(where[i].Get("dimming"), "the dimming", quantity.Share, float64(l.Dimming.Value), float64(lim.MinDim.Value), float64(lim.MaxDim.Value))
		outside(where[i].Get("hours"), "the time of light", quantity.Duration, float64(l.Hours.Value), float64(lim.MinHours.Value), float64(lim.MaxHours.Value))
	}
}
