package notes

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
)

// A Kind is what the rows of a sheet are.
type Kind string

// The kinds.
const (
	Plants   Kind = "plants"   // what was seen of plants of a bench
	Cycles   Kind = "cycles"   // finished crops of a bench, for learning
	Readings Kind = "readings" // readings of light on a bench
)

// Kinds are all of them.
func Kinds() []Kind { return []Kind{Plants, Cycles, Readings} }

// Says is the kind in words.
func (k Kind) Says() string {
	switch k {
	case Plants:
		return "what was seen of plants"
	case Cycles:
		return "finished crops, one a row"
	case Readings:
		return "readings of light, one a row"
	case Package:
		return "a data package"
	}
	return string(k)
}

// What a column can be beside a measure ([underlamp.Response]).
const (
	Nothing      = "nothing"
	Plant        = "plant"
	Day          = "day"
	By           = "by"
	With         = "with"
	Note         = "note"
	What         = "what"  // the name of a measure, of long tables
	Value        = "value" // its value
	Cut          = "cut"
	Cultivar     = "cultivar"
	Sown         = "sown"
	Transplanted = "transplanted"
	Harvested    = "harvested"
	Heads        = "heads"
	TotalMass    = "total mass"
	MeanMass     = "mean mass"
	Burnt        = "burnt heads"
	Electricity  = "electricity"
	Name         = "name"
	X            = "x"
	Y            = "y"
	Height       = "sensor height"
	PPFD         = "ppfd"
)

// A Meaning is what a column can be.
type Meaning struct{ Key, Says string }

// Meanings are those of a kind, in the order of a list to choose from.
func Meanings(k Kind) []Meaning {
	switch k {
	case Cycles:
		return []Meaning{{Nothing, "nothing: leave it out"}, {Name, "name of the crop"}, {Cultivar, "cultivar"}, {Sown, "day of sowing"}, {Transplanted, "day of transplanting"}, {Harvested, "day of harvest"},
			{Heads, "number of heads"}, {TotalMass, "mass of all heads"}, {MeanMass, "mass of a head, mean"}, {Burnt, "heads with burn, number or %"}, {Electricity, "electricity, kWh"}, {By, "who"}, {Note, "note"}}
	case Readings:
		return []Meaning{{Nothing, "nothing: leave it out"}, {Name, "name of the reading"}, {Plant, "plant at which it was read"}, {X, "place from the left"}, {Y, "place from the front"}, {Height, "height of the sensor"}, {PPFD, "PPFD"}, {Day, "day"}}
	}
	out := []Meaning{{Nothing, "nothing: leave it out"}, {Plant, "plant"}, {Day, "day"}}
	for _, r := range underlamp.Responses() {
		out = append(out, Meaning{string(r), responseSays(r)})
	}
	return append(out, Meaning{Cut, "cut, yes or no"}, Meaning{What, "what was measured, in words"}, Meaning{Value, "the value of it"}, Meaning{By, "who"}, Meaning{With, "instrument"}, Meaning{Note, "note"})
}

func responseSays(r underlamp.Response) string {
	switch r {
	case underlamp.ResponseMass:
		return "fresh mass"
	case underlamp.ResponseHeight:
		return "height"
	case underlamp.ResponseWidth:
		return "width"
	case underlamp.ResponseLeaves:
		return "number of leaves"
	case underlamp.ResponseBurn:
		return "burn, yes or no"
	case underlamp.ResponseSeverity:
		return fmt.Sprintf("burn, grade 0 to %d, or %% of the leaves", underlamp.MaxSeverity)
	case underlamp.ResponseClear:
		return "last look without burn"
	case underlamp.ResponseFirst:
		return "burn first seen"
	case underlamp.ResponseArea:
		return "leaf area"
	}
	return string(r)
}

// words are headings, without units and in lower case, in English, German, Dutch, French and
// Spanish (from memory); those of plants stand in trialtable.
var words = map[Kind]map[string]string{}

func init() {
	for kind, all := range map[Kind]map[string]string{
		Plants: {
			Cut:   "cut, harvested, taken, geerntet, geoogst, récolté, cosechado",
			What:  "what, measure, trait, variable, parameter, merkmal, was, kenmerk, mesure, medida",
			Value: "value, wert, messwert, waarde, valeur, valor, result",
		},
		Cycles: {
			Name:         "name, crop, cycle, run, batch, lot, satz, durchgang, charge, ronde, teelt, cycle no, série, lote, ciclo",
			Cultivar:     "cultivar, variety, sort, cv, sorte, ras, variété, variedad",
			Sown:         "sown, sowed, sowing, seeded, seeding, sow date, date sown, sown on, gesät, aussaat, saat, gesät am, gezaaid, zaaidatum, semis, semé, siembra, sembrado",
			Transplanted: "transplanted, transplanting, transplant, planted, planting, planted out, transplant date, date planted, gepflanzt, gepflanzt am, pflanzung, gesetzt, geplant, uitgeplant, plantdatum, repiqué, repiquage, planté, trasplante, trasplantado, plantado",
			Harvested:    "harvested, harvest, harvest date, harvested on, cut, cut on, date of harvest, ernte, geerntet, erntedatum, geerntet am, geoogst, oogst, oogstdatum, récolte, récolté, cosecha, cosechado, end",
			Heads:        "heads, no of heads, number of heads, plants, count, head count, heads cut, köpfe, anzahl, anzahl köpfe, stück, kroppen, aantal, têtes, nombre, cabezas, cantidad",
			TotalMass:    "total mass, total weight, total, yield, total yield, harvest weight, mass, weight, gesamtgewicht, ertrag, gesamt, totaalgewicht, opbrengst, poids total, rendement, peso total, rendimiento, total fresh mass",
			MeanMass:     "mean mass, mean weight, average weight, head weight, mass per head, weight per head, avg weight, average, kopfgewicht, mittleres gewicht, gewicht pro kopf, kropgewicht, gemiddeld gewicht, poids moyen, peso medio, mean head mass",
			Burnt:        "burnt, burned, burnt heads, tipburn, burn, heads with burn, heads with tipburn, heads burnt, innenbrand, verbrannt, brand, randen, brûlées, quemadas, with burn",
			Electricity:  "kwh, electricity, power, energy, strom, stromverbrauch, elektriciteit, stroom, électricité, electricidad, energie, énergie, energía",
		},
		Readings: {
			Name:   "name, point, reading, no, id, spot, punkt, messpunkt, punt, point de mesure, punto",
			X:      "x, from left, left, across, place x, x cm, von links, links, van links, à gauche, izquierda",
			Y:      "y, from front, front, depth, deep, y cm, von vorn, tiefe, voor, devant, fondo",
			Height: "height, z, sensor height, height of sensor, above pots, höhe, hoogte, hauteur, altura",
			PPFD:   "ppfd, light, reading ppfd, par, light level, umol, µmol, μmol, licht, lichtstärke, licht ppfd, lumière, luz, value, wert",
			Plant:  "plant, place, position, at plant, pflanze, platz, plaats, plante, planta, at",
			Day:    "date, day, read on, datum, tag, dag, jour, fecha",
		},
	} {
		words[kind] = map[string]string{}
		for meaning, list := range all {
			for w := range strings.SplitSeq(list, ", ") {
				words[kind][w] = meaning
			}
		}
	}
}

var blanks = strings.NewReplacer("_", " ", "(", " ", ")", " ", "[", " ", "]", " ", ".", " ", ":", " ", "#", " ", "-", " ", "*", " ")

func normal(s string) string {
	return strings.Join(strings.Fields(blanks.Replace(strings.ToLower(s))), " ")
}

// A Column is a column of a sheet and what it is taken for.
type Column struct {
	Index   int       `doc:"place of the column in the sheet, from 0"`
	Heading string    `doc:"of the column"`
	Unit    string    `doc:"that the heading names"`
	Day     time.Time `doc:"that the heading names; 0001-01-01 for none"` // that the heading names: "weight 3 Oct"; zero: none
	Is      string    `doc:"what it is taken for"`
	Why     string    `doc:"how that was found"`
	Sample  []string  `doc:"its first values"` // the first values
	Filled  int       `doc:"how many of its cells hold something"`

	column *sheet.Column
}

// kindOf proposes what the rows of a table are, and why.
func kindOf(t *sheet.Table) (Kind, string) {
	has := func(k Kind, m string) bool {
		return slices.ContainsFunc(t.Columns, func(c sheet.Column) bool { return c.Filled > 0 && words[k][normal(c.Name)] == m })
	}
	switch {
	case has(Readings, PPFD) && (has(Readings, X) || has(Readings, Plant)) || slices.ContainsFunc(t.Columns, func(c sheet.Column) bool { return isFlux(c.Unit) }):
		return Readings, "a column holds light"
	case (has(Cycles, Transplanted) || has(Cycles, Sown)) && (has(Cycles, Harvested) || has(Cycles, Heads) || has(Cycles, TotalMass)):
		return Cycles, "the rows have days of sowing or transplanting and of harvest"
	}
	return Plants, "nothing speaks for finished crops or readings of light"
}

func isFlux(unit string) bool {
	u := strings.ToLower(unit)
	return strings.HasPrefix(u, "umol") || strings.HasPrefix(u, "µmol") || strings.HasPrefix(u, "μmol")
}

// propose says what each column is taken for. said is what a person said, before what the last
// table with the same headings was, which the caller found.
func propose(k Kind, t *sheet.Table, said, before map[string]string, from string) []Column {
	var out []Column
	taken := map[string]string{}
	for i := range t.Columns {
		c := &t.Columns[i]
		col := Column{Index: c.Index, Heading: c.Heading, Unit: c.Unit, Sample: c.Sample, Filled: c.Filled, column: c}
		name := c.Name
		if k == Plants {
			name, col.Day = headingDay(t, name)
		}
		switch {
		case said[c.Heading] != "":
			col.Is, col.Why = said[c.Heading], "as you say"
		case before[c.Heading] != "":
			col.Is, col.Why = before[c.Heading], "as in "+from
		default:
			col.Is, col.Why = guess(k, t, c, name)
		}
		out = append(out, col)
		if col.Is != Nothing && said[c.Heading] == "" && before[c.Heading] == "" {
			key := col.Is + col.Day.Format(time.DateOnly)
			if other, twice := taken[key]; twice && col.Is != Note {
				out[len(out)-1].Is, out[len(out)-1].Why = Nothing, fmt.Sprintf("“%s” is the %s already", other, col.Is)
				continue
			}
			taken[key] = c.Heading
		} else if col.Is != Nothing {
			taken[col.Is+col.Day.Format(time.DateOnly)] = c.Heading
		}
	}
	return out
}

// headingDay parts "weight 3 Oct 2026" into the name and the day.
func headingDay(t *sheet.Table, heading string) (string, time.Time) {
	f := strings.Fields(strings.NewReplacer("(", " ", ")", " ", "[", " ", "]", " ").Replace(heading))
	for i := 1; i < len(f); i++ {
		for _, part := range []struct{ day, name string }{{strings.Join(f[i:], " "), strings.Join(f[:i], " ")}, {strings.Join(f[:i], " "), strings.Join(f[i:], " ")}} {
			part.day = strings.TrimPrefix(strings.TrimPrefix(part.day, "on "), "am ")
			if d, _, err := t.Date(sheet.Cell{Kind: sheet.Text, Text: part.day}, -1); err == nil && strings.ContainsAny(part.day, "./-abcdefghijklmnopqrstuvwxyz") {
				return strings.TrimRight(strings.TrimSuffix(strings.TrimSuffix(part.name, " on"), " am"), " ,:"), d.Truncate(24 * time.Hour)
			}
		}
	}
	return heading, time.Time{}
}

// guess says what a column is by its heading, its unit and its values.
func guess(k Kind, t *sheet.Table, c *sheet.Column, name string) (is, why string) {
	if c.Filled == 0 {
		return Nothing, "it is empty"
	}
	n := normal(name)
	word := fmt.Sprintf("“%s” in the heading", name)
	if m := words[k][n]; m != "" {
		if k == Cycles && m == TotalMass && c.Unit == "" && n == "total" && c.Numbers == 0 {
			return Nothing, "it has no numbers"
		}
		if k == Plants && m == Cut && c.Days > c.Filled/2 {
			return Day, word + ", and its values are days"
		}
		return m, word
	}
	unit := strings.ToLower(c.Unit)
	most := func(n int) bool { return 2*n > c.Filled }
	switch k {
	case Plants:
		if m := trialtable.Guess(name); m != "" {
			switch {
			case m == "unit":
			case m == "time":
				return Day, word
			case m == "burn" && most(c.Numbers):
				if unit == "%" || percents(t, c) {
					return string(underlamp.ResponseSeverity), word + ", and its values are shares of the leaves"
				}
				if top := largest(t, c); top > 1 {
					return string(underlamp.ResponseBurn), fmt.Sprintf("%s; its numbers go up to %g on a scale of which nothing is known, so that only yes or no is taken, and the number is kept as a note. Choose the grade if your grades are those of docs/rounds.md", word, top)
				}
				return m, word
			case m == "severity" && largest(t, c) > underlamp.MaxSeverity && unit != "%" && !percents(t, c):
				return string(underlamp.ResponseBurn), word + fmt.Sprintf("; its numbers go beyond %d, so that only yes or no is taken", underlamp.MaxSeverity)
			default:
				return m, word
			}
		}
		switch {
		case (unit == "g" || unit == "gr" || unit == "oz" || unit == "lb" || unit == "kg" || unit == "gram") && most(c.Numbers):
			return string(underlamp.ResponseMass), "its unit is " + c.Unit
		case most(c.Days):
			return Day, "its values are days"
		case strings.Contains(n, "burn") || strings.Contains(n, "brand"):
			return string(underlamp.ResponseBurn), "“burn” in the heading"
		case strings.Contains(n, "note") || strings.Contains(n, "comment") || strings.Contains(n, "remark"):
			return Note, word
		}
	case Cycles:
		switch {
		case unit == "kwh":
			return Electricity, "its unit is kWh"
		case trialtable.Guess(name) == "note":
			return Note, word
		case trialtable.Guess(name) == "by":
			return By, word
		}
	case Readings:
		switch {
		case isFlux(unit) && most(c.Numbers):
			return PPFD, "its unit is " + c.Unit
		case most(c.Days):
			return Day, "its values are days"
		}
	}
	return Nothing, "nothing tells what it is"
}

func percents(t *sheet.Table, c *sheet.Column) bool {
	n := 0
	for _, r := range t.Rows {
		if _, rest, err := t.Number(r.At(c.Index), c.Index); err == nil && rest == "%" {
			n++
		}
	}
	return 2*n > c.Filled
}

func largest(t *sheet.Table, c *sheet.Column) float64 {
	top := 0.0
	for _, r := range t.Rows {
		if v, _, err := t.Number(r.At(c.Index), c.Index); err == nil {
			top = max(top, v)
		}
	}
	return top
}
