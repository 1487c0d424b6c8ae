package nutrients

import "math"

// A Look is one reading of a running tank, and what was then put into it.
type Look struct {
	Litres float64 // before anything was added; NaN: not read
	EC     float64 // mS/cm at 25 °C; NaN: not read
	PH     float64 // NaN: not read
	C      float64 // NaN: not read
	Known  Amounts // measured, mmol/L
	Knows  [Ions]bool

	New   bool      // the tank was made up anew, with the mix, before it was read
	Water float64   // litres that were then added
	Added []float64 // of each product, g or mL in the whole tank; nil: nothing
}

// A Stand is a tank after a look.
type Stand struct {
	Before Solution // as it was read
	After  Solution // with what was added
	Litres float64  // after it
	Used   float64  // water used since the look before, L; NaN where a volume is not known
	Factor float64  // see [Tankful.Estimate]
	Uptake Balance
	Took   bool // Uptake is known
}

// Follow carries a tank through looks, from the mix with which it was made up. Full is the volume
// of the tank. Nutrients follow the EC; sodium and chloride gather as water is used.
func (p *Problem) Follow(m *Mix, full float64, looks []Look) []Stand {
	var out []Stand
	last, litres := m.Solution, full
	for k, look := range looks {
		if look.New {
			last, litres = m.Solution, full
		}
		v := look.Litres
		st := Stand{Used: math.NaN()}
		if math.IsNaN(v) {
			v = litres
		} else {
			st.Used = litres - v
		}
		t := Tankful{Litres: v, Full: full, EC: look.EC, PH: look.PH, C: look.C, Known: look.Known, Knows: look.Knows, Last: last}
		if math.IsNaN(t.C) {
			t.C = p.Water.C
		}
		if v > 0 && v < litres {
			for _, i := range []Ion{Sodium, Chlorine} {
				t.Last.Ions[i] *= litres / v
			}
		}
		st.Before, st.Factor = t.Estimate()
		if k > 0 && !look.New {
			b := looks[k-1]
			before := Tankful{Litres: b.Litres, EC: b.EC, Known: b.Known, Knows: b.Knows}
			if math.IsNaN(before.Litres) {
				before.Litres = out[k-1].Litres - b.Water
			}
			var added Amounts
			added = p.Water.Ions.Times(b.Water)
			if b.Added != nil {
				for j, a := range b.Added {
					ions, _ := p.Products[j].Contents()
					added = added.Plus(a, ions)
				}
			}
			after := t
			after.EC = look.EC
			st.Uptake, st.Took = Uptake(before, after, b.Water, added, p.addedEC(out[k-1], b))
		}
		st.After, st.Litres = st.Before, v
		if look.Water > 0 {
			st.After = Blend(st.Before, v, p.Water, look.Water)
			st.Litres = v + look.Water
		}
		if look.Added != nil && st.Litres > 0 {
			for j, a := range look.Added {
				ions, base := p.Products[j].Contents()
				st.After.Ions = st.After.Ions.Plus(a/st.Litres, ions)
				st.After.Alkalinity += base * a / st.Litres
			}
		}
		out = append(out, st)
		last, litres = st.After, st.Litres
	}
	return out
}

// addedEC is what was added at a look, as litres times mS/cm, so that it can be set against EC read
// before and after.
func (p *Problem) addedEC(s Stand, l Look) float64 {
	if l.Water == 0 && l.Added == nil {
		return 0
	}
	before, after := s.Before.Open(AirCO2).EC, s.After.Open(AirCO2).EC
	return after*s.Litres - before*(s.Litres-l.Water)
}
