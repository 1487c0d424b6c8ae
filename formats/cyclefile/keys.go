package cyclefile

import (
	"slices"

	"underlamp/formats/handwritten"
)

// grammar lists every key that the reader accepts, in the order of the
// documentation.
var grammar = handwritten.Grammar{
	Package: "cyclefile",
	File:    "the record of a cycle",
	Begin:   "the record of a cycle that begins with underlamp cycle: 1",
	One:     "one cycle in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp cycle", "bench", "name", "note", "units", "cultivar", "transplanted", "harvested", "start mass", "instruments", "changes", "observations"}},
		{Name: "instruments[]", Keys: []string{"name", "mass error", "length error"}},
		{Name: "changes[]", Keys: []string{"date", "lamp height", "dimming", "hours", "fan", "speed", "co2", "day", "night", "feed", "note"}},
		{Name: "changes[].day", Keys: []string{"temperature", "humidity"}},
		{Name: "changes[].night", Keys: []string{"temperature", "humidity"}},
		{Name: "changes[].feed", Keys: []string{"calcium", "ammonium", "potassium", "magnesium", "ec", "root temperature"}},
		{Name: "observations[]", Keys: []string{"name", "date", "plant", "mass", "heads", "height", "leaves", "burn", "burnt", "cut", "by", "with", "note", "corrects", "struck"}},
		{Name: "origin", Keys: []string{"value", "from", "note"}},
	},
	Also: map[string]string{
		"underlamp": "underlamp cycle", "version": "underlamp cycle", "bench file": "bench", "title": "name", "notes": "note", "variety": "cultivar",
		"planted": "transplanted", "start": "transplanted", "harvest": "harvested", "end": "harvested", "settings": "changes", "records": "observations",
		"weighings": "observations", "rounds": "observations", "when": "date", "day number": "date", "weight": "mass", "fresh mass": "mass", "mean mass": "mass", "number of heads": "heads", "mean of": "heads", "size": "height",
		"tipburn": "burn", "burnt leaves": "burn", "severity": "burn", "count": "burnt", "heads burnt": "burnt", "harvest cut": "cut", "taken": "cut",
		"who": "by", "observer": "by", "instrument": "with", "scale": "with", "remark": "note", "replaces": "corrects", "void": "struck", "deleted": "struck",
		"photoperiod": "hours", "dim": "dimming", "lamps": "lamp height", "temp": "temperature", "rh": "humidity", "ca": "calcium", "wind": "speed", "error": "mass error",
	},
	Home: map[string]bool{"origin": true, "instruments[]": true, "changes[].night": true},
}

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}
