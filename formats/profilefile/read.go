package profilefile

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
)

const (
	maxParameters = 64
	maxCycles     = 200
	maxCount      = 1_000_000
)

var grammar = handwritten.Grammar{
	Package: "profilefile",
	File:    "a profile",
	Begin:   "a profile that begins with underlamp profile: 1",
	One:     "one profile in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp profile", "name", "note", "made", "species", "cultivar", "tendency", "type", "bench", "learned from", "diagnostics", "factors", "summary"}},
		{Name: "learned from[]", Keys: []string{"cycle", "bench", "transplanted", "harvested", "plants", "weighings", "heights", "burns", "counts"}},
		{Name: "diagnostics", Keys: []string{"rhat", "bulk ess", "tail ess", "chains", "draws"}},
		{Name: "factors[]", Keys: []string{"key", "name", "before", "after", "narrowed", "learned"}},
		{Name: "summary", Keys: []string{"method", "cycles", "plants", "data", "seed", "keys", "mean", "prior sd", "covariance"}},
		{Name: "origin", Keys: []string{"value", "from", "note"}},
	},
	Home: map[string]bool{"origin": true},
}

// Keys lists every key of the format.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		if s.Name != "origin" {
			all = append(all, s.Keys...)
		}
	}
	return all
}

type reader struct{ *handwritten.Reader }

// Read reads a profile. It is nil exactly when the problems hold an error. The error
// is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge].
//
// Whether the numbers are those of this version of the learning is for package
// headlearn to say, which draws from them.
func Read(in io.Reader) (*underlamp.Profile, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, r.profile)
}

func (r *reader) profile(v handwritten.Value) *underlamp.Profile {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp profile"), Version)
	p := &underlamp.Profile{}
	p.Name = r.text(f.Get("name"), handwritten.MaxName, "the name of the profile", true)
	p.Note = r.text(f.Get("note"), handwritten.MaxNote, "", false)
	p.Made = r.date(f.Get("made"), "the day on which it was made", true)
	p.Species = r.text(f.Get("species"), handwritten.MaxName, "the species", true)
	p.Cultivar = r.text(f.Get("cultivar"), handwritten.MaxName, "", false)
	p.Bench = r.text(f.Get("bench"), 200, "", false)
	p.Tendency = r.tendency(f.Get("tendency"))
	if t := f.Get("type"); t.Written() {
		p.Type = handwritten.Choice(r.Reader, t, underlamp.HeadTypes(), nil, "")
	}
	p.Cycles = r.cycles(f.Get("learned from"))
	r.quality(f.Get("diagnostics"), &p.Quality)
	r.summary(f.Get("summary"), p)
	p.Factors = r.factors(f.Get("factors"), p)
	return p
}

func (r *reader) text(v handwritten.Value, most int, what string, must bool) string {
	if must && !v.Written() {
		r.Missing(v, "text", what)
	}
	s, _ := r.Words(v, most)
	return s
}

func (r *reader) date(v handwritten.Value, what string, must bool) string {
	if must && !v.Written() {
		r.Missing(v, "a day such as 2026-10-01 (year-month-day)", what)
	}
	return r.Date(v)
}

func (r *reader) tendency(v handwritten.Value) underlamp.Tendency {
	if !v.Written() {
		r.Missing(v, "tendency: the word that underlamp learn wrote, such as usual", "the tendency of the traits that the factors multiply")
	}
	return handwritten.Choice(r.Reader, v, underlamp.Tendencies(), nil, underlamp.Usual)
}

func (r *reader) cycles(v handwritten.Value) []underlamp.LearnedCycle {
	items, ok := r.List(v, "a list of cycles", maxCycles, "cycles")
	if !ok {
		return nil
	}
	if len(items) == 0 {
		r.Missing(v, "a list of cycles", "what the profile was learned from")
		return nil
	}
	var out []underlamp.LearnedCycle
	for _, item := range items {
		f, ok := r.Mapping(item, "learned from[]")
		if !ok {
			continue
		}
		c := underlamp.LearnedCycle{
			Name: r.text(f.Get("cycle"), handwritten.MaxName, "", false), Bench: r.text(f.Get("bench"), 200, "", false),
			Transplanted: r.date(f.Get("transplanted"), "the day of transplanting", true), Harvested: r.date(f.Get("harvested"), "", false),
			Plants: r.count(f.Get("plants")), Weighings: r.count(f.Get("weighings")), Heights: r.count(f.Get("heights")),
			Burns: r.count(f.Get("burns")), Counts: r.count(f.Get("counts")),
		}
		out = append(out, c)
	}
	return out
}

// count reads a whole number from 0; what is not written is 0.
func (r *reader) count(v handwritten.Value) int {
	if !v.Written() {
		return 0
	}
	n, _ := r.Whole(v, 0, maxCount)
	return n
}

func (r *reader) quality(v handwritten.Value, q *underlamp.SamplingQuality) {
	f, ok := r.Part(v, "diagnostics", "diagnostics: {rhat: 1.004, …} as underlamp learn wrote them", "how well the learning went")
	if !ok {
		return
	}
	q.RHat = r.need(f.Get("rhat"), 0.5, 100, "R-hat")
	q.BulkESS = r.need(f.Get("bulk ess"), 0, 1e9, "the effective size of the bulk")
	q.TailESS = r.need(f.Get("tail ess"), 0, 1e9, "the effective size of the tails")
	q.Chains, q.Draws = r.count(f.Get("chains")), r.count(f.Get("draws"))
}

// need reads a number that must be written and lie within a span.
func (r *reader) need(v handwritten.Value, low, high float64, what string) float64 {
	want := fmt.Sprintf("a number from %g to %g", low, high)
	if !v.Written() {
		r.Missing(v, want, what)
		return 0
	}
	return r.number(v, low, high)
}

func (r *reader) number(v handwritten.Value, low, high float64) float64 {
	want := fmt.Sprintf("a number from %g to %g", low, high)
	r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: want, Like: `^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*$`})
	text, ok := r.Raw(v, want)
	if !ok {
		return 0
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || !(x >= low && x <= high) {
		r.Errorf(v, want, "%q does not fit", handwritten.Shortened(text))
		return 0
	}
	return x
}

// numbers reads a list of n numbers.
func (r *reader) numbers(v handwritten.Value, n int, low, high float64, what string) []float64 {
	want := fmt.Sprintf("a list of %d numbers", n)
	if !v.Written() {
		r.Missing(v, want, what)
		return nil
	}
	items, ok := r.Items(v, want)
	if !ok {
		return nil
	}
	if len(items) != n {
		r.Errorf(v, want, "there are %d numbers", len(items))
		return nil
	}
	out := make([]float64, n)
	for i, item := range items {
		out[i] = r.number(item, low, high)
	}
	return out
}

// summary reads what forecasts are drawn from.
func (r *reader) summary(v handwritten.Value, p *underlamp.Profile) {
	f, ok := r.Part(v, "summary", "the part summary as underlamp learn wrote it", "what forecasts are drawn from")
	if !ok {
		return
	}
	s := &p.Summary
	if m := f.Get("method"); m.Written() {
		s.Method, _ = r.Whole(m, 1, maxCount)
	} else {
		r.Missing(m, "method: 1", "the version of the method")
	}
	s.Cycles, s.Plants, s.Data = r.count(f.Get("cycles")), r.count(f.Get("plants")), r.count(f.Get("data"))
	if v := f.Get("seed"); v.Written() {
		r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: "a whole number", Like: `^\s*\d+\s*$`})
		text, ok := r.Raw(v, "a whole number")
		n, err := strconv.ParseUint(strings.TrimSpace(text), 10, 64)
		if ok && err != nil {
			r.Errorf(v, "a whole number from 0", "%q does not fit", handwritten.Shortened(text))
		}
		s.Seed = n
	}
	before := len(r.Problems)
	items, _ := r.List(f.Get("keys"), "a list of the names of the parameters", maxParameters, "parameters")
	if r.Problems[before:].HasErrors() {
		return
	}
	if len(items) == 0 {
		r.Missing(f.Get("keys"), "a list of the names of the parameters", "the list of parameters")
		return
	}
	seen := map[string]bool{}
	for _, item := range items {
		k, ok := r.Words(item, handwritten.MaxName)
		switch {
		case !ok:
			r.Errorf(item, "the name of a parameter", "a parameter without a name")
		case seen[k]:
			r.Errorf(item, "each parameter once", "%q is named twice", k)
		}
		seen[k] = true
		s.Keys = append(s.Keys, k)
	}
	n := len(s.Keys)
	s.Mean = r.numbers(f.Get("mean"), n, -10, 10, "the mean of each parameter")
	s.PriorSD = r.numbers(f.Get("prior sd"), n, 0, 10, "the spread of each parameter before learning")
	rows, ok := r.Items(f.Get("covariance"), fmt.Sprintf("%d rows of %d numbers", n, n))
	if ok && len(rows) != n {
		r.Errorf(f.Get("covariance"), fmt.Sprintf("%d rows of %d numbers", n, n), "there are %d rows", len(rows))
		return
	}
	for _, row := range rows {
		s.Covariance = append(s.Covariance, r.numbers(row, n, -100, 100, "a row of the covariance"))
	}
	if r.Problems[before:].HasErrors() {
		return
	}
	for i := range n {
		if !(s.Covariance[i][i] >= 0) {
			r.Errorf(rows[i], "a variance of at least 0 in its place "+strconv.Itoa(i+1), "the variance of %q is negative", s.Keys[i])
		}
		for j := range i {
			if math.Abs(s.Covariance[i][j]-s.Covariance[j][i]) > 1e-9*(1+math.Abs(s.Covariance[i][j])) {
				r.Errorf(rows[i], "the same numbers above and below the diagonal", "the covariance of %q and %q is written as two numbers", s.Keys[i], s.Keys[j])
			}
		}
	}
}

// factors reads the table for people and holds it against the summary.
func (r *reader) factors(v handwritten.Value, p *underlamp.Profile) []underlamp.LearnedFactor {
	items, _ := r.List(v, "a list of factors", maxParameters, "factors")
	where := map[string]int{}
	for i, k := range p.Summary.Keys {
		where[k] = i
	}
	var out []underlamp.LearnedFactor
	for _, item := range items {
		f, ok := r.Mapping(item, "factors[]")
		if !ok {
			continue
		}
		before := len(r.Problems)
		x := underlamp.LearnedFactor{Key: r.text(f.Get("key"), handwritten.MaxName, "the key of the factor", true), Name: r.text(f.Get("name"), handwritten.MaxName, "", false)}
		for _, part := range []struct {
			key string
			to  *[3]float64
		}{{"before", &x.Prior}, {"after", &x.After}} {
			copy(part.to[:], r.numbers(f.Get(part.key), 3, 0, 1e5, "the interval "+part.key))
		}
		if n := f.Get("narrowed"); n.Written() {
			x.Narrowed = r.number(n, -100, 1)
		}
		if l := f.Get("learned"); l.Written() {
			i, ok := r.OneOf(l, []string{"yes", "no"}, map[string]string{"true": "yes", "false": "no"})
			x.Learned = ok && i == 0
		}
		if r.Problems[before:].HasErrors() {
			continue
		}
		switch i, known := where[x.Key]; {
		case len(p.Summary.Mean) != len(p.Summary.Keys) || len(p.Summary.PriorSD) != len(p.Summary.Keys):
			// the summary is wrong, which was said
		case !known:
			r.Errorf(f.Get("key"), "a parameter of the summary", "the summary has no parameter %q", x.Key)
		case math.Abs(math.Log(x.After[1])-p.Summary.Mean[i]) > 0.5*p.Summary.PriorSD[i]+1e-6:
			// A median and a mean of one posterior may differ, not by that much.
			r.Errorf(f.Get("after"), "the profile as underlamp learn wrote it", "the factor %q does not agree with the summary; one of the two was changed by hand", x.Key)
		}
		out = append(out, x)
	}
	return out
}
