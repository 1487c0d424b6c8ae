package web

import (
	"fmt"
	"html/template"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

// mostPlantFields bounds how many plants have fields of their own; more are moved on the plan
// or in the text.
const mostPlantFields = 60

var (
	spaceFields = []column{{key: "width", label: "Width, left to right"}, {key: "depth", label: "Depth, front to back"}, {key: "height", label: "Height, to what is above"}}
	wallFields  = []column{{key: "left", label: "Left"}, {key: "right", label: "Right"}, {key: "front", label: "Front"}, {key: "back", label: "Back"}, {key: "below", label: "Below"}, {key: "above", label: "Above"}}
	lampFields  = []column{{key: "name", label: "Name"}, {key: "at[0]", label: "From the left"}, {key: "at[1]", label: "From the front"}, {key: "height", label: "Height"}, {key: "dimming", label: "Dimming"}, {key: "hours", label: "Hours of light"},
		{key: "watts", label: "Watts"}, {key: "flux", label: "Photon flux"}, {key: "opening.width", label: "Opening, left to right"}, {key: "opening.depth", label: "Opening, front to back"}, {key: "turn", label: "Turn"}}
	gridFields  = []column{{key: "columns", label: "Columns, left to right"}, {key: "rows", label: "Rows, front to back"}, {key: "margin", label: "Margin"}, {key: "spacing", label: "Spacing"}}
	cropFields  = []column{{key: "species", label: "Species"}, {key: "type", label: "Type"}, {key: "cultivar", label: "Cultivar"}, {key: "tendency", label: "Tendency to tipburn"}, {key: "transplanted", label: "Transplanted"}, {key: "days", label: "Days to harvest"}, {key: "start mass", label: "Start mass"}, {key: "saleable", label: "Saleable from"}}
	airFields   = []column{{key: "day.temperature", label: "Temperature by day"}, {key: "day.humidity", label: "Humidity by day"}, {key: "night.temperature", label: "Temperature by night"}, {key: "night.humidity", label: "Humidity by night"}, {key: "co2", label: "CO2"}, {key: "fan", label: "Fan"}, {key: "speed", label: "Air speed at the plants"}, {key: "altitude", label: "Altitude, above the sea"}}
	feedFields  = []column{{key: "calcium", label: "Calcium"}, {key: "ec", label: "EC"}, {key: "root temperature", label: "Root temperature"}}
	limitFields = []column{{key: "burn", label: "Most burn"}, {key: "target", label: "Target PPFD"}, {key: "ceiling", label: "Ceiling PPFD"}, {key: "lamp height", label: "Lamp height"}, {key: "dimming", label: "Dimming"}, {key: "hours", label: "Hours"}}
	roomFields  = []column{{key: "volume", label: "Volume of the room"}, {key: "leak", label: "Fresh air, times its volume an hour"}, {key: "heat loss", label: "Heat through its walls"}, {key: "other power", label: "Power of all but the lamps"},
		{key: "outside.temperature", label: "Temperature beyond the room"}, {key: "outside.humidity", label: "Humidity beyond the room"}, {key: "outside.co2", label: "CO2 beyond the room"},
		{key: "dehumidifier.removes", label: "Dehumidifier, water a day"}, {key: "dehumidifier.efficiency", label: "Dehumidifier, water for electricity"}, {key: "dehumidifier.temperature", label: "Its label holds at"}, {key: "dehumidifier.humidity", label: "Its label holds at a humidity of"},
		{key: "cooling", label: "Cooling, heat over electricity"}, {key: "co2 price", label: "Price of CO2", example: "2.50 EUR/kg"}}
	methodFields = []column{toTell("room", "Room", environment.Room, "shared cellar without windows; no barrier under the lamps"), toTell("air flow", "Way of the air", environment.AirFlow, "small fan across, door ajar"),
		toTell("seedlings", "Seedlings", environment.Seedlings, "sown 2026-09-28, 14 d at 150 µmol/m²/s"), toTell("container", "Container", environment.Container, "net pots of 5 cm in a raft"),
		toTell("substrate", "Substrate", environment.Substrate, "rockwool plugs of 36 mm"), toTell("watering", "Watering", environment.Watering, "deep water, topped up twice a week"),
		toTell("solution", "Solution", environment.Composition, "recipe and water; changed once, on day 16"), toTell("ph", "pH of the solution", environment.PH, "5.8, from 5.6 to 6.1"), toTell("oxygen", "Oxygen in the solution", environment.Oxygen, "air stone, 8 mg/L")}
	instrumentFields = []column{{key: "reads", label: "Reads"}, {key: "make", wide: true, label: "Kind and make", example: "quantum meter"}, {key: "calibrated", label: "Calibrated on, as 2026-05-04"}, {key: "place", wide: true, label: "Held or stands", example: "at the tops of the heads"}, {key: "often", label: "How often it is read", example: "twice a week"}}
	readingFields    = []column{{key: "name", label: "Name"}, {key: "at[0]", label: "From the left"}, {key: "at[1]", label: "From the front"}, {key: "height", label: "Height of the sensor"}, {key: "ppfd", label: "PPFD"}, {key: "date", label: "Date"}}
)

// toTell is a field for what guidelines ask of the environment; the hint is what they ask.
func toTell(key, label string, item environment.Key, example string) column {
	c := column{key: key, label: label, example: example, long: true}
	for _, it := range environment.Items() {
		if it.Key == item {
			c.hint = "Asked for: " + it.Asks + "."
		}
	}
	return c
}

// editForm is the form for a text, open at a field ("": at none but those that always are).
// Where the text is no YAML there are no fields.
func (s *Site) editForm(text []byte, b *underlamp.Bench, problems benchfile.Problems, field string) template.HTML {
	if _, err := benchfile.Written(text, "name"); err != nil {
		return template.HTML(`<p class="note">` + template.HTMLEscapeString("The fields come back when the text can be read: "+upper(firstLine(err.Error()))) + `</p>`)
	}
	return s.fieldForm(benchGroups(text, b, problems, field))
}

// A benchFormer makes the form of a bench file.
type benchFormer struct {
	former
	bench *underlamp.Bench
}

// benchGroups are the fields for the text of a bench file.
func benchGroups(text []byte, b *underlamp.Bench, problems benchfile.Problems, field string) []*editGroup {
	f := &benchFormer{former{text: text, written: benchfile.Written, count: benchfile.Items, assumed: benchfile.Assumed, problems: problems, field: field}, b}
	f.all()
	f.fill(f.usual())
	return f.groups
}

func words[T ~string](all []T) (out []string) {
	for _, w := range all {
		out = append(out, string(w))
	}
	return out
}

func (f *benchFormer) all() {
	b := f.bench
	unit := "30 cm"
	us := b != nil && b.Units == quantity.US
	if us {
		unit = "12 in"
	}
	g := f.group("lamps", "Lamps", true)
	for i := range f.items("lamps") {
		name := fmt.Sprintf("Lamp %d", i+1)
		if b != nil && i < len(b.Lamps) {
			name = b.Lamps[i].Name
		}
		f.item(g, fmt.Sprintf("lamps[%d]", i), name, "Take away lamp "+name, lampFields)
	}
	g.Add, g.AddLabel, g.AddText = "lamps", "Add a lamp", f.newLamp()
	g = f.group("plants", "Plants", true)
	if n := f.items("plants.at"); n > 0 {
		if n > mostPlantFields {
			g.Note = fmt.Sprintf("%d plants stand one by one. Move them on the plan, or in the text below.", n)
			n = 0
		}
		for i := range n {
			name := fmt.Sprintf("P%d", i+1)
			if b != nil && i < len(b.Plants) {
				name = b.Plants[i].Name
			}
			base := fmt.Sprintf("plants.at[%d]", i)
			columns := []column{{key: "at[0]", label: "From the left"}, {key: "at[1]", label: "From the front"}}
			if w, err := benchfile.Written(f.text, base+"[0]"); err == nil && w[0] != "" {
				it := editItem{Name: name, Path: base, Label: "Take away plant " + name}
				for k, c := range columns {
					path := fmt.Sprintf("%s[%d]", base, k)
					it.Fields = append(it.Fields, editField{ID: fieldID(path), Path: path, Label: c.label})
				}
				g.Items = append(g.Items, it)
				continue
			}
			f.item(g, base, name, "Take away plant "+name, columns)
		}
		g.Add, g.AddLabel, g.AddText = "plants.at", "Add a plant", "["+f.free(unit)+"]"
	} else {
		f.item(g, "plants.grid", "", "", gridFields)
		g.Note = "Plants in columns and rows. Drag one on the plan and they stand one by one."
	}
	g = f.group("readings", "Readings", false)
	for i := range f.items("readings") {
		name := fmt.Sprintf("R%d", i+1)
		if b != nil && i < len(b.Readings) {
			name = b.Readings[i].Name
		}
		f.item(g, fmt.Sprintf("readings[%d]", i), name, "Take away reading "+name, readingFields)
	}
	g.Add, g.AddLabel = "readings", "Add a reading"
	g.AddText = "{at: [" + f.middle() + "], height: 5 cm, ppfd: 200 µmol/m²/s}"
	if us {
		g.AddText = "{at: [" + f.middle() + "], height: 2 in, ppfd: 200 µmol/m²/s}"
	}
	g.Note = "A new reading stands in the middle with 200 µmol/m²/s: write what your meter reads."
	var types, tendencies, aims []string = words(underlamp.HeadTypes()), words(underlamp.Tendencies()), words(underlamp.FanAims())
	with := func(columns []column, options map[string][]string) []column {
		out := append([]column{}, columns...)
		for i := range out {
			out[i].options = options[out[i].key]
		}
		return out
	}
	f.item(f.group("space", "Space", false), "space", "", "", spaceFields)
	f.item(f.group("walls", "Walls", false), "walls", "", "", wallFields)
	f.item(f.group("crop", "Crop", false), "crop", "", "", with(cropFields, map[string][]string{"type": types, "tendency": tendencies}))
	f.item(f.group("air", "Air", false), "air", "", "", with(airFields, map[string][]string{"fan": aims}))
	g = f.group("room", "Room, for the page Air", false)
	g.Note = "What the bench stands in: the page Air reckons with it which water and heat must leave, and what that costs."
	f.item(g, "room", "", "", roomFields)
	f.item(f.group("feed", "Feed", false), "feed", "", "", feedFields)
	f.item(f.group("limits", "Limits", false), "limits", "", "", limitFields)
	g = f.group("method", "Method: how it was grown and measured", false)
	g.Note = "No figure needs this, and others must know it to repeat what was grown here. The page Report counts what is missing. Write it in your own words."
	f.item(g, "method", "", "", methodFields)
	for i := range f.items("method.instruments") {
		base := fmt.Sprintf("method.instruments[%d]", i)
		name := fmt.Sprintf("Instrument %d", i+1)
		if w, err := benchfile.Written(f.text, base+".reads"); err == nil && w[0] != "" {
			name += ", " + w[0]
		}
		f.item(g, base, name, fmt.Sprintf("Take away instrument %d", i+1), with(instrumentFields, map[string][]string{"reads": words(underlamp.AllObserved())}))
	}
	g.Add, g.AddLabel, g.AddText = "method.instruments", "Add an instrument", "{reads: "+string(f.unread())+"}"
	f.item(f.group("name", "Name, note, price", false), "", "", "", []column{{key: "name", label: "Name of the bench"}, {key: "note", label: "Note"}, {key: "electricity", label: "Price of electricity"}, {key: "units", label: "Units", options: []string{"metric", "us"}}})
}

// unread is the first of what instruments read that none is named for.
func (f *benchFormer) unread() underlamp.Observed {
	all := underlamp.AllObserved()
	if f.bench != nil {
		for _, what := range all {
			if f.bench.Method.Reading(what) == nil {
				return what
			}
		}
	}
	return all[0]
}

// newLamp is a lamp like the last one, in the middle.
func (f *benchFormer) newLamp() string {
	b := f.bench
	if b == nil || len(b.Lamps) == 0 {
		return ""
	}
	last := b.Lamps[len(b.Lamps)-1]
	names := map[string]bool{}
	for _, l := range b.Lamps {
		names[l.Name] = true
	}
	name := ""
	for i := len(b.Lamps) + 1; name == "" || names[name]; i++ {
		name = fmt.Sprintf("lamp %d", i)
	}
	out := fmt.Sprintf("{name: %s, kind: %q, at: [%s], height: %s", name, last.Kind, f.middle(), typed(b.Units, float64(last.Height)))
	if last.File != nil {
		out += fmt.Sprintf(", photometry: %q", last.File.Name)
	} else if last.Opening.Round {
		out += fmt.Sprintf(", opening: {diameter: %s}", typed(b.Units, float64(last.Opening.Width.Value)))
	} else {
		out += fmt.Sprintf(", opening: {width: %s, depth: %s}", typed(b.Units, float64(last.Opening.Width.Value)), typed(b.Units, float64(last.Opening.Depth.Value)))
	}
	if last.Colour != nil {
		out += fmt.Sprintf(", spectrum: %q", last.Colour.Name)
	}
	w, err := benchfile.Written(f.text, fmt.Sprintf("lamps[%d].flux", len(b.Lamps)-1), fmt.Sprintf("lamps[%d].watts", len(b.Lamps)-1), fmt.Sprintf("lamps[%d].efficacy", len(b.Lamps)-1), fmt.Sprintf("lamps[%d].beam", len(b.Lamps)-1), fmt.Sprintf("lamps[%d].dimming", len(b.Lamps)-1), fmt.Sprintf("lamps[%d].hours", len(b.Lamps)-1))
	if err == nil {
		for i, key := range []string{"flux", "watts", "efficacy", "beam", "dimming", "hours"} {
			if w[i] != "" {
				out += fmt.Sprintf(", %s: %q", key, w[i])
			}
		}
	}
	return out + "}"
}

func (f *benchFormer) middle() string {
	if f.bench == nil {
		return "30 cm, 30 cm"
	}
	return typed(f.bench.Units, float64(f.bench.Space.Width)/2) + ", " + typed(f.bench.Units, float64(f.bench.Space.Depth)/2)
}

// free is a place where no plant stands.
func (f *benchFormer) free(unit string) string {
	b := f.bench
	if b == nil {
		return unit + ", " + unit
	}
	best, at := -1.0, [2]float64{}
	for i := range 12 {
		for j := range 12 {
			x, y := (float64(i)+0.5)/12*float64(b.Space.Width), (float64(j)+0.5)/12*float64(b.Space.Depth)
			near := min(x, y, float64(b.Space.Width)-x, float64(b.Space.Depth)-y) * 1.5
			for _, p := range b.Plants {
				dx, dy := float64(p.X)-x, float64(p.Y)-y
				near = min(near, dx*dx+dy*dy)
			}
			if near > best {
				best, at = near, [2]float64{x, y}
			}
		}
	}
	return typed(b.Units, at[0]) + ", " + typed(b.Units, at[1])
}

// usual are the values that are taken where nothing is written, as the bench has them.
func (f *benchFormer) usual() map[string]string {
	b := f.bench
	out := map[string]string{}
	if b == nil {
		return out
	}
	show := func(path string, k quantity.Kind, v float64) { out[path] = k.Format(v, b.Units, 3) + ", default" }
	for i, l := range b.Lamps {
		at := fmt.Sprintf("lamps[%d].", i)
		out[at+"name"] = l.Name
		show(at+"dimming", quantity.Share, float64(l.Dimming.Value))
		show(at+"hours", quantity.Duration, float64(l.Hours.Value))
		out[at+"watts"] = quantity.Power.Format(float64(l.Power.Value), b.Units, 3) + ", " + l.Power.Origin.String()
		out[at+"flux"] = quantity.PhotonFlux.Format(float64(l.Flux.Value), b.Units, 3) + ", " + l.Flux.Origin.String()
		if l.Opening.Round {
			out[at+"opening.width"], out[at+"opening.depth"] = "round", "round"
		} else {
			out[at+"opening.width"] = quantity.Length.Format(float64(l.Opening.Width.Value), b.Units, 3) + ", " + l.Opening.Origin.String()
			out[at+"opening.depth"] = quantity.Length.Format(float64(l.Opening.Depth.Value), b.Units, 3) + ", " + l.Opening.Origin.String()
		}
		show(at+"turn", quantity.Angle, 0)
	}
	for i, r := range b.Readings {
		out[fmt.Sprintf("readings[%d].name", i)] = r.Name
	}
	for _, s := range underlamp.Sides() {
		w := b.Space.Walls[s]
		out["walls."+s.String()] = "open, default"
		if !w.Open {
			show("walls."+s.String(), quantity.Share, float64(w.Reflectance.Value))
		}
	}
	out["crop.species"], out["crop.type"], out["crop.tendency"] = b.Crop.Species.Value, string(b.Crop.Type.Value), string(b.Crop.Tendency.Value)
	out["crop.days"] = fmt.Sprintf("%v, default", b.Crop.Days.Value)
	for _, path := range []string{"crop.species", "crop.type", "crop.tendency"} {
		if out[path] != "" {
			out[path] += ", default"
		}
	}
	show("crop.start mass", quantity.Mass, float64(b.Crop.StartMass.Value))
	show("crop.saleable", quantity.Mass, float64(b.Crop.Saleable.Value))
	show("air.day.temperature", quantity.Temperature, float64(b.Air.Day.Temperature.Value))
	show("air.day.humidity", quantity.Share, float64(b.Air.Day.Humidity.Value))
	show("air.night.temperature", quantity.Temperature, float64(b.Air.Night.Temperature.Value))
	show("air.night.humidity", quantity.Share, float64(b.Air.Night.Humidity.Value))
	show("air.co2", quantity.GasShare, float64(b.Air.CO2.Value))
	show("air.speed", quantity.AirSpeed, float64(b.Air.Speed.Value))
	out["air.fan"] = string(b.Air.Fan.Value) + ", default"
	show("air.altitude", quantity.Altitude, float64(b.Air.Altitude.Value))
	room := b.Room
	show("room.volume", quantity.RoomVolume, float64(room.Volume.Value))
	show("room.leak", quantity.AirChange, float64(room.Leak.Value))
	show("room.heat loss", quantity.HeatTransfer, float64(room.HeatLoss.Value))
	show("room.other power", quantity.Power, float64(room.Others.Value))
	show("room.outside.temperature", quantity.Temperature, float64(room.Outside.Temperature.Value))
	show("room.outside.humidity", quantity.Share, float64(room.Outside.Humidity.Value))
	show("room.outside.co2", quantity.GasShare, float64(room.OutsideCO2.Value))
	if room.Drier.Litres.IsDefault() {
		out["room.dehumidifier.removes"] = "no machine, default"
	}
	show("room.dehumidifier.efficiency", quantity.DryingEfficiency, float64(room.Drier.PerKWh.Value))
	show("room.dehumidifier.temperature", quantity.Temperature, float64(room.Drier.RatedC.Value))
	show("room.dehumidifier.humidity", quantity.Share, float64(room.Drier.RatedRel.Value))
	out["room.cooling"] = quantity.Number(room.Cooling.Value, 3) + ", default"
	show("feed.calcium", quantity.Concentration, float64(b.Feed.Calcium.Value))
	show("feed.ec", quantity.Conductivity, float64(b.Feed.EC.Value))
	show("feed.root temperature", quantity.Temperature, float64(b.Feed.RootTemp.Value))
	show("limits.burn", quantity.Share, float64(b.Limits.Burn.Value))
	out["electricity"], out["units"] = b.Price.Value.String()+", default", "metric, default"
	return out
}
