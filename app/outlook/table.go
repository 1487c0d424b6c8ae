package outlook

import (
	"context"
	"math"

	"underlamp"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// A response is what the plants of a bench do at one setting, mean over plants
// and draws.
type response struct {
	fresh    float64 // g
	saleable float64 // g, counting heads that are sold only
	sold     float64 // share of heads
	chance   float64 // of burn
}

// A table holds the response of a bench over dimming and hours with its lamps at
// one height, mean over plants and draws. Each class of plants has its own fall of
// light with height: plants beside a lamp lose light as they grow toward it,
// plants below it gain. Every setting of a search is then read from the table,
// which is what makes thousands of settings quick.
type table struct {
	dims  []float64 // ascending
	hours []float64
	cells []response // hours · len(dims) + dim
}

// newTable computes a table from classes at full power. It is half empty if ctx ends.
func newTable(ctx context.Context, b *underlamp.Bench, classes []class, dims, hours []float64, ens ensemble) *table {
	t := &table{dims: dims, hours: hours, cells: make([]response, len(dims)*len(hours))}
	days, st := b.Crop.Days.Value, start(b)
	saleable := float64(b.Crop.Saleable.Value)
	n := float64(len(ens.traits))
	pres := make([][]headcycle.Prepared, len(hours))
	for h := range hours {
		env := environment(b, quantity.Hours(hours[h]))
		pres[h] = make([]headcycle.Prepared, len(ens.traits))
		for i := range ens.traits {
			pres[h][i] = headcycle.Prepare(&ens.traits[i], env)
		}
	}
	parallel(len(t.cells), func(at int) {
		if ctx.Err() != nil {
			return
		}
		h, d := at/len(dims), at%len(dims)
		buf := make([]float64, 0, 2*levelCount)
		r := &t.cells[at]
		for i := range ens.traits {
			tr := &ens.traits[i]
			for _, c := range classes {
				out := headcycle.Run(tr, &pres[h][i], scaled(buf, c.profile, dims[d]*ens.light[i]), st, days, nil, nil)
				w := c.share / n
				r.fresh += w * out.Last.Fresh
				if !math.IsInf(out.BurnDay, 1) {
					r.chance += w
					continue
				}
				// A step at the smallest mass and at the least light would make the search
				// jump where few draws lie: it is softened by about a tenth.
				good := w * soft(out.Last.Fresh/saleable-1, 0.05) * soft(out.PPFD/tr.Compact-1, 0.05)
				r.sold += good
				r.saleable += good * out.Last.Fresh
			}
		}
	})
	return t
}

// soft is a step from 0 to 1 at 0, smoothed over about ±2 widths.
func soft(x, width float64) float64 { return 1 / (1 + math.Exp(-x/width*2)) }

// at reads the table at a dimming and hours, linear in the logarithm of the
// dimming and in hours, and clamped to its edges.
func (t *table) at(dim, hours float64) response {
	d0, df := place(t.dims, dim, true)
	h0, hf := place(t.hours, hours, false)
	w := len(t.dims)
	d1, h1 := min(d0+1, w-1), min(h0+1, len(t.hours)-1)
	mix := func(pick func(*response) float64) float64 {
		lo := pick(&t.cells[h0*w+d0])*(1-df) + pick(&t.cells[h0*w+d1])*df
		hi := pick(&t.cells[h1*w+d0])*(1-df) + pick(&t.cells[h1*w+d1])*df
		return lo*(1-hf) + hi*hf
	}
	return response{
		fresh:    mix(func(r *response) float64 { return r.fresh }),
		saleable: mix(func(r *response) float64 { return r.saleable }),
		sold:     mix(func(r *response) float64 { return r.sold }),
		chance:   mix(func(r *response) float64 { return r.chance }),
	}
}

// place finds the cell of v in increasing nodes and how far into it v lies.
func place(nodes []float64, v float64, logarithmic bool) (cell int, fraction float64) {
	last := len(nodes) - 1
	if last == 0 || v <= nodes[0] {
		return 0, 0
	}
	if v >= nodes[last] {
		return last, 0
	}
	for nodes[cell+1] <= v {
		cell++
	}
	a, b := nodes[cell], nodes[cell+1]
	if logarithmic {
		return cell, math.Log(v/a) / math.Log(b/a)
	}
	return cell, (v - a) / (b - a)
}

// logSteps are n numbers from lo to hi in equal steps of the logarithm; one
// number if lo equals hi.
func logSteps(lo, hi float64, n int) []float64 {
	if hi <= lo || n < 2 {
		return []float64{lo}
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = lo * math.Pow(hi/lo, float64(i)/float64(n-1))
	}
	return out
}

// steps are n numbers from lo to hi in equal steps; one number if lo equals hi.
func steps(lo, hi float64, n int) []float64 {
	if hi <= lo || n < 2 {
		return []float64{lo}
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = lo + (hi-lo)*float64(i)/float64(n-1)
	}
	return out
}
