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
