package draw

import (
	"math"
	"strconv"

	"underlamp/science/quantity"
)

// The invented bench of the tests: 120 by 60 cm, two lamps, 18 plants, 35 days.
// Values come from smooth formulas of no meaning; only their size is realistic.

func sampleGrid() Grid {
	var g Grid
	for i := range 49 {
		g.X = append(g.X, 1.2*float64(i)/48)
	}
	for j := range 25 {
		g.Y = append(g.Y, 0.6*float64(j)/24)
	}
	for _, y := range g.Y {
		for _, x := range g.X {
			g.Values = append(g.Values, sampleLight(x, y))
		}
	}
	return g
}

func sampleLight(x, y float64) float64 {
	spot := func(cx, cy float64) float64 {
		return math.Exp(-((x-cx)*(x-cx)/0.11 + (y-cy)*(y-cy)/0.16))
	}
	return 120 + 190*spot(0.32, 0.33) + 172*spot(0.9, 0.28)
}

func samplePlan(f Frame) Plan {
	p := Plan{
		Frame: f, Width: 1.2, Depth: 0.6,
		Walls:    [4]Wall{{Label: "white paint, 80 %"}, {Open: true}, {Open: true}, {Label: "white paint, 80 %"}},
		Light:    sampleGrid(),
		Quantity: "PPFD", Unit: "µmol/m²/s",
		Contours: []Contour{{Level: 200}, {Level: 250, Name: "target", Kind: ContourTarget}, {Level: 290, Name: "ceiling", Kind: ContourCeiling}},
		Lamps:    []Lamp{{Name: "A", X: 0.32, Y: 0.32, Width: 0.42, Depth: 0.3, Turn: 20}, {Name: "B", X: 0.9, Y: 0.28, Width: 0.3, Round: true}},
		Shelves:  []Shelf{{Name: "shelf 1", X1: 1.0, X2: 1.2, Y1: 0, Y2: 0.6, Height: 0.3}},
		Readings: []Reading{{Name: "1", X: 0.2, Y: 0.2, Value: 262, Model: 252}, {Name: "2", X: 0.6, Y: 0.3, Value: 231, Model: 236},
			{Name: "3", X: 1.0, Y: 0.4, Value: 214, Model: 262, Far: true}, {Name: "4", X: 0.5, Y: 0.1, Value: 196, Model: 188}},
	}
	for j := range 3 {
		for i := range 6 {
			x, y := 0.1+0.2*float64(i), 0.1+0.2*float64(j)
			p.Plants = append(p.Plants, Plant{Name: string(rune('A'+j)) + strconv.Itoa(i+1), X: quantity.Metre(x), Y: quantity.Metre(y), Crown: 0.055, Value: sampleLight(x, y)})
		}
	}
	return p
}

func sampleSide(f Frame) Side {
	s := Side{
		Frame: f, Width: 1.2, Height: 0.55,
		Left: Wall{Label: "white paint"}, Right: Wall{Open: true}, Above: Wall{Label: "grey shelf, 30 %"},
		Lamps:    []Lamp{{Name: "A", X: 0.32, Height: 0.46, Width: 0.42, Beam: 110}, {Name: "B", X: 0.9, Height: 0.42, Width: 0.3, Beam: 80}},
		Shelves:  []Shelf{{Name: "shelf 1", X1: 1.0, X2: 1.2, Y1: 0, Y2: 0.6, Height: 0.3}},
		Canopies: []Canopy{{Name: "now", Height: 0.06}, {Name: "at harvest", Height: 0.18}},
		Quantity: "PPFD", Unit: "µmol/m²/s",
	}
	for z := 0.0; z <= 0.36; z += 0.02 {
		s.Heights = append(s.Heights, z)
		s.Light = append(s.Light, 212*math.Pow(0.62/(0.62-z), 1.3))
	}
	return s
}

func sampleLines(f Frame) Lines {
	l := Lines{Frame: f, XName: "day after transplanting", Markers: []Marker{{X: 23, Label: "first burn could show, day 23"}}}
	mass := Series{Name: "fresh mass"}
	supply, demand, leaf := Series{Name: "supply"}, Series{Name: "demand"}, Series{Name: "youngest leaves"}
	for d := 1; d <= 35; d++ {
		x := float64(d)
		l.X = append(l.X, x)
		m := 260 / (1 + math.Exp(-(x-25)/4.6))
		mass.Y, mass.Low, mass.High = append(mass.Y, m), append(mass.Low, m*0.82), append(mass.High, m*1.17)
		s, q := 0.4+0.75*x/35, 0.3+0.95/(1+math.Exp(-(x-19)/4))
		supply.Y, demand.Y = append(supply.Y, s), append(demand.Y, q)
		c := 4.1 * math.Min(1.2, s/q)
		leaf.Y, leaf.Low, leaf.High = append(leaf.Y, c), append(leaf.Low, c*0.9), append(leaf.High, c*1.1)
	}
	l.Panels = []Panel{
		{Name: "Fresh mass of a head", Unit: "g", Series: []Series{mass}, Zero: true},
		{Name: "Calcium for the youngest leaves", Unit: "mg/d", Series: []Series{supply, demand}, Zero: true},
		{Name: "Calcium in the youngest leaves", Unit: "mg/g dry", Series: []Series{leaf}, Limits: []Limit{{Value: 3.7, Label: "burn likely below"}}, Zero: false},
	}
	return l
}

func sampleSettings(f Frame) SettingsMap {
	s := SettingsMap{Frame: f, YieldName: "Fresh mass per electricity", YieldUnit: "g/kWh",
		BurnLevels: []float64{0.05, 0.1, 0.2, 0.4}, Limit: 0.1, DLIs: []quantity.DLI{10, 14, 18},
		Now: &Setting{250, 18, "now"}, Best: &Setting{230, 15.5, "best"}}
	for i := range 31 {
		s.Yield.X = append(s.Yield.X, 100+10*float64(i))
	}
	for j := range 25 {
		s.Yield.Y = append(s.Yield.Y, 10+0.5*float64(j))
	}
	for _, h := range s.Yield.Y {
		for _, e := range s.Yield.X {
			d := e * h * 0.0036
			s.Yield.Values = append(s.Yield.Values, 210*math.Exp(-math.Pow((d-11)/9, 2))*(1-0.0006*(e-150)))
			s.Burn = append(s.Burn, 1/(1+math.Exp(-(d-17.5-0.02*(300-e))/1.7)))
		}
	}
	return s
}

func sampleBars(f Frame) Bars {
	return Bars{Frame: f, Name: "Change in chance of burn", Unit: "points", Items: []Bar{
		{"fan on, 0.4 m/s at the leaf", -18, -25, -9},
		{"light 16 h instead of 18 h", -11, -16, -5},
		{"humidity at night up from 65 to 80 %", -6, -13, 2},
		{"lamps 5 cm higher", -4, -7, -1},
		{"dimming 90 % instead of 80 %", 7, 3, 12},
		{"another cultivar", math.NaN(), math.NaN(), math.NaN()},
	}}
}

// samplePolar is a bar that sends a little light up: wide across, narrower along.
func samplePolar(f Frame) Polar {
	p := Polar{Frame: f, Name: "Intensity", Unit: "cd"}
	along := PolarCurve{Name: "C0 and C180", RightName: "C0", LeftName: "C180"}
	across := PolarCurve{Name: "C90 and C270", RightName: "C90", LeftName: "C270"}
	for a := 0.0; a <= 180; a += 2.5 {
		p.Angles = append(p.Angles, a)
		cos := math.Round(1e9*math.Cos(a*math.Pi/180)) / 1e9
		up := 60 * math.Max(0, -cos)
		along.Right, along.Left = append(along.Right, 940*math.Pow(math.Max(0, cos), 1.9)+up), append(along.Left, 940*math.Pow(math.Max(0, cos), 1.9)+up)
		wing := 120 * math.Exp(-math.Pow((a-42)/18, 2))
		across.Right, across.Left = append(across.Right, 940*math.Max(0, cos)+wing*math.Max(0, cos)+up), append(across.Left, 940*math.Max(0, cos)+up)
	}
	p.Curves = []PolarCurve{along, across}
	return p
}

// samplePolarDown is a plain emitter, the same all round.
func samplePolarDown(f Frame) Polar {
	p := Polar{Frame: f, Name: "Intensity", Unit: "cd"}
	k := PolarCurve{Name: "all planes"}
	for a := 0.0; a <= 90; a += 5 {
		p.Angles = append(p.Angles, a)
		k.Right = append(k.Right, math.Round(2350*math.Cos(a*math.Pi/180)))
	}
	k.Left = k.Right
	p.Curves = []PolarCurve{k}
	return p
}
