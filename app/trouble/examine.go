package trouble

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp/app/outlook"
	"underlamp/science/diagnosis"
	"underlamp/working"
)

// MostQuestions is how many questions a person is asked.
const MostQuestions = 4

// Asked is what a person told: symptoms by their keys, and answers by the key of the
// finding. An empty answer means that the question was passed over.
type Asked struct {
	Symptoms []string
	Answers  []Answer
}

// An Answer is one answer, in the order of asking.
type Answer struct {
	Finding string `json:"finding" doc:"key of what was asked"`
	State   string `json:"state" doc:"key of the answer; empty: not known"`
}

// An Examination is what is thought of a trouble.
type Examination struct {
	At       time.Time
	Asked    Asked
	Records  []Record            // with the defaults, which count for nothing
	Causes   []diagnosis.Ranked  // the likeliest first
	Next     *diagnosis.Question // nil: nothing more is asked
	Apart    *diagnosis.Question // what would tell the first two apart; nil: nothing in the table would
	First    *First              // nil: nothing is to be changed yet
	Again    time.Time           // when to look
	Hidden   []*diagnosis.Cause  // what no record can show
	Findings map[string]string   // what was found, in words, by the key of the finding
}

// A First is what to change first.
type First struct {
	Text     string
	Effect   *outlook.WhatIf // nil: nothing can be forecast
	Modelled bool            // the outlook knows of the cause itself
	Chance   float64         // of burn as the bench is now
}

// modelled are the causes that the outlook knows, by what it says of them.
var modelled = map[string]string{"inner-burn": "burn", "dim": "mass", "cold-roots": "burn"}

// Examine ranks the causes of a trouble on a bench. An error names a symptom, a finding or
// a state that the table does not have.
func Examine(m *diagnosis.Model, b *Bench, asked Asked) (*Examination, error) {
	t := m.Table()
	found, err := t.Picked(asked.Symptoms)
	if err != nil {
		return nil, err
	}
	x := &Examination{At: b.Now, Asked: asked, Records: b.Records(t), Findings: map[string]string{}}
	for _, f := range found {
		if f.Trust == diagnosis.TrustSeen {
			x.Findings[f.Finding] = "seen"
		} else {
			x.Findings[f.Finding] = "not picked"
		}
	}
	not := map[string]bool{}
	for _, a := range asked.Answers {
		f := t.Finding(a.Finding)
		switch {
		case f == nil || !f.Askable():
			return nil, fmt.Errorf("there is no question %q; there are %s", a.Finding, strings.Join(questionKeys(t), ", "))
		case a.State != "" && f.State(a.State) < 0:
			var can []string
			for _, s := range f.States {
				can = append(can, s.Key)
			}
			return nil, fmt.Errorf("%q is no answer to: %s It can be %s", a.State, f.Ask, strings.Join(can, ", "))
		}
		if not[a.Finding] {
			return nil, fmt.Errorf("%q is answered twice", a.Finding)
		}
		not[a.Finding] = true
		if a.State != "" {
			found = append(found, t.Is(a.Finding, a.State, diagnosis.TrustSeen))
			x.Findings[a.Finding] = f.States[f.State(a.State)].Name
		}
	}
	known := map[string]bool{}
	for _, r := range x.Records {
		if r.Trust > 0 && !not[r.Finding] { // what was answered just now is newer
			found = append(found, diagnosis.Found{Finding: r.Finding, Weights: r.Weights, Trust: r.Trust})
			x.Findings[r.Finding] = r.Text + " (" + r.From + ")"
			known[r.Finding] = true
		}
	}
	x.Causes = m.Rank(found)
	for k := range known {
		not[k] = true
	}
	if len(asked.Answers) < MostQuestions {
		x.Next = m.Next(found, not)
	}
	if len(x.Causes) > 1 {
		x.Apart = m.Between(found, x.Causes[0].Key, x.Causes[1].Key, not)
	}
	for i := range t.Causes {
		if t.Causes[i].Hidden {
			x.Hidden = append(x.Hidden, &t.Causes[i])
		}
	}
	return x, nil
}

// Likeliest is the cause that is thought of first; nil if that is something that the table
// does not have.
func (x *Examination) Likeliest() *diagnosis.Cause { return x.Causes[0].Cause }

// Advise finds what to change first against the likeliest cause, what the outlook expects of
// it, and when to look again. Of its changes, the cheapest first, it takes the first that
// the bench leaves room for and of which the outlook, where it knows the cause, expects
// something.
func (x *Examination) Advise(b *Bench) error {
	c := x.Likeliest()
	if c == nil {
		x.Again = x.At.AddDate(0, 0, 2)
		return nil
	}
	x.Again = x.At.AddDate(0, 0, c.Again)
	aim := modelled[c.Key]
	var fallback *First
	for _, change := range c.Changes {
		f := First{Text: change.Text, Modelled: aim != "", Chance: math.NaN()}
		if change.Try == "" || b.Outlook == nil {
			if fallback == nil || aim == "" {
				fallback = &f
			}
			if aim == "" {
				break
			}
			continue
		}
		w, ok, err := b.Outlook.Try(change.Try)
		if err != nil {
			return err
		}
		if !ok {
			if heightChange(change.Try) && fallback == nil {
				fallback = &f
			}
			continue // the bench leaves no room for it
		}
		f.Effect, f.Chance = &w, w.Chance-w.Points.Mid/100
		switch {
		case aim == "":
			x.First = &f
			return nil
		case aim == "burn" && w.Judgment == "helps", aim == "mass" && w.Mass.Low > 0:
			x.First = &f
			return nil
		case fallback == nil || fallback.Effect == nil:
			fallback = &f
		}
	}
	x.First = fallback
	return nil
}

// heightChange says that a change moves lamps, which an outlook is not tried for.
func heightChange(key string) bool { return key == "lower-lamps" || key == "raise-lamps" }

// Says is what the outlook expects of the change, in a sentence.
func (f *First) Says() string {
	if f.Effect == nil {
		return "The outlook cannot forecast this change."
	}
	w := f.Effect
	lead := "The outlook expects of " + w.Name + ": "
	if !f.Modelled {
		lead = "The outlook does not know this cause. Of burn and mass it expects, by " + w.Name + ": "
	}
	return fmt.Sprintf("%schance of burn %s in place of %s (%s points, %s to %s), fresh mass %s %% (%s to %s).", lead,
		working.Percent(w.Chance), working.Percent(f.Chance), working.Signed(w.Points.Mid, 0), working.Signed(w.Points.Low, 0), working.Signed(w.Points.High, 0),
		working.Signed(w.Mass.Mid, 1), working.Signed(w.Mass.Low, 1), working.Signed(w.Mass.High, 1))
}

// times says a factor on the odds for people: "7 times", "a fifth".
func times(factor float64) string {
	switch {
	case factor >= 9.5:
		return fmt.Sprintf("%.0f times", factor)
	case factor >= 1:
		return fmt.Sprintf("%.1f times", factor)
	case factor <= 0.105:
		return fmt.Sprintf("1/%.0f", 1/factor)
	}
	return fmt.Sprintf("1/%.1f", 1/factor)
}

// Reason is one line of evidence for or against a cause.
type Reason struct {
	Finding string   `json:"finding" doc:"key of the finding"`
	Text    string   `json:"text" doc:"what was found, with its origin"` // "VPD by day: 0.38 kPa (sensors, mean of the last 3 days)"
	Why     string   `json:"why" doc:"what the table says of it"`
	Factor  float64  `json:"factor" doc:"on the odds of the cause against something else"` // on the odds against something else
	Times   string   `json:"times" doc:"the factor in words"`
	Row     bool     `json:"row" doc:"the table has a row for it; else why says how it comes"`
	Sources []string `json:"sources" doc:"keys of the bibliography"`
}

// Reasons are the evidence for and against a cause, the strongest first.
func (x *Examination) Reasons(r diagnosis.Ranked) (speaksFor, against []Reason) {
	make := func(all []diagnosis.Weight) []Reason {
		out := []Reason{}
		for _, w := range all {
			text := upper(w.Finding.Name) + ": " + x.Findings[w.Finding.Key]
			y := Reason{Finding: w.Finding.Key, Text: text, Factor: w.Factor, Times: times(w.Factor), Sources: []string{}}
			switch {
			case w.Row != nil:
				y.Row, y.Why, y.Sources = true, w.Row.Why, append(y.Sources, w.Row.Sources...)
			case w.Finding.Kind == diagnosis.Symptom:
				y.Why = "it would mostly be seen"
			default:
				y.Why = "another state would speak for it"
				if w.Factor > 1 {
					y.Why = "another state would speak against it"
				}
			}
			out = append(out, y)
		}
		return out
	}
	return make(r.For), make(r.Against)
}

func upper(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}

// Symptoms are the symptoms of a table, in its order.
func Symptoms(t *diagnosis.Table) []diagnosis.Finding {
	var out []diagnosis.Finding
	for _, f := range t.Findings {
		if f.Kind == diagnosis.Symptom {
			out = append(out, f)
		}
	}
	return out
}

// Symptom finds a symptom by its key, or by words of its name; the error names what there is.
func Symptom(t *diagnosis.Table, word string) (string, error) {
	all := Symptoms(t)
	key := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(word)), " ", "-")
	var keys, near []string
	for _, f := range all {
		keys = append(keys, f.Key)
		if f.Key == key {
			return key, nil
		}
		if key != "" && (strings.Contains(f.Key, key) || strings.Contains(strings.ToLower(f.Name), strings.ToLower(strings.TrimSpace(word)))) {
			near = append(near, f.Key)
		}
	}
	if len(near) == 1 {
		return near[0], nil
	}
	slices.Sort(keys)
	if len(near) > 1 {
		return "", fmt.Errorf("%q may be %s", word, strings.Join(near, ", "))
	}
	return "", fmt.Errorf("there is no symptom %q; there are %s", word, strings.Join(keys, ", "))
}

// CannotSee reminds of what no record shows, and who knows more.
func CannotSee(x *Examination) string {
	var parts []string
	for _, c := range x.Hidden {
		parts = append(parts, c.Name)
	}
	return "What no record of a bench shows: " + strings.Join(parts, "; ") + ". If plants fall ill one after another, keep them apart and ask a plant clinic or the extension service."
}

// LookText is what to do, or to ask oneself, for a finding.
func LookText(f *diagnosis.Finding) string {
	if f.Look != "" {
		return f.Look + "."
	}
	return f.Ask
}

// Says is what the table says, with its sources.
func (y Reason) Says() string {
	switch {
	case !y.Row:
		return y.Why
	case len(y.Sources) == 0:
		return y.Why + " (common practice, no source)"
	}
	return y.Why + " (" + strings.Join(y.Sources, ", ") + ")"
}

// questionKeys are the keys of what people can be asked, in the order of the table.
func questionKeys(t *diagnosis.Table) []string {
	var keys []string
	for i := range t.Findings {
		if f := &t.Findings[i]; f.Askable() {
			keys = append(keys, f.Key)
		}
	}
	return keys
}
