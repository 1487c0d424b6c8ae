package aim

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/lightaim"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// A Layout is which lamps hang where; their mean height is moved in the search.
type Layout struct {
	Name  string    // "as they hang", "2 rows of 3"
	X, Y  []float64 // m, middle of each lamp
	lamps []lightfield.Lamp
	names []string
	kinds []string
	power []lightaim.Curve
	mean  float64 // height at which lamps are listed, m
}

// Names of the lamps, as the bench has them or numbered.
func (l *Layout) Names() []string { return l.names }

// at are the lamps with their mean height moved.
func (l *Layout) at(height float64) []lightfield.Lamp {
	out := append([]lightfield.Lamp(nil), l.lamps...)
	for i := range out {
		out[i].Centre.Z += height - l.mean
	}
	return out
}

// lowest is how far the lowest lamp hangs below the mean height, m.
func (l *Layout) lowest() float64 {
	low := 0.0
	for _, x := range l.lamps {
		low = max(low, l.mean-x.Centre.Z)
	}
	return low
}

// powerOf is the power of a lamp by the share of its full light: by its measured
// dimming curve, or in proportion.
func powerOf(l *underlamp.Lamp) lightaim.Curve {
	full := float64(l.Power.Value)
	if len(l.Curve) == 0 {
		return lightaim.Proportional(full)
	}
	c := lightaim.Curve{Dim: []float64{0}, Watt: []float64{0}}
	for _, p := range l.Curve {
		if light := float64(p.Light); light > c.Dim[len(c.Dim)-1] {
			c.Dim, c.Watt = append(c.Dim, light), append(c.Watt, full*float64(p.Power))
		}
	}
	return c
}

// lampOf is the lamp of the bench that lamp k of a layout is of.
func lampOf(b *underlamp.Bench, l *Layout, k int) *underlamp.Lamp {
	if len(l.lamps) != len(b.Lamps) || l.names[k] != b.Lamps[k].Name {
		return &b.Lamps[0]
	}
	return &b.Lamps[k]
}

// present is the layout of the bench.
func present(m *light.Model, a *Ask) Layout {
	b := m.Bench()
	l := Layout{Name: "as they hang", mean: float64(b.Setting().Height)}
	l.lamps = m.LampsAt(b.Setting().Height)
	for i, x := range b.Lamps {
		l.names = append(l.names, x.Name)
		l.kinds = append(l.kinds, x.Kind)
		c := powerOf(&x)
		if a.Power != nil {
			c = a.Power[i]
		}
		l.power = append(l.power, c)
		l.X, l.Y = append(l.X, float64(x.X)), append(l.Y, float64(x.Y))
	}
	return l
}

// layouts are the ways to hang the first kind of lamp of the bench in even rows,
// for every number asked for. A row whose lamps would overlap is left out.
func layouts(m *light.Model, a *Ask) []Layout {
	b := m.Bench()
	if a.LampsTo == 0 {
		return []Layout{present(m, a)}
	}
	first := m.LampsAt(b.Setting().Height)[0]
	first.Centre.Z = float64(b.Setting().Height)
	w, d := float64(b.Space.Width), float64(b.Space.Depth)
	deep := first.Depth
	if first.Shape == lightfield.Disc {
		deep = first.Width
	}
	var out []Layout
	for n := a.LampsFrom; n <= a.LampsTo; n++ {
		for rows := 1; rows <= n; rows++ {
			cols := n / rows
			if rows*cols != n || first.Width*float64(cols) > w+1e-9 || deep*float64(rows) > d+1e-9 {
				continue
			}
			l := Layout{Name: fmt.Sprintf("%d rows of %d", rows, cols), mean: float64(b.Setting().Height)}
			if rows == 1 {
				l.Name = fmt.Sprintf("1 row of %d", cols)
			}
			for r := range rows {
				for c := range cols {
					x := first
					x.Centre.X = w * (float64(c) + 0.5) / float64(cols)
					x.Centre.Y = d * (float64(r) + 0.5) / float64(rows)
					l.lamps = append(l.lamps, x)
					l.X, l.Y = append(l.X, x.Centre.X), append(l.Y, x.Centre.Y)
					l.names = append(l.names, fmt.Sprintf("lamp %d", len(l.lamps)))
					l.kinds = append(l.kinds, b.Lamps[0].Kind)
					l.power = append(l.power, powerOf(&b.Lamps[0]))
				}
			}
			out = append(out, l)
		}
	}
	return out
}

// heights are the mean heights to try for a layout.
func heights(m *light.Model, a *Ask, l *Layout, step float64) ([]float64, error) {
	b := m.Bench()
	u := b.Units
	now := float64(b.Setting().Height)
	least := float64(a.Canopy+a.Clearance) + l.lowest()
	if a.KeepHeight {
		if now < least-1e-9 {
			return nil, refuse("the lamps hang at %s, but canopy and clearance ask for %s; let the heights be searched", quantity.Length.Format(now, u, 3), quantity.Length.Format(least, u, 3))
		}
		return []float64{now}, nil
	}
	lo, hi := max(float64(b.Limits.MinHeight.Value), least), float64(b.Limits.MaxHeight.Value)
	if lo > hi+1e-9 {
		return nil, refuse("canopy and clearance ask for lamps at %s or higher, the limits of the bench allow %s at most", quantity.Length.Format(lo, u, 3), quantity.Length.Format(hi, u, 3))
	}
	return outlook.Grid(lo, max(lo, hi), step), nil
}

// hours are the days of light to try.
func hours(m *light.Model, a *Ask) []float64 {
	b := m.Bench()
	switch {
	case a.Hours > 0:
		return []float64{float64(a.Hours)}
	case a.DLI > 0 || a.FreeHours:
		return outlook.Grid(float64(b.Limits.MinHours.Value), float64(b.Limits.MaxHours.Value), hourStep)
	}
	return []float64{math.Round(float64(b.Setting().Hours)*4) / 4}
}
