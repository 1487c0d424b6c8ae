package feedfile

import (
	"slices"

	"underlamp/formats/handwritten"
	"underlamp/science/nutrients"
)

// A form is one way to write an ion: what a mg of it holds of the element, as atoms in a mole.
type form struct {
	key   string
	ion   nutrients.Ion
	per   float64 // atoms of the element in the formula
	molar string  // formula whose mass the figure is
}

// forms are the keys of ions, in the order of the documentation.
var forms = []form{
	{"no3 n", nutrients.Nitrate, 1, "N"}, {"no3", nutrients.Nitrate, 1, "NO3"}, {"nh4 n", nutrients.Ammonium, 1, "N"}, {"nh4", nutrients.Ammonium, 1, "NH4"},
	{"p", nutrients.Phosphorus, 1, "P"}, {"po4", nutrients.Phosphorus, 1, "PO4"}, {"p2o5", nutrients.Phosphorus, 2, "P2O5"},
	{"k", nutrients.Potassium, 1, "K"}, {"k2o", nutrients.Potassium, 2, "K2O"}, {"ca", nutrients.Calcium, 1, "Ca"}, {"cao", nutrients.Calcium, 1, "CaO"},
	{"mg", nutrients.Magnesium, 1, "Mg"}, {"mgo", nutrients.Magnesium, 1, "MgO"}, {"s", nutrients.Sulfur, 1, "S"}, {"so4", nutrients.Sulfur, 1, "SO4"}, {"so3", nutrients.Sulfur, 1, "SO3"},
	{"fe", nutrients.Iron, 1, "Fe"}, {"mn", nutrients.Manganese, 1, "Mn"}, {"zn", nutrients.Zinc, 1, "Zn"}, {"b", nutrients.Boron, 1, "B"}, {"cu", nutrients.Copper, 1, "Cu"}, {"mo", nutrients.Molybdenum, 1, "Mo"},
	{"si", nutrients.Silicon, 1, "Si"}, {"sio2", nutrients.Silicon, 1, "SiO2"}, {"na", nutrients.Sodium, 1, "Na"}, {"cl", nutrients.Chlorine, 1, "Cl"},
}

func ionKeys() (out []string) {
	for _, f := range forms {
		out = append(out, f.key)
	}
	return out
}

var grammar = handwritten.Grammar{
	Package: "feedfile",
	File:    "the description of a feed",
	Begin:   "the description of a feed that begins with underlamp feed: 1",
	One:     "one feed in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp feed", "name", "note", "benches", "units", "target", "limits", "water", "cupboard", "mix", "tank", "stock", "log"}},
		{Name: "target", Keys: append([]string{"recipe", "strength", "ph"}, ionKeys()...)},
		{Name: "limits", Keys: ionKeys()},
		{Name: "water", Keys: append([]string{"name", "ph", "alkalinity", "temperature"}, ionKeys()...)},
		{Name: "cupboard[]", Keys: []string{"product", "name", "formula", "purity", "strength", "density", "metal", "label", "price", "most"}},
		{Name: "cupboard[].label", Keys: ionKeys()},
		{Name: "tank", Keys: []string{"volume", "scale", "temperature"}},
		{Name: "stock", Keys: []string{"kind", "factor", "volume", "temperature"}},
		{Name: "log[]", Keys: []string{"date", "volume", "ec", "raw ec", "ph", "temperature", "ions", "new", "water", "added", "by", "note"}},
		{Name: "log[].ions", Keys: ionKeys()},
		{Name: "log[].added[]", Keys: []string{"product", "amount"}},
		{Name: "origin", Keys: []string{"value", "from", "note"}},
	},
	Also: map[string]string{
		"underlamp": "underlamp feed", "version": "underlamp feed", "title": "name", "notes": "note", "salts": "cupboard", "products": "cupboard", "fertilisers": "cupboard", "fertilizers": "cupboard",
		"reservoir": "tank", "concentrate": "stock", "source water": "water", "maximum": "limits", "readings": "log", "salt": "product", "acid": "product", "cost": "price",
		"calcium": "ca", "potassium": "k", "magnesium": "mg", "sodium": "na", "chloride": "cl", "chlorine": "cl", "iron": "fe", "manganese": "mn", "zinc": "zn", "boron": "b", "copper": "cu",
		"molybdenum": "mo", "silicon": "si", "sulfur": "s", "sulphur": "s", "sulfate": "so4", "sulphate": "so4", "phosphorus": "p", "phosphate": "po4", "nitrate": "no3", "ammonium": "nh4",
		"hardness": "alkalinity", "hco3": "alkalinity", "bicarbonate": "alkalinity", "litres": "volume", "liters": "volume", "ratio": "factor", "dilution": "factor", "day": "date", "temp": "temperature",
		"bench": "benches", "replaced": "new", "topped up": "water", "percent": "strength", "analysis": "ions", "remark": "note", "who": "by",
	},
	Home: map[string]bool{"origin": true, "cupboard[].label": true, "log[].ions": true, "limits": true},
}

// Grammar is that of the format, for changes that leave every other byte.
func Grammar() handwritten.Grammar { return grammar }

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}
