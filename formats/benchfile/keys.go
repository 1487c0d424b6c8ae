package benchfile

import (
	"fmt"

	"underlamp/formats/handwritten"
)

// grammar lists every key that the reader accepts, in the order of the
// documentation.
var grammar = handwritten.Grammar{
	Package: "benchfile",
	File:    "the description of a bench",
	Begin:   "a bench description that begins with underlamp: 1",
	One:     "one bench in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp", "name", "note", "units", "space", "walls", "shelves", "lamps", "plants", "crop", "air", "room", "feed", "electricity", "costs", "sale", "limits", "readings", "method"}},
		{Name: "space", Keys: []string{"width", "depth", "height"}},
		{Name: "walls", Keys: []string{"left", "right", "front", "back", "below", "above"}},
		{Name: "walls.side", Keys: []string{"diffuse", "mirror", "from", "note"}},
		{Name: "shelves[]", Keys: []string{"name", "from", "to", "height", "top", "bottom"}},
		{Name: "lamps[]", Keys: []string{"name", "kind", "at", "height", "turn", "tilt", "towards", "opening", "flux", "watts", "efficacy", "beam", "photometry", "mirrored", "lux per ppfd", "spectrum", "ageing", "dimming", "dimming curve", "hours"}},
		{Name: "lamps[].opening", Keys: []string{"width", "depth", "diameter", "inner diameter"}},
		{Name: "lamps[].ageing", Keys: []string{"light", "date", "new", "after"}},
		{Name: "lamps[].dimming curve[]", Keys: []string{"dimming", "light", "watts"}},
		{Name: "plants", Keys: []string{"grid", "at", "height", "heights"}},
		{Name: "plants.grid", Keys: []string{"columns", "rows", "margin", "spacing"}},
		{Name: "plants.at[]", Keys: []string{"name", "at"}},
		{Name: "plants.heights[]", Keys: []string{"plants", "height"}},
		{Name: "crop", Keys: []string{"species", "type", "cultivar", "tendency", "profile", "transplanted", "days", "start mass", "saleable", "spacing"}},
		{Name: "crop.spacing[]", Keys: []string{"until", "density"}},
		{Name: "air", Keys: []string{"day", "night", "co2", "speed", "fan", "altitude"}},
		{Name: "air.day", Keys: []string{"temperature", "humidity"}},
		{Name: "air.night", Keys: []string{"temperature", "humidity"}},
		{Name: "feed", Keys: []string{"from", "calcium", "ammonium", "potassium", "magnesium", "ec", "root temperature"}},
		{Name: "room", Keys: []string{"volume", "leak", "heat loss", "other power", "outside", "dehumidifier", "cooling", "co2 price"}},
		{Name: "room.outside", Keys: []string{"temperature", "humidity", "co2"}},
		{Name: "room.dehumidifier", Keys: []string{"removes", "efficiency", "temperature", "humidity"}},
		{Name: "costs[]", Keys: []string{"for", "rate"}},
		{Name: "sale[]", Keys: []string{"from", "price"}},
		{Name: "limits", Keys: []string{"burn", "target", "ceiling", "lamp height", "dimming", "hours", "fan speed", "night humidity", "co2", "density", "harvest"}},
		{Name: "readings[]", Keys: []string{"name", "at", "height", "ppfd", "lamps", "dimming", "date"}},
		{Name: "method", Keys: []string{"room", "air flow", "seedlings", "container", "substrate", "watering", "solution", "ph", "oxygen", "instruments"}},
		{Name: "method.instruments[]", Keys: []string{"reads", "make", "calibrated", "place", "often"}},
		{Name: "origin", Keys: []string{"value", "from", "note"}},
	},
	// Suggested, never accepted, so that a file reads the same to everyone.
	Also: map[string]string{
		"power": "watts", "watt": "watts", "ppf": "flux", "photon flux": "flux", "efficiency": "efficacy",
		"angle": "beam", "beam angle": "beam", "position": "at", "place": "at", "size": "opening",
		"length": "width", "floor": "below", "bottom": "below", "ceiling": "above", "top": "above",
		"photoperiod": "hours", "light": "ppfd", "value": "ppfd", "temp": "temperature", "rh": "humidity",
		"carbon dioxide": "co2", "ca": "calcium", "cf": "ec", "variety": "cultivar", "tariff": "electricity", "income": "sale", "revenue": "sale", "expenses": "costs",
		"title": "name", "notes": "note", "dim": "dimming", "distance": "spacing", "tipburn": "burn",
		"wind": "speed", "sensor": "readings", "measurements": "readings", "version": "underlamp",
		"ies": "photometry", "ies file": "photometry", "photometric file": "photometry", "rotation": "turn", "rotate": "turn", "orientation": "turn",
		"lux": "lux per ppfd", "maintenance": "ageing", "depreciation": "ageing", "specular": "mirror", "panels": "shelves", "shelf": "shelves",
		"learned": "profile", "medium": "substrate", "irrigation": "watering", "pot": "container", "recipe": "solution", "methods": "method", "materials": "method", "when": "date", "planted": "transplanted", "harvest mass": "saleable", "nutrients": "feed", "climate": "air",
	},
	Home: map[string]bool{"origin": true, "walls.side": true},
	AutoName: map[string]func(int) string{
		"lamps":     lampName,
		"plants.at": func(i int) string { return fmt.Sprintf("P%d", i+1) },
		"readings":  func(i int) string { return fmt.Sprintf("R%d", i+1) },
		"shelves":   func(i int) string { return fmt.Sprintf("shelf %d", i+1) },
	},
}
