package quantity

import (
	"slices"
	"strings"
)

// A Kind is one kind of amount that a person may write: the units it accepts
// and the unit it is kept in.
type Kind struct {
	name    string
	base    string // the unit that values are kept in, as printed
	example string // amounts a person could write
	units   []unit
	plain   bool // a number without a unit is accepted and taken in base
}

// unit is one accepted unit: value in base = number · scale + offset.
type unit struct {
	print   string   // how it is printed
	spelled []string // normalised spellings, see normalise
	scale   float64
	offset  float64
	us      bool // used for printing in the US system
}

// The kinds of amounts. Scales are exact unless said otherwise.
var (
	Length = Kind{name: "length", base: "m", example: "34 cm or 13.5 in", units: []unit{
		{print: "m", spelled: []string{"m", "metre", "metres", "meter", "meters"}, scale: 1},
		{print: "cm", spelled: []string{"cm"}, scale: 0.01},
		{print: "mm", spelled: []string{"mm"}, scale: 0.001},
		// ThompsonTaylor2008: 1 in = 25.4 mm, 1 ft = 0.3048 m, exact.
		{print: "in", spelled: []string{"in", "inch", "inches", `"`}, scale: 0.0254, us: true},
		{print: "ft", spelled: []string{"ft", "foot", "feet", "'"}, scale: 0.3048},
	}}
	Temperature = Kind{name: "temperature", base: "°C", example: "22 °C or 72 °F", units: []unit{
		{print: "°C", spelled: []string{"°c", "℃", "c", "degc", "celsius", "cel"}, scale: 1},
		// ThompsonTaylor2008: t/°C = (t/°F − 32)/1.8, exact.
		{print: "°F", spelled: []string{"°f", "℉", "f", "degf", "fahrenheit"}, scale: 1 / 1.8, offset: -32 / 1.8, us: true},
		{print: "K", spelled: []string{"k", "kelvin"}, scale: 1, offset: -273.15},
	}}
	PhotonFluxDensity = Kind{name: "PPFD", base: "µmol/m²/s", example: "212 µmol/m²/s", units: []unit{
		{print: "µmol/m²/s", spelled: []string{"umol/m2/s", "umol/m2s", "umol/(m2s)", "umolm-2s-1", "umol/s/m2", "umols-1m-2"}, scale: 1},
	}}
	PhotonFlux = Kind{name: "photon flux", base: "µmol/s", example: "130 µmol/s", units: []unit{
		{print: "µmol/s", spelled: []string{"umol/s", "umols-1"}, scale: 1},
		{print: "mol/h", spelled: []string{"mol/h"}, scale: 1e6 / secondsPerHour},
	}}
	DailyIntegral = Kind{name: "DLI", base: "mol/m²/d", example: "14 mol/m²/d", units: []unit{
		{print: "mol/m²/d", spelled: []string{"mol/m2/d", "mol/m2/day", "molm-2d-1", "molm-2day-1", "mol/d/m2"}, scale: 1},
	}}
	Duration = Kind{name: "time", base: "h", example: "16 h", units: []unit{
		{print: "h", spelled: []string{"h", "hr", "hrs", "hour", "hours"}, scale: 1},
		{print: "min", spelled: []string{"min", "minute", "minutes"}, scale: 1.0 / 60},
	}}
	Days = Kind{name: "number of days", base: "d", example: "35 d", units: []unit{
		{print: "d", spelled: []string{"d", "day", "days"}, scale: 1},
		{print: "weeks", spelled: []string{"week", "weeks", "wk"}, scale: 7},
	}}
	Power = Kind{name: "power", base: "W", example: "48 W", units: []unit{
		{print: "W", spelled: []string{"w", "watt", "watts"}, scale: 1},
		{print: "kW", spelled: []string{"kw"}, scale: 1000},
	}}
	PhotonEfficacy = Kind{name: "efficacy", base: "µmol/J", example: "2.6 µmol/J", units: []unit{
		{print: "µmol/J", spelled: []string{"umol/j", "umolj-1", "umol/s/w", "umols-1w-1", "umol/ws"}, scale: 1},
	}}
	Share = Kind{name: "share", base: "", example: "80 % or 0.8", plain: true, units: []unit{
		{print: "%", spelled: []string{"%", "percent", "pct", "%rh"}, scale: 0.01},
	}}
	Angle = Kind{name: "angle", base: "°", example: "120°", units: []unit{
		{print: "°", spelled: []string{"°", "deg", "degree", "degrees"}, scale: 1},
	}}
	Mass = Kind{name: "mass", base: "g", example: "180 g or 6.3 oz", units: []unit{
		{print: "g", spelled: []string{"g", "gram", "grams"}, scale: 1},
		{print: "mg", spelled: []string{"mg"}, scale: 0.001},
		{print: "kg", spelled: []string{"kg"}, scale: 1000},
		// Printed in g in the US system too: kitchen scales have it, yield is in g
		// per kWh, and a seedling of 0.05 oz says nothing.
		// ThompsonTaylor2008: 1 lb = 453.59237 g, 1 oz = lb/16, exact.
		{print: "oz", spelled: []string{"oz", "ounce", "ounces"}, scale: 453.59237 / 16},
		{print: "lb", spelled: []string{"lb", "lbs", "pound", "pounds"}, scale: 453.59237},
	}}
	AirSpeed = Kind{name: "air speed", base: "m/s", example: "0.3 m/s or 60 ft/min", units: []unit{
		{print: "m/s", spelled: []string{"m/s", "ms-1"}, scale: 1},
		{print: "ft/min", spelled: []string{"ft/min", "fpm"}, scale: 0.3048 / 60, us: true},
		{print: "km/h", spelled: []string{"km/h"}, scale: 1 / 3.6},
	}}
	GasShare = Kind{name: "CO2 share", base: "ppm", example: "420 ppm", units: []unit{
		{print: "ppm", spelled: []string{"ppm", "umol/mol", "umolmol-1", "ul/l"}, scale: 1},
	}}
	Concentration = Kind{name: "concentration", base: "mg/L", example: "90 mg/L", units: []unit{
		{print: "mg/L", spelled: []string{"mg/l", "mgl-1", "ppm"}, scale: 1},
	}}
	Conductivity = Kind{name: "conductivity", base: "mS/cm", example: "1.4 mS/cm", units: []unit{
		{print: "mS/cm", spelled: []string{"ms/cm", "mscm-1", "ds/m", "dsm-1"}, scale: 1},
		{print: "µS/cm", spelled: []string{"us/cm", "uscm-1"}, scale: 0.001},
		{print: "S/m", spelled: []string{"s/m"}, scale: 10},
	}}
	Illuminance = Kind{name: "illuminance", base: "lx", example: "15000 lx", units: []unit{
		{print: "lx", spelled: []string{"lx", "lux"}, scale: 1},
		{print: "klx", spelled: []string{"klx", "klux"}, scale: 1000},
	}}
	Energy = Kind{name: "energy", base: "kWh", example: "1.3 kWh", units: []unit{
		{print: "kWh", spelled: []string{"kwh"}, scale: 1},
		{print: "Wh", spelled: []string{"wh"}, scale: 0.001},
		{print: "MJ", spelled: []string{"mj"}, scale: 1e3 / secondsPerHour},
		{print: "J", spelled: []string{"j", "ws"}, scale: 1e-3 / secondsPerHour},
	}}
	Acidity = Kind{name: "acidity", base: "pH", example: "5.8 pH or 5.8", plain: true, units: []unit{
		{print: "pH", spelled: []string{"ph"}, scale: 1},
	}}
	Volume = Kind{name: "volume", base: "L", example: "80 L or 21 gal", units: []unit{
		{print: "L", spelled: []string{"l", "litre", "litres", "liter", "liters"}, scale: 1},
		{print: "mL", spelled: []string{"ml", "cc"}, scale: 0.001},
		{print: "m³", spelled: []string{"m3"}, scale: 1000},
		// ThompsonTaylor2008: 1 US gallon = 3.785411784 L, a fluid ounce is 1/128 of it, exact.
		{print: "gal", spelled: []string{"gal", "gallon", "gallons"}, scale: 3.785411784, us: true},
		{print: "fl oz", spelled: []string{"floz"}, scale: 3.785411784 / 128},
	}}
	MassDensity = Kind{name: "density", base: "kg/L", example: "1.38 kg/L", units: []unit{
		{print: "kg/L", spelled: []string{"kg/l", "g/ml", "g/cm3", "kg/dm3"}, scale: 1},
		{print: "kg/m³", spelled: []string{"kg/m3", "g/l"}, scale: 0.001},
	}}
	Molarity = Kind{name: "molar concentration", base: "mmol/L", example: "4.5 mmol/L", units: []unit{
		{print: "mmol/L", spelled: []string{"mmol/l", "mmoll-1"}, scale: 1},
		{print: "µmol/L", spelled: []string{"umol/l", "umoll-1"}, scale: 0.001},
		{print: "mol/L", spelled: []string{"mol/l"}, scale: 1000},
	}}
	// Alkalinity by what it is written as: 1 meq/L is 50.04 mg/L of CaCO3 and 61.02 mg/L of HCO3
	// (IUPAC2021); a German degree of carbonate hardness is 10 mg/L of CaO, a French one 10 mg/L of CaCO3.
	Alkalinity = Kind{name: "alkalinity", base: "meq/L", example: "3 meq/L, 150 mg/L CaCO3 or 183 mg/L HCO3", units: []unit{
		{print: "meq/L", spelled: []string{"meq/l", "mmol/l", "mval/l"}, scale: 1},
		{print: "mg/L CaCO3", spelled: []string{"mg/lcaco3", "ppmcaco3", "mg/lascaco3", "ppmascaco3"}, scale: 2 / 100.086},
		{print: "mg/L HCO3", spelled: []string{"mg/lhco3", "ppmhco3", "mg/lbicarbonate"}, scale: 1 / 61.016},
		{print: "°dH", spelled: []string{"°dh", "°dkh", "dkh", "°kh", "kh"}, scale: 20 / 56.077},
		{print: "°fH", spelled: []string{"°fh", "°f(hardness)"}, scale: 20 / 100.086},
	}}
	Pressure = Kind{name: "vapour pressure", base: "kPa", example: "0.8 kPa", units: []unit{
		{print: "kPa", spelled: []string{"kpa"}, scale: 1},
		{print: "hPa", spelled: []string{"hpa", "mbar"}, scale: 0.1},
	}}
	// Altitude is a height above the sea.
	Altitude = Kind{name: "altitude", base: "m", example: "450 m or 1500 ft", units: []unit{
		{print: "m", spelled: []string{"m", "metre", "metres", "meter", "meters"}, scale: 1},
		{print: "ft", spelled: []string{"ft", "foot", "feet", "'"}, scale: 0.3048, us: true},
	}}

	// RoomVolume is that of a room in m³.
	RoomVolume = Kind{name: "volume of a room", base: "m³", example: "12 m³ or 420 ft³", units: []unit{
		{print: "m³", spelled: []string{"m3", "cubicmetre", "cubicmetres"}, scale: 1},
		// ThompsonTaylor2008: 1 ft = 0.3048 m, exact.
		{print: "ft³", spelled: []string{"ft3", "cuft", "cubicfeet"}, scale: 0.3048 * 0.3048 * 0.3048, us: true},
	}}

	// AirFlow is air by volume in m³/h.
	AirFlow = Kind{name: "air flow", base: "m³/h", example: "120 m³/h or 70 ft³/min", units: []unit{
		{print: "m³/h", spelled: []string{"m3/h", "m3h-1"}, scale: 1},
		{print: "ft³/min", spelled: []string{"ft3/min", "cfm", "cuft/min"}, scale: 60 * 0.3048 * 0.3048 * 0.3048, us: true},
		{print: "L/s", spelled: []string{"l/s"}, scale: 3.6},
		{print: "m³/s", spelled: []string{"m3/s"}, scale: 3600},
	}}

	// AirChange is how often the air of a room is changed in an hour.
	AirChange = Kind{name: "change of air", base: "/h", example: "0.5 /h", units: []unit{
		{print: "/h", spelled: []string{"/h", "h-1", "1/h", "perhour", "ach"}, scale: 1},
	}}

	// HeatTransfer is heat that passes walls for each K.
	HeatTransfer = Kind{name: "heat loss", base: "W/K", example: "8 W/K", units: []unit{
		{print: "W/K", spelled: []string{"w/k", "wk-1", "w/°c"}, scale: 1},
	}}

	// WaterRemoval is what a dehumidifier takes out in a day.
	WaterRemoval = Kind{name: "removal of water", base: "L/d", example: "20 L/d or 42 pints/d", units: []unit{
		{print: "L/d", spelled: []string{"l/d", "l/day", "litres/day", "l/24h"}, scale: 1},
		// ThompsonTaylor2008: 1 US liquid pint = 0.473176473 L.
		{print: "pints/d", spelled: []string{"pints/d", "pint/d", "pints/day", "pint/day", "pt/d"}, scale: 0.473176473, us: true},
	}}

	// DryingEfficiency is water for the electricity that takes it out.
	DryingEfficiency = Kind{name: "efficiency of drying", base: "L/kWh", example: "1.6 L/kWh", units: []unit{
		{print: "L/kWh", spelled: []string{"l/kwh", "lkwh-1"}, scale: 1},
	}}

	// VapourDensity is water vapour by volume of air.
	VapourDensity = Kind{name: "absolute humidity", base: "g/m³", example: "13.5 g/m³", units: []unit{
		{print: "g/m³", spelled: []string{"g/m3", "gm-3"}, scale: 1},
	}}

	// MixingRatio is water vapour by mass of dry air.
	MixingRatio = Kind{name: "mixing ratio", base: "g/kg", example: "11.5 g/kg", units: []unit{
		{print: "g/kg", spelled: []string{"g/kg", "gkg-1"}, scale: 1},
		{print: "kg/kg", spelled: []string{"kg/kg"}, scale: 1000},
		{print: "gr/lb", spelled: []string{"gr/lb", "grains/lb"}, scale: 1.0 / 7},
	}}

	// Enthalpy is that of moist air by mass of dry air, 0 for dry air at 0 °C.
	Enthalpy = Kind{name: "enthalpy", base: "kJ/kg", example: "51 kJ/kg", units: []unit{
		{print: "kJ/kg", spelled: []string{"kj/kg", "kjkg-1"}, scale: 1},
	}}

	PlantDensity = Kind{name: "planting density", base: "plants/m²", example: "25 plants/m²", units: []unit{
		{print: "plants/m²", spelled: []string{"plants/m2", "plant/m2", "/m2", "m-2"}, scale: 1},
		{print: "plants/ft²", spelled: []string{"plants/ft2", "plant/ft2", "/ft2"}, scale: 1 / (0.3048 * 0.3048), us: true},
	}}
)

// Name says what the amount is, as in "this is no length".
func (k Kind) Name() string { return k.name }

// Unit is the unit that values of this kind are kept in, as printed; empty for
// a share.
func (k Kind) Unit() string { return k.base }

// Example gives amounts that a person could write.
func (k Kind) Example() string { return k.example }

// Units lists the units accepted, as printed, in a fixed order.
func (k Kind) Units() []string {
	var out []string
	for _, u := range k.units {
		out = append(out, u.print)
	}
	return out
}

// A Conversion makes a value in the unit of a kind of one in another unit.
type Conversion struct{ Scale, Offset float64 }

// Base is a value in the unit of the kind.
func (c Conversion) Base(v float64) float64 { return v*c.Scale + c.Offset }

// Of is a value in the other unit.
func (c Conversion) Of(base float64) float64 { return (base - c.Offset) / c.Scale }

// Conversion finds a unit of the kind as people and sensors write it, the codes of
// Jennings2018 (SenML) among them: "°C", "Cel", "%RH", "/" for a share of one. False if
// it is none of the kind.
func (k Kind) Conversion(spelled string) (Conversion, bool) {
	word := normalise(spelled)
	if k.plain && (word == "" || word == "/") {
		return Conversion{Scale: 1}, true
	}
	u, ok := k.find(word)
	return Conversion{u.scale, u.offset}, ok
}

// Printed is a unit of the kind as it is printed, however it was spelled.
func (k Kind) Printed(spelled string) string {
	if u, ok := k.find(normalise(spelled)); ok {
		return u.print
	}
	return k.base
}

// indefinite is the name with its article.
func (k Kind) indefinite() string {
	if strings.ContainsRune("aeiou", rune(k.name[0])) {
		return "an " + k.name
	}
	return "a " + k.name
}

func (k Kind) find(spelling string) (unit, bool) {
	for _, u := range k.units {
		if slices.Contains(u.spelled, spelling) {
			return u, true
		}
	}
	return unit{}, false
}

// kinds lists every kind, to tell a person what a wrong unit measures.
func kinds() []Kind {
	return []Kind{Length, Temperature, PhotonFluxDensity, PhotonFlux, DailyIntegral, Duration, Days, Power,
		PhotonEfficacy, Share, Angle, Mass, AirSpeed, GasShare, Concentration, Conductivity, PlantDensity, Illuminance, Energy, Acidity, Pressure, Volume, MassDensity, Molarity, Alkalinity,
		Altitude, RoomVolume, AirFlow, AirChange, HeatTransfer, WaterRemoval, DryingEfficiency, VapourDensity, MixingRatio, Enthalpy}
}

// Spellings are the spellings of all units that are read, as [Kind.Parse] sees them: small
// letters, u for µ, plain digits, no blanks. For schemas.
func (k Kind) Spellings() (out []string) {
	for _, u := range k.units {
		out = append(out, u.spelled...)
	}
	return out
}

// Plain says that a number without a unit is read too.
func (k Kind) Plain() bool { return k.plain }
