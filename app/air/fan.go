package air

import (
	"context"
	"errors"
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/calcium"
	"underlamp/science/fanjet"
	"underlamp/science/quantity"
)

// Blades are a fan, or several alike, and where they blow.
type Blades struct {
	Diameter quantity.Metre
	Flow     float64 // m³/h of one; 0: not said
	Outlet   float64 // m/s through the blades; 0: not said
	Turns    float64 // a minute; 0: not said
	Distance quantity.Metre
	Aim      underlamp.FanAim // across or down
	Count    int              // spread evenly; 0 means 1
}

// A Blown is the air of fans at the heads.
type Blown struct {
	Blades Blades
	Jet    fanjet.Jet
	From   string  // what the speed at the blades rests on
	SD     float64 // relative standard deviation of the speeds

	Mean, Least, Most float64 // over the plants, m/s
	Plants            []float64
	Low, High         float64 // 90 % of the mean
}

// drift is the air beside a jet, m/s: it never stands in a room with a fan; assumed, no source.
const drift = 0.05

// Errors of blades that cannot be.
var (
	errBlades   = errors.New("a fan needs the diameter of its blades, from 2 cm to 1.5 m")
	errStrength = errors.New("a fan needs its flow, the speed at its blades, or its turns a minute")
	errDistance = errors.New("a fan needs its distance to the heads, from 1 cm to 20 m")
)

// Blow computes the speeds at the plants of a bench.
func Blow(b *underlamp.Bench, f Blades) (*Blown, error) {
	d := float64(f.Diameter)
	if !(d >= 0.02 && d <= 1.5) {
		return nil, errBlades
	}
	if !(f.Distance >= 0.01 && f.Distance <= 20) {
		return nil, errDistance
	}
	out := &Blown{Blades: f, Jet: fanjet.Jet{Diameter: d}, SD: fanjet.SpeedSD}
	switch {
	case f.Outlet > 0:
		out.Jet.Outlet, out.From = f.Outlet, "speed at the blades"
	case f.Flow > 0:
		out.Jet.Outlet, out.From = fanjet.OutletOf(f.Flow/3600, d), "flow over the area of the blades"
	case f.Turns > 0:
		out.Jet.Outlet, out.From = fanjet.OutletOfTurns(f.Turns, d), "0.15 of the speed of the tips"
		out.SD = math.Hypot(out.SD, fanjet.AdvanceSD)
	default:
		return nil, errStrength
	}
	if !(out.Jet.Outlet <= 40) {
		return nil, errors.New("more than 40 m/s at the blades is no fan for plants")
	}
	n := min(max(f.Count, 1), 100)
	w, depth := float64(b.Space.Width), float64(b.Space.Depth)
	out.Least = math.Inf(1)
	for _, p := range b.Plants {
		u := drift
		for i := range n {
			place := (float64(i) + 0.5) / float64(n)
			var x, r float64
			if f.Aim == underlamp.Across { // from the left, side by side over the depth
				x, r = float64(f.Distance)+float64(p.X), float64(p.Y)-place*depth
			} else { // over the bench, side by side over the width
				x, r = float64(f.Distance), math.Hypot(float64(p.X)-place*w, float64(p.Y)-depth/2)
			}
			u = max(u, out.Jet.At(x, math.Abs(r)))
		}
		out.Plants = append(out.Plants, u)
		out.Mean += u / float64(len(b.Plants))
		out.Least, out.Most = min(out.Least, u), max(out.Most, u)
	}
	// ln-normal: a factor, not a sum.
	out.Low, out.High = out.Mean*math.Exp(-1.645*out.SD), out.Mean*math.Exp(1.645*out.SD)
	return out, nil
}

// A Speed is what air of a speed among the plants would do, by where it is blown.
type Speed struct {
	Speed float64   // m/s
	Heart []float64 // that arrives over the hearts, by aim
	Burn  []float64 // chance of burn by the outlook, by aim
}

// Hearts is what moving air and moist nights do for the young leaves, by the outlook.
type Hearts struct {
	Limit  float64
	Now    float64 // chance as the bench is
	Aims   []underlamp.FanAim
	Speeds []Speed
	Need   []float64 // least speed that keeps the limit, m/s, by aim; NaN: none of those tried does, 0: any does
	Nights []Night
	Draws  int
}

// heartDraws is the number of draws of these comparisons.
const heartDraws = 100

var (
	triedSpeeds = []float64{0.05, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2}
	triedNights = []float64{0.60, 0.70, 0.80, 0.85, 0.90, 0.95}
)

// HeartsOf asks the outlook for the chance of burn over air speeds and humid nights, with at
// most draws (0: 100).
func HeartsOf(ctx context.Context, b *underlamp.Bench, o *outlook.Outlook, draws int) (*Hearts, error) {
	if draws <= 0 {
		draws = heartDraws
	}
	h := &Hearts{Limit: float64(b.Limits.Burn.Value), Aims: []underlamp.FanAim{underlamp.Across, underlamp.Down}, Draws: draws}
	tries := []*underlamp.Bench{b}
	for _, v := range triedSpeeds {
		for _, aim := range h.Aims {
			c := *b
			c.Air.Speed, c.Air.Fan = underlamp.Said(quantity.MetrePerSecond(v)), underlamp.Said(aim)
			tries = append(tries, &c)
		}
	}
	nights := append([]float64{}, triedNights...)
	now := float64(b.Air.Night.Humidity.Value)
	at := len(nights)
	for i, v := range nights {
		if math.Abs(v-now) < 0.005 {
			at = -1
		} else if v > now && at == len(nights) {
			at = i
		}
	}
	if at >= 0 {
		nights = append(nights[:at], append([]float64{now}, nights[at:]...)...)
	}
	first := len(tries)
	for _, v := range nights {
		c := *b
		c.Air.Night.Humidity = underlamp.Said(quantity.Fraction(v))
		tries = append(tries, &c)
	}
	chances, err := o.Chances(ctx, tries, draws)
	if err != nil {
		return nil, err
	}
	h.Now = chances[0]
	hours := float64(dayOf(b))
	f := chances[1:first]
	for i, v := range triedSpeeds {
		s := Speed{Speed: v}
		for k, aim := range h.Aims {
			s.Heart = append(s.Heart, v*calcium.HeartShare(string(aim)))
			s.Burn = append(s.Burn, f[i*len(h.Aims)+k])
		}
		h.Speeds = append(h.Speeds, s)
	}
	for k := range h.Aims {
		h.Need = append(h.Need, needed(h.Speeds, k, h.Limit))
	}
	for i, v := range nights {
		c := tries[first+i]
		half := half(c, false, hours, 0)
		half.settle()
		left, flow := rootFlow(c, hours)
		h.Nights = append(h.Nights, Night{Humidity: v, VPD: half.VPD.Mid, Pressure: left, Flow: flow, Margin: half.Margin.Mid, Chance: chances[first+i], Now: math.Abs(v-now) < 0.005})
	}
	return h, nil
}

// needed is where the chance first falls to the limit, between the speeds tried, straight in
// the logarithm of the speed.
func needed(s []Speed, aim int, limit float64) float64 {
	for i := range s {
		if s[i].Burn[aim] > limit {
			continue
		}
		if i == 0 {
			return 0
		}
		over, under := s[i-1].Burn[aim], s[i].Burn[aim]
		f := (over - limit) / (over - under)
		return s[i-1].Speed * math.Pow(s[i].Speed/s[i-1].Speed, f)
	}
	return math.NaN()
}

// BlownSentences say what a fan does at the heads, and what it would take to keep the limit
// of burn; hearts may be nil.
func BlownSentences(b *underlamp.Bench, w *Blown, hearts *Hearts) []string {
	u := b.Units
	speed := func(v float64) string { return quantity.AirSpeed.Format(v, u, 2) }
	share := calcium.HeartShare(string(w.Blades.Aim))
	out := []string{
		fmt.Sprintf("At the blades %s (%s). At the plants %s on the mean (90 %%: %s to %s), from %s at the least to %s at the most; over the hearts %s on the mean.",
			speed(w.Jet.Outlet), w.From, speed(w.Mean), speed(w.Low), speed(w.High), speed(w.Least), speed(w.Most), speed(w.Mean*share)),
	}
	if w.Least < w.Mean/3 {
		out = append(out, "The jet is narrow: the plants beside it have next to no air. Several small fans, or one farther off, spread it better.")
	}
	if hearts != nil {
		for k, aim := range hearts.Aims {
			if aim != w.Blades.Aim {
				continue
			}
			switch need := hearts.Need[k]; {
			case math.IsNaN(need):
				out = append(out, "No speed that was tried keeps the limit of burn in this way.")
			case need == 0:
				out = append(out, "Every speed that was tried keeps the limit of burn in this way.")
			default:
				verdict := "it falls short"
				if w.Mean >= need {
					verdict = "it is enough on the mean"
				}
				out = append(out, fmt.Sprintf("To keep your limit of burn the outlook asks for about %s among the plants: %s. The same on the plants with the least air would take %s at the blades.",
					speed(need), verdict, speed(w.Jet.Outlet*need/max(w.Least, 1e-3))))
			}
		}
	}
	return append(out, "A free jet: u = 5.9 U d/x on its axis, half as wide again for each 0.095 of the distance (Hussein1994, PanchapakesanLumley1993, from memory); speeds of an axial fan within 30 %, of one known by its turns within 46 % (common practice, no source). Lamps, shelves and leaves in the way break it; beside the jet the air is taken to drift at 0.05 m/s. An anemometer at the heads is better.")
}
