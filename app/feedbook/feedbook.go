package feedbook

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/app/feed"
	"underlamp/formats/benchfolder"
	"underlamp/formats/feedfile"
	"underlamp/formats/handwritten"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
)

// MostBytes is the size of the largest feed file that is written here.
const MostBytes = 256 << 10

// maxInput bounds what is read of a file.
const maxInput = 2 << 20

// A Place is where files lie; see [underlamp/app/trialbook.Place].
type Place interface {
	fs.FS
	Change(name string, edit func(was []byte) ([]byte, error)) error
}

// Errors of writing.
var (
	ErrThere   = errors.New("there is a feed file of this name already")
	ErrChanged = errors.New("the file has been changed by somebody else meanwhile; look at it, then save again")
)

// Files are the feeds of a folder for a bench, whose file is called file and id without its
// ending: the one that it takes its feed from, then those that name it. Broken ones that
// name it are among them, so that they can be mended.
func Files(folder fs.FS, id, file string, b *underlamp.Bench) ([]string, error) {
	var out []string
	if f := b.Feed.From; f != "" {
		out = append(out, f)
	}
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, err
	}
	for _, x := range entries {
		name := x.Name()
		if x.IsDir() || !benchfolder.IsYAML(name) || slices.Contains(out, name) || benchfolder.KindOf(folder, name) != benchfolder.FeedFile {
			continue
		}
		text, err := Text(folder, name)
		if err != nil {
			continue
		}
		p, _, err := feedfile.Read(bytes.NewReader(text))
		switch {
		case err != nil:
		case p == nil && (bytes.Contains(text, []byte(file)) || name == id+".feed.yaml"):
			out = append(out, name)
		case p != nil && (slices.Contains(p.Benches, file) || slices.Contains(p.Benches, id)):
			out = append(out, name)
		}
	}
	return out, nil
}

// Text is a feed file as it is.
func Text(folder fs.FS, name string) ([]byte, error) {
	f, err := folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxInput))
}

// Stamp tells one text of a file from another.
func Stamp(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// read is a plan without mistakes.
func read(name string, text []byte) (*underlamp.FeedPlan, error) {
	p, problems, err := feedfile.Read(bytes.NewReader(text))
	if err == nil && p == nil {
		err = &BrokenError{name, text, problems}
	}
	return p, err
}

// A BrokenError is a feed file with mistakes.
type BrokenError struct {
	File     string
	Text     []byte
	Problems handwritten.Problems
}

// Error says what is wrong, with line and column.
func (e *BrokenError) Error() string { return e.Problems.Render(e.File, e.Text, false) }

// Unwrap are the mistakes by themselves.
func (e *BrokenError) Unwrap() error { return e.Problems }

// Open reads a feed. One with mistakes gives a [*BrokenError].
func Open(folder fs.FS, name string) (*underlamp.FeedPlan, []byte, error) {
	text, err := Text(folder, name)
	if err != nil {
		return nil, nil, err
	}
	p, err := read(name, text)
	return p, text, err
}

// Begin writes a first feed.
func Begin(place Place, name string, a feedfile.Answers) error {
	text, err := feedfile.New(a)
	if err != nil {
		return err
	}
	return place.Change(name, func(was []byte) ([]byte, error) {
		if was != nil {
			return nil, fmt.Errorf("%s: %w", name, ErrThere)
		}
		return []byte(text), nil
	})
}

// Save writes a feed file as it was typed, in place of the text of which was is the [Stamp].
// What is no feed gives a [*BrokenError], another text meanwhile [ErrChanged].
func Save(place Place, name string, text []byte, was string) error {
	if len(text) > MostBytes {
		return fmt.Errorf("a feed file has at most %d kB", MostBytes>>10)
	}
	if _, err := read(name, text); err != nil {
		return err
	}
	return place.Change(name, func(old []byte) ([]byte, error) {
		if was != Stamp(old) {
			return nil, ErrChanged
		}
		return text, nil
	})
}

// WhatIf is what differs from the file, as a person types it; what is empty stays.
type WhatIf struct {
	Recipe   string // by name
	Strength string // in percent of the recipe
	Volume   string // of the tank, such as "80 L" or "21 gal"
	Mix      string // "cheapest", or anything else for the nearest
	NoStock  bool   // salts go straight into the tank
}

// Apply changes a plan, and says whether anything differs. What can be applied is, also where
// an error says that something cannot.
func (w WhatIf) Apply(p *underlamp.FeedPlan) (changed bool, wrong error) {
	strength := 0.0
	if w.Strength != "" {
		x, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(w.Strength), "%")), ",", ".", 1), 64)
		if err != nil || !(x >= 5 && x <= 300) {
			wrong = errors.New("the strength is a share of the recipe from 5 to 300 %")
		} else {
			strength = x / 100
		}
	}
	switch {
	case wrong != nil:
	case w.Recipe != "" && (w.Recipe != p.Recipe || strength > 0):
		r, err := nutrients.FindRecipe(w.Recipe)
		if err != nil {
			return changed, err
		}
		if strength == 0 {
			strength = 1
		}
		t := nutrients.TargetOf(r, strength, p.Target.PH)
		t.Most = p.Target.Most
		for i := range nutrients.Ions {
			if t.Asks[i] {
				t.Most[i] = 0
			}
		}
		p.Target, p.Recipe, p.Strength, changed = t, r.Name, quantity.Fraction(strength), true
	case strength > 0 && p.Recipe != "":
		p.Target.Ions = p.Target.Ions.Times(strength / float64(p.Strength))
		p.Strength, changed = quantity.Fraction(strength), true
	}
	if w.Volume != "" {
		x, err := amount(quantity.Volume, w.Volume, "L")
		if err != nil || !(x > 0) || x > 1e6 {
			wrong = errors.New("the volume must be an amount such as 80 L or 21 gal")
		} else {
			p.Litres, changed = underlamp.Said(x), true
		}
	}
	if cheapest := w.Mix == "cheapest" || w.Mix == "" && p.Cheapest; cheapest != p.Cheapest {
		p.Cheapest, changed = cheapest, true
		if p.Cheapest && !p.Problem().Priced() {
			wrong = errors.New("the cheapest mix needs a price for every product; write them into the file")
		}
	}
	if w.NoStock {
		p.Stock, changed = nil, true
	}
	return changed, wrong
}

// amount reads one; a plain number is of the unit given.
func amount(k quantity.Kind, text, unit string) (float64, error) {
	text = strings.TrimSpace(text)
	if strings.Trim(text, "0123456789., ") == "" {
		text += " " + unit
	}
	return k.Parse(text)
}

// Read is what was measured of a tank, as a person types it; what is empty was not.
type Read struct {
	Volume, EC, PH string
	Ions           string // an analysis in one line: "ca 130 mg/L, k: 90 mg/L"
}

// Ask reads it; false where nothing was measured. Then the last entry of the log is asked about,
// if there is one.
func (t Read) Ask(p *underlamp.FeedPlan) (feed.Ask, bool, error) {
	a := feed.Unread()
	for _, x := range []struct {
		text, what, unit string
		kind             quantity.Kind
		low, high        float64
		to               *float64
	}{{t.Volume, "volume", "L", quantity.Volume, 0, 1e6, &a.Litres}, {t.EC, "EC", "mS/cm", quantity.Conductivity, 0, 20, &a.EC}, {t.PH, "pH", "", quantity.Acidity, 3, 9, &a.PH}} {
		if x.text == "" {
			continue
		}
		val, err := amount(x.kind, x.text, x.unit)
		if err != nil || val < x.low || val > x.high {
			return a, false, fmt.Errorf("the %s %q cannot be: %s to %s %s", x.what, x.text, quantity.Number(x.low, 3), quantity.Number(x.high, 3), x.unit)
		}
		*x.to = val
	}
	if t.Ions != "" {
		var err error
		if a.Known, a.Knows, err = feedfile.ParseIons(t.Ions); err != nil {
			return a, false, fmt.Errorf("the analysis: %w", err)
		}
	}
	if a.Said() {
		return a, true, nil
	}
	if len(p.Log) > 0 {
		return feed.AskOf(p.Log[len(p.Log)-1]), true, nil
	}
	return a, false, nil
}

// A Logged is an entry of the log, as a person types it; what is empty was not looked at.
type Logged struct {
	Date               string // YYYY-MM-DD; must be given
	New                bool   // the tank was made up anew
	Volume, EC, PH     string // a bare number is in L, mS/cm, pH
	Temperature, Water string // of the tank; water that was added: °C, L
	Ions               string // an analysis in one line
	Added              string // "potassium nitrate 12 g, nitric acid 4 mL"
	By, Note           string
}

// Log adds an entry to the log of a feed file, which stays otherwise as it was written.
func Log(place Place, name string, l Logged) error {
	return place.Change(name, func(was []byte) ([]byte, error) {
		p, err := read(name, was)
		if err != nil {
			return nil, err
		}
		item, err := l.item(p)
		if err != nil {
			return nil, err
		}
		text, err := feedfile.Grammar().Apply(was, handwritten.Change{Do: handwritten.Add, Path: "log", Text: item})
		if err != nil {
			return nil, err
		}
		if _, err = read(name, text); err != nil {
			return nil, err
		}
		return text, nil
	})
}

// item is the entry as YAML in one line.
func (l Logged) item(p *underlamp.FeedPlan) (string, error) {
	var parts []string
	put := func(key, text, unit string) {
		if text = strings.TrimSpace(text); text == "" {
			return
		}
		if unit != "" && strings.Trim(text, "0123456789., ") == "" {
			text = strings.Replace(text, ",", ".", 1) + " " + unit
		}
		parts = append(parts, key+": "+strconv.Quote(text))
	}
	parts = append(parts, "date: "+strconv.Quote(strings.TrimSpace(l.Date)))
	if l.New {
		parts = append(parts, "new: yes")
	}
	put("volume", l.Volume, "L")
	put("ec", l.EC, "mS/cm")
	put("ph", l.PH, "pH")
	put("temperature", l.Temperature, "°C")
	put("water", l.Water, "L")
	if text := strings.TrimSpace(l.Ions); text != "" {
		a, knows, err := feedfile.ParseIons(text)
		if err != nil {
			return "", err
		}
		var ions []string
		for i := range nutrients.Ions {
			if knows[i] {
				ions = append(ions, strings.ToLower(i.String())+": "+strconv.FormatFloat(math.Round(1e6*a[i])/1e6, 'f', -1, 64)+" mmol/L")
			}
		}
		parts = append(parts, "ions: {"+strings.Join(ions, ", ")+"}")
	}
	if text := strings.TrimSpace(l.Added); text != "" {
		amounts, err := feed.ParseWeighed(p, text)
		if err != nil {
			return "", err
		}
		var items []string
		for k, g := range amounts {
			if g > 0 {
				items = append(items, fmt.Sprintf("{product: %s, amount: %s %s}", strconv.Quote(p.Cupboard[k].Name), strconv.FormatFloat(g, 'f', -1, 64), p.Cupboard[k].Unit()))
			}
		}
		parts = append(parts, "added: ["+strings.Join(items, ", ")+"]")
	}
	put("by", l.By, "")
	put("note", l.Note, "")
	return "{" + strings.Join(parts, ", ") + "}", nil
}

// Plain is what is wrong without its place in a file that is not written yet.
func Plain(err error) string {
	var ps handwritten.Problems
	if errors.As(err, &ps) && len(ps) > 0 {
		say := ps[0].Message
		if ps[0].Want != "" {
			say += "; wanted: " + ps[0].Want
		}
		return say
	}
	return err.Error()
}
