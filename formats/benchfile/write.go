package benchfile

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Answers are what a grower says of a new bench. A nil answer was not given.
type Answers struct {
	Name   string // as the person calls the bench; empty: New bench
	Units  quantity.System
	Space  *SpaceAnswer
	Lamps  *LampsAnswer
	Plants *PlantsAnswer
	Fan    *underlamp.FanAim
	Price  *quantity.Price
}

// A SpaceAnswer is the size of the box that light stays in.
type SpaceAnswer struct {
	Width, Depth, Height quantity.Metre
}

// A LampsAnswer is how many equal lamps hang how high, and what each draws or
// gives. At least one of Watts and Flux is above 0; 0 means not known.
type LampsAnswer struct {
	Count  int
	Watts  quantity.Watt
	Flux   quantity.PPF
	Height quantity.Metre // of the luminous opening above the planting surface
}

// A PlantsAnswer is what grows and how many plants there are.
type PlantsAnswer struct {
	Type  underlamp.HeadType // empty: not said
	Count int
}

// What is written for the parts that a bench can't do without; each is marked
// "assumed, please measure" in the file. Invented sizes of a common shelf.
var (
	assumedSpace  = SpaceAnswer{Width: 1.2, Depth: 0.6, Height: 0.45}
	assumedLamps  = LampsAnswer{Count: 2, Watts: 40}
	assumedPlants = PlantsAnswer{Type: underlamp.Butterhead, Count: 18}
)

const measureThis = "   # assumed, please measure"

// Write writes a bench file that a person can go on with: every part has a
// comment, lamps and plants are spread evenly over the space, and what was not
// answered is written as a comment, so that it stays a default when it is read.
// Size, lamps and plants can't be left out; without an answer they are assumed
// and marked so.
//
// Answers that no bench can have (a lamp above the ceiling) give an error that
// holds [Problems] where the text was refused, and nothing is written.
func Write(w io.Writer, a Answers) error {
	if a.Lamps != nil && (a.Lamps.Count < 1 || a.Lamps.Count > maxLamps) {
		return fmt.Errorf("benchfile: %d lamps; a bench has 1 to %d", a.Lamps.Count, maxLamps)
	}
	if a.Plants != nil && (a.Plants.Count < 1 || a.Plants.Count > maxPlants) {
		return fmt.Errorf("benchfile: %d plants; a bench has 1 to %d", a.Plants.Count, maxPlants)
	}
	f := &writer{units: a.Units}
	f.bench(a)
	text := f.b.Bytes()
	_, problems, err := Read(bytes.NewReader(text))
	if err != nil {
		return err
	}
	if problems.HasErrors() {
		return fmt.Errorf("benchfile: these answers describe no bench: %w", problems)
	}
	if _, err := w.Write(text); err != nil {
		return fmt.Errorf("benchfile: writing: %w", err)
	}
	return nil
}

type writer struct {
	b     bytes.Buffer
	units quantity.System
}

func (f *writer) line(format string, args ...any) {
	fmt.Fprintf(&f.b, format+"\n", args...)
}

// length prints a length in cm, or in inches for US units, to a tenth of a mm.
func (f *writer) length(x quantity.Metre) string {
	if f.units == quantity.US {
		return amountText(float64(x)/0.0254, 3) + " in" // NIST SP 811: 1 in = 25.4 mm
	}
	return amountText(float64(x)*100, 2) + " cm"
}

// amountText prints a number that package quantity reads again: no exponent
// and no groups.
func amountText(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func (f *writer) bench(a Answers) {
	space, spaceMark := assumedSpace, measureThis
	if a.Space != nil {
		space, spaceMark = *a.Space, ""
	} else if a.Lamps != nil {
		space.Height = max(space.Height, a.Lamps.Height*1.3) // room for the lamps that were described
	}
	f.line("# A bench for underlamp: what it is, what hangs over it and what grows on it.")
	f.line("# Text after # is a comment. Take the # away from a line to say it.")
	f.line("# Amounts are written with their unit: 34 cm, 13.5 in, 22 °C, 72 °F, 80 %%.")
	f.line("underlamp: %d   # version of this format", Version)
	name := strings.TrimSpace(a.Name)
	if name == "" {
		name = "New bench"
	}
	f.line("name: %s", handwritten.Quoted(name))
	if f.units == quantity.US {
		f.line("units: us       # print lengths in inches and temperatures in °F")
	} else {
		f.line("units: metric   # or us")
	}
	f.line("")
	f.line("# The space, seen from the front: width to the right, depth to the back, height")
	f.line("# from the planting surface to the ceiling or the shelf above.")
	f.line("space: {width: %s, depth: %s, height: %s}%s", f.length(space.Width), f.length(space.Depth), f.length(space.Height), spaceMark)
	f.line("")
	f.line("# The six sides: open, a surface (white paint, white film, aluminium foil, ...)")
	f.line("# or the share of light that comes back, such as 80 %%.")
	f.line("# walls:   # default: the four sides open, below 30 %%, above 50 %%")
	for _, s := range underlamp.Sides() {
		word := map[underlamp.Side]string{underlamp.Below: "30 %", underlamp.Above: "50 %"}[s]
		if word == "" {
			word = "open"
		}
		f.line("#   %s: %s", s, word)
	}
	f.line("")
	f.lamps(a.Lamps, space)
	f.line("")
	f.plants(a.Plants, space)
	f.line("")
	f.crop(a.Plants)
	f.line("")
	f.air(a.Fan)
	f.line("")
	f.line("# The feed, as far as it decides the uptake of calcium. Root temperature is that of the solution.")
	f.line("# feed: {calcium: 100 mg/L, ec: 1.4 mS/cm, root temperature: 21 °C}   # default; roots as warm as the air")
	f.line("# Ammonium (its nitrogen), potassium and magnesium may be added: they hinder the uptake of calcium.")
	f.line("")
	f.line("# What a kilowatt-hour costs, at all hours or by the time of day.")
	if a.Price != nil {
		f.line("electricity: %s", a.Price)
	} else {
		f.line("# electricity: 0.30 EUR/kWh   # default")
	}
	f.line("# electricity: 07:00-23:00 0.34 EUR/kWh, 23:00-07:00 0.19 EUR/kWh")
	f.line("")
	f.line("# What a cycle costs besides, per head, cycle or m²/d, and what heads sell for.")
	f.line("# costs:")
	f.line("#   - {for: seed and plug, rate: 0.06 EUR/head}")
	f.line("#   - {for: labour, rate: 0.25 EUR/head}")
	f.line("# sale:")
	f.line("#   - {from: 120 g, price: 0.90 EUR/head}")
	f.line("#   - {from: 180 g, price: 1.20 EUR/head}")
	f.line("")
	f.line("# How much burn is bearable, and how far lamps may be moved, dimmed and timed.")
	f.line("# limits:   # default: burn 10 %%, heights from 10 cm to the ceiling, 30 %% to 100 %%, 10 h to 20 h")
	f.line("#   burn: 10 %%")
	f.line("#   lamp height: 20 cm to 40 cm")
	f.line("#   dimming: 30 %% to 100 %%   # 100 %% if the lamps can't be dimmed")
	f.line("#   hours: 10 h to 20 h")
	f.line("#   fan speed: 0.1 m/s to 0.6 m/s   # this and the next: only if you can turn it")
	f.line("#   night humidity: 70 %% to 92 %%")
	f.line("#   density: 16 plants/m² to 36 plants/m²")
	f.line("#   harvest: 28 d to 42 d")
	f.line("")
	f.line("# Readings of a quantum meter. A few make the light map much surer.")
	f.line("# readings:")
	f.line("#   - {at: [%s, %s], height: %s, ppfd: 200 µmol/m²/s, lamps: all}", f.length(space.Width/2), f.length(space.Depth/2), f.length(0.05))
}

func (f *writer) lamps(given *LampsAnswer, s SpaceAnswer) {
	a, mark := assumedLamps, measureThis
	a.Height = s.Height * 0.75
	if given != nil {
		a, mark = *given, ""
	}
	f.line("# The lamps: at is the middle of the part that shines, from the left and from the")
	f.line("# front; height is from the planting surface up to where the light comes out.")
	f.line("# flux, watts and efficacy stand on the box: two of them are best.")
	f.line("lamps:")
	for i, p := range spread(a.Count, float64(s.Width), float64(s.Depth)) {
		f.line("  - name: %s", lampName(i))
		f.line("    at: [%s, %s]   # spread evenly, please measure", f.length(p.x), f.length(p.y))
		f.line("    height: %s%s", f.length(a.Height), mark)
		if a.Flux > 0 {
			f.line("    flux: %s µmol/s", amountText(float64(a.Flux), 3))
		}
		if a.Watts > 0 {
			f.line("    watts: %s W%s", amountText(float64(a.Watts), 3), mark)
		}
		if i == 0 {
			f.line("    # kind: 40 W bar   # lamps of one kind share their errors")
			f.line("    # opening: {width: %s, depth: %s}   # default: a square of 10 cm; please measure the part that shines", f.length(0.6), f.length(0.04))
			if a.Flux == 0 || a.Watts == 0 {
				f.line("    # efficacy: 2.3 µmol/J   # default")
			}
			f.line("    # beam: 120°       # default")
			f.line("    # dimming: 100 %%   # default")
			f.line("    # hours: 16 h      # default, light a day")
		}
	}
}

func (f *writer) plants(given *PlantsAnswer, s SpaceAnswer) {
	a, mark := assumedPlants, measureThis
	if given != nil {
		a, mark = *given, ""
	}
	f.line("# Where the plants stand: a grid, or at: with a list of places.")
	f.line("plants:")
	columns, rows := shape(a.Count, float64(s.Width), float64(s.Depth))
	if columns*rows == a.Count {
		f.line("  grid: {columns: %d, rows: %d}%s", columns, rows, mark)
		return
	}
	f.line("  at:   # spread evenly, please measure")
	for _, p := range spread(a.Count, float64(s.Width), float64(s.Depth)) {
		f.line("    - [%s, %s]", f.length(p.x), f.length(p.y))
	}
}

func (f *writer) crop(given *PlantsAnswer) {
	var types, tendencies []string
	for _, t := range underlamp.HeadTypes() {
		types = append(types, string(t))
	}
	for _, t := range underlamp.Tendencies() {
		tendencies = append(tendencies, string(t))
	}
	f.line("# What grows. type is one of %s.", strings.Join(types, ", "))
	f.line("crop:")
	f.line("  species: lettuce")
	if given != nil && given.Type != "" {
		f.line("  type: %s", given.Type)
	} else {
		f.line("  # type: butterhead   # default")
	}
	f.line("  # cultivar: as on the packet of seed")
	f.line("  # tendency: usual     # default; to tipburn: %s", strings.Join(tendencies, ", "))
	f.line("  # transplanted: 2026-10-01")
	f.line("  # days: 35            # default, from transplanting to harvest")
	f.line("  # start mass: 1.5 g   # default, shoot of one seedling")
	f.line("  # saleable: 120 g     # default, least mass of a head")
	f.line("  # spacing: [{until: 10 d, density: 80 plants/m²}]   # if they stand closer at first")
}

func (f *writer) air(fan *underlamp.FanAim) {
	f.line("# The air: day is while the lamps are on. speed is among the plants; fan is none,")
	f.line("# across (over the heads) or down (onto the hearts).")
	if fan != nil {
		f.line("air:")
		f.line("  fan: %s", *fan)
	} else {
		f.line("# air:")
		f.line("#   fan: none          # default")
	}
	at := "  # "
	if fan == nil {
		at = "#   "
	}
	f.line("%sday: {temperature: 22 °C, humidity: 65 %%}     # default", at)
	f.line("%snight: {temperature: 19 °C, humidity: 75 %%}   # default", at)
	f.line("%sco2: 450 ppm       # default", at)
	f.line("%sspeed: 0.1 m/s     # default: 0.1 m/s without a fan, 0.3 m/s with one", at)
	f.line("%saltitude: 0 m      # default, of the place above the sea", at)
	f.line("")
	f.line("# The room, as far as it decides what becomes of water, heat and CO2 (underlamp air).")
	f.line("# room:")
	f.line("#   volume: 12 m³        # default: the space of the bench alone")
	f.line("#   leak: 0.5 /h         # default, changes of air an hour by chinks and doors")
	f.line("#   heat loss: 8 W/K     # default: none is counted")
	f.line("#   outside: {temperature: 12 °C, humidity: 75 %%, co2: 420 ppm}   # default")
	f.line("#   dehumidifier: {removes: 12 L/d, efficiency: 1.6 L/kWh, temperature: 26.7 °C, humidity: 60 %%}   # the label")
}

// shape finds the columns and rows of n places in a space: exactly n in all if
// that gives cells no longer than thrice their width, else the fewest beyond n in
// cells that are nearly square.
func shape(n int, width, depth float64) (columns, rows int) {
	if !(width > 0) || !(depth > 0) {
		return n, 1 // the answer is refused when it is read back
	}
	stretch := func(c, r int) float64 { return math.Abs(math.Log(width / float64(c) * float64(r) / depth)) }
	best := math.Inf(1)
	for c := 1; c <= n; c++ {
		if n%c == 0 && stretch(c, n/c) < best {
			best, columns, rows = stretch(c, n/c), c, n/c
		}
	}
	if best <= math.Log(3) {
		return columns, rows
	}
	best = math.Inf(1)
	for c := 1; c <= n; c++ {
		r := (n + c - 1) / c
		if s := stretch(c, r); s < best {
			best, columns, rows = s, c, r
		}
	}
	return columns, rows
}

type spot struct{ x, y quantity.Metre }

// spread puts n places evenly over a space; a last row that is not full is
// spread by itself.
func spread(n int, width, depth float64) []spot {
	columns, rows := shape(n, width, depth)
	var out []spot
	for j := range rows {
		here := min(columns, n-len(out))
		for i := range here {
			out = append(out, spot{
				x: quantity.Metre((float64(i) + 0.5) * width / float64(here)),
				y: quantity.Metre((float64(j) + 0.5) * depth / float64(rows)),
			})
		}
	}
	return out
}
