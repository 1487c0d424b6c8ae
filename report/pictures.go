package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// fit draws a picture for wide and narrow screens. The HTML of draw is escaped
// by draw.
func fit(id string, b *underlamp.Bench, pic func(draw.Frame) draw.Picture) template.HTML {
	return template.HTML(draw.Fit(draw.Frame{ID: id, Units: b.Units}, pic))
}

func plants(b *underlamp.Bench, m *light.Model, a *light.Answer) []draw.Plant {
	var out []draw.Plant
	for _, p := range a.Plants {
		out = append(out, draw.Plant{Name: p.Name, X: p.X, Y: p.Y, Crown: m.CrownRadius(), Value: float64(p.PPFD)})
	}
	return out
}

func lamps(b *underlamp.Bench, s underlamp.Setting) []draw.Lamp {
	var out []draw.Lamp
	for _, l := range b.With(s).Lamps {
		out = append(out, draw.Lamp{
			Name: l.Name, X: l.X, Y: l.Y, Height: l.Height, Width: l.Opening.Width.Value, Depth: l.Opening.Depth.Value,
			Round: l.Opening.Round, Turn: l.Pose.Turn, Beam: l.Beam.Value,
		})
	}
	return out
}

func shelves(b *underlamp.Bench) []draw.Shelf {
	var out []draw.Shelf
	for _, s := range b.Space.Shelves {
		out = append(out, draw.Shelf{Name: s.Name, X1: s.X1, X2: s.X2, Y1: s.Y1, Y2: s.Y2, Height: s.Height})
	}
	return out
}

func wall(w underlamp.Wall) draw.Wall {
	if w.Open {
		return draw.Wall{Open: true, Label: "open"}
	}
	label := working.Percent(float64(w.Reflectance.Value))
	if w.Mirror.Value > 0 {
		label += ", " + working.Percent(float64(w.Mirror.Value)) + " of all mirrored"
	}
	if w.Surface != "" {
		label = w.Surface + ", " + label
	}
	return draw.Wall{Label: label}
}

func planPicture(b *underlamp.Bench, m *light.Model, a *light.Answer) template.HTML {
	return planOf("plan", b, m, a, [2]float64{})
}

// planOf is the plan with the light of an answer, under an id of its own, its
// colours reaching over a span as well.
func planOf(id string, b *underlamp.Bench, m *light.Model, a *light.Answer, span [2]float64) template.HTML {
	walls := b.Space.Walls
	p := draw.Plan{
		Width: b.Space.Width, Depth: b.Space.Depth,
		Walls:    [4]draw.Wall{wall(walls[underlamp.Left]), wall(walls[underlamp.Right]), wall(walls[underlamp.Front]), wall(walls[underlamp.Back])},
		Light:    draw.Grid{X: a.Map.X, Y: a.Map.Y, Values: a.Map.PPFD},
		Quantity: "PPFD", Unit: quantity.PhotonFluxDensity.Unit(), Scale: draw.ScaleLight, Span: span,
		Contours: contours(b, a),
		Lamps:    lamps(b, a.Setting), Shelves: shelves(b), Plants: plants(b, m, a),
	}
	for i, r := range b.Readings {
		res := a.Readings[i]
		p.Readings = append(p.Readings, draw.Reading{Name: r.Name, X: r.X, Y: r.Y, Value: res.Measured, Model: res.Model, Far: res.FarOff})
	}
	return fit(id, b, func(f draw.Frame) draw.Picture {
		q := p
		q.Frame = f
		return q.Draw()
	})
}

// contours are the lines of the plan: target and ceiling where the bench has them,
// else the mean.
func contours(b *underlamp.Bench, a *light.Answer) []draw.Contour {
	var out []draw.Contour
	if t := b.Limits.Target; t > 0 {
		out = append(out, draw.Contour{Level: float64(t), Name: "target", Kind: draw.ContourTarget})
	} else {
		out = append(out, draw.Contour{Level: a.Mean.Value, Name: "mean at the plants", Kind: draw.ContourTarget})
	}
	if c := b.Limits.Ceiling; c > 0 {
		out = append(out, draw.Contour{Level: float64(c), Name: "ceiling", Kind: draw.ContourCeiling})
	}
	return out
}

func plantTable(b *underlamp.Bench, a *light.Answer) template.HTML {
	t := draw.Table{
		Caption: "Light of every plant at the planting surface; ± is one standard deviation",
		Head:    []string{"plant", "from left", "from front", "PPFD µmol/m²/s", "DLI mol/m²/d", "of the mean"},
	}
	if a.Shade != nil {
		t.Head = append(t.Head, "height", "PPFD at its top", "taken by neighbours")
	}
	for _, p := range a.Plants {
		row := []string{
			p.Name, quantity.Length.Format(float64(p.X), b.Units, 3), quantity.Length.Format(float64(p.Y), b.Units, 3),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.PPFD), 0), quantity.Fixed(float64(p.PPFDSD), 0)),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.DLI), 1), quantity.Fixed(float64(p.DLISD), 1)),
			quantity.Fixed(100*p.Share, 0) + " %",
		}
		if a.Shade != nil {
			row = append(row, TopCells(b, p)...)
		}
		t.Rows = append(t.Rows, row)
	}
	return template.HTML(t.HTML())
}

// TopCells are the height of a plant, the PPFD at its top and the share that its
// neighbours take of it, in words; empty where the height is not known.
func TopCells(b *underlamp.Bench, p light.PlantLight) []string {
	if p.Top == nil {
		return []string{"", "", ""}
	}
	return []string{quantity.Length.Format(float64(p.Top.Height), b.Units, 2), quantity.Fixed(float64(p.Top.PPFD), 0), working.Percent(p.Top.Taken)}
}

// days are the x values of the course.
func days(f *outlook.Forecast) []float64 {
	x := make([]float64, len(f.Course))
	for i, d := range f.Course {
		x[i] = float64(d.Day)
	}
	return x
}

func series(name string, f *outlook.Forecast, scale float64, pick func(outlook.DayBand) outlook.Band) draw.Series {
	s := draw.Series{Name: name}
	for _, d := range f.Course {
		v := pick(d)
		s.Y = append(s.Y, scale*v.Mid)
		s.Low = append(s.Low, scale*v.Low)
		s.High = append(s.High, scale*v.High)
	}
	return s
}

func growthPicture(b *underlamp.Bench, f *outlook.Forecast) template.HTML {
	ppfd := draw.Series{Name: "PPFD"}
	for _, d := range f.Course {
		ppfd.Y = append(ppfd.Y, d.PPFD)
	}
	lengthUnit, perMetre := quantity.Length.Shown(b.Units)
	l := draw.Lines{
		X: days(f), XName: "day after transplanting",
		Panels: []draw.Panel{
			{
				Name: "Fresh mass of a head", Unit: "g", Zero: true,
				Series: []draw.Series{series("fresh", f, 1, func(d outlook.DayBand) outlook.Band { return d.Fresh })},
				Limits: []draw.Limit{{Value: float64(b.Crop.Saleable.Value), Label: "smallest saleable"}},
			},
			{Name: "Light at the top of the canopy", Unit: "µmol/m²/s", Series: []draw.Series{ppfd}},
			{Name: "Height of a head", Unit: lengthUnit, Zero: true, Series: []draw.Series{series("height", f, perMetre, func(d outlook.DayBand) outlook.Band { return d.Height })}},
		},
	}
	return fit("growth", b, func(fr draw.Frame) draw.Picture {
		q := l
		q.Frame = fr
		return q.Draw()
	})
}

func calciumPicture(b *underlamp.Bench, f *outlook.Forecast) template.HTML {
	chance := draw.Series{Name: "burnt"}
	for _, d := range f.Course {
		chance.Y = append(chance.Y, 100*d.Chance)
	}
	l := draw.Lines{
		X: days(f), XName: "day after transplanting",
		Panels: []draw.Panel{
			{
				Name: "Calcium of the youngest leaves", Unit: "mg per g of new leaf", Zero: true,
				Series: []draw.Series{
					series("supply", f, 1, func(d outlook.DayBand) outlook.Band { return d.Supply }),
					series("need", f, 1, func(d outlook.DayBand) outlook.Band { return d.Need }),
					series("in leaf", f, 1, func(d outlook.DayBand) outlook.Band { return d.Calcium }),
				},
			},
			{
				Name: "Heads with inner burn so far", Unit: "%", Zero: true, Series: []draw.Series{chance},
				Limits: []draw.Limit{{Value: 100 * float64(b.Limits.Burn.Value), Label: "your limit"}},
			},
		},
	}
	if !math.IsNaN(f.FirstBurn.Mid) {
		l.Markers = []draw.Marker{{X: f.FirstBurn.Mid, Label: "burn would first show, day " + quantity.Fixed(f.FirstBurn.Mid, 0)}}
	}
	return fit("calcium", b, func(fr draw.Frame) draw.Picture {
		q := l
		q.Frame = fr
		return q.Draw()
	})
}

func sidePicture(b *underlamp.Bench, a *light.Answer) template.HTML {
	walls := b.Space.Walls
	heights, fall := a.Fall()
	s := draw.Side{
		Width: b.Space.Width, Height: b.Space.Height,
		Left: wall(walls[underlamp.Left]), Right: wall(walls[underlamp.Right]), Above: wall(walls[underlamp.Above]),
		Lamps: lamps(b, a.Setting), Shelves: shelves(b), Heights: heights, Light: fall,
		Quantity: "mean PPFD at the plants, by height", Unit: quantity.PhotonFluxDensity.Unit(),
	}
	return fit("side", b, func(f draw.Frame) draw.Picture {
		q := s
		q.Frame = f
		return q.Draw()
	})
}

func mapPicture(b *underlamp.Bench, r *outlook.Best, mp *outlook.SettingsMap) template.HTML {
	s := draw.SettingsMap{
		Yield:     draw.Grid{X: mp.PPFD, Y: mp.Hours, Values: mp.PerKWh},
		YieldName: "Saleable mass per electricity", YieldUnit: "g/kWh",
		Burn: mp.Chance, BurnLevels: []float64{0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8}, Limit: float64(b.Limits.Burn.Value),
		DLIs: []quantity.DLI{6, 9, 12, 15, 18, 21},
		Now:  &draw.Setting{PPFD: quantity.PPFD(mp.NowPPFD), Hours: quantity.Hours(mp.NowHours), Label: "now"},
	}
	// The best may hang at another height: it stands on this map by its light and hours.
	if r != nil && r.Found {
		s.Best = &draw.Setting{PPFD: quantity.PPFD(r.BestPPFD), Hours: r.Best.Setting.Hours, Label: "best"}
	}
	return fit("settings", b, func(f draw.Frame) draw.Picture {
		q := s
		q.Frame = f
		return q.Draw()
	})
}

// MapSection is a settings map by itself.
func MapSection(b *underlamp.Bench, mp *outlook.SettingsMap, title string) template.HTML {
	return template.HTML("<h3>"+template.HTMLEscapeString(title)+"</h3>") + mapPicture(b, nil, mp)
}

func whatIfPicture(b *underlamp.Bench, r *outlook.Best) template.HTML {
	bars := draw.Bars{Name: "Change of the chance of burn", Unit: "points"}
	for _, w := range r.WhatIfs {
		bars.Items = append(bars.Items, draw.Bar{Name: fmt.Sprintf("%s; fresh mass %s", w.Name, working.SignedPercent(w.Fresh)), Value: w.Points.Mid, Low: w.Points.Low, High: w.Points.High})
	}
	return fit("whatif", b, func(f draw.Frame) draw.Picture {
		q := bars
		q.Frame = f
		return q.Draw()
	})
}
