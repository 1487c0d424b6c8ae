package benchfile

import (
	"slices"
	"strings"
)

// A section is one part of the file and the keys that it may hold. The names of
// sections are paths, with [] for a list.
type section struct {
	name string
	keys []string
}

// sections lists every key that the reader accepts, in the order of the
// documentation.
var sections = []section{
	{"", []string{"underlamp", "name", "note", "units", "space", "walls", "shelves", "lamps", "plants", "crop", "air", "feed", "electricity", "limits", "readings"}},
	{"space", []string{"width", "depth", "height"}},
	{"walls", []string{"left", "right", "front", "back", "below", "above"}},
	{"walls.side", []string{"diffuse", "mirror", "from", "note"}},
	{"shelves[]", []string{"name", "from", "to", "height", "top", "bottom"}},
	{"lamps[]", []string{"name", "kind", "at", "height", "turn", "tilt", "towards", "opening", "flux", "watts", "efficacy", "beam", "photometry", "mirrored", "lux per ppfd", "spectrum", "ageing", "dimming", "dimming curve", "hours"}},
	{"lamps[].opening", []string{"width", "depth", "diameter", "inner diameter"}},
	{"lamps[].ageing", []string{"light", "date"}},
	{"lamps[].dimming curve[]", []string{"dimming", "light", "watts"}},
	{"plants", []string{"grid", "at"}},
	{"plants.grid", []string{"columns", "rows", "margin", "spacing"}},
	{"plants.at[]", []string{"name", "at"}},
	{"crop", []string{"species", "type", "cultivar", "tendency", "profile", "transplanted", "days", "start mass", "saleable", "spacing"}},
	{"crop.spacing[]", []string{"until", "density"}},
	{"air", []string{"day", "night", "co2", "speed", "fan"}},
	{"air.day", []string{"temperature", "humidity"}},
	{"air.night", []string{"temperature", "humidity"}},
	{"feed", []string{"calcium", "ammonium", "potassium", "magnesium", "ec", "root temperature"}},
	{"limits", []string{"burn", "target", "ceiling", "lamp height", "dimming", "hours"}},
	{"readings[]", []string{"name", "at", "height", "ppfd", "lamps", "dimming", "date"}},
	{"origin", []string{"value", "from", "note"}},
}

func keysOf(name string) []string {
	for _, s := range sections {
		if s.name == name {
			return s.keys
		}
	}
	panic("benchfile: keysOf: no section " + name)
}

// alsoCalled are words that people use for a key; they are suggested, never
// accepted, so that a file reads the same to everyone.
var alsoCalled = map[string]string{
	"power": "watts", "watt": "watts", "ppf": "flux", "photon flux": "flux", "efficiency": "efficacy",
	"angle": "beam", "beam angle": "beam", "position": "at", "place": "at", "size": "opening",
	"length": "width", "floor": "below", "bottom": "below", "ceiling": "above", "top": "above",
	"photoperiod": "hours", "light": "ppfd", "value": "ppfd", "temp": "temperature", "rh": "humidity",
	"carbon dioxide": "co2", "ca": "calcium", "cf": "ec", "variety": "cultivar", "price": "electricity",
	"title": "name", "notes": "note", "dim": "dimming", "distance": "spacing", "tipburn": "burn",
	"wind": "speed", "sensor": "readings", "measurements": "readings", "version": "underlamp",
	"ies": "photometry", "ies file": "photometry", "photometric file": "photometry", "rotation": "turn", "rotate": "turn", "orientation": "turn",
	"lux": "lux per ppfd", "maintenance": "ageing", "depreciation": "ageing", "specular": "mirror", "panels": "shelves", "shelf": "shelves",
	"learned": "profile", "when": "date", "planted": "transplanted", "harvest mass": "saleable", "nutrients": "feed", "climate": "air",
}

// normal brings the spellings of a key to one: "Start_mass" is "start mass".
func normal(key string) string {
	key = strings.NewReplacer("_", " ", "-", " ").Replace(strings.ToLower(key))
	return strings.Join(strings.Fields(key), " ")
}

// suggest finds the key that was probably meant: another word for it, then the
// nearest spelling; empty if none is near.
func suggest(key string, known []string) string {
	key = normal(key)
	if also := alsoCalled[key]; slices.Contains(known, also) {
		return also
	}
	return nearest(key, known)
}

// elsewhere names the part of the file in which the key would be right.
func elsewhere(key string) string {
	for _, s := range sections {
		if s.name != "" && s.name != "origin" && s.name != "walls.side" && slices.Contains(s.keys, normal(key)) {
			return s.name
		}
	}
	return ""
}

// nearest finds the word with the fewest edits, at most one for every three
// letters; empty if none is that near. Of equals the first counts.
func nearest(word string, words []string) string {
	best, found := len([]rune(word))/3+1, ""
	if len(word) > 40 {
		return ""
	}
	for _, w := range words {
		if d := edits(word, normal(w)); d < best || d == best && found == "" && d <= max(1, len([]rune(word))/3) {
			best, found = d, w
		}
	}
	return found
}

// edits counts the fewest insertions, deletions, replacements and swaps of
// neighbours that turn a into b (optimal string alignment).
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, row := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		next := make([]int, len(y)+1)
		next[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(y)]
}
