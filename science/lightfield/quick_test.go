package lightfield

import (
	"math"
	"testing"
)

func TestQuickAngles(t *testing.T) {
	const n, bound = 20001, 3e-8
	worst := 0.0
	for i := range n {
		x := 2*float64(i)/(n-1) - 1
		worst = max(worst, math.Abs(quickAcos(x)-math.Acos(x)))
		a := math.Pi * x
		sin, cos := math.Sincos(a)
		want := math.Atan2(3*sin, 3*cos)
		worst = max(worst, math.Abs(quickAtan2(3*sin, 3*cos)-want))
	}
	if worst > bound {
		t.Errorf("error %.2g, want at most %g", worst, bound)
	}
	if quickAcos(1+1e-12) != quickAcos(1) || quickAcos(-1.5) != quickAcos(-1) {
		t.Error("a cosine beyond 1 by rounding is not that of the pole")
	}
}
