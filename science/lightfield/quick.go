package lightfield

import "math"

// A distribution is asked for every node of every opening at every place, and
// most of that time would go into two inverse functions of the library. These are
// good to 3e-8, far below the step of any photometric file.

// quickAcos is the angle of a cosine, from 0 to π; beyond ±1 it is that of ±1.
// Source: AbramowitzStegun1964, formula 4.4.46 (coefficients from memory, held by
// a test against the library).
func quickAcos(x float64) float64 {
	a := min(math.Abs(x), 1)
	p := -0.0012624911
	p = p*a + 0.0066700901
	p = p*a - 0.0170881256
	p = p*a + 0.0308918810
	p = p*a - 0.0501743046
	p = p*a + 0.0889789874
	p = p*a - 0.2145988016
	p = p*a + 1.5707963050
	p *= math.Sqrt(1 - a)
	if x < 0 {
		return math.Pi - p
	}
	return p
}

// quickAtan2 is math.Atan2 for finite numbers that are not both 0. Source:
// AbramowitzStegun1964, formula 4.4.49 (as for [quickAcos]).
func quickAtan2(y, x float64) float64 {
	ay, ax := math.Abs(y), math.Abs(x)
	t := min(ay, ax) / max(ay, ax)
	q := t * t
	p := 0.0028662257
	p = p*q - 0.0161657367
	p = p*q + 0.0429096138
	p = p*q - 0.0752896400
	p = p*q + 0.1065626393
	p = p*q - 0.1420889944
	p = p*q + 0.1999355085
	p = p*q - 0.3333314528
	p = (p*q + 1) * t
	if ay > ax {
		p = math.Pi/2 - p
	}
	if x < 0 {
		p = math.Pi - p
	}
	return math.Copysign(p, y)
}
