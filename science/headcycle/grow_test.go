package headcycle_test

import (
	"math"
	"testing"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// Growth alone, with a heart led through it afterwards, is the whole run, also
// through stages.
func TestGrowThenHeart(t *testing.T) {
	t.Parallel()
	tr := headcycle.Lettuce()
	moist, dry := usual(), usual()
	dry.DayRH, dry.CO2, dry.Hours = 0.5, 900, 14
	a, b := headcycle.Prepare(&tr, moist), headcycle.Prepare(&tr, dry)
	rising := headcycle.Profile{Spacing: 0.1, Levels: []float64{400, 450, 500}}
	stages := []headcycle.Stage{{Prepared: &a, Light: rising}, {FromDay: 12, Prepared: &b, Light: headcycle.Flat(480)}}
	const days = 33
	whole := headcycle.Follow(&tr, stages, start, days, nil, nil)

	course := make([]headcycle.Grown, days)
	headcycle.Grow(&tr, stages, start, course)
	heart := calcium.NewHeart()
	for d, g := range course {
		pre := &a
		if d >= 12 {
			pre = &b
		}
		c := pre.Heart(&tr.Heart)
		heart.Day(&tr.Heart, &c, g.Fresh, g.Laid, g.AreaFactor)
	}
	last := course[days-1]
	if last.Fresh != whole.Last.Fresh || last.Dry != whole.Last.Dry || last.Height != whole.Last.Height {
		t.Errorf("growth alone %+v, whole run %+v", last, whole.Last)
	}
	if day, ok := heart.BurnDay(); ok != !math.IsInf(whole.BurnDay, 1) || ok && day != whole.BurnDay || heart.BurntShare() != whole.Burnt {
		t.Errorf("heart led afterwards burns on day %g (%v), %g of leaves; whole run day %g, %g", day, ok, heart.BurntShare(), whole.BurnDay, whole.Burnt)
	}
	if whole.Burnt == 0 {
		t.Error("the case does not burn, so it holds nothing")
	}
}

// A stage that changes nothing changes nothing; one from the first day on counts alone.
func TestStages(t *testing.T) {
	t.Parallel()
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usual())
	one := headcycle.Run(&tr, &pre, headcycle.Flat(250), start, 30, nil, nil)
	same := headcycle.Stage{Prepared: &pre, Light: headcycle.Flat(250)}
	later := same
	later.FromDay = 10
	if two := headcycle.Follow(&tr, []headcycle.Stage{same, later}, start, 30, nil, nil); two != one {
		t.Errorf("two equal stages %+v, one %+v", two, one)
	}
	dim := headcycle.Stage{Prepared: &pre, Light: headcycle.Flat(100)}
	if two := headcycle.Follow(&tr, []headcycle.Stage{dim, same}, start, 30, nil, nil); two != one {
		t.Errorf("a stage that never held changed the outcome: %+v, %+v", two, one)
	}
	for name, stages := range map[string][]headcycle.Stage{"none": nil, "late": {later}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("stages %s did not panic", name)
				}
			}()
			headcycle.Grow(&tr, stages, start, make([]headcycle.Grown, 3))
		}()
	}
}

func BenchmarkGrow35Days(b *testing.B) {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usual())
	stages := []headcycle.Stage{{Prepared: &pre, Light: headcycle.Flat(250)}}
	course := make([]headcycle.Grown, 35)
	b.ReportAllocs()
	for b.Loop() {
		headcycle.Grow(&tr, stages, start, course)
	}
}

func BenchmarkHeart35Days(b *testing.B) {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usual())
	course := make([]headcycle.Grown, 35)
	headcycle.Grow(&tr, []headcycle.Stage{{Prepared: &pre, Light: headcycle.Flat(350)}}, start, course)
	b.ReportAllocs()
	for b.Loop() {
		c := pre.Heart(&tr.Heart)
		heart := calcium.NewHeart()
		for i := range course {
			heart.Day(&tr.Heart, &c, course[i].Fresh, course[i].Laid, course[i].AreaFactor)
		}
	}
}
