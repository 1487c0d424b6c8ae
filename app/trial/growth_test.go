package trial_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/science/quantity"
	"underlamp/science/stat/growth"
)

// grownTable makes a trial of a table of repeated measurements: who, day and size are
// columns; unit and treatment of a row by functions; days count from a day of the calendar.
func grownTable(t *testing.T, file, who, day, size string, layout underlamp.TrialLayout, of func(map[string]string) underlamp.TrialUnit) (*underlamp.Trial, []underlamp.TrialEntry) {
	t.Helper()
	in, err := os.Open("../../science/stat/testdata/data/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	tr := &underlamp.Trial{Name: file, Layout: layout, Response: underlamp.ResponseMass, Seed: 1}
	var entries []underlamp.TrialEntry
	for i, row := range rows[1:] {
		r := map[string]string{}
		for j, h := range rows[0] {
			r[h] = row[j]
		}
		u := of(r)
		if !slices.ContainsFunc(tr.Places, func(x underlamp.TrialUnit) bool { return x.Name == u.Name }) {
			tr.Places = append(tr.Places, u)
		}
		if !slices.ContainsFunc(tr.Treatments, func(x underlamp.Treatment) bool { return x.Name == u.Treatment }) {
			tr.Treatments = append(tr.Treatments, underlamp.Treatment{Name: u.Treatment})
		}
		d, _ := strconv.Atoi(r[day])
		v, err := strconv.ParseFloat(r[size], 64)
		if err != nil {
			t.Fatal(err)
		}
		entries = append(entries, underlamp.TrialEntry{ID: fmt.Sprint(i), TrialUnit: u.Name, Plant: r[who], What: underlamp.ResponseMass, Value: v,
			Time: time.Date(2001, 1, 1+d, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)})
	}
	slices.SortFunc(tr.Treatments, func(a, b underlamp.Treatment) int { return strings.Compare(a.Name, b.Name) })
	return tr, entries
}

// reference reads numbers of a case of science/stat/testdata.
func reference(t *testing.T, name string) map[string]any {
	t.Helper()
	text, err := os.ReadFile("../../science/stat/testdata/results/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Results map[string]any `json:"results"`
	}
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	return c.Results
}

// Chicks as units, diets as treatments: relative growth rates and their differences are
// those of R on the same table (case growth-chick-rgr: lm by animal, Tukey and Kramer).
func TestGrowthRatesAgainstR(t *testing.T) {
	tr, e := grownTable(t, "ChickWeight.csv", "Chick", "Time", "weight", underlamp.CompleteLayout, func(r map[string]string) underlamp.TrialUnit {
		return underlamp.TrialUnit{Name: "c" + r["Chick"], Treatment: r["Diet"]}
	})
	f, err := trial.Find(tr, e)
	if err != nil {
		t.Fatal(err)
	}
	noNaN(t, "chicks", f)
	tukey := reference(t, "growth-chick-rgr")["tukey"].(map[string]any)["table"].(map[string]any)
	for i, pair := range tukey["comparison"].([]any) {
		g := figure(t, f, "relative growth rate, "+strings.Replace(pair.(string), "-", "−", 1))
		for what, x := range map[string]float64{"estimate": g.Value, "lower": g.Band.Low, "upper": g.Band.High} {
			near(t, fmt.Sprint(pair, ", ", what), x, 100*tukey[what].([]any)[i].(float64), 1e-6)
		}
	}
}

// Plots in fields, varieties as treatments in years as blocks: rates and days to 8 g of
// each field are those of lm and nlme on the same table (case growth-soybean).
func TestGrowthCurvesAgainstR(t *testing.T) {
	tr, e := grownTable(t, "Soybean.csv", "Plot", "Time", "weight", underlamp.BlocksLayout, func(r map[string]string) underlamp.TrialUnit {
		return underlamp.TrialUnit{Name: r["Variety"] + " " + r["Year"], Treatment: r["Variety"], Block: r["Year"]}
	})
	tr.TargetMass = underlamp.Said(quantity.Gram(8))
	f, err := trial.Find(tr, e)
	if err != nil {
		t.Fatal(err)
	}
	noNaN(t, "soybean", f)
	c := reference(t, "growth-soybean")
	days := c["days_to_8"].(map[string]any)
	g := f.Growth[0]
	begin := map[string]float64{}
	for _, x := range e {
		d, _ := time.Parse(time.DateOnly, x.Time)
		y := x.TrialUnit[2:]
		if n := d.Sub(time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24; begin[y] == 0 || n < begin[y] {
			begin[y] = n
		}
	}
	for i, name := range c["fields"].([]any) {
		k := slices.IndexFunc(g.Units, func(u trial.GrownUnit) bool { return u.Name == name })
		near(t, fmt.Sprint("days of ", name), g.Units[k].Time.Value+begin[name.(string)[2:]], days["days"].([]any)[i].(float64), 1e-4)
		near(t, fmt.Sprint("rate of ", name), g.Units[k].Rate, c["rates_by_field"].(map[string]any)["rates"].([]any)[i].(float64), 1e-9)
	}
	near(t, "P − F", figure(t, f, "days to 8 g, P − F").Value, days["P_minus_F"].(float64), 1e-4)
	if says := strings.Join(f.Parts[len(f.Parts)-1].Says, " "); strings.Contains(says, "p = ") {
		t.Errorf("two degrees of freedom are tested: %s", says)
	}
}

func growthSays(f *trial.Findings) string {
	for _, p := range f.Parts {
		if strings.HasPrefix(p.Title, "Growth") {
			return strings.Join(p.Says, " ")
		}
	}
	return ""
}

// The invented trial was made with heads under red and blue that take longer; a plant that
// broke early is in the curves and not in the comparison of the last looks.
func TestDemoGrowth(t *testing.T) {
	tr, e := demoTrial(t, "lamp-colours")
	f, err := trial.Find(tr, e)
	if err != nil {
		t.Fatal(err)
	}
	noNaN(t, "demo", f)
	if g := figure(t, f, "days to 120 g, red and blue − white"); g.Band == nil || g.Band.Low <= 0 {
		t.Errorf("%+v", g)
	}
	if g := f.Growth[0]; g.Curves.Form.String() != "Gompertz" || len(g.Plants) != 60 || len(g.Days) != 7 || !g.Again {
		t.Errorf("%s, %d plants, %v", g.Curves.Form, len(g.Plants), g.Days)
	}
	for _, u := range f.Units {
		if n := map[bool]int{true: 5, false: 6}[u.Name == "C3-L2"]; u.N != n {
			t.Errorf("%s counts %d plants", u.Name, u.N)
		}
	}
	if !strings.Contains(strings.Join(f.Notes, " "), "1 plant was last seen") {
		t.Error(f.Notes)
	}
	if !strings.Contains(growthSays(f), "after Holm") {
		t.Error(growthSays(f))
	}
	a, _ := json.Marshal(f.Figures())
	again, _ := trial.Find(tr, e)
	if b, _ := json.Marshal(again.Figures()); !bytes.Equal(a, b) {
		t.Error("a second look gives other figures")
	}
}

// A plant that was lost early has only fast days; it must not lift the rate of its unit.
func TestLostPlantLeavesTheRateAlone(t *testing.T) {
	rate := func(keep bool) float64 {
		tr, e := demoTrial(t, "lamp-colours")
		if !keep {
			e = slices.DeleteFunc(e, func(x underlamp.TrialEntry) bool { return x.TrialUnit == "C3-L2" && x.Plant == "P4" })
		}
		f, err := trial.Find(tr, e)
		if err != nil {
			t.Fatal(err)
		}
		return f.Growth[0].Units[slices.IndexFunc(f.Growth[0].Units, func(u trial.GrownUnit) bool { return u.Name == "C3-L2" })].Rate
	}
	if with, without := rate(true), rate(false); with != without {
		t.Errorf("%g with the plant, %g without", with, without)
	}
}

// What the looks cannot tell is said, and nothing is NaN.
func TestOddGrowth(t *testing.T) {
	for _, x := range []struct {
		name string
		do   func(tr *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry
		want string // part of what is said; "": no part on growth
	}{
		{"once each", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			last := map[string]string{}
			for _, x := range e {
				last[x.TrialUnit] = max(last[x.TrialUnit], x.Time)
			}
			return slices.DeleteFunc(e, func(x underlamp.TrialEntry) bool { return x.Time != last[x.TrialUnit] })
		}, ""},
		{"harvests", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			n := map[string]int{}
			for i := range e {
				n[e[i].TrialUnit]++
				e[i].Plant = fmt.Sprint(n[e[i].TrialUnit])
			}
			return e
		}, "Each plant was measured once"},
		{"two looks", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			seen := map[string][]string{}
			return slices.DeleteFunc(e, func(x underlamp.TrialEntry) bool {
				s := seen[x.TrialUnit]
				if !slices.Contains(s, x.Time) {
					seen[x.TrialUnit] = append(s, x.Time)
				}
				k := slices.Index(seen[x.TrialUnit], x.Time)
				return k != 1 && k != 4
			})
		}, "look three times or more"},
		{"not bent", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			begin := map[string]time.Time{}
			for i := range e {
				d, _ := time.Parse(time.DateOnly, e[i].Time)
				b, ok := begin[e[i].TrialUnit]
				if !ok {
					begin[e[i].TrialUnit], b = d, d
				}
				noise := math.Sin(float64(i*i)) * 0.05
				e[i].Value = 4 * math.Exp(0.08*d.Sub(b).Hours()/24+noise)
			}
			return e
		}, "growth is taken as exponential"},
		{"zeros", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for i := range e {
				if i < 30 {
					e[i].Value = 0
				}
			}
			return e
		}, "values are not above 0"},
		{"shrinking", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for i := range e {
				e[i].Value = 1000 / (1 + e[i].Value)
			}
			return e
		}, "no curve of growth is fitted"},
		{"all alike", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for i := range e {
				e[i].Value = 7
			}
			return e
		}, "changed by 0.00 % a day"},
		{"out of reach", func(tr *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			tr.TargetMass = underlamp.Said(quantity.Gram(900))
			return e
		}, "900 g does not lie between"},
		{"no target", func(tr *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			tr.TargetMass = underlamp.Given[quantity.Gram]{}
			return e
		}, "The plan names no target mass"},
		{"a head start", func(tr *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			of := map[string]string{}
			for _, u := range tr.Places {
				of[u.Name] = u.Treatment
			}
			for i := range e {
				if of[e[i].TrialUnit] == "white" {
					e[i].Value *= 1.3
				}
			}
			return e
		}, "did not begin alike"},
		{"one plant a unit", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			return slices.DeleteFunc(e, func(x underlamp.TrialEntry) bool { return x.Plant != "P1" })
		}, "reached 120 g"},
		{"one unit each", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			return slices.DeleteFunc(e, func(x underlamp.TrialEntry) bool { return !strings.HasPrefix(x.TrialUnit, "C1") })
		}, "lamp and treatment cannot be told apart"},
		{"heights", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for _, x := range slices.Clone(e) {
				if x.Missing == "" {
					x.What, x.Value = underlamp.ResponseHeight, 3+x.Value/20
					e = append(e, x)
				}
			}
			return e
		}, "reached 120 g"},
		{"a check", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for i := range e { // a stay in the middle, which no form has
				if e[i].Value > 30 && e[i].Value < 110 {
					e[i].Value = 35
				}
			}
			return e
		}, "do not follow the plants well"},
		{"dates gone", func(_ *underlamp.Trial, e []underlamp.TrialEntry) []underlamp.TrialEntry {
			for i := range e {
				e[i].Time = ""
			}
			return e
		}, ""},
	} {
		tr, e := demoTrial(t, "lamp-colours")
		f, err := trial.Find(tr, x.do(tr, e))
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		noNaN(t, x.name, f)
		says := growthSays(f)
		if (x.want == "") != (says == "") || !strings.Contains(says, x.want) {
			t.Errorf("%s: says %q", x.name, says)
		}
		t.Logf("%s: %s", x.name, says)
	}
}

// nothing makes a trial in which the treatments are alike: lamps differ, plants differ
// within them.
func nothing(rng *rand.Rand, lamps, plants int, looks []int) (*underlamp.Trial, []underlamp.TrialEntry) {
	tr := &underlamp.Trial{Name: "alike", Layout: underlamp.CompleteLayout, Response: underlamp.ResponseMass, Seed: 1, TargetMass: underlamp.Said(quantity.Gram(60)),
		Treatments: []underlamp.Treatment{{Name: "a"}, {Name: "b"}}}
	var entries []underlamp.TrialEntry
	for u := range 2 * lamps {
		name := fmt.Sprintf("u%d", u)
		tr.Places = append(tr.Places, underlamp.TrialUnit{Name: name, Treatment: tr.Treatments[u%2].Name})
		lamp := 0.06 * rng.NormFloat64()
		for p := range plants {
			a := math.Log(200) + lamp + 0.08*rng.NormFloat64()
			for _, d := range looks {
				v := math.Exp(a - math.Exp((15-float64(d))/9) + 0.04*rng.NormFloat64())
				entries = append(entries, underlamp.TrialEntry{ID: fmt.Sprint(len(entries)), TrialUnit: name, Plant: fmt.Sprint(p), What: underlamp.ResponseMass, Value: v,
					Time: time.Date(2026, 3, 1+d, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)})
			}
		}
	}
	return tr, entries
}

// Where treatments are alike, limits of their difference leave out 0 in about one trial of
// twenty if units are the repeats, and far more often if plants are taken for them.
func TestGrowthErrorOfTheFirstKind(t *testing.T) {
	if testing.Short() {
		t.Skip("many trials")
	}
	const n = 150
	rng := rand.New(rand.NewPCG(21, 22))
	units, plants := 0, 0
	for range n {
		tr, e := nothing(rng, 3, 6, []int{0, 6, 12, 18, 24, 30})
		f, err := trial.Find(tr, e)
		if err != nil {
			t.Fatal(err)
		}
		if g := figure(t, f, "days to 60 g, b − a"); g.Band.Low > 0 || g.Band.High < 0 {
			units++
		}
		var all []growth.Subject
		for _, p := range f.Growth[0].Plants {
			all = append(all, growth.Subject{Curve: int(p.Treatment[0] - 'a'), Unit: len(all), T: p.Days, Sizes: p.Sizes})
		}
		m, err := growth.FitMany(growth.Model{Form: growth.Gompertz}, all, growth.Random{Of: []bool{true}}, growth.Random{})
		if err != nil {
			t.Fatal(err)
		}
		a, _ := m.TimeTo(0, 60, 0.95)
		b, _ := m.TimeTo(1, 60, 0.95)
		if math.Abs(b.Value-a.Value) > 2*math.Hypot(a.SE, b.SE) {
			plants++
		}
	}
	u, p := float64(units)/n, float64(plants)/n
	t.Logf("units: %.3f, plants: %.3f", u, p)
	if math.Abs(u-0.05) > 3*math.Sqrt(0.05*0.95/n) {
		t.Errorf("units as repeats: %.3f for 0.05", u)
	}
	if p < 0.15 {
		t.Errorf("plants as repeats: %.3f; a simulation that does not show the difference tests nothing", p)
	}
}

func BenchmarkGrowth(b *testing.B) {
	tr, e := nothing(rand.New(rand.NewPCG(1, 2)), 20, 50, []int{0, 4, 8, 12, 16, 20, 24, 28})
	b.ReportAllocs()
	for range b.N {
		if _, err := trial.Find(tr, e); err != nil {
			b.Fatal(err)
		}
	}
}
