package trialfile

import (
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads and writes.
const Version = 1

const (
	maxTreatments = 100
	maxUnits      = 2000
	maxColumns    = 100
	maxPlants     = 1000
	maxDays       = 366
	maxFactors    = 10
	maxLevels     = 20
)

var (
	dliSpan  = handwritten.Span{Min: 0.1, Max: 80}
	massSpan = handwritten.Span{Min: 0.01, Max: 5000}
	lenSpan  = handwritten.Span{Min: 0.0001, Max: 2}
	shareSp  = handwritten.Span{Min: 0.001, Max: 0.999}
)

var grammar = handwritten.Grammar{
	Package: "trialfile",
	File:    "the plan of a trial",
	Begin:   "the plan of a trial that begins with underlamp trial: 1",
	One:     "one trial in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp trial", "name", "note", "question", "bench", "table", "units of measure", "response", "difference", "target mass", "burn limit", "layout", "seed", "factors", "treatments", "cycles", "units", "columns"}},
		{Name: "factors[]", Keys: []string{"name", "unit", "levels"}},
		{Name: "treatments[]", Keys: []string{"name", "control", "dli", "levels", "note"}},
		{Name: "units[]", Keys: []string{"name", "treatment", "block", "place", "whole", "part", "lamp", "dli", "plants"}},
		{Name: "cycles[]", Keys: []string{"block", "transplanted", "harvested", "start mass"}},
		{Name: "origin", Keys: []string{"value", "from", "note"}},
		{Name: "columns[]", Keys: []string{"heading", "is"}},
	},
	Also: map[string]string{
		"title": "name", "cycle": "block", "run": "block", "variety": "part", "cultivar": "part", "observations": "table", "data": "table",
		"margin": "difference", "design": "layout", "light": "dli", "mapping": "columns", "column": "heading", "level": "treatment",
	},
}

// Keys lists every key of the format.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	return all
}

type reader struct{ *handwritten.Reader }

// Read reads the plan of a trial. It is nil exactly when the problems hold an error.
// The error is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge].
func Read(in io.Reader) (*underlamp.Trial, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, r.trial)
}

func (r *reader) trial(v handwritten.Value) *underlamp.Trial {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	t := &underlamp.Trial{Columns: map[string]string{}}
	r.Version(f.Get("underlamp trial"), Version)
	t.Units = r.System(f.Get("units of measure"), quantity.Metric)
	t.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	t.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
	t.Question, _ = r.Words(f.Get("question"), handwritten.MaxNote)
	if t.Name == "" {
		t.Name = "Trial"
	}
	t.Bench = r.beside(f.Get("bench"), "the name of a bench file beside this file")
	t.Table = r.beside(f.Get("table"), "the name of a table beside this file, such as mytrial.csv")
	t.Response = underlamp.ResponseMass
	if x := f.Get("response"); x.Written() {
		t.Response = handwritten.Choice(r.Reader, x, underlamp.Responses()[:5], map[string]string{"fresh mass": "mass", "tipburn": "burn"}, underlamp.ResponseMass)
	} else {
		r.Missing(x, "response: mass, height, leaves, burn or severity", "the primary response, chosen before the run")
	}
	r.difference(f.Get("difference"), t)
	if x, ok := r.Amount(f.Get("target mass"), quantity.Mass, massSpan); ok {
		t.TargetMass = underlamp.Said(quantity.Gram(x))
	}
	if x, ok := r.Amount(f.Get("burn limit"), quantity.Share, shareSp); ok {
		t.BurnLimit = quantity.Fraction(x)
	}
	if x := f.Get("layout"); x.Written() {
		t.Layout = handwritten.Choice(r.Reader, x, underlamp.TrialLayouts(), map[string]string{"completely randomised": "complete", "randomised blocks": "blocks", "latin": "latin square", "incomplete": "incomplete blocks", "cross-over": "rotation", "crossover": "rotation", "by hand": "systematic"}, "")
	} else {
		r.Missing(x, "layout: complete, blocks, latin square, split plot, incomplete blocks, augmented, rotation or systematic", "how treatments were given to units")
	}
	if x := f.Get("seed"); x.Written() {
		r.Takes(x, handwritten.Form{Is: handwritten.FreeForm, Want: "a whole number", Like: `^\s*\d+\s*$`})
		text, _ := r.Raw(x, "a whole number")
		n, err := strconv.ParseUint(strings.TrimSpace(text), 10, 64)
		if err != nil {
			r.Errorf(x, "a whole number from 0", "%q is no seed", handwritten.Shortened(text))
		}
		t.Seed = n
	}
	r.factors(f.Get("factors"), t)
	known := r.treatments(f.Get("treatments"), t)
	r.units(f.Get("units"), t, known)
	r.cycles(f.Get("cycles"), t)
	r.columns(f.Get("columns"), t)
	return t
}

func (r *reader) beside(v handwritten.Value, want string) string {
	name, ok := r.Words(v, 200)
	if !ok {
		return ""
	}
	if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, "\\:") {
		r.Errorf(v, want, "%q is no name of a file beside this one", handwritten.Shortened(name))
		return ""
	}
	return name
}

func (r *reader) difference(v handwritten.Value, t *underlamp.Trial) {
	if !v.Written() {
		return
	}
	switch t.Response {
	case underlamp.ResponseMass:
		t.Difference, _ = r.Amount(v, quantity.Mass, massSpan)
	case underlamp.ResponseHeight:
		x, _ := r.Amount(v, quantity.Length, lenSpan)
		t.Difference = 100 * x
	case underlamp.ResponseBurn:
		t.Difference, _ = r.Amount(v, quantity.Share, shareSp)
	default:
		text, _ := r.Scalar(v, "a number")
		x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(x > 0 && x < 1000) {
			r.Errorf(v, "a number above 0", "%q is no difference in %s", handwritten.Shortened(text), t.Response)
			return
		}
		t.Difference = x
	}
}

func (r *reader) factors(v handwritten.Value, t *underlamp.Trial) {
	items, _ := r.List(v, "a list of factors, such as {name: light, levels: [12, 15]}", maxFactors, "factors")
	seen := map[string]bool{}
	for _, item := range items {
		f, ok := r.Mapping(item, "factors[]")
		if !ok {
			continue
		}
		var x underlamp.TrialFactor
		x.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
		x.Unit, _ = r.Words(f.Get("unit"), handwritten.MaxName)
		x.Levels = r.words(f.Get("levels"), "a list of levels, such as [12, 15]", maxLevels)
		switch {
		case x.Name == "":
			r.Missing(f.Get("name"), "a name such as light", "the name of the factor")
		case seen[x.Name]:
			r.Errorf(f.Get("name"), "a name of its own", "there is another factor %q", x.Name)
		}
		if len(x.Levels) < 2 {
			r.Errorf(f.Get("levels"), "at least two levels", "a factor with fewer than two levels varies nothing")
		}
		for i, l := range x.Levels {
			if slices.Contains(x.Levels[:i], l) {
				r.Errorf(f.Get("levels"), "levels that differ", "the level %q stands twice", l)
			}
		}
		seen[x.Name] = true
		t.Factors = append(t.Factors, x)
	}
}

// words reads a list of short texts or numbers, as they stand.
func (r *reader) words(v handwritten.Value, want string, most int) []string {
	items, _ := r.List(v, want, most, "entries")
	var out []string
	for _, item := range items {
		if s, ok := r.Words(item, handwritten.MaxName); ok {
			out = append(out, s)
		}
	}
	return out
}

// levels reads those of a treatment: one of each factor.
func (r *reader) levels(v handwritten.Value, t *underlamp.Trial) []string {
	if !v.Written() {
		if len(t.Factors) > 0 {
			r.Missing(v, "levels: one of each factor, such as [12, white]", "the levels of the treatment, for the factors of this file")
		}
		return nil
	}
	l := r.words(v, "one level of each factor, such as [12, white]", maxFactors)
	if len(l) != len(t.Factors) {
		r.Errorf(v, "one level of each factor, in the order of the factors", "there are %d levels and %d factors", len(l), len(t.Factors))
		return nil
	}
	for i, x := range l {
		if f := t.Factors[i]; !slices.Contains(f.Levels, x) {
			r.Add(v.At, handwritten.Problem{Path: v.Path, Message: fmt.Sprintf("%q is no level of %s", handwritten.Shortened(x), f.Name), Want: "one of " + strings.Join(f.Levels, ", "), Suggest: handwritten.Nearest(x, f.Levels)})
		}
	}
	for _, o := range t.Treatments {
		if slices.Equal(o.Levels, l) {
			r.Errorf(v, "levels that no other treatment has", "the treatment %q has the same levels", o.Name)
		}
	}
	return l
}

func (r *reader) treatments(v handwritten.Value, t *underlamp.Trial) map[string]bool {
	known := map[string]bool{}
	items, _ := r.List(v, "a list of treatments", maxTreatments, "treatments")
	if len(items) < 2 {
		r.Missing(v, "treatments: a list of at least two", "what is compared")
	}
	controls := 0
	for _, item := range items {
		f, ok := r.Mapping(item, "treatments[]")
		if !ok {
			continue
		}
		var x underlamp.Treatment
		x.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
		x.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
		x.Control = r.Yes(f.Get("control"))
		x.Levels = r.levels(f.Get("levels"), t)
		if d, ok := r.Amount(f.Get("dli"), quantity.DailyIntegral, dliSpan); ok {
			x.DLI = quantity.DLI(d)
		}
		switch {
		case x.Name == "":
			r.Missing(f.Get("name"), "a name such as bright", "the name of the treatment")
		case known[x.Name]:
			r.Errorf(f.Get("name"), "a name of its own", "there is another treatment %q", x.Name)
		}
		if x.Control {
			if controls++; controls > 1 {
				r.Errorf(f.Get("control"), "one control", "there is another control")
			}
		}
		known[x.Name] = true
		t.Treatments = append(t.Treatments, x)
	}
	return known
}

func (r *reader) units(v handwritten.Value, t *underlamp.Trial, known map[string]bool) {
	items, _ := r.List(v, "a list of units: what treatments were given to, mostly a lamp in a cycle", maxUnits, "units")
	if len(items) == 0 {
		r.Missing(v, "units: a list; underlamp trial design writes it", "what the treatments were given to")
	}
	seen := map[string]int{}
	var names []string
	for n := range known {
		names = append(names, n)
	}
	for _, item := range items {
		f, ok := r.Mapping(item, "units[]")
		if !ok {
			continue
		}
		u := underlamp.TrialUnit{Line: item.At.Line}
		for _, p := range []struct {
			to  *string
			key string
		}{{&u.Name, "name"}, {&u.Treatment, "treatment"}, {&u.Block, "block"}, {&u.Place, "place"}, {&u.Part, "part"}, {&u.Whole, "whole"}, {&u.Lamp, "lamp"}} {
			*p.to, _ = r.Words(f.Get(p.key), handwritten.MaxName)
		}
		if d, ok := r.Amount(f.Get("dli"), quantity.DailyIntegral, dliSpan); ok {
			u.DLI = quantity.DLI(d)
		}
		if x := f.Get("plants"); x.Written() {
			u.Plants, _ = r.Whole(x, 1, maxPlants)
		}
		switch {
		case u.Name == "":
			r.Missing(f.Get("name"), "a code such as C1-L2", "the name of the unit")
		case seen[u.Name] > 0:
			r.Errorf(f.Get("name"), "a name of its own", "the unit in line %d is called %q too", seen[u.Name], u.Name)
		}
		seen[u.Name] = u.Line
		if !known[u.Treatment] {
			at := f.Get("treatment")
			r.Add(at.At, handwritten.Problem{Path: at.Path, Message: fmt.Sprintf("no treatment is called %q", handwritten.Shortened(u.Treatment)), Want: "the name of a treatment of this file", Suggest: handwritten.Nearest(u.Treatment, names)})
		}
		for _, need := range []struct {
			is   bool
			key  string
			text string
		}{
			{(t.Layout == underlamp.BlocksLayout || t.Layout == underlamp.IncompleteLayout || t.Layout == underlamp.AugmentedLayout) && u.Block == "", "block", "the block of the unit, such as the cycle"},
			{t.Layout == underlamp.RotationLayout && u.Block == "", "block", "the cycle of the unit"},
			{t.Layout == underlamp.RotationLayout && u.Place == "", "place", "the place that goes through the treatments, such as the lamp"},
			{t.Layout == underlamp.LatinLayout && u.Block == "", "block", "the row of the square, such as the cycle"},
			{t.Layout == underlamp.LatinLayout && u.Place == "", "place", "the column of the square, such as the place"},
			{t.Layout == underlamp.SplitLayout && u.Whole == "", "whole", "the whole unit, such as the lamp in its cycle"},
			{t.Layout == underlamp.SplitLayout && u.Part == "", "part", "what is grown in this part of the whole unit"},
		} {
			if need.is {
				r.Missing(f.Get(need.key), "text, for the layout "+string(t.Layout), need.text)
			}
		}
		t.Places = append(t.Places, u)
	}
}

// cycles reads when each block was grown.
func (r *reader) cycles(v handwritten.Value, t *underlamp.Trial) {
	items, _ := r.List(v, "a list of blocks with their days of transplanting and harvest", maxUnits, "cycles")
	known := map[string]bool{}
	var blocks []string
	for _, u := range t.Places {
		if !known[u.Block] {
			known[u.Block] = true
			blocks = append(blocks, u.Block)
		}
	}
	seen := map[string]int{}
	for _, item := range items {
		f, ok := r.Mapping(item, "cycles[]")
		if !ok {
			continue
		}
		c := underlamp.TrialCycle{Line: item.At.Line}
		at := f.Get("block")
		c.Block, _ = r.Words(at, handwritten.MaxName)
		from, to := f.Get("transplanted"), f.Get("harvested")
		if !from.Written() {
			r.Missing(from, "transplanted: 2026-10-01", "the day of transplanting")
		}
		c.Transplanted, c.Harvested = r.Date(from), r.Date(to)
		if c.Transplanted != "" && c.Harvested != "" {
			a, _ := time.Parse(time.DateOnly, c.Transplanted)
			b, _ := time.Parse(time.DateOnly, c.Harvested)
			if days := b.Sub(a).Hours() / 24; days < 1 || days > maxDays {
				r.Errorf(to, fmt.Sprintf("a day 1 to %d days after %s", maxDays, c.Transplanted), "the harvest does not follow transplanting within a year")
			}
		}
		if x := f.Get("start mass"); x.Written() {
			if inner, origin, note, ok := r.Said(x); ok {
				if g, ok := r.Amount(inner, quantity.Mass, massSpan); ok {
					c.StartMass = &underlamp.Given[quantity.Gram]{Value: quantity.Gram(g), Origin: origin, Note: note}
				}
			}
		}
		switch {
		case len(t.Places) > 0 && !known[c.Block]:
			r.Add(at.At, handwritten.Problem{Path: at.Path, Message: fmt.Sprintf("no unit is of the block %q", handwritten.Shortened(c.Block)), Want: "a block that units name", Suggest: handwritten.Nearest(c.Block, blocks)})
		case seen[c.Block] > 0:
			r.Errorf(at, "each block once", "the block %q has its days in line %d too", c.Block, seen[c.Block])
		}
		for _, o := range t.Cycles { // a lamp has one crop at a time
			if c.Transplanted != "" && o.Transplanted != "" && c.Block != o.Block && c.Harvested != "" && o.Harvested != "" && c.Transplanted < o.Harvested && o.Transplanted < c.Harvested && shareLamp(t, c.Block, o.Block) {
				r.Warnf(from, "a day from "+o.Harvested+" on", "the blocks %q and %q overlap in time under the same lamps", handwritten.Shortened(o.Block), handwritten.Shortened(c.Block))
			}
		}
		seen[c.Block] = c.Line
		t.Cycles = append(t.Cycles, c)
	}
}

// shareLamp tells whether a lamp bears units of two blocks.
func shareLamp(t *underlamp.Trial, a, b string) bool {
	lamps := map[string]bool{}
	for _, u := range t.Places {
		if u.Block == a && u.Lamp != "" {
			lamps[u.Lamp] = true
		}
	}
	for _, u := range t.Places {
		if u.Block == b && lamps[u.Lamp] {
			return true
		}
	}
	return false
}

func (r *reader) columns(v handwritten.Value, t *underlamp.Trial) {
	items, _ := r.List(v, "a list of headings and what they are", maxColumns, "columns")
	for _, item := range items {
		f, ok := r.Mapping(item, "columns[]")
		if !ok {
			continue
		}
		h, _ := r.Words(f.Get("heading"), 200)
		is, _ := r.Words(f.Get("is"), 40)
		if h == "" || is == "" {
			r.Errorf(item, "{heading: Weight, is: mass}", "a column needs heading and is")
			continue
		}
		t.Columns[h] = is
	}
}
