package web

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

// mostPlantFields bounds how many plants have fields of their own; more are moved on the plan
// or in the text.
const mostPlantFields = 60

type editGroup struct {
	Key, Title, Note string
	Open             bool
	Items            []editItem
	Add, AddText     string // what a button adds to which list
	AddLabel         string
	Wrong            []string // what concerns no single field
}

type editItem struct {
	Name   string
	Path   string // to take it away; empty if it cannot be
	Label  string // of the button that does
	Fields []editField
	Wrong  []string
}

type editField struct {
	ID, Path, Label, Value string
	Usual                  string // what is taken where nothing is written
	Wrong                  string
	Warning                bool
	Assumed                bool // nobody has said it yet
	Options                []string
}

// A column is a field of every item of a list, or of a part.
type column struct {
	key, label string
	options    []string
}

var (
	spaceFields = []column{{key: "width", label: "Width, left to right"}, {key: "depth", label: "Depth, front to back"}, {key: "height", label: "Height, to what is above"}}
	wallFields  = []column{{key: "left", label: "Left"}, {key: "right", label: "Right"}, {key: "front", label: "Front"}, {key: "back", label: "Back"}, {key: "below", label: "Below"}, {key: "above", label: "Above"}}
	lampFields  = []column{{key: "name", label: "Name"}, {key: "at[0]", label: "From the left"}, {key: "at[1]", label: "From the front"}, {key: "height", label: "Height"}, {key: "dimming", label: "Dimming"}, {key: "hours", label: "Hours of light"},
		{key: "watts", label: "Watts"}, {key: "flux", label: "Photon flux"}, {key: "opening.width", label: "Opening, left to right"}, {key: "opening.depth", label: "Opening, front to back"}, {key: "turn", label: "Turn"}}
	gridFields    = []column{{key: "columns", label: "Columns, left to right"}, {key: "rows", label: "Rows, front to back"}, {key: "margin", label: "Margin"}, {key: "spacing", label: "Spacing"}}
	cropFields    = []column{{key: "species", label: "Species"}, {key: "type", label: "Type"}, {key: "cultivar", label: "Cultivar"}, {key: "tendency", label: "Tendency to tipburn"}, {key: "transplanted", label: "Transplanted"}, {key: "days", label: "Days to harvest"}, {key: "start mass", label: "Start mass"}, {key: "saleable", label: "Saleable from"}}
	airFields     = []column{{key: "day.temperature", label: "Temperature by day"}, {key: "day.humidity", label: "Humidity by day"}, {key: "night.temperature", label: "Temperature by night"}, {key: "night.humidity", label: "Humidity by night"}, {key: "co2", label: "CO2"}, {key: "fan", label: "Fan"}, {key: "speed", label: "Air speed at the plants"}}
	feedFields    = []column{{key: "calcium", label: "Calcium"}, {key: "ec", label: "EC"}, {key: "root temperature", label: "Root temperature"}}
	limitFields   = []column{{key: "burn", label: "Most burn"}, {key: "target", label: "Target PPFD"}, {key: "ceiling", label: "Ceiling PPFD"}, {key: "lamp height", label: "Lamp height"}, {key: "dimming", label: "Dimming"}, {key: "hours", label: "Hours"}}
	readingFields = []column{{key: "name", label: "Name"}, {key: "at[0]", label: "From the left"}, {key: "at[1]", label: "From the front"}, {key: "height", label: "Height of the sensor"}, {key: "ppfd", label: "PPFD"}, {key: "date", label: "Date"}}
)

// A former collects the paths of fields, reads them at once, and puts problems beside them.
type former struct {
	text     []byte
	bench    *underlamp.Bench
	groups   []*editGroup
	problems benchfile.Problems
	n        int
}

// editForm is the form for a text. Where the text is no YAML there are no fields.
func (s *Site) editForm(text []byte, b *underlamp.Bench, problems benchfile.Problems) template.HTML {
	if _, err := benchfile.Written(text, "name"); err != nil {
		return template.HTML(`<p class="note">` + template.HTMLEscapeString("The fields come back when the text can be read: "+upper(firstLine(err.Error()))) + `</p>`)
	}
	f := &former{text: text, bench: b, problems: problems}
	f.all()
	var out bytes.Buffer
	if err := s.pages.ExecuteTemplate(&out, "editform.tmpl", f.groups); err != nil {
		s.log.Error("form", "err", err)
		return ""
	}
	return template.HTML(out.String())
}

func firstLine(s string) string { line, _, _ := strings.Cut(s, "\n"); return line }

func (f *former) group(key, title string, open bool) *editGroup {
	g := &editGroup{Key: key, Title: title, Open: open}
	f.groups = append(f.groups, g)
	return g
}

func (f *former) items(list string) int {
	n, err := benchfile.Items(f.text, list)
	if err != nil {
		return 0
	}
	return n
}

func (f *former) item(g *editGroup, base, name, removes string, columns []column) {
	it := editItem{Name: name, Label: removes}
	if removes != "" {
		it.Path = base
	}
	for _, c := range columns {
		path := c.key
		if base != "" {
			path = base + "." + c.key
		}
		f.n++
		it.Fields = append(it.Fields, editField{ID: fmt.Sprintf("f%d", f.n), Path: path, Label: c.label, Options: c.options})
	}
	g.Items = append(g.Items, it)
}

func words[T ~string](all []T) (out []string) {
	for _, w := range all {
		out = append(out, string(w))
	}
	return out
}

func (f *former) all() {
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
					f.n++
					it.Fields = append(it.Fields, editField{ID: fmt.Sprintf("f%d", f.n), Path: fmt.Sprintf("%s[%d]", base, k), Label: c.label})
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
	f.item(f.group("feed", "Feed", false), "feed", "", "", feedFields)
	f.item(f.group("limits", "Limits", false), "limits", "", "", limitFields)
	f.item(f.group("name", "Name, note, price", false), "", "", "", []column{{key: "name", label: "Name of the bench"}, {key: "note", label: "Note"}, {key: "electricity", label: "Price of electricity"}, {key: "units", label: "Units", options: []string{"metric", "us"}}})
	f.fill()
}

// newLamp is a lamp like the last one, in the middle.
func (f *former) newLamp() string {
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

func (f *former) middle() string {
	if f.bench == nil {
		return "30 cm, 30 cm"
	}
	return typed(f.bench.Units, float64(f.bench.Space.Width)/2) + ", " + typed(f.bench.Units, float64(f.bench.Space.Depth)/2)
}

// free is a place where no plant stands.
func (f *former) free(unit string) string {
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

// fill reads all fields at once, and puts problems beside them.
func (f *former) fill() {
	var fields []*editField
	var paths []string
	for _, g := range f.groups {
		for i := range g.Items {
			for k := range g.Items[i].Fields {
				x := &g.Items[i].Fields[k]
				fields, paths = append(fields, x), append(paths, x.Path)
			}
		}
	}
	values, err := benchfile.Written(f.text, paths...)
	if err != nil {
		return
	}
	assumed, err := benchfile.Assumed(f.text, paths...)
	if err != nil {
		return
	}
	usual := f.usual()
	by := map[string]*editField{}
	for i, x := range fields {
		x.Value, x.Assumed = values[i], assumed[i]
		if x.Value == "" {
			x.Usual = usual[x.Path]
			if i := strings.IndexByte(x.Path, ']'); x.Usual == "" && i > 0 {
				x.Usual = usual[x.Path[:strings.IndexByte(x.Path, '[')]+x.Path[i+1:]]
			}
		}
		by[x.Path] = x
	}
	for _, p := range f.problems {
		said := problemSentence(p)
		if x := by[strings.TrimSuffix(p.Path, ".value")]; x != nil && x.Wrong == "" {
			x.Wrong, x.Warning = said, p.Severity == benchfile.Warning
			continue
		}
		f.elsewhere(p, said)
	}
}

// elsewhere puts a problem of no single field beside its item or group.
func (f *former) elsewhere(p benchfile.Problem, said string) {
	head, _, _ := strings.Cut(p.Path, ".")
	head, _, _ = strings.Cut(head, "[")
	for _, g := range f.groups {
		if g.Key != head {
			continue
		}
		g.Open = g.Open || p.Severity == benchfile.Error
		for i := range g.Items {
			if it := &g.Items[i]; it.Path != "" && strings.HasPrefix(p.Path, it.Path) {
				it.Wrong = append(it.Wrong, said)
				return
			}
		}
		g.Wrong = append(g.Wrong, said)
		return
	}
}

// usual are the values that are taken where nothing is written, as the bench has them.
func (f *former) usual() map[string]string {
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
	show("feed.calcium", quantity.Concentration, float64(b.Feed.Calcium.Value))
	show("feed.ec", quantity.Conductivity, float64(b.Feed.EC.Value))
	show("feed.root temperature", quantity.Temperature, float64(b.Feed.RootTemp.Value))
	show("limits.burn", quantity.Share, float64(b.Limits.Burn.Value))
	out["electricity"], out["units"] = b.Price.Value.String()+", default", "metric, default"
	return out
}
