package profilefile_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"underlamp"
	"underlamp/formats/profilefile"
	"underlamp/internal/marked"
	"underlamp/science/headlearn"
)

func TestKeysAreDocumented(t *testing.T) {
	marked.Documented(t, "../../docs/formats/profile.md", profilefile.Keys())
}

// sample is a profile of two made-up parameters.
func sample() *underlamp.Profile {
	return &underlamp.Profile{
		Name: "Moonquill in the \"cellar\"", Note: "Two crops.", Made: "2026-11-25", Species: "lettuce", Cultivar: "Moonquill", Tendency: underlamp.Prone, Type: underlamp.Romaine, Bench: "tier-1-top.yaml",
		Cycles: []underlamp.LearnedCycle{{Name: "Summer", Bench: "tier-1-top.yaml", Transplanted: "2026-07-20", Harvested: "2026-08-21", Plants: 6, Weighings: 24, Burns: 6, Counts: 1}, {Name: "now", Transplanted: "2026-10-20", Heights: 3}},
		Factors: []underlamp.LearnedFactor{
			{Key: "vigour", Name: "growth in the same light", Prior: [3]float64{0.74, 1, 1.35}, After: [3]float64{0.77, 0.82, 0.87}, Narrowed: 0.62, Learned: true},
			{Key: "need", Name: "need of calcium", Prior: [3]float64{0.8, 1, 1.25}, After: [3]float64{1.2, 1.3956, 1.6}, Narrowed: -0.003},
		},
		Summary: headlearn.Summary{
			Method: 1, Keys: []string{"vigour", "need"}, Mean: []float64{math.Log(0.82), 1.0 / 3}, PriorSD: []float64{0.18, 0.12},
			Covariance: [][]float64{{0.0012345678901234567, -1e-5 / 3}, {-1e-5 / 3, 0.0143}}, Cycles: 2, Plants: 6, Data: 34, Seed: 1<<63 + 5,
		},
		Quality: underlamp.SamplingQuality{RHat: 1.0034, BulkESS: 812.5, TailESS: 700, Chains: 4, Draws: 2000},
	}
}

func written(t testing.TB, p *underlamp.Profile) string {
	t.Helper()
	var b bytes.Buffer
	if err := profilefile.Write(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// What was written is read back to the last digit.
func TestRoundTrip(t *testing.T) {
	p := sample()
	got, problems, err := profilefile.Read(strings.NewReader(written(t, p)))
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if d := cmp.Diff(p, got); d != "" {
		t.Error(d)
	}
}

// Whatever numbers a summary holds, they come back as they were.
func TestSummaryKeepsItsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := sample()
		p.Factors = nil
		n := rapid.IntRange(1, 6).Draw(t, "n")
		s := &p.Summary
		s.Keys, s.Mean, s.PriorSD, s.Covariance = nil, nil, nil, make([][]float64, n)
		for i := range n {
			s.Keys = append(s.Keys, fmt.Sprintf("p%d", i))
			s.Mean = append(s.Mean, rapid.Float64Range(-5, 5).Draw(t, "mean"))
			s.PriorSD = append(s.PriorSD, rapid.Float64Range(0, 5).Draw(t, "sd"))
			s.Covariance[i] = make([]float64, n)
			for j := range i + 1 {
				v := rapid.Float64Range(-3, 3).Draw(t, "cov")
				if i == j {
					v = math.Abs(v)
				}
				s.Covariance[i][j], s.Covariance[j][i] = v, v
			}
		}
		var b bytes.Buffer
		if err := profilefile.Write(&b, p); err != nil {
			t.Fatal(err)
		}
		got, problems, err := profilefile.Read(&b)
		if err != nil || got == nil {
			t.Fatal(err, problems)
		}
		if d := cmp.Diff(p.Summary, got.Summary); d != "" {
			t.Fatal(d)
		}
	})
}

// Each case replaces a part of a sound profile; the problem must stand in the line
// of that part.
func TestProblems(t *testing.T) {
	sound := written(t, sample())
	for name, c := range map[string]struct{ old, new, want string }{
		"later version":       {"underlamp profile: 1", "underlamp profile: 7", "version 7"},
		"no name":             {"name: \"Moonquill in", "nane: \"Moonquill in", "did you mean \"name\""},
		"no day":              {"made: 2026-11-25", "made: 2026-13-25", "no day of the calendar"},
		"tendency":            {"tendency: prone", "tendency: prone to it", "is not known here"},
		"R-hat in words":      {"rhat: 1.0034", "rhat: good", "does not fit"},
		"nothing learned of":  {"transplanted: 2026-10-20", "transplanted: soon", "no day of the calendar"},
		"mean of one":         {"mean: [", "mean: [1, ", "there are 3 numbers"},
		"mean is NaN":         {"mean: [", "mean: [.nan, 1] # ", "does not fit"},
		"mean is huge":        {"mean: [", "mean: [400, 1] # ", "does not fit"},
		"negative spread":     {"prior sd: [0.18", "prior sd: [-0.18", "does not fit"},
		"covariance by hand":  {"0.0143]", "-0.0143]", "variance of \"need\" is negative"},
		"crooked":             {"- [-3.3333333333333333e-06", "- [5", "written as two numbers"},
		"another factor":      {"key: \"need\"", "key: \"greed\"", "has no parameter \"greed\""},
		"factor by hand":      {"after: [0.77, 0.82", "after: [0.77, 1.82", "changed by hand"},
		"no seed":             {"seed: 9223372036854775813", "seed: -1", "does not fit"},
		"parameter twice":     {"\"vigour\", \"need\"]", "\"vigour\", \"vigour\"]", "named twice"},
		"too long an integer": {"weighings: 24", "weighings: 24000000000000000000", "does not fit"},
	} {
		t.Run(name, func(t *testing.T) {
			if strings.Count(sound, c.old) != 1 {
				t.Fatalf("%q stands %d times in the sample:\n%s", c.old, strings.Count(sound, c.old), sound)
			}
			line := strings.Count(sound[:strings.Index(sound, c.old)], "\n") + 1
			p, problems, err := profilefile.Read(strings.NewReader(strings.Replace(sound, c.old, c.new, 1)))
			if err != nil || p != nil {
				t.Fatalf("read %v, %v", p != nil, err)
			}
			for _, x := range problems {
				if x.Line == line && strings.Contains(x.String(), c.want) {
					return
				}
			}
			t.Errorf("want %q in line %d, got\n%v", c.want, line, problems)
		})
	}
	for _, text := range []string{"", "underlamp: 1\n", "underlamp profile: 1\n", "[]", "\x00"} {
		if p, problems, err := profilefile.Read(strings.NewReader(text)); err != nil || p != nil || len(problems) == 0 {
			t.Errorf("%q gives %v, %v, %v", text, p, problems, err)
		}
	}
	if _, _, err := profilefile.Read(strings.NewReader(strings.Repeat("#", 2<<20))); err == nil {
		t.Error("two MiB are read")
	}
}

// What is read writes back the same, and no text ends the program.
func FuzzRead(f *testing.F) {
	f.Add(written(f, sample()))
	f.Add("underlamp profile: 1\nsummary: {keys: [a], mean: [1e3], covariance: [[1]]}\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, problems, err := profilefile.Read(strings.NewReader(text))
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), p != nil, problems)
		if p == nil {
			return
		}
		again, problems, err := profilefile.Read(strings.NewReader(written(t, p)))
		if err != nil || again == nil {
			t.Fatalf("%v %v", err, problems)
		}
		if d := cmp.Diff(p, again, cmpopts.EquateEmpty()); d != "" {
			t.Fatal(d)
		}
	})
}

// The name of a profile makes the name of its file.
func Example() {
	fmt.Println(profilefile.FileName(sample()))
	// Output: moonquill-in-the-cellar.profile.yaml
}
