package spectrum

import (
	"sync"

	"underlamp/science/reference"
)

// load reads one column of a printed table as weights by wavelength.
func load(name, column string) *table {
	r := reference.MustLoad(name)
	t := &table{nm: make([]float64, len(r.Rows)), w: make([]float64, len(r.Rows))}
	for i := range r.Rows {
		t.nm[i], t.w[i] = r.Float(i, "wavelength_nm"), r.Float(i, column)
	}
	return t
}

// The tables are read once, at their first use, and never changed.
var (
	photopic = sync.OnceValue(func() *table { return load("cie_photopic_v_1nm", "v") })
	chamber  = sync.OnceValue(func() *table { return load("mccree1972_quantum_yield_25nm", "chamber_mean") })
	toPfr    = sync.OnceValue(func() *table { return load("mancinelli1994_phytochrome_cross_sections", "sigma_r") })
	toPr     = sync.OnceValue(func() *table { return load("mancinelli1994_phytochrome_cross_sections", "sigma_fr") })
	observer = sync.OnceValue(func() [3]*table { return loadThree("cie1931_colour_matching_5nm", "x", "y", "z") })
	fine     = sync.OnceValue(func() [3]*table {
		o := observer()
		return [3]*table{o[0].fifths(), o[1].fifths(), o[2].fifths()}
	})
	components = sync.OnceValue(func() [3]*table { return loadThree("cie_daylight_components_5nm", "s0", "s1", "s2") })
)

// fifths returns an even table with five times as many rows, by a cubic through
// the four nearest rows (CIE15, section 7.2, lets a table of 5 nm be refined so).
func (t *table) fifths() *table {
	last := len(t.nm) - 1
	out := &table{}
	for i := range last {
		k := min(max(i-1, 0), last-3) // the first of four rows
		for j := range 5 {
			x := t.nm[i] + float64(j)*(t.nm[i+1]-t.nm[i])/5
			y := 0.0
			for a := k; a < k+4; a++ {
				p := t.w[a]
				for b := k; b < k+4; b++ {
					if b != a {
						p *= (x - t.nm[b]) / (t.nm[a] - t.nm[b])
					}
				}
				y += p
			}
			out.nm, out.w = append(out.nm, x), append(out.w, max(0, y))
		}
	}
	out.nm, out.w = append(out.nm, t.nm[last]), append(out.w, t.w[last])
	return out
}

func loadThree(name, a, b, c string) [3]*table {
	return [3]*table{load(name, a), load(name, b), load(name, c)}
}
