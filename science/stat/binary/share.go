package binary

import (
	"fmt"
	"math"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// Exact returns the limits of Clopper and Pearson for a share of yes of n that are
// independent: never too narrow (ClopperPearson1934).
func Exact(yes, n int, level float64) (stat.Interval, error) {
	if n < 1 || yes < 0 || yes > n {
		return stat.Interval{}, fmt.Errorf("%d of %d is no share", yes, n)
	}
	out := stat.Interval{Lower: 0, Upper: 1, Level: level}
	y, m := float64(yes), float64(n)
	if yes > 0 {
		out.Lower = dist.BetaQuantile((1-level)/2, y, m-y+1)
	}
	if yes < n {
		out.Upper = dist.BetaQuantile((1+level)/2, y+1, m-y)
	}
	return out, nil
}

// Wilson returns the score limits for a share (Wilson1927), right on average.
func Wilson(yes, n int, level float64) (stat.Interval, error) {
	if n < 1 || yes < 0 || yes > n {
		return stat.Interval{}, fmt.Errorf("%d of %d is no share", yes, n)
	}
	z := dist.NormalQuantile((1 + level) / 2)
	m := float64(n)
	p := float64(yes) / m
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	out := stat.Interval{Lower: math.Max(0, mid-half), Upper: math.Min(1, mid+half), Level: level}
	if yes == 0 {
		out.Lower = 0
	}
	if yes == n {
		out.Upper = 1
	}
	return out, nil
}
