package feedfile_test

import (
	"math"
	"strings"
	"testing"

	"underlamp/formats/feedfile"
	"underlamp/internal/marked"
	"underlamp/science/nutrients"
)

const document = "../../docs/formats/feed.md"

func TestKeysAreDocumented(t *testing.T) { marked.Documented(t, document, feedfile.Keys()) }

func TestExample(t *testing.T) {
	p, problems, err := feedfile.Read(strings.NewReader(marked.Example(t, document)))
	if err != nil || p == nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-3*math.Abs(want) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	near("calcium of the target", p.Target.Ions[nutrients.Calcium], 0.9*2.25)
	near("calcium of the water", p.Water.Ions[nutrients.Calcium], 38/40.078)
	near("sulfur of the water", p.Water.Ions[nutrients.Sulfur], 24/96.056)
	near("limit of sodium", p.Target.Most[nutrients.Sodium], 50/22.990)
	near("density of the acid", p.Cupboard[7].Density, 1.2329) // Laliberte2009
	near("boron on the label", p.Cupboard[6].Label[nutrients.Boron], 0.025)
	near("price", p.Cupboard[0].Price, 1.1)
	if len(p.Log) != 3 || !p.Log[0].New || p.Log[1].Added[7] != 8 || !p.Log[2].Knows[nutrients.Potassium] || p.Log[1].Knows[nutrients.Potassium] {
		t.Errorf("log %+v", p.Log)
	}
	if p.Stock == nil || p.Stock.Factor != 100 || p.Litres.Value != 120 || p.Currency != "EUR" {
		t.Errorf("%+v", p)
	}
}

// Ways to write one thing agree.
func TestForms(t *testing.T) {
	read := func(water string) nutrients.Solution {
		t.Helper()
		p, problems, err := feedfile.Read(strings.NewReader("underlamp feed: 1\ntarget: {ca: 90 mg/L}\nwater: {" + water + "}\ncupboard: [{product: KNO3}]\n"))
		if err != nil || p == nil {
			t.Fatal(water, problems, err)
		}
		return p.Water
	}
	for _, pair := range [][2]string{ // computed by hand from atomic weights
		{"no3: 62.004 mg/L, alkalinity: -1 meq/L", "no3-n: 14.007 mg/L, alkalinity: -1 meq/L"},
		{"po4: 94.970 mg/L, alkalinity: -1 meq/L", "p: 1 mmol/L, alkalinity: -1 meq/L"},
		{"k2o: 47.0975 mg/L, alkalinity: 50.043 mg/L CaCO3", "k: 39.098 mg/L, alkalinity: 61.016 mg/L HCO3"},
		{"cao: 28.0385 mg/L, alkalinity: 2.8039 °dH", "ca: 500 µmol/L, alkalinity: 1 meq/L"},
	} {
		a, b := read(pair[0]), read(pair[1])
		for i := range nutrients.Ions {
			if math.Abs(a.Ions[i]-b.Ions[i]) > 1e-4 {
				t.Errorf("%s and %s: %s %v and %v", pair[0], pair[1], i, a.Ions[i], b.Ions[i])
			}
		}
		if math.Abs(a.Alkalinity-b.Alkalinity) > 1e-4 {
			t.Errorf("%s and %s: alkalinity %v and %v", pair[0], pair[1], a.Alkalinity, b.Alkalinity)
		}
	}
}

func TestProblems(t *testing.T) {
	head := "underlamp feed: 1\n"
	whole := head + "target: {ca: 90 mg/L}\ncupboard: [{product: KNO3}]\n"
	for _, c := range []struct {
		text string
		want []string
	}{
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - product: «calcium nitrate\n", []string{"several calcium nitrates|tetrahydrate|15.5-0-0"}},
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - product: «zinc sulfate\n", []string{"two zinc sulfates"}},
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - product: «iron chelate\n", []string{"several iron chelates"}},
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - «product: iron DTPA\n", []string{"share of metal|missing"}},
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - «product: nitric acid\n", []string{"the strength of the acid is missing"}},
		{head + "target: {ca: 90 mg/L}\ncupboard:\n  - {product: nitric acid, strength: 38 %, density: «1.6 kg/L}\n", []string{"one of the two figures is wrong"}},
		{head + "target: {ca: «90 mS/cm}\ncupboard: [{product: KNO3}]\n", []string{"conductivity"}},
		{head + "target: {ca: 90 mg/L}\nwater: «{ca: 40 mg/L}\ncupboard: [{product: KNO3}]\n", []string{"does not say the alkalinity"}},
		{head + "target: {no3-n: 90 mg/L, no3: «90 mg/L}\ncupboard: [{product: KNO3}]\n", []string{"in another form already"}},
		{head + "target: {strength: «50 %, ca: 90 mg/L}\ncupboard: [{product: KNO3}]\n", []string{"a strength is of a recipe"}},
		{head + "target: {recipe: «Hogland}\ncupboard: [{product: KNO3}]\n", []string{"no recipe is called"}},
		{whole + "mix: «cheapest\n", []string{"has no price"}},
		{whole + "log:\n  - {date: 2026-11-26, ec: «900 ppm}\n", []string{"ppm"}},
		{whole + "log:\n  - «{date: 2026-11-26}\n", []string{"says nothing"}},
		{whole + "log:\n  - {date: 2026-11-26, added: [{product: «salt, amount: 3 g}]}\n", []string{"the cupboard has no \"salt\""}},
	} {
		text, places := marked.Unmark(c.text)
		_, problems, err := feedfile.Read(strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		marked.Problems(t, problems, places, c.want)
		if t.Failed() {
			t.Fatal(text)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(marked.Example(f, document))
	f.Add("underlamp feed: 1\ntarget: {no3: 1e9 mg/L}\ncupboard: [{formula: ((((Ca)9)9)9)9}]\n")
	f.Add("underlamp feed: 1\ntarget: {recipe: Hoagland 2, strength: 50 %}\ncupboard: [{name: x, label: {p2o5: 99 %, k2o: 1 %}}, {product: KOH}]\nlog: [{date: 2026-01-01, new: yes}]\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, problems, err := feedfile.Read(strings.NewReader(text))
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), p != nil, problems)
		if p == nil || len(p.Cupboard) > 20 || len(p.Log) > 10 {
			return
		}
		m := p.Problem().Solve()
		for k, a := range m.Amount {
			if !(a >= 0) || math.IsInf(a, 0) {
				t.Fatalf("amount %v of %s", a, p.Cupboard[k].Name)
			}
		}
		made := feedfile.Made(p)
		if v := float64(made.EC.Value); math.IsNaN(v) || v < 0 {
			t.Fatalf("EC %v", v)
		}
	})
}
