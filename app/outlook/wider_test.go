package outlook

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// turnable lets the air, the stand and the harvest of a demo bench be turned.
func turnable(b *underlamp.Bench) {
	b.Limits.Fan = &underlamp.Range[quantity.MetrePerSecond]{Low: 0.1, High: 0.6}
	b.Limits.NightHumidity = &underlamp.Range[quantity.Fraction]{Low: 0.7, High: 0.92}
	b.Limits.Density = &underlamp.Range[float64]{Low: 16, High: 36}
	b.Limits.Harvest = &underlamp.Range[int]{Low: 26, High: 42}
}

func wider(t testing.TB, o *Outlook, opt WiderOptions) *Wider {
	t.Helper()
	w, err := o.Wider(context.Background(), opt)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// On a small problem, dimming and air speed over a grid and nothing else, the climb
// finds what trying every plan finds, within one part in a hundred.
func TestClimbAgainstEveryPlan(t *testing.T) {
	t.Parallel()
	for _, limit := range []float64{0.05, 0.3} {
		o := prepared(t, "tier-1-top.yaml", 100, func(b *underlamp.Bench) {
			turnable(b)
			now := b.Setting()
			b.Limits.MinHeight.Value, b.Limits.MaxHeight.Value = now.Height, now.Height
			b.Limits.MinHours.Value, b.Limits.MaxHours.Value = now.Hours, now.Hours
			b.Limits.Fan.High = 0.2
			b.Limits.NightHumidity, b.Limits.Density = nil, nil
		})
		s, err := newSearcher(t.Context(), o, PerKWh, 40, false)
		if err != nil {
			t.Fatal(err)
		}
		ks := o.knobs()
		var every result
		for dim := 0.30; dim < 1.001; dim += 0.05 {
			for speed := 0.1; speed < 0.201; speed += 0.05 {
				p := o.PlanNow()
				ks[0].set(&p, onGrid(dim, ks[0].lo, ks[0].hi, ks[0].step))
				ks[3].set(&p, onGrid(speed, ks[3].lo, ks[3].hi, ks[3].step))
				if r := s.try(p, limit); every.draws == nil || better(r, every, limit) {
					every = r
				}
			}
		}
		got := s.climb(context.Background(), o.PlanNow(), limit, ks, 0.25)
		if violation(got, limit) > violation(every, limit) || got.value < 0.99*every.value {
			t.Errorf("limit %g: the climb finds %.2f (%+v), every plan %.2f (%+v)", limit, got.value, got.plan, every.value, every.plan)
		}
	}
}

// What the search promises holds with all draws; what it turns lies within the
// limits; the frontier rises; it does not depend on the number of processors.
func TestWiderKeepsItsPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("two searches; go test without -short runs it")
	}
	o := prepared(t, "tier-1-top.yaml", 150, turnable)
	before := runtime.GOMAXPROCS(1)
	w := wider(t, o, WiderOptions{Goal: PerArea, Frontier: true, Ramps: true})
	runtime.GOMAXPROCS(max(before, 3))
	again := wider(t, o, WiderOptions{Goal: PerArea})
	runtime.GOMAXPROCS(before)
	for _, x := range []*Wider{w, again} {
		x.Now.Forecast, x.Best.Forecast = nil, nil
	}
	if !reflect.DeepEqual(w.Best, again.Best) || !reflect.DeepEqual(w.Changes, again.Changes) {
		t.Error("one and three processors find different answers")
	}
	if !w.Found || w.Best.Chance > w.Limit || w.Best.Sold < leastSold {
		t.Errorf("best %+v under a limit of %g", w.Best, w.Limit)
	}
	if w.Best.Value <= w.Now.Value {
		t.Errorf("best %g, now %g", w.Best.Value, w.Now.Value)
	}
	for _, k := range o.knobs() {
		if v := k.get(&w.Best.Plan); v < k.lo-1e-6 || v > k.hi+1e-6 {
			t.Errorf("%s is turned to %g, outside %g to %g", k.name, v, k.lo, k.hi)
		}
	}
	if d := w.Best.Plan.Days; d < 26 || d > 42 {
		t.Errorf("harvest on day %d", d)
	}
	for i := 1; i < len(w.Frontier); i++ {
		if w.Frontier[i].Value <= w.Frontier[i-1].Value || w.Frontier[i].Chance < w.Frontier[i-1].Chance {
			t.Errorf("the frontier does not rise at point %d", i)
		}
	}
	if c, ok := w.CheapestChange(); !ok || !c.Helps() {
		t.Errorf("no single change helps a bench that burns: %+v", w.Changes)
	}
	for _, r := range w.Ramps {
		for _, st := range r.Days {
			if st.Dimming < o.b.Limits.MinDim.Value-1e-9 || st.Dimming > o.b.Limits.MaxDim.Value+1e-9 || st.Day < 1 || st.Day > w.Best.Plan.Days {
				t.Errorf("%s: step %+v", r.Name, st)
			}
		}
	}
}

// The worth of a plan by each goal is that of its forecast, by hand.
func TestGoals(t *testing.T) {
	t.Parallel()
	o := prepared(t, "tier-2-middle.yaml", 100, func(b *underlamp.Bench) {
		b.Money.Sale = []underlamp.SaleStep{{From: 100, Amount: 1, Per: underlamp.PerHead}}
		b.Money.Costs = []underlamp.Cost{{For: "seed", Amount: 0.2, Per: underlamp.PerHead}}
	})
	now := o.PlanNow()
	for _, g := range Goals() {
		w, err := o.weigh(now, g)
		if err != nil {
			t.Fatal(err)
		}
		f := w.Forecast
		want := map[Goal]float64{PerKWh: f.Saleable / float64(f.Energy.KWh), PerDay: f.Saleable / 32, PerArea: f.Saleable / 32 / 0.72,
			Margin: (f.Sold*18*1 - 18*0.2 - f.Energy.Money) / 32 / 0.72}[g]
		if math.Abs(w.Value-want) > 1e-9*math.Abs(want)+1e-9 {
			t.Errorf("%s: %g, want %g", g.Name(), w.Value, want)
		}
	}
}

// Without prices there is no margin to seek; a search that is called off says so.
func TestWiderRefuses(t *testing.T) {
	t.Parallel()
	o := prepared(t, "tier-1-top.yaml", 50, nil)
	if _, err := o.Wider(context.Background(), WiderOptions{Goal: Margin}); !errors.Is(err, errNoPrice) {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := o.Wider(ctx, WiderOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func BenchmarkWider(b *testing.B) {
	o := prepared(b, "tier-1-top.yaml", 1000, turnable)
	b.ReportAllocs()
	for b.Loop() {
		wider(b, o, WiderOptions{Goal: PerKWh})
	}
}
