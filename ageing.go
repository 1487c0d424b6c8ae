package underlamp

import (
	"math"
	"time"

	"underlamp/science/quantity"
)

// LeftAt is the share of the light of a new lamp that age leaves on a day
// (YYYY-MM-DD). Where the bench says when the lamp was first lit the loss is
// exponential in the days, as TM21 extrapolates it, and passes through what the bench
// says is left; before the first day nothing is lost. Else, and for a day that is not
// known, it is Left.
func (l *Lamp) LeftAt(day string) quantity.Fraction {
	from, ok := days(l.NewOn, day)
	if l.Fade <= 0 || !ok {
		return l.Left.Value
	}
	return quantity.Fraction(math.Exp(-l.Fade * max(from, 0)))
}

// FadeBy sets Fade of a lamp that keeps a share of its light after so many hours of
// burning, by its hours of a day.
func (l *Lamp) FadeBy(share quantity.Fraction, after quantity.Hours) {
	l.Fade = -math.Log(float64(share)) / float64(after) * float64(l.Hours.Value)
}

// FadeTo sets Fade of a lamp that keeps a share of its light on a day after NewOn.
func (l *Lamp) FadeTo(share quantity.Fraction, day string) {
	if d, ok := days(l.NewOn, day); ok && d > 0 {
		l.Fade = -math.Log(float64(share)) / d
	}
}

// days is the time between two days, in d.
func days(from, to string) (float64, bool) {
	a, err := time.Parse(time.DateOnly, from)
	if err != nil {
		return 0, false
	}
	b, err := time.Parse(time.DateOnly, to)
	if err != nil {
		return 0, false
	}
	return b.Sub(a).Hours() / 24, true
}

// Day is the day for which the light of the bench is computed (YYYY-MM-DD): that
// of transplanting, else that of the last dated reading; empty if there is none.
func (b *Bench) Day() string {
	if b.Crop.Transplanted != "" {
		return b.Crop.Transplanted
	}
	last := ""
	for _, r := range b.Readings {
		last = max(last, r.When)
	}
	return last
}
