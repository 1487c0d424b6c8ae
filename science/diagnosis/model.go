package diagnosis

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Found is what was found of one thing.
type Found struct {
	Finding string    // key
	Weights []float64 // of its states, adding up to 1
	Trust   float64   // 0: as good as not known; 1: certain
}

// Is is a finding of one state, trusted to a degree. It panics if the table has no such
// finding or state: the caller has looked them up.
func (t *Table) Is(finding, state string, trust float64) Found {
	f := t.Finding(finding)
	if f == nil || f.State(state) < 0 {
		panic(fmt.Sprintf("diagnosis: no finding %s with a state %s", finding, state))
	}
	w := make([]float64, len(f.States))
	w[f.State(state)] = 1
	return Found{finding, w, trust}
}

// draws are the tables that are drawn for bands.
const draws = 400

// A Model is a table made ready to be asked.
type Model struct {
	t      *Table
	causes int // with what is not in the table, which is the last

	// Of table k (0 is the one of the middle): priors[k][cause], chance[k][finding][state][cause].
	priors [][]float64
	chance [][][][]float64
}

// New makes a table ready. Its error is that of [Table.Check].
func New(t *Table) (*Model, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	m := &Model{t: t, causes: len(t.Causes) + 1}
	at := map[string]int{}
	for i, c := range t.Causes {
		at[c.Key] = i
	}
	for k := range draws + 1 {
		rng := rand.New(rand.NewPCG(20261126, uint64(k)))
		factor := func(low, high float64) float64 {
			mid := 0.5 * (math.Log(low) + math.Log(high))
			if k == 0 || low == high {
				return math.Exp(mid)
			}
			return math.Exp(mid + 0.5*(math.Log(high)-math.Log(low))/quantile95*rng.NormFloat64())
		}
		prior := make([]float64, m.causes)
		for i, c := range t.Causes {
			prior[i] = c.Often.weight() * factor(1.0/priorFactor, priorFactor)
		}
		prior[m.causes-1] = elseWeight * factor(1.0/priorFactor, priorFactor)
		normalise(prior)
		m.priors = append(m.priors, prior)
		var all [][][]float64
		for _, f := range t.Findings {
			p := make([][]float64, len(f.States))
			sum := make([]float64, m.causes)
			for s, st := range f.States {
				p[s] = make([]float64, m.causes)
				for c := range p[s] {
					p[s][c] = st.Share
				}
				for _, r := range st.Rows {
					p[s][at[r.Cause]] *= factor(r.Strength.Range())
				}
				for c := range p[s] {
					sum[c] += p[s][c]
				}
			}
			for s := range p {
				for c := range p[s] {
					p[s][c] /= sum[c]
				}
			}
			all = append(all, p)
		}
		m.chance = append(m.chance, all)
	}
	return m, nil
}

// quantile95 is the 95 % quantile of the standard normal distribution.
const quantile95 = 1.6448536269514722

// Table is what the model was made of.
func (m *Model) Table() *Table { return m.t }

func normalise(p []float64) {
	sum := 0.0
	for _, v := range p {
		sum += v
	}
	for i := range p {
		p[i] /= sum
	}
}

// index is where a finding stands; it panics on one that is not in the table.
func (m *Model) index(key string) int {
	i := slices.IndexFunc(m.t.Findings, func(f Finding) bool { return f.Key == key })
	if i < 0 {
		panic("diagnosis: no finding " + key)
	}
	return i
}

// ratio is the likelihood of a finding under a cause over that under something else.
func (m *Model) ratio(k, finding, cause int, f Found) float64 {
	sum := 0.0
	for s, w := range f.Weights {
		if w > 0 {
			sum += w * m.chance[k][finding][s][cause] / m.t.Findings[finding].States[s].Share
		}
	}
	return 1 - f.Trust + f.Trust*sum
}

func (m *Model) posterior(k int, found []Found) []float64 {
	p := slices.Clone(m.priors[k])
	for _, f := range found {
		i := m.index(f.Finding)
		for c := range p {
			p[c] *= m.ratio(k, i, c, f)
		}
	}
	normalise(p)
	return p
}

// A Ranked is a cause with what is thought of it.
type Ranked struct {
	Key       string // of the cause, or Else
	Cause     *Cause // nil for Else
	Prior     float64
	Chance    float64  // posterior by the middle of the table
	Low, High float64  // 90 % over what the table leaves open
	For       []Weight // the findings that raise its odds, the strongest first
	Against   []Weight
}

// Name is what a person reads.
func (r Ranked) Name() string {
	if r.Cause == nil {
		return "something else, not in the table"
	}
	return r.Cause.Name
}

// Chances are the posteriors by the middle of the table, by the key of the cause: what
// [Model.Rank] gives without bands and reasons.
func (m *Model) Chances(found []Found) map[string]float64 {
	out := map[string]float64{}
	for c, p := range m.posterior(0, found) {
		key := Else
		if c < len(m.t.Causes) {
			key = m.t.Causes[c].Key
		}
		out[key] = p
	}
	return out
}

// A Weight is what one finding does to the odds of a cause, against something else.
type Weight struct {
	Finding *Finding
	State   *State // the most likely one
	Row     *Row   // what the table says of it; nil: it says nothing, the weight is of what other states would have said
	Factor  float64
}

// noticeable is the factor on the odds below which a finding is not told of.
const noticeable = 1.1

// Rank ranks the causes by what was found, the likeliest first. Two findings of one thing
// are a mistake of the caller, and count twice.
func (m *Model) Rank(found []Found) []Ranked {
	mid := m.posterior(0, found)
	drawn := make([][]float64, m.causes)
	for k := 1; k <= draws; k++ {
		for c, p := range m.posterior(k, found) {
			drawn[c] = append(drawn[c], p)
		}
	}
	out := make([]Ranked, m.causes)
	for c := range out {
		slices.Sort(drawn[c])
		r := Ranked{Key: Else, Prior: m.priors[0][c], Chance: mid[c], Low: drawn[c][draws/20], High: drawn[c][draws-1-draws/20]}
		if c < len(m.t.Causes) {
			r.Cause = &m.t.Causes[c]
			r.Key = r.Cause.Key
		}
		// The ends hold the middle: with skew draws they might miss it.
		r.Low, r.High = min(r.Low, r.Chance), max(r.High, r.Chance)
		for _, f := range found {
			i := m.index(f.Finding)
			w := m.weight(i, c, f)
			switch {
			case w.Factor >= noticeable:
				r.For = append(r.For, w)
			case w.Factor <= 1/noticeable:
				r.Against = append(r.Against, w)
			}
		}
		slices.SortStableFunc(r.For, func(a, b Weight) int { return cmp.Compare(b.Factor, a.Factor) })
		slices.SortStableFunc(r.Against, func(a, b Weight) int { return cmp.Compare(a.Factor, b.Factor) })
		out[c] = r
	}
	slices.SortStableFunc(out, func(a, b Ranked) int { return cmp.Compare(b.Chance, a.Chance) })
	return out
}

func (m *Model) weight(finding, cause int, f Found) Weight {
	x := &m.t.Findings[finding]
	best := 0
	for s := range f.Weights {
		if f.Weights[s] > f.Weights[best] {
			best = s
		}
	}
	w := Weight{Finding: x, State: &x.States[best], Factor: m.ratio(0, finding, cause, f)}
	if cause < len(m.t.Causes) {
		for i := range w.State.Rows {
			if w.State.Rows[i].Cause == m.t.Causes[cause].Key {
				w.Row = &w.State.Rows[i]
			}
		}
	}
	return w
}

// A Question is a finding that is worth having.
type Question struct {
	Finding *Finding
	Bits    float64 // expected information
}

// answerTrust is how far an answer is trusted that is yet to come.
const answerTrust = 0.9

// Next is the question with the most expected information among those that can be asked
// and are not among what was found; what says which others not to ask. Nil where none tells
// more than a hundredth of a bit.
func (m *Model) Next(found []Found, not map[string]bool) *Question {
	return m.best(m.posterior(0, found), found, func(f *Finding) bool { return f.Askable() && !not[f.Key] })
}

// Between is the one observation that would best tell two causes apart, whether it can
// be asked at a desk or has to be looked at; nil if none would. not says which are known
// already beside what was found.
func (m *Model) Between(found []Found, a, b string, not map[string]bool) *Question {
	p := m.posterior(0, found)
	for c := range p {
		key := Else
		if c < len(m.t.Causes) {
			key = m.t.Causes[c].Key
		}
		if key != a && key != b {
			p[c] = 0
		}
	}
	normalise(p)
	return m.best(p, found, func(f *Finding) bool { return (f.Askable() || f.Look != "") && !not[f.Key] })
}

func (m *Model) best(p []float64, found []Found, may func(*Finding) bool) *Question {
	had := map[string]bool{}
	for _, f := range found {
		had[f.Finding] = had[f.Finding] || f.Trust >= 0.5 && !implied(f)
	}
	var best *Question
	for i := range m.t.Findings {
		f := &m.t.Findings[i]
		if had[f.Key] || !may(f) {
			continue
		}
		if bits := m.information(p, i); bits > 0.01 && (best == nil || bits > best.Bits) {
			best = &Question{f, bits}
		}
	}
	return best
}

// implied says that a finding is so weak that asking may still help.
func implied(f Found) bool { return f.Trust < 0.7 }

// information is the expected fall of entropy in bits.
func (m *Model) information(p []float64, finding int) float64 {
	total := entropy(p)
	left := 0.0
	f := &m.t.Findings[finding]
	post := make([]float64, len(p))
	for s := range f.States {
		sum := 0.0
		for c := range p {
			post[c] = p[c] * ((1-answerTrust)*f.States[s].Share + answerTrust*m.chance[0][finding][s][c])
			sum += post[c]
		}
		if sum == 0 {
			continue
		}
		for c := range post {
			post[c] /= sum
		}
		left += sum * entropy(post)
	}
	return total - left
}

func entropy(p []float64) float64 {
	h := 0.0
	for _, v := range p {
		if v > 0 {
			h -= v * math.Log2(v)
		}
	}
	return h
}

// How far findings are trusted: common practice, no source. A default is not trusted at
// all, and what was not picked may have been overlooked.
const (
	TrustSeen     = 0.9  // picked from drawings, or answered
	TrustUnpicked = 0.5  // of a symptom that was not picked: that it is not there
	TrustSensor   = 0.95 // read by sensors in the last days
	TrustMeasured = 0.85 // written down as measured, or fitted to readings
	TrustStated   = 0.7  // written down without saying how it is known, or worked out of such values
	TrustLabel    = 0.6  // printed by the maker
)

// Picked are the findings of the symptoms that somebody picked: those picked are seen, all
// others are not, as far as can be trusted. A key that is no symptom is an error.
func (t *Table) Picked(keys []string) ([]Found, error) {
	for _, key := range keys {
		if f := t.Finding(key); f == nil || f.Kind != Symptom {
			return nil, fmt.Errorf("there is no symptom %q", key)
		}
	}
	var out []Found
	for _, f := range t.Findings {
		switch {
		case f.Kind != Symptom:
		case slices.Contains(keys, f.Key):
			out = append(out, t.Is(f.Key, "seen", TrustSeen))
		default:
			out = append(out, t.Is(f.Key, "not-seen", TrustUnpicked))
		}
	}
	return out, nil
}
