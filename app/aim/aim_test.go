package aim_test

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/aim"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
)

func read(t testing.TB, text string) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.Read(strings.NewReader(text))
	if err != nil || problems.HasErrors() {
		t.Fatalf("%v %v", err, problems)
	}
	return b
}

func model(t testing.TB, name string) *light.Model {
	t.Helper()
	m, err := light.NewModel(read(t, string(bytes.TrimSpace(demo.File(name)))))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func show(r *aim.Result) {
	p := func(x *aim.Proposal) string {
		return fmt.Sprintf("%.2f m %v %g h lowest %.0f mean %.0f top %.0f uneven %.3f within %d under %.2f %.1f W %.2f kWh %.2f %v exact %v", x.Height, aim.DimTexts(x), float64(x.Hours), x.Lowest, x.Mean, x.Top, x.Uneven, x.Within, float64(x.Under), x.Power, x.Day, x.Money, x.Light, x.Exact)
	}
	fmt.Println("before", p(&r.Before))
	fmt.Println("after ", r.Found, p(&r.After))
	for i := range r.RunnerUps {
		fmt.Println("next  ", p(&r.RunnerUps[i]))
	}
	for i := range r.Curve {
		fmt.Println("curve ", p(&r.Curve[i]))
	}
	for _, l := range append(r.Limits, r.Notes...) {
		fmt.Println("-", l)
	}
	fmt.Println(r.Searched)
}

func TestTry(t *testing.T) {
	m := model(t, "tier-1-top.yaml")
	for _, a := range []aim.Ask{{PPFD: 200}, {PPFD: 200, Goal: aim.MostEven}, {PPFD: 200, Goal: aim.MostWithin}, {DLI: 14, Mean: true}, {PPFD: 450}} {
		r, err := aim.Reach(context.Background(), m, a, nil)
		if err != nil {
			t.Error(err)
			continue
		}
		show(r)
	}
	x, err := aim.Match(context.Background(), aim.MatchAsk{A: aim.Side{Model: m}, B: aim.Side{Model: model(t, "tier-2-middle.yaml")}})
	fmt.Printf("%+v %v\n", x, err)
	y, err := aim.Raise(context.Background(), m, aim.RaiseAsk{})
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println(y.Target, y.Moves, y.Limits, y.Out)
	for _, d := range y.Days {
		fmt.Printf("%+v\n", d)
	}
}
