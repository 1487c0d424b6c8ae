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
		add(givenAmount("reflectance "+side.String(), w.Reflectance, quantity.Share, u))
	}
	seen := map[string]bool{}
	for _, l := range b.Lamps {
		if seen[l.Kind] {
			continue
		}
		seen[l.Kind] = true
		add(givenAmount("beam of "+l.Kind, l.Beam, quantity.Angle, u))
		add(givenAmount("photon flux of "+l.Kind, l.Flux, quantity.PhotonFlux, u))
		add(givenAmount("power of "+l.Kind, l.Power, quantity.Power, u))
		add(givenAmount("efficacy of "+l.Kind, l.Rated, quantity.PhotonEfficacy, u))
		add(givenAmount("opening of "+l.Kind, l.Opening.Width, quantity.Length, u))
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
	add(givenWord("species", c.Species))
	if c.Type.Value != "" {
		add(givenWord("head type", c.Type))
	}
	add(givenWord("tendency to tipburn", c.Tendency))
	add(givenWord("days to harvest", c.Days))
	add(givenAmount("mass at transplanting", c.StartMass, quantity.Mass, u))
	add(givenAmount("smallest saleable head", c.Saleable, quantity.Mass, u))
	a := b.Air
	add(givenAmount("temperature by day", a.Day.Temperature, quantity.Temperature, u))
	add(givenAmount("humidity by day", a.Day.Humidity, quantity.Share, u))
	add(givenAmount("temperature by night", a.Night.Temperature, quantity.Temperature, u))
	add(givenAmount("humidity by night", a.Night.Humidity, quantity.Share, u))
	add(givenAmount("CO2", a.CO2, quantity.GasShare, u))
	add(givenAmount("air speed", a.Speed, quantity.AirSpeed, u))
	add(givenWord("fan", a.Fan))
	f := b.Feed
	add(givenAmount("calcium in the feed", f.Calcium, quantity.Concentration, u))
	add(givenAmount("ammonium nitrogen in the feed", f.Ammonium, quantity.Concentration, u))
	add(givenAmount("potassium in the feed", f.Potassium, quantity.Concentration, u))
	add(givenAmount("magnesium in the feed", f.Magnesium, quantity.Concentration, u))
	add(givenAmount("EC of the feed", f.EC, quantity.Conductivity, u))
	add(givenAmount("temperature of the roots", f.RootTemp, quantity.Temperature, u))
	add(givenWord("price of electricity", b.Price))
	l := b.Limits
	add(givenAmount("limit of burn", l.Burn, quantity.Share, u))
	add(givenAmount("lowest lamp height", l.MinHeight, quantity.Length, u))
	add(givenAmount("highest lamp height", l.MaxHeight, quantity.Length, u))
	add(givenAmount("least dimming", l.MinDim, quantity.Share, u))
	add(givenAmount("most dimming", l.MaxDim, quantity.Share, u))
	add(givenAmount("fewest hours", l.MinHours, quantity.Duration, u))
	add(givenAmount("most hours", l.MaxHours, quantity.Duration, u))
	return rows
}

// givenAmount and givenWord are a value as an input, and whether it is a default.
func givenAmount[T ~float64](name string, g underlamp.Given[T], k quantity.Kind, u quantity.System) (working.Input, bool) {
	return working.Of(name, g, k, u), g.IsDefault()
}

func givenWord[T any](name string, g underlamp.Given[T]) (working.Input, bool) {
	return working.Input{Name: name, Value: fmt.Sprint(g.Value), Note: g.Note}, g.IsDefault()
}
