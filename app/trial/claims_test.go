package trial_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/science/quantity"
)

// madeTrial draws a trial with treatments that differ by a random amount.
func madeTrial(t *rapid.T) (*underlamp.Trial, []underlamp.TrialEntry) {
	tr := &underlamp.Trial{Name: "made", Seed: 2,
		Layout:     rapid.SampledFrom([]underlamp.TrialLayout{underlamp.CompleteLayout, underlamp.BlocksLayout, underlamp.LatinLayout, underlamp.SplitLayout, underlamp.SystematicLayout}).Draw(t, "layout"),
		Response:   rapid.SampledFrom([]underlamp.Response{underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseBurn}).Draw(t, "response"),
		Difference: rapid.SampledFrom([]float64{0, 2, 8, 30}).Draw(t, "difference")}
	if tr.Response == underlamp.ResponseBurn {
		tr.Difference /= 100
	}
	k := rapid.IntRange(2, 5).Draw(t, "treatments")
	repeats := rapid.IntRange(2, 5).Draw(t, "repeats")
	if tr.Layout == underlamp.LatinLayout {
		repeats = k
	}
	effect := rapid.SampledFrom([]float64{0, 3, 12}).Draw(t, "effect")
	control := rapid.IntRange(-1, k-1).Draw(t, "control")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	for j := range k {
		tr.Treatments = append(tr.Treatments, underlamp.Treatment{Name: fmt.Sprintf("t%d", j), Control: j == control, DLI: quantity.DLI(10 + 3*j)})
	}
	var entries []underlamp.TrialEntry
	for b := range repeats {
		for p := range k {
			for part := range 2 {
				if part > 0 && tr.Layout != underlamp.SplitLayout {
					continue
				}
				j := (p + b) % k
				u := underlamp.TrialUnit{Name: fmt.Sprintf("%d/%d/%d", b, p, part), Treatment: tr.Treatments[j].Name, Block: fmt.Sprint("c", b), Place: fmt.Sprint("p", p), Whole: fmt.Sprint(b, "/", p), Part: fmt.Sprint("v", part)}
				tr.Places = append(tr.Places, u)
				lamp := 4 * r.NormFloat64()
				for n := range 6 {
					add := func(what underlamp.Response, v float64) {
						entries = append(entries, underlamp.TrialEntry{ID: fmt.Sprint(len(entries)), TrialUnit: u.Name, Plant: fmt.Sprint(n), What: what, Value: v})
					}
					v := 100 + effect*float64(j) + lamp + 8*r.NormFloat64()
					add(underlamp.ResponseMass, v)
					add(underlamp.ResponseHeight, v/10)
					grade := math.Floor(min(max((v-104)/8, 0), 5))
					add(underlamp.ResponseBurn, min(grade, 1))
					add(underlamp.ResponseSeverity, grade)
					if grade > 0 {
						first := float64(12 + 3*r.IntN(5))
						add(underlamp.ResponseClear, first-3)
						add(underlamp.ResponseFirst, first)
					} else {
						add(underlamp.ResponseClear, 30)
					}
				}
			}
		}
	}
	return tr, entries
}

var difference = regexp.MustCompile(`^(t\d − t\d): ([^ ]+) [^ ]+, ([^ ]+) to ([^ ;]+); (.*)$`)

func signed(s string) float64 {
	v, _ := strconv.ParseFloat(strings.Replace(strings.TrimPrefix(s, "+"), "−", "-", 1), 64)
	return v
}

// No sentence is stronger than its figures: a claim of a difference has limits that leave 0 out,
// one of likeness has limits within the difference worth knowing and a p after Holm below 5 %, and
// that there is no difference is never said.
func TestClaimsHoldTheirFigures(t *testing.T) {
	claims := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		tr, entries := madeTrial(rt)
		f, err := trial.Find(tr, entries)
		if err != nil {
			rt.Fatal(err)
		}
		band := func(name string) (low, high float64) {
			for _, g := range f.Figures() {
				if g.Name == name && g.Band != nil {
					return g.Band.Low, g.Band.High
				}
			}
			rt.Fatalf("no figure %q with limits", name)
			return 0, 0
		}
		d := tr.Difference
		said := map[string]bool{}
		for _, p := range f.Parts {
			for i, s := range p.Says {
				if i < p.Heads && said[s] {
					rt.Fatalf("said twice: %s", s)
				}
				said[s] = true
				low := strings.ToLower(s)
				for _, never := range []string{"no difference", "no effect", "proves", "proven"} {
					if strings.Contains(low, never) {
						rt.Fatalf("%q in %q", never, s)
					}
				}
				if m := difference.FindStringSubmatch(s); m != nil {
					lo, hi := band(m[1])
					if math.Abs(lo-signed(m[3])) > 0.06 || math.Abs(hi-signed(m[4])) > 0.06 {
						rt.Fatalf("%s against %v to %v", s, lo, hi)
					}
					switch {
					case strings.HasPrefix(m[5], "more than the smallest"):
						claims["more"]++
						if !(lo > d || hi < -d) {
							rt.Fatalf("%s: %v to %v, %v", s, lo, hi, d)
						}
					case strings.HasPrefix(m[5], "not 0"):
						claims["not 0"]++
						if lo <= 0 && hi >= 0 {
							rt.Fatalf("%s: %v to %v", s, lo, hi)
						}
					case strings.HasPrefix(m[5], "whatever it is"):
						claims["less"]++
						if !(lo > -d && hi < d) {
							rt.Fatalf("%s: %v to %v, %v", s, lo, hi, d)
						}
					case strings.HasPrefix(m[5], "these data leave open"):
						claims["open"]++
					default:
						rt.Fatalf("an unknown claim: %s", s)
					}
				}
				if names, _, ok := strings.Cut(s, " are shown alike within"); ok {
					claims["alike"]++
					lo, hi := band(strings.Replace(names, " and ", " − ", 1) + ", two one-sided tests")
					if !(lo > -d && hi < d) {
						rt.Fatalf("%s: %v to %v, %v", s, lo, hi, d)
					}
				}
				if strings.HasSuffix(s, "it burns worse.") || strings.HasSuffix(s, "it burns less.") {
					claims["grade"]++
					at := strings.Fields(s)
					lo, hi := band("chance of a higher grade, " + at[3] + " than " + at[11])
					if lo <= 50 && hi >= 50 {
						rt.Fatalf("%s: %v to %v", s, lo, hi)
					}
				}
				if strings.HasSuffix(s, ": sooner.") || strings.HasSuffix(s, ": later.") || strings.HasSuffix(s, "burn gets worse.") || strings.HasSuffix(s, "burn gets less.") {
					claims["by light"]++
					name := "day of burn for 1 mol/m²/d more"
					if strings.Contains(s, "odds") {
						name = "odds of a higher grade for 1 mol/m²/d more"
					}
					if lo, hi := band(name); lo <= 1 && hi >= 1 {
						rt.Fatalf("%s: %v to %v", s, lo, hi)
					}
				}
				if strings.HasPrefix(s, "Treatments differ in ") {
					claims["further"]++
					ok := false
					for _, x := range p.Tests {
						ok = ok || strings.Contains(s, x.What) && x.Why == "" && x.Adjusted <= 0.05 && x.Adjusted >= x.P
					}
					if !ok {
						rt.Fatalf("%s: %+v", s, p.Tests)
					}
				}
			}
		}
		for _, s := range f.Summary[1:] {
			if !said[s] && !strings.HasPrefix(s, "Each of the") {
				rt.Fatalf("only the summary says %q", s)
			}
		}
	})
	if !testing.Short() {
		for _, c := range []string{"more", "not 0", "open", "alike", "grade", "by light", "further"} {
			if claims[c] == 0 {
				t.Errorf("no trial made the claim %q; the test tests nothing: %v", c, claims)
			}
		}
	}
}
