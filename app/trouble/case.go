package trouble

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp/science/diagnosis"
	"underlamp/store"
)

// KindCase is the kind of document in which cases are kept; its name is the key of the
// bench, a slash, and the id of the case.
const KindCase = "trouble"

// A Case is one trouble as it was examined, with what became of it.
type Case struct {
	Version  int       `json:"underlamp trouble" doc:"of the form of a case"`
	ID       string    `json:"id" doc:"of the case"`
	Bench    string    `json:"bench" doc:"key of the bench"` // its key
	At       time.Time `json:"at" doc:"when it was examined"`
	By       string    `json:"by,omitempty" doc:"who examined it"`
	Note     string    `json:"note,omitempty" doc:"for people"`
	Rule     string    `json:"rule,omitempty" doc:"of the watch that opened it; missing if a person did"` // of the watch that opened it; empty: a person did
	Symptoms []string  `json:"symptoms" doc:"keys of what was seen"`
	Answers  []Answer  `json:"answers" doc:"to the questions that were asked"`
	Found    []string  `json:"found" doc:"records that counted, in words"` // the records that counted, in words
	Causes   []Thought `json:"causes" doc:"as they were ranked, likeliest first"`
	Change   string    `json:"change,omitempty" doc:"what to change first"` // what was to be changed first
	Expects  string    `json:"expects,omitempty" doc:"what the outlook expects of that change"`
	Again    string    `json:"again,omitempty" doc:"when to look again, YYYY-MM-DD"`
	Outcomes []Outcome `json:"outcomes" doc:"what was found out; the last counts"`
}

// A Thought is a cause as it was ranked.
type Thought struct {
	Key    string  `json:"key" doc:"of the cause"`
	Name   string  `json:"name" doc:"of the cause, in words"`
	Chance float64 `json:"chance" doc:"of the cause, 0 to 1"`
	Low    float64 `json:"low" doc:"low end of the 90 % band over what the table leaves open"`
	High   float64 `json:"high" doc:"high end of the 90 % band over what the table leaves open"`
}

// An Outcome is what somebody found out in the end.
type Outcome struct {
	At    time.Time `json:"at" doc:"when it was said"`
	By    string    `json:"by,omitempty" doc:"who said it"`
	Cause string    `json:"cause" doc:"key of the cause that it was, or else; missing: never found out"`    // key, or diagnosis.Else; empty: never found out
	Help  string    `json:"helped,omitempty" doc:"yes or no: whether the change helped; missing: not said"` // "yes", "no", or empty
	Note  string    `json:"note,omitempty" doc:"for people"`
}

// Outcome is the one that counts; nil while there is none.
func (c *Case) Outcome() *Outcome {
	if len(c.Outcomes) == 0 {
		return nil
	}
	return &c.Outcomes[len(c.Outcomes)-1]
}

// caseVersion is that of the document.
const caseVersion = 1

// Thoughts that are kept with a case.
const mostThoughts = 8

// NewCase is a case of an examination, with an id of its own.
func NewCase(bench string, x *Examination, by, note string) *Case {
	c := &Case{Version: caseVersion, ID: strings.ToLower(rand.Text()[:16]), Bench: bench, At: x.At.UTC().Truncate(time.Second), By: by, Note: note, Symptoms: append([]string{}, x.Asked.Symptoms...), Answers: append([]Answer{}, x.Asked.Answers...), Found: []string{}, Causes: []Thought{}, Outcomes: []Outcome{}, Again: x.Again.Format(time.DateOnly)}
	for _, r := range x.Records {
		if !r.Default() {
			c.Found = append(c.Found, r.Name+": "+r.Text+" ("+r.From+")")
		}
	}
	for _, r := range x.Causes[:min(len(x.Causes), mostThoughts)] {
		c.Causes = append(c.Causes, Thought{r.Key, r.Name(), r.Chance, r.Low, r.High})
	}
	if x.First != nil {
		c.Change, c.Expects = x.First.Text, x.First.Says()
	}
	return c
}

// Keep is what cases need of a store.
type Keep interface {
	SwapDocument(ctx context.Context, d store.Document, was []byte) error
	Document(ctx context.Context, kind, name string) (store.Document, error)
	Documents(ctx context.Context, kind string) ([]store.Document, error)
}

// Save keeps a new case.
func Save(ctx context.Context, keep Keep, c *Case, now time.Time) error {
	text, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return keep.SwapDocument(ctx, store.Document{Kind: KindCase, Name: c.Bench + "/" + c.ID, Recorded: store.At(now), Text: text}, nil)
}

// ReadCase reads a case as it is kept.
func ReadCase(text []byte) (*Case, error) {
	d := json.NewDecoder(bytes.NewReader(text))
	var c Case
	if err := d.Decode(&c); err != nil {
		return nil, fmt.Errorf("this is no case of trouble: %w", err)
	}
	if c.Version != caseVersion {
		return nil, fmt.Errorf("the case has version %d; this program reads %d", c.Version, caseVersion)
	}
	return &c, nil
}

// Cases are those of a bench, the newest first; of all benches if its key is empty. What
// cannot be read is left out and told.
func Cases(ctx context.Context, keep Keep, bench string) ([]*Case, []error, error) {
	docs, err := keep.Documents(ctx, KindCase)
	if err != nil {
		return nil, nil, err
	}
	var out []*Case
	var faults []error
	for _, d := range docs {
		if bench != "" && !strings.HasPrefix(d.Name, bench+"/") {
			continue
		}
		c, err := ReadCase(d.Text)
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", d.Name, err))
			continue
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b *Case) int { return b.At.Compare(a.At) })
	return out, faults, nil
}

// Conclude records what became of a case. Cause is a key of the table, [diagnosis.Else], or
// empty if it was never found out.
func Conclude(ctx context.Context, keep Keep, t *diagnosis.Table, bench, id string, o Outcome, now time.Time) error {
	if o.Cause != "" && o.Cause != diagnosis.Else && t.Cause(o.Cause) == nil {
		return fmt.Errorf("there is no cause %q; there are %s", o.Cause, strings.Join(causeKeys(t), ", "))
	}
	if o.Help != "" && o.Help != "yes" && o.Help != "no" {
		return fmt.Errorf("whether it helped is yes or no, not %q", o.Help)
	}
	for range 5 {
		d, err := keep.Document(ctx, KindCase, bench+"/"+id)
		if err != nil {
			return err
		}
		c, err := ReadCase(d.Text)
		if err != nil {
			return err
		}
		c.Outcomes = append(c.Outcomes, o)
		text, err := json.Marshal(c)
		if err != nil {
			return err
		}
		err = keep.SwapDocument(ctx, store.Document{Kind: KindCase, Name: d.Name, Recorded: store.At(now), Text: text}, d.Text)
		if !errors.Is(err, store.ErrDiffers) {
			return err
		}
	}
	return errors.New("somebody else is writing to this case all the time; try again")
}

// A Tally counts how often the ranking was right.
type Tally struct {
	Open    int `doc:"cases without an outcome"`
	Unknown int `doc:"cases of which the cause was never found out"`
	Right   int `doc:"cases whose cause was ranked first"` // the cause was ranked first
	Second  int `doc:"cases whose cause was ranked second"`
	Later   int `doc:"cases whose cause was ranked later, or not at all"`
	Helped  int `doc:"cases in which the change helped"`
	Tried   int `doc:"cases of which somebody said whether the change helped"`
}

// Known counts the cases whose cause was found out.
func (t Tally) Known() int { return t.Right + t.Second + t.Later }

// Count tallies cases that people opened; those that a watch opened had no symptoms.
func Count(cases []*Case) Tally {
	var t Tally
	for _, c := range cases {
		o := c.Outcome()
		switch {
		case c.Rule != "":
			continue // nothing was seen, nothing was ranked
		case o == nil:
			t.Open++
			continue
		case o.Help != "":
			t.Tried++
			if o.Help == "yes" {
				t.Helped++
			}
		}
		i := slices.IndexFunc(c.Causes, func(x Thought) bool { return x.Key == o.Cause })
		switch {
		case o.Cause == "":
			t.Unknown++
		case i == 0:
			t.Right++
		case i == 1:
			t.Second++
		default:
			t.Later++
		}
	}
	return t
}

// Says is the tally in a sentence.
func (t Tally) Says() string {
	n := t.Known()
	if n == 0 {
		return "No case here has a known cause yet: nothing can be said of how often the first cause is right."
	}
	return fmt.Sprintf("Cases here with a known cause: %d. The cause ranked first was right in %d, the second in %d.", n, t.Right, t.Second)
}

// causeKeys are what a case can be concluded with.
func causeKeys(t *diagnosis.Table) []string {
	var keys []string
	for _, c := range t.Causes {
		keys = append(keys, c.Key)
	}
	return append(keys, diagnosis.Else)
}
