package learn_test

import (
	"bytes"
	"context"
	"math"
	"testing"

	"underlamp"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
)

// A cycle that was run as planned has one forecast and the electricity of the plan; one that was
// changed has two, and the electricity of each stretch by hand.
func TestCompare(t *testing.T) {
	bench, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	m, err := light.NewModel(bench)
	if err != nil {
		t.Fatal(err)
	}
	read := func(text string) *underlamp.Cycle {
		t.Helper()
		c, problems, err := cyclefile.Read(bytes.NewReader([]byte(text)), bench)
		if err != nil || c == nil {
			t.Fatal(err, problems)
		}
		return c
	}
	const head = "underlamp cycle: 1\nbench: tier-2-middle.yaml\ntransplanted: 2026-08-31\nharvested: 2026-09-20\n"
	const seen = "observations:\n  - {date: 2026-09-20, plant: P8, mass: 200 g, burn: none}\n  - {date: 2026-09-20, plant: P1, mass: 90 g, burn: some}\n"
	ctx := context.Background()
	same, err := learn.Compare(ctx, m, read(head+seen), 60)
	if err != nil {
		t.Fatal(err)
	}
	// Two panels of 65 W at 70 % for 16 h a day on 20 days.
	const day = 2 * 65 * 16 / 1000.0
	if got := float64(same.RunKWh); math.Abs(got-20*0.7*day) > 1e-9 || same.RunKWh != same.PlannedKWh {
		t.Errorf("%v kWh as run, %v as planned; want %v", same.RunKWh, same.PlannedKWh, 20*0.7*day)
	}
	x, ok := same.Final()
	if !ok || x.Day != 20 || x.Of != 2 || x.Mass != 145 || x.Run != x.Planned {
		t.Errorf("the last weighing is %+v", x)
	}
	if b := same.Burn; b == nil || b.Burnt != 1 || b.Of != 2 || b.Day != 20 {
		t.Errorf("burn is %+v", b)
	}
	if len(same.Course) != 20 || same.Course[19].Run.Mid <= same.Course[0].Run.Mid {
		t.Error("the course does not grow over 20 days")
	}
	// The mean of two plants lies between them, and the bright one is forecast heavier.
	by := map[string]learn.Weighing{}
	for _, w := range same.Weighings {
		by[w.Plant] = w
	}
	if !(by["P8"].Run.Mid > x.Run.Mid && x.Run.Mid > by["P1"].Run.Mid) {
		t.Errorf("P8 %v, both %v, P1 %v", by["P8"].Run, x.Run, by["P1"].Run)
	}
	if by["P8"].Inside() != (200 >= by["P8"].Run.Low && 200 <= by["P8"].Run.High) {
		t.Error("inside is not inside")
	}

	turned, err := learn.Compare(ctx, m, read(head+"changes:\n  - {date: 2026-09-10, dimming: 35 %}\n"+seen), 60)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := float64(turned.RunKWh), (10*0.7+10*0.35)*day; math.Abs(got-want) > 1e-9 {
		t.Errorf("%v kWh with the lamps turned down, want %v", got, want)
	}
	y, _ := turned.Final()
	if y.Planned != x.Planned || !(y.Run.Mid < y.Planned.Mid) {
		t.Errorf("turned down, %v as run and %v as planned", y.Run, y.Planned)
	}
	if d := turned.Begun.Lamps[0].Dimming.Value; math.Abs(float64(d)-0.7) > 1e-9 {
		t.Errorf("begun at %v", d)
	}

	// Of nothing after transplanting there is nothing to say.
	if _, err := learn.Compare(ctx, m, &underlamp.Cycle{Transplanted: "2026-08-31"}, 10); err == nil {
		t.Error("a cycle that tells nothing was compared")
	}
	// A forecast is not held against what it was made of.
	bench.Crop.Profile = &underlamp.Profile{Name: "mine", Cycles: []underlamp.LearnedCycle{{Transplanted: "2026-08-31"}}}
	defer func() { bench.Crop.Profile = nil }()
	if z, err := learn.Compare(ctx, m, read(head+seen), 60); err != nil || len(z.Notes) != 1 {
		t.Errorf("%v, notes %v", err, z)
	} else if f, _ := z.Final(); f.Run != x.Run {
		t.Error("the forecast is not that of plants as usual")
	}
}
