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
	Factors        []string // several things in all combinations, such as "PPFD=180,240 µmol/m²/s"; instead of Levels and Treatments
	Checks         []string // treatments that stand in every cycle while the others stand once
	Parts          []string // cultivars side by side under every lamp
	Control        string   // the treatment that is the present setting; as it was written in the list
	Response       string   // mass, height, burn, severity, or onset: the day of the first burn
	Difference     string   // smallest worth knowing: "12 g", "20 %" of plants with burn, "5 d"
	Expect         string   // what a plant is expected to reach, or the share with burn or the day where there is least; empty: as usual
	Days, Rounds   string   // of onset: days of a cycle, days between two looks; empty: 35 and 3
	From           string   // earlier trial, a file of the folder, to take the scatter from
	Bench          string   // file of the bench; empty: Lamps and Plants count
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
	switch a.Response {
	case onset:
		a.Response, a.Onset = underlamp.ResponseBurn, true
		fallthrough
	case underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseBurn, underlamp.ResponseSeverity:
		q.amounts(a, bad)
		q.earlier(a, folder, bad)
	default:
		bad("response", "choose mass, height, burn, severity or onset, not %q", q.Response)
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
	written := map[string]string{} // names by what was written
	add := func(field, text string, t underlamp.Treatment) {
		for _, o := range a.Treatments {
			if o.Name == t.Name {
				bad(field, "%q stands there twice", text)
				return
			}
		}
		written[text] = t.Name
		if control != "" && (text == control || t.Name == control) {
			t.Control, known = true, true
		}
		a.Treatments = append(a.Treatments, t)
	}
	asked := false // for the hours
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
			case hours == 0 && asked:
				continue
			case hours == 0:
				asked = true
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
	if factors := lines(q.Factors); len(factors) > 0 {
		if field = "factors"; len(a.Treatments) > 0 {
			bad(field, "give levels and treatments, or factors, not both")
			return
		}
		for _, text := range factors {
			f, err := factor(text)
			if err == nil && slices.ContainsFunc(a.Factors, func(o underlamp.TrialFactor) bool { return o.Name == f.Name }) {
				err = fmt.Errorf("%s is given twice", f.Name)
			}
			if err != nil {
				bad(field, "%v", err)
				return
			}
			a.Factors = append(a.Factors, f)
		}
		all, err := trial.Combine(a.Factors)
		if err != nil {
			bad(field, "%v", err)
			return
		}
		for _, t := range all {
			if t.Control = control != "" && t.Name == control; t.Control {
				known = true
			}
			a.Treatments = append(a.Treatments, t)
		}
	}
	switch n := len(a.Treatments); {
	case n < 2:
		if field == "factors" || len(lines(q.Levels))+len(lines(q.Treatments)) < 2 { // else the reason was said of each
			bad(field, "a trial compares at least two; give each by itself")
		}
	case n > mostLevels && field != "factors":
		bad(field, "there are %d; at most %d can be compared", n, mostLevels)
	}
	for _, c := range lines(q.Checks) {
		i := slices.IndexFunc(a.Treatments, func(t underlamp.Treatment) bool { return t.Name == c || t.Name == written[c] })
		if i < 0 {
			bad("checks", "no treatment is called %q", c)
			continue
		}
		a.Checks = append(a.Checks, a.Treatments[i].Name)
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

// onset is the response of the day of the first burn, as a person says it.
const onset = underlamp.Response("onset")

// usual is what is expected where nothing is said. Common practice, no source.
var usual = map[string]string{"mass": "150 g", "height": "20 cm", "burn": "10 %", "severity": "20 %", "onset": "28 d"}

// amounts reads the difference worth knowing, what is expected, and the scatter that goes
// with it.
func (q Question) amounts(a *Asked, bad func(field, reason string, a ...any)) {
	response := strings.TrimSpace(q.Response)
	example := map[string]string{"mass": "12 g", "height": "2 cm", "burn": "20 %", "severity": "20 %", "onset": "5 d"}[response]
	amount := func(field, text string) float64 {
		text = clean(text)
		switch {
		case text == "" && field == "difference":
			bad(field, "say the smallest difference worth knowing, such as %s: without it no number of repeats is enough or too much", example)
			return 0
		case text == "":
			text = usual[response]
		}
		var x float64
		var err error
		switch {
		case a.Onset:
			number, _ := strings.CutSuffix(text, "d")
			if x, err = strconv.ParseFloat(strings.Replace(strings.TrimSpace(number), ",", ".", 1), 64); err != nil || !(x <= 400) {
				err = fmt.Errorf("%q are no days", text)
			}
		case a.Response == underlamp.ResponseBurn || a.Response == underlamp.ResponseSeverity:
			if x, err = quantity.Share.Parse(text); err == nil && !(x < 1) {
				err = fmt.Errorf("%q is no share of plants below 100 %%", text)
			}
		default:
			x, err = trialtable.Value(a.Response, text)
		}
		switch {
		case err != nil:
			bad(field, "%v; write a number with its unit, such as %s", err, example)
		case !(x > 0):
			bad(field, "it must be above 0")
		}
		return x
	}
	a.Difference = amount("difference", q.Difference)
	expect := amount("expect", q.Expect)
	a.Origin = underlamp.Default
	switch {
	case a.Onset:
		whole := func(field, text string, or int) int {
			if text = clean(text); text == "" {
				return or
			}
			n, err := strconv.Atoi(text)
			if err != nil || n < 1 || n > 400 {
				bad(field, "write a whole number of days from 1 to 400")
				return or
			}
			return n
		}
		days, rounds := whole("days", q.Days, 35), whole("rounds", q.Rounds, 3)
		if days < 2*rounds {
			bad("rounds", "at least two looks must fall into a cycle of %d days", days)
		}
		for d := rounds; d <= days; d += rounds {
			a.Burn.Rounds = append(a.Burn.Rounds, float64(d))
		}
		a.Burn.Base, a.Burn.Log, a.Burn.Shape, a.Burn.Cycle = expect, 0.15, 3, 0.1
		a.Ask.Note = "assumed, no source"
	case a.Response == underlamp.ResponseBurn || a.Response == underlamp.ResponseSeverity:
		a.Burn.Base, a.Burn.Rho, a.Burn.Logit, a.Burn.Cycle = expect, 0.1, 0.7, 0.5
		a.Ask.Note = "assumed, no source; an earlier trial of your own tells the correlation of burn"
	default:
		lamp, plant, cycle, note := trial.Published()
		a.Lamp, a.Plant, a.Cycle, a.Ask.Note = lamp*expect, plant*expect, cycle*expect, note
	}
}

// earlier takes the scatter from an earlier trial.
func (q Question) earlier(a *Asked, folder fs.FS, bad func(field, reason string, a ...any)) {
	if q.From == "" {
		return
	}
	p, err := Open(folder, q.From)
	switch {
	case err != nil:
	case a.Onset || a.Response == underlamp.ResponseSeverity:
		err = errors.New("the scatter of grades and of days is not taken from earlier trials; leave it out")
	case a.Response == underlamp.ResponseBurn:
		a.Burn.Rho, err = trial.ScatterOfBurn(p.Trial, p.Standing())
	case p.Trial.Response != a.Response:
		err = fmt.Errorf("its response is %s and yours is %s; scatter does not carry over", p.Trial.Response, a.Response)
	default:
		a.Lamp, a.Plant, a.Cycle, err = trial.Scatter(p.Trial, p.Standing())
	}
	if err != nil {
		bad("from", "%s: %v", q.From, err)
	}
	a.Origin, a.Ask.Note = underlamp.Fitted, "from "+path.Base(q.From)
}

// factor reads "PPFD=180,240 µmol/m²/s".
func factor(text string) (underlamp.TrialFactor, error) {
	name, list, ok := strings.Cut(text, "=")
	f := underlamp.TrialFactor{Name: strings.TrimSpace(name)}
	if !ok || f.Name == "" {
		return f, fmt.Errorf("%q; write a name, = and the levels, such as \"hours=14,18 h\"", text)
	}
	levels := strings.Split(list, ",")
	// A unit after the last number is that of all.
	last := strings.TrimSpace(levels[len(levels)-1])
	if number, unit, ok := strings.Cut(last, " "); ok {
		if _, err := strconv.ParseFloat(number, 64); err == nil {
			levels[len(levels)-1], f.Unit = number, strings.TrimSpace(unit)
		}
	}
	for _, l := range levels {
		l = strings.TrimSpace(l)
		switch {
		case l == "":
			return f, fmt.Errorf("%q has an empty level", text)
		case slices.Contains(f.Levels, l):
			return f, fmt.Errorf("%s has the level %s twice", f.Name, l)
		}
		f.Levels = append(f.Levels, l)
	}
	if len(f.Levels) < 2 {
		return f, fmt.Errorf("%s has one level; give two or more, such as \"hours=14,18 h\"", f.Name)
	}
	return f, nil
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
