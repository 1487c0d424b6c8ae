package lightfield

// WallIrradiance returns the mean PPFD that falls on each side from inside,
// direct and reflected, with every lamp dimmed by its factor. For an open side
// it is what leaves the space there. What a side swallows is its share that it
// neither scatters nor mirrors.
func (f *Field) WallIrradiance(dimming []float64) [NumSides]float64 {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.WallIrradiance: one dimming for each lamp is needed")
	}
	var out [NumSides]float64
	b := f.exitance(dimming)
	for side := range out {
		out[side] = f.onSurface(side, dimming, b)
	}
	return out
}

// DirectIrradiance is [Field.WallIrradiance] without the light that was scattered;
// that by way of mirrors counts. In a space without mirrors, panels and openings
// that reach outside, area times irradiance adds up to the flux of the lamps; what
// is missing is the error of the quadrature.
func (f *Field) DirectIrradiance(dimming []float64) [NumSides]float64 {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.DirectIrradiance: one dimming for each lamp is needed")
	}
	var out [NumSides]float64
	for side := range out {
		out[side] = f.onSurface(side, dimming, nil)
	}
	return out
}

// PanelIrradiance returns the mean PPFD that falls on the top and the underside
// of each panel, as [Field.WallIrradiance] does for the sides.
func (f *Field) PanelIrradiance(dimming []float64) (top, bottom []float64) {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.PanelIrradiance: one dimming for each lamp is needed")
	}
	b := f.exitance(dimming)
	for i := range f.room.space.Panels {
		top = append(top, f.onSurface(NumSides+2*i, dimming, b))
		bottom = append(bottom, f.onSurface(NumSides+2*i+1, dimming, b))
	}
	return top, bottom
}

// exitance is that of every patch with the lamps dimmed.
func (f *Field) exitance(dimming []float64) []float64 {
	if f.byPatch == nil {
		return nil
	}
	b := make([]float64, len(f.room.patches))
	for j := range b {
		for k, v := range f.byPatch.RawRowView(j) {
			b[j] += dimming[k] * v
		}
	}
	return b
}

// onSurface is the mean irradiance of a surface, patch by patch.
func (f *Field) onSurface(on int, dimming, b []float64) float64 {
	r := f.room
	cells := r.patchesOf(on)
	if s := &r.surfaces[on]; b != nil && s.first >= 0 {
		if rho := r.rho(s, r.system.rho); rho > 1e-9 { // what it sends is ρ times what it gets
			sum, area := 0.0, 0.0
			for j := s.first; j < s.first+len(cells); j++ {
				sum += r.areas[j] * b[j] / rho
				area += r.areas[j]
			}
			return sum / area
		}
	}
	power, area := make([]float64, len(cells)), 0.0
	inParallel(len(cells), 8, func(from, to int) {
		row := make([]float64, len(b))
		var v view
		for i := from; i < to; i++ {
			rc := r.rectOf(cells[i])
			v = r.viewOf(cells[i], v)
			for k := range f.sources {
				if dimming[k] != 0 {
					power[i] += dimming[k] * rc.area * r.onPatch(&f.sources[k], &v)
				}
			}
			r.exchangeRow(row, cells[i], &rc)
			for j, v := range b {
				power[i] += row[j] * r.passing[j] * v
			}
		}
	})
	sum := 0.0
	for i, p := range power {
		sum += p
		rc := r.rectOf(cells[i])
		area += rc.area
	}
	return sum / area
}
