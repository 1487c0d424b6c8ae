package air

import (
	"errors"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/roomair"
)

// An Answer is the air of a bench.
type Answer struct {
	Bench     *underlamp.Bench
	Pressure  quantity.Kilopascal
	Day       Half
	Night     Half
	Crossings []Crossing

	Refused error // why no water is forecast; nil if it is
	Days    []Day // by day of the crop
	At      int   // index of the day that is shown
	Worst   int   // index of the day on which most water must go, by day or night

	Size     Band // label that a dehumidifier needs, L/d at its own condition
	SizeOf   string
	Factor   roomair.At // of a label at the air of the hour that asks most
	Ways     []Way
	Cheapest int // index into Ways; −1 if none is possible
	Dose     Dose

	WaterCycle Band    // L over the cycle
	KWhLamps   float64 // a day
}

// errNoLight is why a bench whose lamps are off has no crop.
var errNoLight = errors.New("the lamps give no light as they are set, so no crop and no water are forecast")

// dayOf is the length of the light day.
func dayOf(b *underlamp.Bench) quantity.Hours {
	_, day := light.DayWeights(b)
	return day
}

// runs is the share of an hour that a dehumidifier may run: one that must run all the time
// has nothing left for a wet day.
const runs = 0.8

// Of computes the air of a bench. The forecast is that of its outlook; nil for a crop that
// none is known of, with the reason. ppfd is the mean light at the planting surface, for the
// leaf where there is no forecast. day is the day of the crop to show, counted from 1; 0 means
// that on which most water must go.
func Of(b *underlamp.Bench, f *outlook.Forecast, refused error, ppfd float64, day int) *Answer {
	if f != nil && len(f.Course) > 0 && !(f.Course[0].PPFD > 0) {
		f, refused = nil, errNoLight
	}
	if !(ppfd > 0) {
		ppfd = 0
	}
	hours := float64(dayOf(b))
	if f != nil {
		hours = float64(f.Day)
	}
	if !(hours >= 0) { // of lamps that give nothing
		hours = 0
	}
	hours = min(hours, 24)
	a := &Answer{Bench: b, Pressure: moistair.Pressure(b.Air.Altitude.Value), Refused: refused, Cheapest: -1}
	a.Day, a.Night = half(b, true, hours, ppfd), half(b, false, hours, ppfd)
	for i := range b.Lamps {
		l := &b.Lamps[i]
		a.KWhLamps += float64(quantity.EnergyOf(l.Draw(l.Dimming.Value), l.Hours.Value))
	}
	if f != nil && len(f.Course) > 0 {
		a.Days = course(b, f, a.Day, a.Night)
		for i, d := range a.Days {
			if w := a.Days[a.Worst]; max(d.Light.Remove.Mid, d.Dark.Remove.Mid) > max(w.Light.Remove.Mid, w.Dark.Remove.Mid) {
				a.Worst = i
			}
		}
		a.At = a.Worst
		if day >= 1 {
			a.At = min(day, len(a.Days)) - 1
		}
		shown := f.Course[a.At]
		a.Day = half(b, true, hours, shown.PPFD)
		a.Day.Heart = heartOf(b, a.Day, hours, shown.Fresh.Mid)
		a.sized()
		for _, d := range a.Days {
			l, n := d.Light, d.Dark
			a.WaterCycle.Low += (l.Water.Low*l.Hours + n.Water.Low*n.Hours) / 1000
			a.WaterCycle.Mid += (l.Water.Mid*l.Hours + n.Water.Mid*n.Hours) / 1000
			a.WaterCycle.High += (l.Water.High*l.Hours + n.Water.High*n.Hours) / 1000
		}
		a.Dose = doseOf(b, a.Day, a.Days[a.At].Uptake)
	} else {
		a.Dose = doseOf(b, a.Day, 0)
	}
	a.Day.settle()
	a.Night.settle()
	if a.Night.Hours > 0 && a.Day.Hours > 0 {
		a.Crossings = []Crossing{lightsOff(b, a.Day, a.Night), lightsOn(a.Day, a.Night)}
	}
	return a
}

// sized finds the dehumidifier for the day on which most must go, and compares the ways on
// the day shown.
func (a *Answer) sized() {
	b, w := a.Bench, a.Days[a.Worst]
	m := drier(b, 0)
	asks := func(h Half, l Load) Band {
		mid, _, _ := m.SizeFor(l.Remove.Mid, runs, h.Air.Dry, h.Air.Humidity())
		_, low, _ := m.SizeFor(l.Remove.Low, runs, h.Air.Dry, h.Air.Humidity())
		_, _, high := m.SizeFor(l.Remove.High, runs, h.Air.Dry, h.Air.Humidity())
		return Band{low, mid, high}
	}
	a.Size, a.SizeOf, a.Factor = asks(a.Day, w.Light), "by day", m.At(a.Day.Air.Dry, a.Day.Air.Humidity())
	if night := asks(a.Night, w.Dark); night.Mid > a.Size.Mid {
		a.Size, a.SizeOf, a.Factor = night, "by night", m.At(a.Night.Air.Dry, a.Night.Air.Humidity())
	}
	a.Ways = waysOf(b, a.Days, a.At, [2]Half{a.Day, a.Night}, a.Size.Mid)
	best := math.Inf(1)
	for i, x := range a.Ways {
		if x.Possible && x.Money < best {
			best, a.Cheapest = x.Money, i
		}
	}
}

// WhatIfDraws is the number of draws while somebody turns a control.
const WhatIfDraws = 60
