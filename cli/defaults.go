package cli

import (
	"fmt"
	"strings"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/working"
)

// defaultsOf lists every value of a bench that nobody gave.
func defaultsOf(b *underlamp.Bench) [][]string {
	var rows [][]string
	add := func(in working.Input, isDefault bool) {
		if isDefault {
			rows = append(rows, []string{in.Name, in.Value, in.Note})
		}
	}
	u := b.Units
	for _, side := range underlamp.Sides() {
		w := b.Space.Walls[side]
		if w.Open {
			add(working.Input{Name: "side " + side.String(), Value: "open", Note: w.Reflectance.Note}, w.Reflectance.IsDefault())
			continue
		}
		add(working.Of("reflectance "+side.String(), w.Reflectance, quantity.Share, u), w.Reflectance.IsDefault())
	}
	seen := map[string]bool{}
	for _, l := range b.Lamps {
		if seen[l.Kind] {
			continue
		}
		seen[l.Kind] = true
		add(working.Of("beam of "+l.Kind, l.Beam, quantity.Angle, u), l.Beam.IsDefault())
		add(working.Of("photon flux of "+l.Kind, l.Flux, quantity.PhotonFlux, u), l.Flux.IsDefault())
		add(working.Of("power of "+l.Kind, l.Power, quantity.Power, u), l.Power.IsDefault())
		add(working.Of("efficacy of "+l.Kind, l.Rated, quantity.PhotonEfficacy, u), l.Rated.IsDefault())
		add(working.Of("opening of "+l.Kind, l.Opening.Width, quantity.Length, u), l.Opening.Width.IsDefault())
	}
	unsaid := func(what string, is func(underlamp.Lamp) bool, value func(underlamp.Lamp) working.Input) {
		var names []string
		var in working.Input
		for _, l := range b.Lamps {
			if is(l) {
				names = append(names, l.Name)
				in = value(l)
			}
		}
		in.Name = what + " of " + strings.Join(names, ", ")
		if len(names) == len(b.Lamps) {
			in.Name = what + " of the lamps"
		}
		add(in, len(names) > 0)
	}
	unsaid("dimming", func(l underlamp.Lamp) bool { return l.Dimming.IsDefault() },
		func(l underlamp.Lamp) working.Input { return working.Of("", l.Dimming, quantity.Share, u) })
	unsaid("hours", func(l underlamp.Lamp) bool { return l.Hours.IsDefault() },
		func(l underlamp.Lamp) working.Input { return working.Of("", l.Hours, quantity.Duration, u) })
	c := b.Crop
	add(working.Input{Name: "species", Value: c.Species.Value, Note: c.Species.Note}, c.Species.IsDefault())
	add(working.Input{Name: "head type", Value: string(c.Type.Value), Note: c.Type.Note}, c.Type.IsDefault() && c.Type.Value != "")
	add(working.Input{Name: "tendency to tipburn", Value: string(c.Tendency.Value), Note: c.Tendency.Note}, c.Tendency.IsDefault())
	add(working.Input{Name: "days to harvest", Value: fmt.Sprint(c.Days.Value), Note: c.Days.Note}, c.Days.IsDefault())
	add(working.Of("mass at transplanting", c.StartMass, quantity.Mass, u), c.StartMass.IsDefault())
	add(working.Of("smallest saleable head", c.Saleable, quantity.Mass, u), c.Saleable.IsDefault())
	a := b.Air
	add(working.Of("temperature by day", a.Day.Temperature, quantity.Temperature, u), a.Day.Temperature.IsDefault())
	add(working.Of("humidity by day", a.Day.Humidity, quantity.Share, u), a.Day.Humidity.IsDefault())
	add(working.Of("temperature by night", a.Night.Temperature, quantity.Temperature, u), a.Night.Temperature.IsDefault())
	add(working.Of("humidity by night", a.Night.Humidity, quantity.Share, u), a.Night.Humidity.IsDefault())
	add(working.Of("CO2", a.CO2, quantity.GasShare, u), a.CO2.IsDefault())
	add(working.Of("air speed", a.Speed, quantity.AirSpeed, u), a.Speed.IsDefault())
	add(working.Input{Name: "fan", Value: string(a.Fan.Value), Note: a.Fan.Note}, a.Fan.IsDefault())
	f := b.Feed
	add(working.Of("calcium in the feed", f.Calcium, quantity.Concentration, u), f.Calcium.IsDefault())
	add(working.Of("ammonium nitrogen in the feed", f.Ammonium, quantity.Concentration, u), f.Ammonium.IsDefault())
	add(working.Of("potassium in the feed", f.Potassium, quantity.Concentration, u), f.Potassium.IsDefault())
	add(working.Of("magnesium in the feed", f.Magnesium, quantity.Concentration, u), f.Magnesium.IsDefault())
	add(working.Of("EC of the feed", f.EC, quantity.Conductivity, u), f.EC.IsDefault())
	add(working.Of("temperature of the roots", f.RootTemp, quantity.Temperature, u), f.RootTemp.IsDefault())
	add(working.Input{Name: "price of electricity", Value: b.Price.Value.String(), Note: b.Price.Note}, b.Price.IsDefault())
	l := b.Limits
	add(working.Of("limit of burn", l.Burn, quantity.Share, u), l.Burn.IsDefault())
	add(working.Of("lowest lamp height", l.MinHeight, quantity.Length, u), l.MinHeight.IsDefault())
	add(working.Of("highest lamp height", l.MaxHeight, quantity.Length, u), l.MaxHeight.IsDefault())
	add(working.Of("least dimming", l.MinDim, quantity.Share, u), l.MinDim.IsDefault())
	add(working.Of("most dimming", l.MaxDim, quantity.Share, u), l.MaxDim.IsDefault())
	add(working.Of("fewest hours", l.MinHours, quantity.Duration, u), l.MinHours.IsDefault())
	add(working.Of("most hours", l.MaxHours, quantity.Duration, u), l.MaxHours.IsDefault())
	return rows
}
