package nutrients

import "math"

// A Tankful is a running tank as it was read.
type Tankful struct {
	Litres float64 // in it now
	Full   float64 // when it is filled up
	EC     float64 // mS/cm at 25 °C; NaN: not read
	PH     float64 // NaN: not read
	C      float64

	Known Amounts    // measured, mmol/L
	Knows [Ions]bool // which of them are
	// Last is what the tank held when it was last made up or filled; it tells the proportions of
	// what was not measured.
	Last Solution
}

// usualPH is taken for a tank whose pH was not read.
const usualPH = 6.0

// mostlyKnown is the share of the charges from which the EC is not asked for the rest: an error of
// a few per cent of the EC would be laid on few ions.
const mostlyKnown = 0.5

// Estimate is what the tank holds now. What was measured is taken as it is. Nutrients that were
// not keep the proportions of Last, all by one factor: the one with which the EC is that read or, where
// ions with half of the charges are measured, the one by which those have changed. Sodium and chloride
// that were not measured are those of Last.
func (t *Tankful) Estimate() (s Solution, factor float64) {
	s = t.Last
	s.C = t.C
	ph := t.PH
	if math.IsNaN(ph) {
		ph = usualPH
	}
	at := func(f float64) Solution {
		out := s
		for i := range Ions {
			switch {
			case t.Knows[i]:
				out.Ions[i] = t.Known[i]
			case i.Nutrient():
				out.Ions[i] = f * t.Last.Ions[i]
			}
		}
		return out
	}
	factor = 1
	known, was, all := 0.0, 0.0, 0.0
	for i := range Ions {
		if z := math.Abs(i.Charge()); i.Nutrient() {
			all += z * t.Last.Ions[i]
			if t.Knows[i] {
				known += z * t.Known[i]
				was += z * t.Last.Ions[i]
			}
		}
	}
	switch {
	case was > mostlyKnown*all:
		factor = known / was
	case !math.IsNaN(t.EC):
		ec := func(f float64) float64 {
			r, _ := at(f).At(ph)
			return r.EC
		}
		low, high := 0.0, 20.0
		switch {
		case ec(low) >= t.EC:
			factor = low
		case ec(high) <= t.EC:
			factor = high
		default:
			for range 40 {
				mid := (low + high) / 2
				if ec(mid) < t.EC {
					low = mid
				} else {
					high = mid
				}
			}
			factor = (low + high) / 2
		}
	}
	_, s = at(factor).At(ph)
	return s, factor
}

// A Correction is what to do with a tank.
type Correction struct {
	Now    Solution // what it holds
	Factor float64  // of the proportions of Last, see [Tankful.Estimate]
	Drain  float64  // share of what is in it to let out first, 0 to 1
	By     []Ion    // what makes the draining necessary
	Water  float64  // litres to fill up
	Mix    *Mix     // amounts for each litre of the full tank
	// Before is the tank when the water is filled up and nothing weighed yet.
	Before Solution
}

// ReplaceFrom is the share to drain from which a new tank is simpler (common practice, no source).
const ReplaceFrom = 0.6

// Correct works out what brings a tank back: how much must be let out, as what has gathered in it
// can only be thinned; the water; and the salts and acid, by the same way as [Problem.Solve],
// where the water is the tank itself filled up.
//
// For an ion of which the tank holds c and the water w, filled up from V to F litres, the least
// share x to let out so that no more than L is left is
//
//	x = 1 − (L − w) F / (V (c − w))
//
// L is the wanted amount with its tolerance, or its limit. An ion of which the water alone
// brings more than L is left out: no draining helps.
func (p *Problem) Correct(t Tankful) *Correction {
	c := &Correction{}
	c.Now, c.Factor = t.Estimate()
	full := max(t.Full, t.Litres)
	for i := range Ions {
		most := p.Target.Most[i]
		if p.Target.Asks[i] {
			most = p.Target.Ions[i] + p.slack(i)
		} else if most == 0 {
			continue
		}
		have, water := c.Now.Ions[i], p.Water.Ions[i]
		if have <= water || water >= most || t.Litres == 0 {
			continue
		}
		x := 1 - (most-water)*full/(t.Litres*(have-water))
		if x > 0.005 {
			c.By = append(c.By, i)
			c.Drain = max(c.Drain, min(x, 1))
		}
	}
	left := t.Litres * (1 - c.Drain)
	c.Water = full - left
	base := Blend(c.Now, left, p.Water, c.Water)
	q := *p
	q.Water = base
	c.Before = base
	c.Mix = q.Solve()
	return c
}

// slack is how far above the wanted amount a tank may stand before it is thinned: twice the
// tolerance, as a little too much is eaten up.
func (p *Problem) slack(i Ion) float64 { return 2*p.Target.Within(i) + 1e-9 }

// A Balance is what plants took between two looks at a tank.
type Balance struct {
	Litres float64    // of water used
	Ions   Amounts    // mmol for each litre of water used: the uptake concentration
	Knows  [Ions]bool // where both looks know the ion
	EC     float64    // mS/cm: what the water that was used took along, as EC; NaN if not read at both
}

// Uptake is the balance of a tank: V₁ c₁ + what was added − V₂ c₂, over the water used
// V₁ + added water − V₂. False if no water was used.
func Uptake(before, after Tankful, water float64, added Amounts, addedEC float64) (Balance, bool) {
	b := Balance{Litres: before.Litres + water - after.Litres}
	if !(b.Litres > 0) {
		return b, false
	}
	for i := range Ions {
		if before.Knows[i] && after.Knows[i] {
			b.Knows[i] = true
			b.Ions[i] = (before.Litres*before.Known[i] + added[i] - after.Litres*after.Known[i]) / b.Litres
		}
	}
	b.EC = (before.Litres*before.EC + addedEC - after.Litres*after.EC) / b.Litres
	return b, true
}

// Gathering is how many days pass until an ion that plants leave behind reaches a limit, in a
// tank that is filled up with water: it rises by w u / V a day. 0 if it is there; +Inf if the
// water brings none.
func Gathering(now, limit, water, litresADay, tank float64) float64 {
	switch {
	case now >= limit:
		return 0
	case !(water*litresADay > 0) || !(tank > 0):
		return math.Inf(1)
	}
	return (limit - now) * tank / (water * litresADay)
}
