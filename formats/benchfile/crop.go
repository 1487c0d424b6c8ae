package benchfile

import (
	"fmt"
	"math"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/crops"
	"underlamp/science/quantity"
)

// maxStands is more than any grower moves plants.
const maxStands = 10

var densitySpan = handwritten.Span{Min: 1, Max: 5000}

// headsAlso are other trade words for the head types.
var headsAlso = map[string]string{
	"butter": "butterhead", "iceberg": "crisphead", "crisp": "crisphead", "cos": "romaine",
	"loose leaf": "leaf", "looseleaf": "leaf", "oak leaf": "oakleaf",
}

// crop reads what grows.
func (r *reader) crop(v handwritten.Value, b *underlamp.Bench) underlamp.Crop {
	f, _ := r.Mapping(v, "crop")
	c := underlamp.Crop{Species: underlamp.Assumed(crops.Lettuce, "the one species whose growth and tipburn are known here")}
	c.Type = underlamp.Assumed(underlamp.Butterhead, "lettuce at large, to which butterheads were fitted among others")
	r.kind(f, &c)
	c.Cultivar, _ = r.Words(f.Get("cultivar"), handwritten.MaxName)
	c.Tendency = underlamp.Assumed(underlamp.Usual, "nothing was said of the cultivar")
	if t := f.Get("tendency"); t.Written() {
		c.Tendency = underlamp.Said(handwritten.Choice(r.Reader, t, underlamp.Tendencies(), nil, underlamp.Usual))
	}
	r.profile(f, &c)
	c.Transplanted = r.Date(f.Get("transplanted"))
	c.Days = r.days(f.Get("days"))
	c.StartMass = handwritten.Given(r.Reader, f.Get("start mass"), quantity.Mass, startSpan, underlamp.Assumed[quantity.Gram](1.5, "a seedling with four to five leaves; common practice, no source"))
	c.Saleable = handwritten.Given(r.Reader, f.Get("saleable"), quantity.Mass, saleableSpan, leastHead(&c))
	if c.Saleable.Value <= c.StartMass.Value {
		at := f.Get("saleable")
		if !at.Written() {
			at = f.Get("start mass")
		}
		r.Errorf(at, "a saleable mass above the start mass", "a head that is saleable at %s can't start with %s",
			r.Show(quantity.Mass, float64(c.Saleable.Value)), r.Show(quantity.Mass, float64(c.StartMass.Value)))
	}
	c.Spacing = r.stands(f.Get("spacing"), c.Days.Value, b)
	return c
}

// kind reads species and head type. A species that is no lettuce has no head type.
func (r *reader) kind(f handwritten.Fields, c *underlamp.Crop) {
	if species, ok := r.Words(f.Get("species"), handwritten.MaxName); ok {
		c.Species = underlamp.Said(species)
		known, found := crops.Find(species)
		switch {
		case crops.IsLettuce(species):
		case found && known.HeadType != "":
			r.Warnf(f.Get("species"), "species: lettuce and type: "+known.HeadType, "%s is a head type of lettuce, and is read as one", species)
			c.Species, c.Type = underlamp.Said(crops.Lettuce), underlamp.Said(underlamp.HeadType(known.HeadType))
		case found:
			r.Warnf(f.Get("species"), "lettuce; underlamp crops "+known.Name+" says what is known", "growth and tipburn of %s are not supported by data and are not forecast; what is of light alone holds", species)
			c.Type = underlamp.Assumed(underlamp.HeadType(""), "head types are those of lettuce")
		default:
			r.Warnf(f.Get("species"), "lettuce, or a species of underlamp crops", "nothing published of %s is in underlamp, so its growth and tipburn are not forecast; what is of light alone holds", species)
			c.Type = underlamp.Assumed(underlamp.HeadType(""), "head types are those of lettuce")
		}
	}
	t := f.Get("type")
	if !t.Written() {
		return
	}
	said := handwritten.Choice(r.Reader, t, underlamp.HeadTypes(), headsAlso, underlamp.Butterhead)
	if c.Type.Value == "" {
		r.Warnf(t, "no type", "head types are those of lettuce; for %s it is left out", c.Species.Value)
		return
	}
	c.Type = underlamp.Said(said)
}

// leastHead is the usual smallest head: that of a standard of trade where the
// stated head type is sold heavier than 120 g.
func leastHead(c *underlamp.Crop) underlamp.Given[quantity.Gram] {
	const small = 120
	if known, ok := crops.Find(string(c.Type.Value)); ok && !c.Type.IsDefault() {
		if least, ok := known.Fact(crops.LeastMass); ok && least.Value > small {
			return underlamp.Assumed(quantity.Gram(least.Value), "the least "+known.Name+" of a standard of trade ("+strings.Join(least.Sources, ", ")+")")
		}
	}
	return underlamp.Assumed[quantity.Gram](small, "a small head; common practice, no source")
}

// stands reads how close the plants stand before they have the places of the
// plan.
func (r *reader) stands(v handwritten.Value, harvest int, b *underlamp.Bench) []underlamp.Stand {
	const want = "spacing: [{until: 10 d, density: 80 plants/m²}]"
	items, ok := r.Items(v, want)
	if !ok {
		return nil
	}
	if len(items) > maxStands {
		r.Errorf(items[maxStands], fmt.Sprintf("at most %d", maxStands), "there are %d spacings", len(items))
		return nil
	}
	var out []underlamp.Stand
	for _, item := range items {
		f, ok := r.Mapping(item, "crop.spacing[]")
		if !ok {
			return nil
		}
		until, density := f.Get("until"), f.Get("density")
		day, okDay := r.Need(until, quantity.Days, handwritten.Span{Min: 1, Max: mostDays}, "the last day of this spacing")
		plants, okDensity := r.Need(density, quantity.PlantDensity, densitySpan, "how close the plants stand")
		if !okDay || !okDensity {
			return nil
		}
		switch {
		case day != math.Trunc(day):
			r.Errorf(until, "a whole number of days: 10 d", "%s d does not fit", quantity.Number(day, 4))
			return nil
		case int(day) >= harvest:
			r.Errorf(until, fmt.Sprintf("before day %d, the harvest", harvest), "the plants would never have the places of the plan")
			return nil
		case len(out) > 0 && int(day) <= out[len(out)-1].Until:
			r.Errorf(until, fmt.Sprintf("after day %d", out[len(out)-1].Until), "spacings stand in the order of their days")
			return nil
		case len(out) > 0 && plants > out[len(out)-1].Density+handwritten.Slack:
			r.Errorf(density, "at most "+r.Show(quantity.PlantDensity, out[len(out)-1].Density), "plants are moved apart, not together")
			return nil
		}
		out = append(out, underlamp.Stand{Until: int(day), Density: plants})
	}
	if area := float64(b.Space.Width) * float64(b.Space.Depth); len(out) > 0 && area > 0 && out[len(out)-1].Density < float64(len(b.Plants))/area-handwritten.Slack {
		r.Warnf(items[len(items)-1], "more than the "+r.Show(quantity.PlantDensity, float64(len(b.Plants))/area)+" of the plan", "the plants would stand wider before than on the plan")
	}
	return out
}

// days reads "35", "35 d" or "5 weeks"; whole days only.
func (r *reader) days(v handwritten.Value) underlamp.Given[int] {
	usual := underlamp.Assumed(35, "from transplanting to a full head; common practice, no source")
	inner, origin, note, ok := r.Said(v)
	r.Usually(v, "%d d (%s)", usual.Value, usual.Note)
	if !ok || !inner.Written() {
		return usual
	}
	want := fmt.Sprintf("a whole number of days from %d to %d: 35 d", leastDays, mostDays)
	r.Takes(inner, handwritten.Form{Is: handwritten.WholeForm, Span: handwritten.Span{Min: leastDays, Max: mostDays}})
	r.Takes(inner, handwritten.Form{Is: handwritten.AmountForm, Kind: quantity.Days, Span: handwritten.Span{Min: leastDays, Max: mostDays}})
	text, ok := r.Raw(inner, want)
	if !ok {
		return usual
	}
	x, err := quantity.Days.Parse(text)
	if err != nil {
		if x, err = quantity.Days.Parse(text + " d"); err != nil { // a bare number
			_, err = quantity.Days.Parse(text)
			r.Unparsed(inner, quantity.Days, err)
			return usual
		}
	}
	if x != math.Trunc(x) || x < leastDays || x > mostDays {
		r.Errorf(inner, want, "%s d does not fit", quantity.Number(x, 4))
		return usual
	}
	return underlamp.Given[int]{Value: int(x), Origin: origin, Note: note}
}

// air reads the climate.
func (r *reader) air(v handwritten.Value) underlamp.Air {
	f, _ := r.Mapping(v, "air")
	const reason = "usual for lettuce under lamps; common practice, no source"
	a := underlamp.Air{
		Day: r.climate(f.Get("day"), "air.day", underlamp.Climate{
			Temperature: underlamp.Assumed[quantity.Celsius](22, reason), Humidity: underlamp.Assumed[quantity.Fraction](0.65, reason)}),
		Night: r.climate(f.Get("night"), "air.night", underlamp.Climate{
			Temperature: underlamp.Assumed[quantity.Celsius](19, reason), Humidity: underlamp.Assumed[quantity.Fraction](0.75, reason)}),
	}

	a.CO2 = handwritten.Given(r.Reader, f.Get("co2"), quantity.GasShare, handwritten.Span{Min: co2Span.Min, Max: 1e6}, underlamp.Assumed[quantity.PPM](450, "outdoor air with people now and then; common practice, no source"))
	switch co2 := f.Get("co2"); {
	case float64(a.CO2.Value) > co2Span.Max:
		// OSHATableZ1.
		r.Errorf(co2, "150 ppm to 5000 ppm", "%s is over the exposure limit of 5000 ppm for 8 h (29 CFR 1910.1000, Table Z-1); such air endangers people",
			r.Show(quantity.GasShare, float64(a.CO2.Value)))
		a.CO2 = underlamp.Assumed[quantity.PPM](450, "")
	case a.CO2.Value > co2Warning:
		r.Warnf(co2, "an alarm in the room, and never a sleeping room", "%s is far more than plants use; the exposure limit is 5000 ppm for 8 h (29 CFR 1910.1000, Table Z-1)",
			r.Show(quantity.GasShare, float64(a.CO2.Value)))
	}

	a.Fan = underlamp.Assumed(underlamp.NoFan, "no fan was described")
	if fan := f.Get("fan"); fan.Written() {
		a.Fan = underlamp.Said(handwritten.Choice(r.Reader, fan, underlamp.FanAims(), map[string]string{"no": "none", "false": "none", "off": "none"}, underlamp.NoFan))
	}
	a.Altitude = handwritten.Given(r.Reader, f.Get("altitude"), quantity.Altitude, altitudeSpan, underlamp.Assumed[quantity.Metre](0, "nobody said how high the place lies; at the sea"))
	a.Speed = handwritten.Given(r.Reader, f.Get("speed"), quantity.AirSpeed, speedSpan, underlamp.UsualSpeed(a.Fan.Value))
	return a
}

func (r *reader) climate(v handwritten.Value, section string, usual underlamp.Climate) underlamp.Climate {
	f, _ := r.Mapping(v, section)
	return underlamp.Climate{
		Temperature: handwritten.Given(r.Reader, f.Get("temperature"), quantity.Temperature, temperatureSpan, usual.Temperature),
		Humidity:    handwritten.Given(r.Reader, f.Get("humidity"), quantity.Share, humiditySpan, usual.Humidity),
	}
}

// feed reads the solution. Its usual temperature is that of the air over the
// day, weighted by the hours of light; its usual ions are those of a common feed
// thinned or strengthened to the EC. What a feed plan gives stands in their place.
func (r *reader) feed(v handwritten.Value, b *underlamp.Bench) underlamp.Feed {
	f, _ := r.Mapping(v, "feed")
	light := float64(b.Setting().Hours) / 24
	mean := light*float64(b.Air.Day.Temperature.Value) + (1-light)*float64(b.Air.Night.Temperature.Value)
	mean = rootSpan.Clamp(mean)
	const usualEC = 1.4
	usual := underlamp.Feed{
		Calcium:  underlamp.Assumed[quantity.MilligramPerLitre](100, "a common lettuce feed; common practice, no source"),
		EC:       underlamp.Assumed[quantity.MillisiemensPerCm](usualEC, "a common lettuce feed; common practice, no source"),
		RootTemp: underlamp.Assumed(quantity.Celsius(mean), "as warm as the air over day and night"),
	}
	made := r.made(f.Get("from"))
	if made != nil {
		usual.From, usual.Calcium, usual.EC = made.File, made.Calcium, made.EC
		if made.RootTemp != nil {
			usual.RootTemp = *made.RootTemp
		}
	}
	ec := handwritten.Given(r.Reader, f.Get("ec"), quantity.Conductivity, ecSpan, usual.EC)
	ion := func(key string, common float64, of func(*underlamp.FeedMade) underlamp.Given[quantity.MilligramPerLitre]) underlamp.Given[quantity.MilligramPerLitre] {
		u := underlamp.Assumed(quantity.MilligramPerLitre(common*(float64(ec.Value)/usualEC)), "a common lettuce feed of this EC; common practice, no source")
		if made != nil {
			u = of(made)
		}
		return handwritten.Given(r.Reader, f.Get(key), quantity.Concentration, rivalSpan, u)
	}
	return underlamp.Feed{
		Calcium:   handwritten.Given(r.Reader, f.Get("calcium"), quantity.Concentration, calciumSpan, usual.Calcium),
		Ammonium:  ion("ammonium", 13, func(m *underlamp.FeedMade) underlamp.Given[quantity.MilligramPerLitre] { return m.Ammonium }),
		Potassium: ion("potassium", 210, func(m *underlamp.FeedMade) underlamp.Given[quantity.MilligramPerLitre] { return m.Potassium }),
		Magnesium: ion("magnesium", 24, func(m *underlamp.FeedMade) underlamp.Given[quantity.MilligramPerLitre] { return m.Magnesium }),
		EC:        ec,
		RootTemp:  handwritten.Given(r.Reader, f.Get("root temperature"), quantity.Temperature, rootSpan, usual.RootTemp),
		From:      usual.From,
	}
}

// firstClauses cuts the example off an error of package quantity; it is shown
// as what was wanted.
func firstClauses(err error) string {
	text, _, _ := strings.Cut(err.Error(), "; write for example")
	return text
}
