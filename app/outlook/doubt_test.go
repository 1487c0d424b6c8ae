package outlook

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"underlamp"
)

// doubts shares out the doubt of a bench changed by f.
func doubts(t *testing.T, f func(*underlamp.Bench)) *Doubts {
	t.Helper()
	d, err := prepared(t, "tier-1-top.yaml", 100, f).Doubts(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func item(t *testing.T, d *Doubts, name string) Doubt {
	t.Helper()
	for _, x := range d.Items {
		if x.Name == name {
			return x
		}
	}
	t.Fatalf("no doubt is called %q", name)
	return Doubt{}
}

// Shares are shares, the items stand in the order of what acting on them brings,
// and the crop itself, of which nothing was recorded, carries most of the doubt in
// the mass.
func TestDoubtsOfADemoBench(t *testing.T) {
	t.Parallel()
	d := doubts(t, func(*underlamp.Bench) {})
	sum, last := 0.0, math.Inf(1)
	for _, x := range d.Items {
		for _, s := range []float64{x.Mass.Value, x.Burn.Value, x.MassGain, x.BurnGain} {
			if !(s >= 0 && s <= 1) {
				t.Errorf("%s: a share of %g", x.Name, s)
			}
		}
		if x.MassGain > x.Mass.Value+1e-12 {
			t.Errorf("%s: acting takes away %g of a share of %g", x.Name, x.MassGain, x.Mass.Value)
		}
		if x.Gain() > last {
			t.Errorf("%s stands too low", x.Name)
		}
		last = x.Gain()
		sum += x.Mass.Value
	}
	// First-order shares of independent inputs; the estimate of each adds chance.
	if sum > 1.1 || sum < 0.8 {
		t.Errorf("the shares of the mass add up to %g", sum)
	}
	if crop := item(t, d, "how fast this crop grows here"); crop.Mass.Value < 0.4 {
		t.Errorf("the crop carries %g of the doubt in the mass", crop.Mass.Value)
	}
	if d.Mass.High-d.Mass.Low < d.Alone.High-d.Alone.Low {
		t.Error("doubt about the description made the band narrower")
	}
}

// A default is trusted less than a stated value, and that less than a measured
// one, of which no second measurement takes anything away.
func TestDoubtGoesByOrigin(t *testing.T) {
	t.Parallel()
	share := map[underlamp.Origin]float64{}
	for _, from := range []underlamp.Origin{underlamp.Default, underlamp.Stated, underlamp.Measured} {
		d := doubts(t, func(b *underlamp.Bench) { b.Air.CO2.Origin = from })
		x := item(t, d, "CO2")
		share[from] = x.Mass.Value
		if from == underlamp.Measured && x.MassGain != 0 {
			t.Errorf("measuring again what was measured takes away %g", x.MassGain)
		}
	}
	if !(share[underlamp.Default] > share[underlamp.Stated] && share[underlamp.Stated] > share[underlamp.Measured]) {
		t.Errorf("shares of default, stated, measured: %v", share)
	}
}

// The answer does not depend on the number of processors, and a search that is
// called off says so.
func TestDoubtsAreRepeatable(t *testing.T) {
	one := runtime.GOMAXPROCS(1)
	a := doubts(t, func(*underlamp.Bench) {})
	runtime.GOMAXPROCS(max(one, 3))
	b := doubts(t, func(*underlamp.Bench) {})
	runtime.GOMAXPROCS(one)
	if !reflect.DeepEqual(a, b) {
		t.Error("one and three processors share out the doubt differently")
	}
	o := prepared(t, "tier-1-top.yaml", 100, func(*underlamp.Bench) {})
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := o.Doubts(ctx); err == nil {
		t.Error("a search that was called off gave an answer")
	}
}
