package benchfile_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"underlamp/formats/benchfile"
	"underlamp/internal/marked"
)

// bench is a sound description; parts of it are replaced by the cases below.
const bench = `underlamp: 1
space: {width: 120 cm, depth: 60 cm, height: 45 cm}
lamps:
  - at: [30 cm, 30 cm]
    height: 34 cm
    opening: {diameter: 12 cm}
    flux: 110 µmol/s
    watts: 42 W
plants:
  grid: {columns: 6, rows: 3}
`

// Each case replaces a part of the sound bench, or adds to it. The mark « in the
// text stands where the problem must be reported; the expectations follow in the
// order of the marks.
func TestProblems(t *testing.T) {
	for _, c := range []struct {
		name     string
		old, new string // old empty: new is added at the end; old "all": new is the whole file
		want     []string
	}{
		// Keys.
		{"unknown key", "height: 34 cm", "«hieght: 34 cm\n    height: 34 cm", []string{`error: lamps[0]: the key "hieght" is not known|did you mean "height"`}},
		{"word for a key", "watts: 42 W", "«power: 42 W", []string{`did you mean "watts"`}},
		{"key of another part", "", "«co2: 450 ppm\n", []string{`it belongs under air`}},
		{"twice", "height: 34 cm", "height: 34 cm\n    «Height: 30 cm", []string{`"height" is written twice; the first is in line 5`}},
		{"spellings", "", "crop:\n  Start_Mass: 2 g\n  «start-mass: 2 g\n", []string{`"start mass" is written twice; the first is in line 12`}},
		{"no version", "underlamp: 1\n", "«", []string{`error: underlamp: the version of the format is missing|wanted: underlamp: 1`}},
		{"later version", "underlamp: 1", "underlamp: «2", []string{`version 2; this program reads version 1`}},
		{"not even a number", "underlamp: 1", "underlamp: «one", []string{`"one" does not fit`}},
		{"list for a part", "space: {width: 120 cm, depth: 60 cm, height: 45 cm}", "space: «[120 cm, 60 cm]", []string{`a list stands where a part with keys belongs|width, depth, height`}},
		{"text for a list", "lamps:\n  - at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n    flux: 110 µmol/s\n    watts: 42 W", "lamps: «two", []string{`the text "two" stands where a list belongs`}},
		{"part for a value", "height: 34 cm", "height: «{cm: 34}", []string{`a part with keys stands where a single value belongs`}},
		// Amounts.
		{"no unit", "height: 34 cm", "height: «34", []string{`error: lamps[0].height: "34" is not a length: the unit is missing|wanted: for example 34 cm or 13.5 in`}},
		{"other kind", "height: 34 cm", "height: «34 °C", []string{`°C measures a temperature`}},
		{"NaN", "height: 34 cm", "height: «.nan", []string{`".nan" is not a length`}},
		{"infinite", "flux: 110 µmol/s", "flux: «.inf", []string{`is not a photon flux`}},
		{"huge", "flux: 110 µmol/s", "flux: «1e400 µmol/s", []string{`is no number`}},
		{"zero length", "width: 120 cm", "width: «0 cm", []string{`space.width: 0 cm is less than the least|5 cm to 50 m`}},
		{"negative", "watts: 42 W", "watts: «-42 W", []string{`lamps[0].watts: −42 W is less than the least`}},
		{"US units in messages", "space: {width: 120 cm", "units: us\nspace: {width: «1 in", []string{`1 in is less than the least that is read here|1.969 in to 1969 in`}},
		{"fahrenheit", "", "air: {day: {temperature: «72 °C}}\n", []string{`air.day.temperature: 72 °C is more than the most that is read here; that looks like °F: write 72 °F|−5 °C to 50 °C`}},
		{"per cent", "", "air: {night: {humidity: «75}}\n", []string{`that looks like per cent: write 75 %`}},
		{"humidity", "", "air: {night: {humidity: «101 %}}\n", []string{`101 % is more than the most`}},
		{"dimming", "watts: 42 W", "watts: 42 W\n    dimming: «120 %", []string{`120 % is more than the most`}},
		{"hours", "watts: 42 W", "watts: 42 W\n    hours: «25 h", []string{`25 h is more than the most`}},
		{"no hours", "watts: 42 W", "watts: 42 W\n    hours: «0 h", []string{`0 h is less than the least`}},
		{"co2 danger", "", "air: {co2: «5001 ppm}\n", []string{`error: air.co2|29 CFR 1910.1000, Table Z-1`}},
		{"co2 much", "", "air: {co2: «2500 ppm}\n", []string{`warning: air.co2|alarm`}},
		{"fan", "", "air: {fan: «acros}\n", []string{`"acros" is not known here|did you mean "across"`}},
		{"days", "", "crop: {days: «6}\n", []string{`6 d does not fit`}},
		{"half days", "", "crop: {days: «10.5 d}\n", []string{`10.5 d does not fit`}},
		{"date", "", "crop: {transplanted: «2026-02-30}\n", []string{`"2026-02-30" is no day of the calendar`}},
		{"head type", "", "crop: {type: «buterhead}\n", []string{`did you mean "butterhead"`}},
		{"other species", "", "crop: {species: «basil}\n", []string{`warning: crop.species|growth and tipburn of basil are not supported by data`}},
		{"unknown species", "", "crop: {species: «fennel}\n", []string{`warning: crop.species|nothing published of fennel`}},
		{"head type as species", "", "crop: {species: «cos}\n", []string{`warning: crop.species|cos is a head type of lettuce`}},
		{"head type of a basil", "", "crop: {species: «basil, type: «romaine}\n", []string{`warning: crop.species|growth and tipburn of basil`, `warning: crop.type|head types are those of lettuce; for basil it is left out`}},
		{"light harvest", "", "crop: {start mass: 20 g, saleable: «10 g}\n", []string{`saleable at 10 g can't start with 20 g`}},
		{"spacing past harvest", "", "crop: {days: 30, spacing: [{until: «30 d, density: 80 plants/m²}]}\n", []string{`crop.spacing[0].until: the plants would never have the places of the plan|before day 30, the harvest`}},
		{"spacing without a day", "", "crop: {spacing: [«{density: 80 plants/m²}]}\n", []string{`the last day of this spacing is missing`}},
		{"spacing in half days", "", "crop: {spacing: [{until: «9.5 d, density: 80 plants/m²}]}\n", []string{`9.5 d does not fit`}},
		{"spacing out of order", "", "crop: {spacing: [{until: 10 d, density: 80 plants/m²}, {until: «10 d, density: 60 plants/m²}]}\n", []string{`spacings stand in the order of their days|after day 10`}},
		{"spacing together", "", "crop: {spacing: [{until: 5 d, density: 80 plants/m²}, {until: 10 d, density: «90 plants/m²}]}\n", []string{`plants are moved apart, not together|at most 80 plants/m²`}},
		{"spacing without a unit", "", "crop: {spacing: [{until: 5 d, density: «80}]}\n", []string{`is not a planting density: the unit is missing`}},
		{"spacing as text", "", "crop: {spacing: «wide}\n", []string{`stands where a list belongs`}},
		{"spacing wider than the plan", "", "crop: {spacing: [«{until: 5 d, density: 1 plants/m²}]}\n", []string{`warning: crop.spacing[0]: the plants would stand wider before than on the plan`}},
		{"price", "", "electricity: «0.31\n", []string{`it must be per kWh|0.31 EUR/kWh`}},
		{"origin", "flux: 110 µmol/s", "flux: {value: 110 µmol/s, from: «lable}", []string{`did you mean "label"`}},
		{"control character in quotes", "underlamp: 1", "underlamp: 1\nname: «\"a\\e[31m\"", []string{`control character`}},
		// Walls.
		{"reflectance", "", "walls: {left: «120 %}\n", []string{`120 % is more than the most|0 % to 100 %`}},
		{"reflectance below", "", "walls: {left: «-5 %}\n", []string{`−5 % is less than the least`}},
		{"surface", "", "walls: {left: «whit paint}\n", []string{`did you mean "white paint"`}},
		{"parts of a wall", "", "walls: {left: «{diffuse: 60 %, mirror: 50 %}}\n", []string{`the two parts make 110 %|at most 100 % together`}},
		{"parts and a value", "", "walls: {left: {diffuse: 60 %, «value: 50 %}}\n", []string{`the key "value" is not known here`}},
		// Shelves.
		{"shelf outside", "", "shelves: [{from: [0 cm, 0 cm], to: [«130 cm, 10 cm], height: 20 cm}]\n", []string{`the corner of the shelf stands 10 cm outside the space at the right`}},
		{"shelf over the top", "", "shelves: [{from: [0 cm, 0 cm], to: [30 cm, 10 cm], height: «45 cm}]\n", []string{`at or above the top of the space`}},
		{"thin shelf", "", "shelves: [«{from: [0 cm, 0 cm], to: [0.5 cm, 10 cm], height: 20 cm}]\n", []string{`less than 1 cm wide or deep`}},
		{"open shelf", "", "shelves: [{from: [0 cm, 0 cm], to: [30 cm, 10 cm], height: 20 cm, top: «open}]\n", []string{`a shelf has no open face`}},
		// Pose, age, dimmer, files.
		{"tilt without side", "watts: 42 W", "watts: 42 W\n    tilt: «20°", []string{`the side towards which the lamp is tilted is missing`}},
		{"towards without tilt", "watts: 42 W", "watts: 42 W\n    towards: «20°", []string{`warning: lamps[0].towards: towards does nothing without a tilt`}},
		{"upside down", "watts: 42 W", "watts: 42 W\n    tilt: «120°\n    towards: 0°", []string{`warning: lamps[0].tilt: tilted by 120° the lamp faces upwards`}},
		{"tilted out", "height: 34 cm", "height: 44 cm\n    tilt: 60°\n    towards: 0°", []string{`the opening sticks 4.196 cm out of the space at the top or bottom`}}, // 6 sin 60° − 1
		{"turned out", "at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}", "at: [30 cm, 30 cm]\n    height: 34 cm\n    turn: 90°\n    opening: «{width: 70 cm, depth: 4 cm}", []string{`sticks 5 cm out of the space at the front or back`}},
		{"ring", "opening: {diameter: 12 cm}", "opening: {diameter: 12 cm, inner diameter: «12 cm}", []string{`as wide as the ring`}},
		{"age", "watts: 42 W", "watts: 42 W\n    ageing: «10 %", []string{`10 % is less than the least`}},
		{"age of a label without a first day", "watts: 42 W", "watts: 42 W\n    ageing: «{light: 90 %, after: 36000 h}", []string{`since when the lamp burns is missing|new: 2025-03-01`}},
		{"age on a day and after hours", "watts: 42 W", "watts: 42 W\n    ageing: {light: 90 %, date: 2026-01-01, new: 2025-01-01, after: «36000 h}", []string{`for a day and for a time of burning|one of the two`}},
		{"aged before it was new", "watts: 42 W", "watts: 42 W\n    ageing: {light: 90 %, date: 2026-01-01, new: «2026-01-01}", []string{`the lamp was new on the day that it had aged|a day before 2026-01-01`}},
		{"new and no day", "watts: 42 W", "watts: 42 W\n    ageing: «{light: 90 %, new: 2026-01-01}", []string{`when that light is left is missing`}},
		{"a plant above the ceiling", "rows: 3}", "rows: 3}\n  height: «50 cm", []string{`50 cm is more than the most`}},
		{"heights of whom", "rows: 3}", "rows: 3}\n  heights: [«{height: 12 cm}]", []string{`which plants is missing`}},
		{"height of nobody", "rows: 3}", "rows: 3}\n  heights: [{plants: [P3, «P19], height: 12 cm}]", []string{`there is no plant "P19"|P1 to P18`}},
		{"age without light", "watts: 42 W", "watts: 42 W\n    ageing: «{date: 2026-10-01}", []string{`the light that is left is missing`}},
		{"dimming curve back", "watts: 42 W", "watts: 42 W\n    dimming curve: [{dimming: 50 %, light: 50 %}, «{dimming: 40 %, light: 60 %}]", []string{`the light is not more than at the point before`}},
		{"dimming curve hungry", "watts: 42 W", "watts: 42 W\n    dimming curve: [{dimming: 50 %, light: 50 %, watts: «60 W}]", []string{`draws more than at full power`}},
		{"no folder", "watts: 42 W", "watts: 42 W\n    photometry: «bar.ies", []string{`cannot be opened from here`}},
		{"file name upwards", "watts: 42 W", "watts: 42 W\n    spectrum: «../bar.csv", []string{`"../bar.csv" is no name of a file beside this one`}},
		{"lux without file", "watts: 42 W", "watts: 42 W\n    lux per ppfd: «68", []string{`of use only with a photometric file`}},
		// Lamps.
		{"no lamps", "lamps:\n  - at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n    flux: 110 µmol/s\n    watts: 42 W", "lamps: «[]", []string{`at least one lamp is missing`}},
		{"no output", "  - at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n    flux: 110 µmol/s\n    watts: 42 W", "  - «at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n    efficacy: 2.6 µmol/J", []string{`the output of the lamp, flux or watts, is missing`}},
		{"no height", "  - at: [30 cm, 30 cm]\n    height: 34 cm\n", "  - «at: [30 cm, 30 cm]\n", []string{`lamps[0].height: the height of the lamp above the planting surface is missing`}},
		{"below the plants", "height: 34 cm", "height: «0 cm", []string{`hangs at or below the planting surface`}},
		{"above the ceiling", "height: 34 cm", "height: «46 cm", []string{`hangs above the ceiling of the space, which is 45 cm high`}},
		{"outside right", "at: [30 cm, 30 cm]", "at: [«130 cm, 30 cm]", []string{`lamps[0].at[0]: the lamp stands 10 cm outside the space at the right; the space is 120 cm wide|0 cm to 120 cm`}},
		{"outside front", "at: [30 cm, 30 cm]", "at: [30 cm, «-4 cm]", []string{`the lamp stands 4 cm outside the space at the front`}},
		{"three lengths", "at: [30 cm, 30 cm]", "at: «[30 cm, 30 cm, 2 cm]", []string{`two lengths, here are 3`}},
		{"opening out", "opening: {diameter: 12 cm}", "opening: «{width: 80 cm, depth: 4 cm}", []string{`error: lamps[0].opening: the opening sticks 10 cm out of the space at the left or right`}},
		{"opening slightly out", "opening: {diameter: 12 cm}", "opening: «{width: 62 cm, depth: 4 cm}", []string{`warning: lamps[0].opening: the opening sticks 1 cm out`}},
		{"opening half", "opening: {diameter: 12 cm}", "opening: «{width: 20 cm}", []string{`the depth of the opening, front to back, is missing`}},
		{"opening both", "opening: {diameter: 12 cm}", "opening: {width: 20 cm, depth: 3 cm, diameter: «12 cm}", []string{`not both`}},
		{"no opening", "  - at: [30 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n", "  - «at: [30 cm, 30 cm]\n    height: 34 cm\n", []string{`warning: lamps[0].opening: the opening of the lamp is not described`}},
		{"three disagree", "watts: 42 W", "watts: 42 W\n    efficacy: «2.0 µmol/J", []string{`warning: lamps[0].efficacy: flux and watts make 2.619 µmol/J, not 2 µmol/J`}}, // 110/42 = 2.6190
		{"too good", "flux: 110 µmol/s", "flux: «180 µmol/s", []string{`warning: lamps[0].flux: 4.286 µmol/J is more than lamps reach`}},                                    // 180/42 = 4.2857
		{"impossible", "flux: 110 µmol/s", "flux: «240 µmol/s", []string{`error: lamps[0].flux: 5.714 µmol/J is more light than the electricity holds`}},                    // 240/42 = 5.7143
		{"impossible label", "flux: 110 µmol/s", "efficacy: «5.6 µmol/J", []string{`5.6 µmol/J is more than the most`}},
		{"same name", "    watts: 42 W\n", "    watts: 42 W\n    name: A\n  - name: «A\n    at: [90 cm, 30 cm]\n    height: 34 cm\n    opening: {diameter: 12 cm}\n    watts: 42 W\n", []string{`the lamp in line 4 is called "A" too`}},
		// Plants.
		{"no plants", "plants:\n  grid: {columns: 6, rows: 3}\n", "", []string{`plants: where the plants stand is missing`}},
		{"grid too wide", "{columns: 6, rows: 3}", "«{columns: 6, rows: 3, spacing: 25 cm}", []string{`the grid does not fit the space, which is 120 cm wide`}},
		{"too many", "{columns: 6, rows: 3}", "«{columns: 100, rows: 21}", []string{`the grid has 2100 plants`}},
		{"same place", "grid: {columns: 6, rows: 3}", "at:\n    - [10 cm, 10 cm]\n    - «[10.5 cm, 10 cm]", []string{`plant "P1" of line 11 stands at this place`}},
		{"plant outside", "grid: {columns: 6, rows: 3}", "at: [[10 cm, «61 cm]]", []string{`the plant stands 1 cm outside the space at the back`}},
		{"both", "grid: {columns: 6, rows: 3}", "grid: {columns: 6, rows: 3}\n  at: «[[10 cm, 10 cm]]", []string{`by a grid and by a list`}},
		// Limits.
		{"ceiling below target", "", "limits: {target: 200 µmol/m²/s, ceiling: «180 µmol/m²/s}\n", []string{`the ceiling is not above the target`}},
		{"over the ceiling", "", "limits: {lamp height: «20 cm to 50 cm}\n", []string{`50 cm is above the ceiling`}},
		{"reversed", "", "limits: {hours: «20 h to 10 h}\n", []string{`the first amount is above the second`}},
		{"usual limits widen to the present setting", "    watts: 42 W\n", "    watts: 42 W\n    hours: 22 h\n", nil},
		{"dimming outside own limits", "    watts: 42 W\nplants:", "    watts: 42 W\n    dimming: «20 %\nlimits: {dimming: 30 % to 100 %}\nplants:", []string{`warning: lamps[0].dimming: the dimming is 20 % now, outside the limits`}},
		{"height outside own limits", "lamps:\n  - at: [30 cm, 30 cm]\n    height: 34 cm", "limits: {lamp height: 36 cm to 45 cm}\nlamps:\n  - at: [30 cm, 30 cm]\n    height: «34 cm", []string{`warning: lamps[0].height: the mean lamp height is 34 cm now, outside the limits of this file; wanted: 36 cm to 45 cm`}},
		// Readings.
		{"outside", "", "readings: [{at: [«121 cm, 30 cm], height: 5 cm, ppfd: 200 µmol/m²/s}]\n", []string{`readings[0].at[0]: the meter stands 1 cm outside the space at the right`}},
		{"over the lamp", "", "readings: [{at: [30 cm, 30 cm], height: «34 cm, ppfd: 200 µmol/m²/s}]\n", []string{`at or above the lamps that were on`}},
		{"unknown lamp", "    watts: 42 W\n", "    watts: 42 W\n    name: Anna\nreadings: [{at: [30 cm, 30 cm], height: 5 cm, ppfd: 200 µmol/m²/s, lamps: [«Ana]}]\n", []string{`no lamp is called "Ana"|did you mean "Anna"`}},
		{"brighter than the sun", "", "readings: [{at: [30 cm, 30 cm], height: 5 cm, ppfd: «20000 µmol/m²/s}]\n", []string{`more than the most`}},
		// 200 and 240: 40/220 = 18 %.
		{"contradiction", "", "readings:\n  - {at: [30 cm, 30 cm], height: 5 cm, ppfd: 200 µmol/m²/s}\n  - {at: [30.5 cm, 30 cm], height: 5 cm, ppfd: «240 µmol/m²/s}\n", []string{`warning: readings[1].ppfd: lines 12 and 13 read the same place under the same lamps, but differ by 18 %`}},
		// 200 and 225: 25/212.5 = 11.8 %, within what two readings may differ by.
		{"no contradiction", "", "readings:\n  - {at: [30 cm, 30 cm], height: 5 cm, ppfd: 200 µmol/m²/s}\n  - {at: [30 cm, 30 cm], height: 5 cm, ppfd: 225 µmol/m²/s}\n", nil},
		{"other dimming", "", "readings:\n  - {at: [30 cm, 30 cm], height: 5 cm, ppfd: 200 µmol/m²/s}\n  - {at: [30 cm, 30 cm], height: 5 cm, ppfd: 100 µmol/m²/s, dimming: 50 %}\n", nil},
		// The text as a whole.
		{"empty", "all", "«", []string{`nothing is written in this file`}},
		{"only comments", "all", "«# nothing yet\n", []string{`nothing is written in this file`}},
		{"a list", "all", "«- 1\n", []string{`a list stands where a part with keys belongs`}},
		{"second document", "", "---\n«underlamp: 1\n", []string{`second document`}},
		{"tab", "    height: 34 cm", "«\theight: 34 cm", []string{`indented with a tab`}},
		{"open bracket", "at: [30 cm, 30 cm]", "at: [30 cm, 30 cm", []string{`a list that began with [ is not closed`}},
		{"open quote", "underlamp: 1", "underlamp: 1\nname: «'Cellar", []string{`a quote is not closed`}},
		{"reserved", "underlamp: 1", "underlamp: 1\nname: «@home", []string{`can't begin with this character`}},
		{"anchor and alias", "", "crop: {start mass: «&m 2 g, saleable: «*m}\n", []string{`anchors (&)`, `aliases (*)`}},
		{"tag", "underlamp: 1", "underlamp: «!!int 1", []string{`tags (!)`}},
		{"merge", "", "air:\n  «<<: {co2: 450 ppm}\n", []string{`merge keys`}},
		{"NUL", "", "note: a«\x00b\n", []string{`invisible character (U+0000)`}},
		{"not UTF-8", "", "note: a«\xe4b\n", []string{`not UTF-8`}},
		{"UTF-16", "all", "«\xff\xfeu\x00n\x00", []string{`stored as UTF-16`}},
		{"deep", "", "note: " + strings.Repeat("[", 16) + "«[", []string{`nested too deep`}},
		// Sound texts.
		{"sound", "", "", nil},
		{"BOM and CRLF", "all", "\ufeff" + strings.ReplaceAll(bench, "\n", "\r\n"), nil},
		{"CRLF after a comment", "all", strings.ReplaceAll(strings.ReplaceAll(bench, "space:", "# a comment\nnote: \"x\" # more\nspace:"), "height: 34 cm", "height: «34") + "", []string{`the unit is missing`}},
		{"°F and inches", "height: 34 cm", "height: 13.5 in", nil},
		{"empty keys", "", "air:\nfeed:\n  calcium:\nreadings:\ncrop: {days: }\n", nil},
		// All at once, in the order of the file.
		{"many", "all", `underlamp: 1
spce: {width: 1 m}
lamps:
  - at: [30 cm, «thirty]
    height: «34
    «wats: 42 W
    flux: «110 W
air: {day: {temperature: «72}}
`, []string{`the key "spce" is not known|did you mean "space"`, `at[1]: "thirty" is not a length`, `"34" is not a length`, `did you mean "watts"`, `W measures a power`, `the unit is missing (°C, °F, K)`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := bench + c.new
			switch {
			case c.old == "all":
				text = c.new
			case c.old != "":
				text = strings.Replace(bench, c.old, c.new, 1)
				if !strings.Contains(bench, c.old) {
					t.Fatal("the part to replace is not in the bench")
				}
			}
			if strings.HasPrefix(c.name, "CRLF") {
				text = strings.ReplaceAll(text, "\n", "\r\n")
			}
			text, places := marked.Unmark(text)
			b, problems, err := benchfile.Read(strings.NewReader(text))
			if err != nil {
				t.Fatal(err)
			}
			if (b == nil) != problems.HasErrors() {
				t.Errorf("bench %v beside problems %v", b != nil, problems)
			}
			if c.name == "many" {
				// What is missing is reported at the top of the file and of the lamp.
				var rest benchfile.Problems
				for _, p := range problems {
					if !strings.HasSuffix(p.Message, "is missing") && !strings.Contains(p.Message, "not described") {
						rest = append(rest, p)
					}
				}
				if len(problems)-len(rest) != 3 { // size of the space, opening, plants
					t.Errorf("%d problems of what is missing, want 3: %v", len(problems)-len(rest), problems)
				}
				problems = rest
				places = append([]string{"2:1"}, places...)
			}
			marked.Problems(t, problems, places, c.want)
		})
	}
}

func TestSizes(t *testing.T) {
	lamp := "  - {at: [30 cm, 30 cm], height: 34 cm, opening: {diameter: 12 cm}, flux: 110 µmol/s, watts: 42 W}\n"
	lamps := func(n int) string {
		return "underlamp: 1\nspace: {width: 120 cm, depth: 60 cm, height: 45 cm}\nplants: {grid: {columns: 6, rows: 3}}\nlamps:\n" + strings.Repeat(lamp, n)
	}
	for _, c := range []struct{ name, text, want string }{
		{"200 lamps", lamps(200), ""},
		{"201 lamps", lamps(201), "205:5: error: lamps[200]: there are 201 lamps"},
		{"10 000 lines", bench + strings.Repeat("#\n", 9989), ""},
		{"10 001 lines", bench + strings.Repeat("#\n", 9990), "the file has 10001 lines"},
		{"words", bench + "note: [" + strings.Repeat("1,", 60_000) + "1]\n", "at most 100000 words"},
		{"nested lines", strings.Repeat("a:\n", 9000), `the key "a" is not known`},
	} {
		_, problems, err := benchfile.Read(strings.NewReader(c.text))
		if err != nil {
			t.Fatal(err)
		}
		if c.want == "" && problems.HasErrors() || c.want != "" && (len(problems) == 0 || !strings.Contains(problems.Error(), c.want)) {
			t.Errorf("%s: %.300v, want %q", c.name, problems, c.want)
		}
	}
	if _, _, err := benchfile.Read(strings.NewReader(strings.Repeat("#", 1<<20+1))); !errors.Is(err, benchfile.ErrTooLarge) {
		t.Errorf("over 1 MiB: %v", err)
	}
	if _, _, err := benchfile.Read(strings.NewReader("#" + strings.Repeat(" ", 1<<20-1))); err != nil {
		t.Errorf("1 MiB: %v", err)
	}
	broken := errors.New("the disk is gone")
	if b, ps, err := benchfile.Read(iotest.ErrReader(broken)); !errors.Is(err, broken) || b != nil || ps != nil {
		t.Errorf("a broken reader gives %v, %v, %v", b, ps, err)
	}
}

// The rendering was written down from the rules in its doc comment and is
// compared as a whole.
func TestRender(t *testing.T) {
	source := strings.NewReplacer("height: 34 cm", "hieght: 34", "watts: 42 W", "watts: 42 W\t# \x1b as on the box").Replace(bench)
	source = strings.ReplaceAll(source, "\x1b", "")
	_, problems, err := benchfile.Read(strings.NewReader(source))
	if err != nil {
		t.Fatal(err)
	}
	want := `cellar.yaml:4:5: error: lamps[0].height: the height of the lamp above the planting surface is missing
    4 |   - at: [30 cm, 30 cm]
      |     ^
      wanted: for example 34 cm or 13.5 in
cellar.yaml:5:5: error: lamps[0]: the key "hieght" is not known here
    5 |     hieght: 34
      |     ^
      wanted: one of name, kind, at, height, turn, tilt, towards, opening, flux, watts, efficacy, beam, photometry, mirrored, lux per ppfd, spectrum, ageing, dimming, dimming curve, hours
      did you mean "height"?
`
	if diff := cmp.Diff(want, problems.Render("cellar.yaml", []byte(source), false)); diff != "" {
		t.Error(diff)
	}
	coloured := problems.Render("cellar.yaml", []byte(source), true)
	if !strings.Contains(coloured, "\x1b[31merror\x1b[0m") || !strings.Contains(coloured, "\x1b[31m^\x1b[0m") {
		t.Errorf("no colours in %q", coloured)
	}
	long := benchfile.Problems{{Line: 1, Column: 500, Message: "here"}}
	text := strings.Repeat("a", 499) + "B" + strings.Repeat("c", 500) + "\x1b[2J"
	lines := strings.Split(long.Render("x\x1b", []byte(text), false), "\n")
	caret := strings.IndexRune(lines[2], '^')
	if r := []rune(lines[1]); len(r) > 112 || r[caret] != 'B' || strings.ContainsRune(strings.Join(lines, ""), '\x1b') {
		t.Errorf("a long line is shown as\n%s", strings.Join(lines, "\n"))
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(bench))
	f.Add([]byte(marked.Example(f, "../../docs/formats/bench.md")))
	var w bytes.Buffer
	if err := benchfile.Write(&w, benchfile.Answers{}); err != nil {
		f.Fatal(err)
	}
	f.Add(w.Bytes())
	for _, s := range []string{"", "\xff\xfe", "\ufeff" + bench, strings.ReplaceAll(bench, "\n", "\r\n"), "a: &x [*x]", "[[[[", "? a\n: b", "- - -",
		strings.Replace(bench, "34 cm", "'34", 1), bench + "walls: {left: 60 % to 90 %, above: foil}\nreadings: [{at: [1 cm, 1 cm], height: 0 cm, ppfd: 3 umol/m2/s, lamps: [A]}]\n",
		bench + "limits: {lamp height: 20..45 cm, dimming: 100 %, burn: 5 %}\nair: {co2: 6000 ppm, fan: down}\ncrop: {days: 5 weeks}\n",
		strings.Replace(bench, "grid: {columns: 6, rows: 3}", "at: [[1 cm, 1 cm], {name: x, at: [5 cm, 5 cm]}]", 1)} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		b, problems, err := benchfile.Read(bytes.NewReader(data))
		if err != nil {
			if len(data) <= 1<<20 {
				t.Fatal(err)
			}
			return
		}
		marked.Sane(t, data, b != nil, problems)
		if b != nil {
			check(t, b)
		}
	})
}
