package learn

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

func testRoom(t *testing.T) *room {
	t.Helper()
	b, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return newRoom(m)
}

// The likelihood of a plant's residuals is that of a multivariate normal with the
// covariance diag(sd²) + v 11ᵀ: held against gonum's Cholesky factor.
func TestSeriesIsMultivariateNormal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		common := rapid.Float64Range(0.02, 0.5).Draw(t, "common")
		var s series
		cov := mat.NewSymDense(n, nil)
		x := mat.NewVecDense(n, nil)
		for i := range n {
			r, sd := rapid.Float64Range(-1, 1).Draw(t, "residual"), rapid.Float64Range(0.02, 0.5).Draw(t, "sd")
			s.add(r, sd)
			x.SetVec(i, r)
			for j := range i {
				cov.SetSym(i, j, common*common)
			}
			cov.SetSym(i, i, common*common+sd*sd)
		}
		var chol mat.Cholesky
		if !chol.Factorize(cov) {
			t.Fatal("no covariance")
		}
		var y mat.VecDense
		if err := chol.SolveVecTo(&y, x); err != nil {
			t.Fatal(err)
		}
		want := -(mat.Dot(x, &y) + chol.LogDet()) / 2
		if got := s.logLikelihood(common); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Fatalf("%g, want %g", got, want)
		}
	})
}

// The light of a day is that of the setting of that day: half the dimming from day 10
// is half the light from day 10, in every place, and other hours make another day.
func TestStagesFollowTheChanges(t *testing.T) {
	r := testRoom(t)
	now := float64(r.b.Setting().Dimming)
	half, hours, fan := underlamp.Said(quantity.Fraction(now/2)), underlamp.Said[quantity.Hours](12), underlamp.Said(underlamp.Down)
	c := &underlamp.Cycle{Changes: []underlamp.Change{{Day: 10, Dimming: &half}, {Day: 20, Hours: &hours, Fan: &fan}}}
	all, err := r.stages(c, 30)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 3 || all[0].from != 0 || all[1].from != 10 || all[2].from != 20 {
		t.Fatalf("%d stages", len(all))
	}
	for p := range r.b.Plants {
		for z, e := range all[0].light[p].Levels {
			if math.Abs(all[1].light[p].Levels[z]-e/2) > 1e-9*e || math.Abs(all[2].light[p].Levels[z]-e/2) > 1e-9*e {
				t.Fatalf("plant %d at level %d: %g, then %g and %g", p, z, e, all[1].light[p].Levels[z], all[2].light[p].Levels[z])
			}
		}
	}
	if all[1].env.Hours != 16 || all[2].env.Hours != 12 || all[2].env.HeartShare <= all[1].env.HeartShare {
		t.Errorf("environments %+v, %+v", all[1].env, all[2].env)
	}
	if known, _ := r.stages(c, 19); len(known) != 2 {
		t.Errorf("on day 19 there are %d stages", len(known))
	}
}

// A count loses the heads that were looked at one by one, as far as it is known
// whether they had burn on that day.
func TestCountsAreNotCountedTwice(t *testing.T) {
	burn := func(leaves int) *underlamp.Burn { return &underlamp.Burn{Leaves: leaves} }
	c := &underlamp.Cycle{Observations: []underlamp.Observation{
		{Day: 10, Plant: "P1", Burn: burn(2)}, // burnt by day 20
		{Day: 12, Plant: "P2", Burn: burn(0)}, // not known on day 20
		{Day: 20, Count: &underlamp.BurnCount{Burnt: 5, Of: 18}},
		{Day: 25, Plant: "P3", Burn: burn(0)}, // sound on day 20
		{Day: 25, Plant: "P4", Burn: burn(1)}, // not known on day 20
	}}
	_, n, ok := lastCount(known{c, 30})
	if !ok || n != (underlamp.BurnCount{Burnt: 4, Of: 16}) {
		t.Errorf("left %+v", n)
	}
	if _, n, _ := lastCount(known{c, 20}); n != (underlamp.BurnCount{Burnt: 4, Of: 17}) {
		t.Errorf("known on day 20: %+v", n)
	}
	if _, _, ok := lastCount(known{c, 19}); ok {
		t.Error("a count was known before it was made")
	}
}

// What somebody wrote becomes evidence with the day, the error and the bounds that it
// has; the mass at transplanting counts as such.
func TestAccount(t *testing.T) {
	r := testRoom(t)
	g := func(x quantity.Gram) *quantity.Gram { return &x }
	h := quantity.Metre(0.08)
	c := &underlamp.Cycle{Name: "x", Transplanted: "2026-08-10", Observations: []underlamp.Observation{
		{Day: 0, Plant: "P1", Mass: g(1.4)}, {Day: 0, Plant: "P2", Mass: g(1.6)},
		{Day: 14, Plant: "P5", Mass: g(30), MassError: 2, Height: &h},
		{Day: 14, Plant: "P2", Burn: &underlamp.Burn{Severity: 2, Scored: true}},
		{Day: 20, Plant: "P5", Burn: &underlamp.Burn{Leaves: 6}}, {Day: 20, Plant: "P2", Burn: &underlamp.Burn{Some: true}},
	}}
	a, err := r.account(whole([]*underlamp.Cycle{c}))
	if err != nil {
		t.Fatal(err)
	}
	e := a.evidence.Cycles[0]
	if math.Abs(e.Start.FreshGrams-1.5) > 1e-12 || e.StartSD != weighedStart || e.Days != 20 || len(e.Plants) != 2 || e.Plants[0].Name != "P2" {
		t.Fatalf("%+v", e)
	}
	p := e.Plants[1]
	if p.Weighings[0] != (headlearn.Weighing{Day: 14, FreshGrams: 30, ErrorGrams: 2}) || p.Heights[0].Metres != 0.08 {
		t.Errorf("%+v, %+v", p.Weighings, p.Heights)
	}
	if b := p.Burns[0]; b.Day != 20 || b.Low.Leaves != 4 || b.High.Leaves != 9.5 {
		t.Errorf("six leaves are %+v", b)
	}
	if b := e.Plants[0].Burns; b[0] != headlearn.Severity(14, 2) || b[1] != headlearn.Seen(20) {
		t.Errorf("%+v", b)
	}
	if n := a.learnedCycles()[0]; n.Weighings != 1 || n.Heights != 1 || n.Burns != 3 || n.Plants != 2 {
		t.Errorf("%+v", n)
	}
	if a, err := r.account([]known{{c, 13}}); err != nil || len(a.cycles) != 0 {
		t.Errorf("on day 13 something is known: %v, %v", a, err)
	}
}

// This bench has uneven light, so a count over it is left out, with a sentence.
func TestCountInUnevenLight(t *testing.T) {
	r := testRoom(t)
	c := &underlamp.Cycle{Name: "x", Transplanted: "2026-08-10", Observations: []underlamp.Observation{{Day: 20, Count: &underlamp.BurnCount{Burnt: 5, Of: 18}}}}
	a, err := r.account(whole([]*underlamp.Cycle{c}))
	if err != nil || len(a.cycles) != 0 || !slices.ContainsFunc(a.notes, func(s string) bool { return strings.Contains(s, "Note burn by plant") }) {
		t.Errorf("%v, %+v", err, a)
	}
}
