package headcycle_test

import (
	"math"
	"reflect"
	"testing"

	"underlamp/science/headcycle"
)

// The two parts make up the whole, trait by trait, and neither is larger than it.
// By reflection, so that a new trait cannot be left out.
func TestSpreadSplits(t *testing.T) {
	t.Parallel()
	whole := reflect.ValueOf(headcycle.LettuceSpread())
	between, within := reflect.ValueOf(headcycle.BetweenCrops()), reflect.ValueOf(headcycle.WithinCrop())
	both := reflect.ValueOf(headcycle.BetweenCrops().And(headcycle.WithinCrop()))
	for i := range whole.NumField() {
		name := whole.Type().Field(i).Name
		w, b, in, again := whole.Field(i).Float(), between.Field(i).Float(), within.Field(i).Float(), both.Field(i).Float()
		if math.Abs(again-w) > 1e-12 {
			t.Errorf("%s: the parts give %g, the whole is %g", name, again, w)
		}
		if w <= 0 || b <= 0 || in < 0 || b > w || in > w {
			t.Errorf("%s: whole %g, between %g, within %g", name, w, b, in)
		}
	}
}

// The list of traits is that of the fields of Spread, in their order, and each field
// spreads something of its own. By reflection, so that a new one cannot be left out.
func TestUncertainTraitsAreTheFields(t *testing.T) {
	t.Parallel()
	list := headcycle.UncertainTraits()
	fields := reflect.ValueOf(headcycle.LettuceSpread())
	if len(list) != fields.NumField() {
		t.Fatalf("%d traits listed, %d fields", len(list), fields.NumField())
	}
	for i, trait := range list {
		if name := fields.Type().Field(i).Name; trait.Name != name {
			t.Errorf("trait %d is %s, the field %s", i, trait.Name, name)
		}
		if got := trait.SD(headcycle.LettuceSpread()); got != fields.Field(i).Float() {
			t.Errorf("%s: spread %g, the field holds %g", trait.Name, got, fields.Field(i).Float())
		}
		for j, other := range list {
			a, b := headcycle.Lettuce(), headcycle.Lettuce()
			trait.Multiply(&a, 1.1)
			other.Multiply(&b, 1.1)
			if (a == b) != (i == j) || a == headcycle.Lettuce() {
				t.Errorf("%s and %s spread the same, or nothing", trait.Name, other.Name)
			}
		}
	}
}
