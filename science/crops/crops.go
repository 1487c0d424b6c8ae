package crops

import (
	"embed"
	"io/fs"
	"slices"
	"strings"
	"sync"
)

//go:embed data/*.csv
var files embed.FS

// Lettuce is the species whose growth and burn are computed.
const Lettuce = "lettuce"

// A Status says what is known of a fact.
type Status string

// The statuses.
const (
	Number      Status = "number"      // a published figure
	Reference   Status = "reference"   // the figure of lettuce rests on this crop
	Unsupported Status = "unsupported" // not supported by data; the text says why
)

// Facts that every crop has, under these names.
const (
	Vigour          = "vigour"
	DryShare        = "dry share"
	LeafArea        = "leaf area"
	Extinction      = "extinction"
	HeartClosing    = "heart closing"
	CalciumNeed     = "calcium need"
	BurnProneness   = "burn proneness"
	LeastMass       = "least mass for sale"
	BestTemperature = "best air temperature"
)

// Core lists the facts that every crop has.
func Core() []string {
	return []string{Vigour, DryShare, LeafArea, Extinction, HeartClosing, CalciumNeed, BurnProneness, LeastMass, BestTemperature}
}

// A Fact is one thing that is known, or not known, of a crop.
type Fact struct {
	Name    string
	Status  Status
	Value   float64 // in Unit; 0 unless Status is Number
	Unit    string  // "%", "g", "°C"; "×" is a factor
	Spread  float64 // see the package comment
	Enters  string  // uncertain trait of headcycle that Value multiplies; empty if none
	Sources []string
	Text    string // conditions, caveats; why a figure is not supported
}

// A Verdict says whether something may be forecast for a crop.
type Verdict struct {
	Supported bool
	Sources   []string
	Text      string // on what it rests, or why not
}

// A Crop is a head type of lettuce or another species.
type Crop struct {
	Name      string // "romaine", "pak choi"
	Species   string // "lettuce", "pak choi"
	HeadType  string // of a lettuce; empty for other species
	Botanical string
	Also      []string // other names
	Growth    Verdict
	Burn      Verdict
	Facts     []Fact // the core first
}

// Fact returns the fact of a name.
func (c *Crop) Fact(name string) (Fact, bool) {
	i := slices.IndexFunc(c.Facts, func(f Fact) bool { return f.Name == name })
	if i < 0 {
		return Fact{}, false
	}
	return c.Facts[i], true
}

// Factors are the facts that enter a forecast.
func (c *Crop) Factors() []Fact {
	var out []Fact
	for _, f := range c.Facts {
		if f.Enters != "" {
			out = append(out, f)
		}
	}
	return out
}

// Supported says that growth and burn may be forecast.
func (c *Crop) Supported() bool { return c.Growth.Supported && c.Burn.Supported }

// All lists the crops: the head types of lettuce, then the other species, each by
// name. The caller may not change them.
func All() []Crop { return all() }

// all reads the files once. They are part of the program, and a test reads each: a
// mistake in one is a mistake of the program.
var all = sync.OnceValue(func() []Crop {
	names, err := fs.Glob(files, "data/*.csv")
	if err != nil {
		panic("crops: " + err.Error())
	}
	var out []Crop
	for _, name := range names {
		text, err := files.ReadFile(name)
		if err != nil {
			panic("crops: " + err.Error())
		}
		c, err := parse(string(text))
		if err != nil {
			panic("crops: " + name + ": " + err.Error())
		}
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b Crop) int {
		switch {
		case a.HeadType != "" && b.HeadType == "":
			return -1
		case a.HeadType == "" && b.HeadType != "":
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	return out
})

// Find returns the crop of a name or of another name for it, whatever its case.
func Find(name string) (*Crop, bool) {
	name = strings.Join(strings.Fields(strings.ReplaceAll(name, "-", " ")), " ")
	list := all()
	for i := range list {
		c := &list[i]
		if strings.EqualFold(name, c.Name) || slices.ContainsFunc(c.Also, func(a string) bool { return strings.EqualFold(name, a) }) {
			return c, true
		}
	}
	return nil, false
}

// IsLettuce says that a species, as a person writes it, is lettuce itself.
func IsLettuce(species string) bool {
	return strings.EqualFold(species, Lettuce) || strings.EqualFold(species, "lactuca sativa")
}
