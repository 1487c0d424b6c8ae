package trialbook

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
)

// A Question is what somebody wants to know and what there is to find it out, as a person
// writes it: in flags or in the fields of a form.
type Question struct {
	Name, Question string
	Factor         string   // what differs, in words; kept as a note
	Levels         []string // of light: "15", "15 mol/m²/d", or with Hours "250 µmol/m²/s"
	Hours          string   // of light a day, for levels as PPFD
	Treatments     []string // that are no levels of light
	Parts          []string // cultivars side by side under every lamp
	Control        string   // the treatment that is the present setting; as it was written in the list
	Response       string
	Difference     string // smallest worth knowing, such as "12 g"
	Expect         string // what a plant is expected to reach; scatter is a share of it without From
	From           string // earlier trial, a file of the folder, to take the scatter from
	Bench          string // file of the bench; empty: Lamps and Plants count
	Lamps          string
	Cycles         string
	Plants         string // under a lamp, without a bench
	Seed           string
}

// Bounds of a question.
const (
	mostLevels = 20
	mostCount  = 500
)

// Asked is a question as plans are made from.
type Asked struct {
	trial.Ask
	Bench string       // its file; empty without one
	Model *light.Model // of the bench; nil without one
	Note  string       // for the plan
}

// Ask reads a question. folder holds the earlier trial; model makes the light of a bench
// from the name of its file. Faults are [FieldErrors], whose fields are called as those of
// a Question, in small letters.
func (q Question) Ask(folder fs.FS, model func(file string) (*light.Model, error)) (*Asked, error) {
	var faults FieldErrors
	bad := func(field, reason string, a ...any) { faults.add(0, field, reason, a...) }
	a := &Asked{Ask: trial.Ask{Name: clean(q.Name), Question: clean(q.Question), Response: underlamp.Response(q.Response)}}
	if q.Factor = clean(q.Factor); q.Factor != "" {
		a.Note = "What differs: " + q.Factor + "."
	}
	for _, x := range []struct {
		field, text string
		most        int
	}{{"name", a.Name, mostName}, {"question", a.Question, mostNote}, {"factor", q.Factor, mostName}} {
		if len([]rune(x.text)) > x.most {
			bad(x.field, "at most %d characters", x.most)
		}
	}
	q.treatments(a, bad)
	if a.Response != underlamp.ResponseMass && a.Response != underlamp.ResponseHeight {
		bad("response", "plans are made for mass or height so far, not for %q", q.Response)
	} else {
		q.amounts(a, folder, bad)
	}
	whole := func(field, text string, from, to int) int {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < from || n > to {
			bad(field, "write a whole number from %d to %d", from, to)
		}
		return n
	}
	a.Cycles = whole("cycles", q.Cycles, 1, mostCount)
	seed, err := strconv.ParseUint(strings.TrimSpace(q.Seed), 10, 64)
	if err != nil {
		bad("seed", "write a whole number from 0; the same number draws the same layout again")
	}
	a.Seed = seed
	if q.Bench == "" {
		n := whole("lamps", q.Lamps, 1, mostCount)
		a.Plants = whole("plants", q.Plants, 1, mostCount)
		for i := range min(max(n, 0), mostCount) {
			a.Lamps = append(a.Lamps, fmt.Sprintf("lamp %d", i+1))
		}
	} else if a.Model, err = model(q.Bench); err != nil {
		bad("bench", "%v", err)
	} else {
		a.Bench = path.Base(q.Bench)
		b := a.Model.Bench()
		a.Plants = len(b.Plants)
		for k, g := range trial.Groups(b) {
			a.Lamps = append(a.Lamps, b.Lamps[k].Name)
			a.Plants = min(a.Plants, len(g))
		}
		if a.Plants < 1 {
			bad("bench", "under one of its lamps stands no plant, so that lamp cannot be a unit")
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return a, nil
}

// treatments reads levels and treatments, cultivars, and which is the control.
func (q Question) treatments(a *Asked, bad func(field, reason string, a ...any)) {
	hours := 0.0
	if text := clean(q.Hours); text != "" {
		h, err := quantity.Duration.Parse(text)
		if err != nil {
			h, err = quantity.Duration.Parse(text + " h")
		}
		if err != nil || !(h > 0 && h <= 24) {
			bad("hours", "%q is no time of light a day, such as 16 h", text)
		} else {
			hours = h
		}
	}
	control, known := clean(q.Control), false
	add := func(field, written string, t underlamp.Treatment) {
		for _, o := range a.Treatments {
			if o.Name == t.Name {
				bad(field, "%q stands there twice", written)
				return
			}
		}
		if control != "" && (written == control || t.Name == control) {
			t.Control, known = true, true
		}
		a.Treatments = append(a.Treatments, t)
	}
	for _, l := range lines(q.Levels) {
		x, err := quantity.DailyIntegral.Parse(l)
		if err != nil {
			x, err = quantity.DailyIntegral.Parse(l + " mol/m²/d")
		}
		if err != nil {
			e, err := quantity.PhotonFluxDensity.Parse(l)
			switch {
			case err != nil:
				bad("levels", "%q is no light per day such as 15 mol/m²/d, and no PPFD such as 250 µmol/m²/s", l)
				continue
			case hours == 0:
				bad("hours", "say for how many hours a day %s is given: a level is compared by its light per day", l)
				continue
			}
			x = float64(quantity.DailyLight(quantity.PPFD(e), quantity.Hours(hours)))
		}
		if !(x >= 0.1 && x <= 80) {
			bad("levels", "%s is %s mol/m²/d; levels lie from 0.1 to 80", l, quantity.Number(x, 3))
			continue
		}
		add("levels", l, underlamp.Treatment{Name: quantity.Number(x, 4) + " mol", DLI: quantity.DLI(x)})
	}
	for _, n := range lines(q.Treatments) {
		if len([]rune(n)) > mostName {
			bad("treatments", "a treatment has a name of at most %d characters", mostName)
			continue
		}
		add("treatments", n, underlamp.Treatment{Name: n})
	}
	field := "levels"
	if len(lines(q.Levels)) == 0 && len(lines(q.Treatments)) > 0 {
		field = "treatments"
	}
	switch n := len(a.Treatments); {
	case n < 2:
		bad(field, "a trial compares at least two; write each in a line of its own")
	case n > mostLevels:
		bad(field, "there are %d; at most %d can be compared", n, mostLevels)
	}
	if control != "" && !known {
		bad("control", "no treatment is called %q", control)
	}
	a.Parts = lines(q.Parts)
	if len(a.Parts) > mostLevels {
		bad("parts", "at most %d cultivars", mostLevels)
	}
	for i, p := range a.Parts {
		if slices.Contains(a.Parts[:i], p) {
			bad("parts", "%q stands there twice", p)
		}
	}
}

// amounts reads the difference worth knowing and the scatter.
func (q Question) amounts(a *Asked, folder fs.FS, bad func(field, reason string, a ...any)) {
	amount := func(field, text, why string) float64 {
		text = clean(text)
		if text == "" {
			bad(field, "%s", why)
			return 0
		}
		x, err := trialtable.Value(a.Response, text)
		switch {
		case err != nil:
			bad(field, "%v; write a number with its unit, such as %s", err, map[underlamp.Response]string{underlamp.ResponseMass: "12 g", underlamp.ResponseHeight: "2 cm"}[a.Response])
		case x <= 0:
			bad(field, "it must be above 0")
		}
		return x
	}
	a.Difference = amount("difference", q.Difference, "say the smallest difference worth knowing, such as 12 g: without it no number of repeats is enough or too much")
	if q.From != "" {
		p, err := Open(folder, q.From)
		if err == nil {
			a.Lamp, a.Plant, a.Cycle, err = trial.Scatter(p.Trial, p.Standing())
		}
		if err == nil && p.Trial.Response != a.Response {
			err = fmt.Errorf("it looked at %s, not at %s", p.Trial.Response, a.Response)
		}
		if err != nil {
			bad("from", "%s: %v", q.From, err)
		}
		a.Origin, a.Ask.Note = underlamp.Fitted, "from "+q.From
		return
	}
	expect := amount("expect", q.Expect, "say what a plant is expected to reach, such as 150 g; scatter is a share of it")
	a.Lamp, a.Cycle, a.Plant = 0.05*expect, 0.05*expect, 0.1*expect
	a.Origin, a.Ask.Note = underlamp.Default, "5 % of what is expected between lamps and between cycles, 10 % between plants: assumed, no source; an earlier trial of your own (--from) would tell"
}

// lines are the texts of a list that are not empty.
func lines(list []string) []string {
	var out []string
	for _, l := range list {
		if l = clean(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// ErrTaken says that there is another plan of this name.
var ErrTaken = errors.New("there is another trial of this name in the folder; give this one a name of its own")

// FileOf is the file of a plan by the name of its trial, such as light-levels.trial.yaml.
func FileOf(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 60 {
			break
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s + ".trial.yaml"
	}
	return "trial.trial.yaml"
}

// Write writes a plan as a new file with its table beside it. The same plan again is no
// error; another one of this name gives [ErrTaken].
func Write(place Place, file string, t *underlamp.Trial) error {
	t.Table = strings.TrimSuffix(path.Base(file), path.Ext(file)) + ".csv"
	if raw, err := readFile(place, t.Table); err == nil && len(bytes.TrimSpace(raw)) > 0 {
		if again, err := Open(place, file); err != nil || again.Trial.Table != t.Table {
			return fmt.Errorf("%s holds a table already: %w", t.Table, ErrTaken)
		}
	}
	var b bytes.Buffer
	if err := trialfile.Write(&b, t); err != nil {
		return err
	}
	if again, problems, err := trialfile.Read(bytes.NewReader(b.Bytes())); err != nil || again == nil {
		return errors.Join(fmt.Errorf("the plan cannot be written: %s", problems.Error()), err)
	}
	return place.Change(file, func(was []byte) ([]byte, error) {
		switch {
		case was == nil:
			return b.Bytes(), nil
		case bytes.Equal(was, b.Bytes()):
			return nil, nil
		}
		return nil, ErrTaken
	})
}
