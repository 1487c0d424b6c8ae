package light

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/working"
)

// An Answer is the light of a bench at one setting.
type Answer struct {
	Setting underlamp.Setting // what was asked
	Day     quantity.Hours    // the light day

	Mean     working.Figure  // mean PPFD over the plants
	Lowest   working.Figure  // PPFD of the darkest plant
	Highest  working.Figure  // PPFD of the brightest plant
	Spread   working.Figure  // coefficient of variation: standard deviation over the plants, relative
	Evenness working.Figure  // darkest plant over the mean
	DLI      working.Figure  // mean DLI over the plants
	Canopy   working.Figure  // mean PPFD over the whole planting surface
	Within   working.Figure  // share of the planting surface within 10 % of the target
	Above    *working.Figure // share of the plants above the ceiling; nil if there is none
	Shade    *working.Figure // most that taller neighbours take from a plant; nil if the bench does not say how tall plants stand

	Plants   []PlantLight
	Readings []lightfield.ReadingResult
	Map      Map        // with the residual field
	Field    Correction // what the residual field did, and the answer before it
	Notes    []string   // what a person should know: doubtful readings, defaults that matter

	lit *Lit
	dim []float64
}

// PlantLight is the light of one plant at the planting surface.
type PlantLight struct {
	Name   string           `json:"name"`
	X      quantity.Metre   `json:"x_m"`
	Y      quantity.Metre   `json:"y_m"`
	PPFD   quantity.PPFD    `json:"ppfd_umol_m2_s"`
	PPFDSD quantity.PPFD    `json:"ppfd_sd_umol_m2_s"` // standard deviation, 1 σ
	DLI    quantity.DLI     `json:"dli_mol_m2_d"`
	DLISD  quantity.DLI     `json:"dli_sd_mol_m2_d"`
	Label  string           `json:"-"`
	Share  float64          `json:"share_of_mean"` // PPFD over the mean of all plants
	At     lightfield.Point `json:"-"`

	Top *TopLight `json:"top,omitempty"` // nil where the bench does not say how tall the plant stands
}

// A Map is PPFD on a regular grid that reaches over the planting surface from
// edge to edge.
type Map struct {
	X, Y []float64 // m from the left and from the front, ascending
	PPFD []float64 // µmol m⁻² s⁻¹ at X[i], Y[j]: PPFD[j*len(X)+i]
}

// Mean is the mean over the surface, by the trapezoidal rule.
func (m Map) Mean() float64 {
	sum, weights := 0.0, 0.0
	edge := func(i, n int) float64 {
		if i == 0 || i == n-1 {
			return 0.5
		}
		return 1
	}
	for j := range m.Y {
		for i := range m.X {
			w := edge(i, len(m.X)) * edge(j, len(m.Y))
			sum += w * m.PPFD[j*len(m.X)+i]
			weights += w
		}
	}
	return sum / weights
}

// Answer computes the light at a setting; nil asks for that of the bench. The
// map has the number of columns given, and rows in proportion.
func (m *Model) Answer(change *underlamp.Setting, columns int) (*Answer, error) {
	setting := m.bench.Setting()
	if change != nil {
		setting = *change
	}
	lit, err := m.At(setting.Height)
	if err != nil {
		return nil, err
	}
	return lit.Answer(change, columns), nil
}

// Answer computes the light at these lamp heights; dimming and hours are those
// of change, or of the bench if it is nil.
func (l *Lit) Answer(change *underlamp.Setting, columns int) *Answer {
	setting := l.m.bench.Setting()
	if change != nil {
		setting = *change
	}
	dim, day := l.m.weights(change)
	return l.answer(setting, dim, day, columns)
}

// AnswerDimmed is [Lit.Answer] with a dimming for each lamp, all burning for the
// same hours. The setting of the answer has their mean by flux.
func (l *Lit) AnswerDimmed(dimming []quantity.Fraction, hours quantity.Hours, columns int) *Answer {
	b := *l.m.bench
	b.Lamps = append([]underlamp.Lamp{}, b.Lamps...)
	dim := make([]float64, len(b.Lamps))
	for i := range b.Lamps {
		b.Lamps[i].Dimming = underlamp.Said(dimming[i])
		b.Lamps[i].Hours = underlamp.Said(hours)
		dim[i] = output(b.Lamps[i], dimming[i])
	}
	return l.answer(b.Setting(), dim, hours, columns)
}

func (l *Lit) answer(setting underlamp.Setting, dim []float64, day quantity.Hours, columns int) *Answer {
	m := l.m
	a := &Answer{Setting: setting, Day: day, lit: l, dim: dim}
	a.Setting.Height = l.height

	l.mu.Lock()
	x, err := l.mixed(dim)
	if err != nil {
		// The fit has solved this space before; without slopes the doubt is not known.
		x = &mixture{sd: make([]float64, len(m.plants)), meanSD: math.NaN(), mapping: map[int][]float64{}}
		for i := range x.sd {
			x.sd[i] = math.NaN()
		}
	}
	plain := l.atSurface(dim)
	ppfd, bare := crownMeans(plain, x.factor), crownMeans(plain, nil)
	var onMap []float64
	a.Map, onMap = l.mapOf(dim, columns, x)
	sd, meanSD := x.sd, x.meanSD
	l.mu.Unlock()

	mean, low, high := 0.0, 0, 0
	for i, v := range ppfd {
		mean += v / float64(len(ppfd))
		if v < ppfd[low] {
			low = i
		}
		if v > ppfd[high] {
			high = i
		}
	}
	ss := 0.0
	for i, v := range ppfd {
		ss += (v - mean) * (v - mean)
		p := m.bench.Plants[i]
		a.Plants = append(a.Plants, PlantLight{
			Name: p.Name, X: p.X, Y: p.Y,
			PPFD: quantity.PPFD(v), PPFDSD: quantity.PPFD(v * sd[i]),
			DLI:   quantity.DailyLight(quantity.PPFD(v), day),
			DLISD: quantity.DailyLight(quantity.PPFD(v*sd[i]), day),
			Share: v / mean, At: m.plants[i],
		})
	}
	a.Field = m.correction(ppfd, bare, onMap)
	l.addTops(a, dim, bare)

	w := m.lightWorking(a.Setting, day)
	figure := func(name string, v, rel float64) working.Figure {
		return working.Figure{Name: name, Value: v, Unit: quantity.PhotonFluxDensity.Unit(), Band: working.Normal(v, v*rel, 0.9), Working: w}
	}
	a.Mean = figure("mean PPFD at the plants", mean, meanSD)
	a.Lowest = figure("PPFD of the darkest plant", ppfd[low], sd[low])
	a.Highest = figure("PPFD of the brightest plant", ppfd[high], sd[high])
	a.Canopy = figure("mean PPFD over the planting surface", a.Map.Mean(), meanSD)
	a.Spread = working.Figure{
		Name: "spread over the plants", Value: 100 * math.Sqrt(ss/math.Max(1, float64(len(ppfd)-1))) / mean, Unit: "%", Digits: 2,
		Working: working.Working{
			Formula: "standard deviation of PPFD over the plants / mean",
			Inputs:  []working.Input{working.Plain("plants", fmt.Sprint(len(ppfd)), "stated")},
			Notes:   []string{"A common error of the meter drops out of this figure."},
		},
	}
	a.Evenness = m.evenness(ppfd[low], mean)
	a.Within = m.within(a.Map)
	a.Above = m.above(ppfd)
	dw := working.Working{
		Formula: "DLI = PPFD · 0.0036 · hours",
		Inputs: []working.Input{
			working.Plain("mean PPFD", a.Mean.Text(), "computed"),
			working.Plain("hours of light", quantity.Duration.Format(float64(day), m.bench.Units, 3), m.bench.Origins(a.Setting).Hours.String()),
		},
		Sources: []string{"ASABE2017"},
	}
	dli := float64(quantity.DailyLight(quantity.PPFD(mean), day))
	a.DLI = working.Figure{Name: "mean DLI at the plants", Value: dli, Unit: quantity.DailyIntegral.Unit(), Band: working.Normal(dli, dli*meanSD, 0.9), Working: dw}

	a.Readings = slices.Clone(m.fit.Readings)
	for i, r := range a.Readings {
		a.Readings[i].Reasons = r.ReasonsIn(m.bench.Units)
	}
	a.Notes = m.notes()
	return a
}

// lightWorking is the working that all figures of PPFD share.
func (m *Model) lightWorking(s underlamp.Setting, day quantity.Hours) working.Working {
	b := m.bench
	from := b.Origins(s)
	w := working.Working{
		Formula: "E = Σ lamps dimming · ∫ I cos α / d² dA + light from the walls;  I = Φ (m+1)/(2π) cosᵐ θ, or as the photometric file has it",
		Sources: []string{"GeneralisedCosine", "HowellCatalogue", "ASABE2017"},
	}
	if slices.ContainsFunc(b.Lamps, func(l underlamp.Lamp) bool { return l.File != nil }) {
		w.Sources = append(w.Sources, "LM63")
	}
	seen := map[string]bool{}
	for i, l := range b.Lamps {
		if seen[l.Kind] {
			continue
		}
		seen[l.Kind] = true
		in := working.Of("photon flux of "+l.Kind, l.Flux, quantity.PhotonFlux, b.Units)
		if len(b.Readings) > 0 {
			in.Note = fmt.Sprintf("the readings make it %s", quantity.PhotonFlux.Format(float64(m.fit.Lamps[i].Flux), b.Units, 3))
		}
		beam := working.Of("beam of "+l.Kind, l.Beam, quantity.Angle, b.Units)
		if len(b.Readings) > 0 && l.File == nil {
			beam.Note = fmt.Sprintf("the readings make it %s", quantity.Angle.Format(float64(lightfield.BeamFromExponent(m.fit.Lamps[i].Exponent)), b.Units, 3))
		}
		w.Inputs = append(w.Inputs, in, beam)
		if !l.Left.IsDefault() {
			w.Inputs = append(w.Inputs, LeftInput(b, &l))
			if l.Fade > 0 && !slices.Contains(w.Sources, "TM21") {
				w.Sources = append(w.Sources, "TM21")
			}
		}
		if l.Pose.Tilt != 0 {
			w.Inputs = append(w.Inputs, working.Plain("tilt of "+l.Name, fmt.Sprintf("%s towards %s", quantity.Angle.Format(float64(l.Pose.Tilt), b.Units, 3), quantity.Angle.Format(float64(l.Pose.Towards), b.Units, 3)), "stated"))
		}
		if len(l.Curve) > 0 {
			w.Inputs = append(w.Inputs, working.Plain("light of "+l.Kind+" at this dimming", quantity.Share.Format(float64(l.Light(s.Dimming)), b.Units, 3), "measured dimming curve"))
		}
	}
	w.Inputs = append(w.Inputs,
		working.Plain("height of the lamps", quantity.Length.Format(float64(s.Height), b.Units, 3), "stated"),
		working.Plain("dimming", quantity.Share.Format(float64(s.Dimming), b.Units, 3), from.Dimming.String()),
		working.Plain("light day", quantity.Duration.Format(float64(day), b.Units, 3), from.Hours.String()),
	)
	for _, side := range underlamp.Sides() {
		wall := b.Space.Walls[side]
		if wall.Open {
			w.Inputs = append(w.Inputs, working.Plain("side "+side.String(), "open", wall.Reflectance.Origin.String()))
			continue
		}
		in := working.Of("reflectance "+side.String(), wall.Reflectance, quantity.Share, b.Units)
		if fitted := m.fit.Space.Walls[side].Reflectance; len(b.Readings) > 0 && math.Abs(float64(fitted-wall.Reflectance.Value)) > 0.005 {
			in.Note = fmt.Sprintf("the readings make it %s", quantity.Share.Format(float64(fitted), b.Units, 2))
		}
		w.Inputs = append(w.Inputs, in)
		if wall.Mirror.Value > 0 {
			w.Inputs = append(w.Inputs, m.mirrorInput(side, wall))
		}
	}
	for _, sh := range b.Space.Shelves {
		w.Inputs = append(w.Inputs, working.Plain(sh.Name, fmt.Sprintf("at %s, sends back %s above and %s below", quantity.Length.Format(float64(sh.Height), b.Units, 3), working.Percent(float64(sh.Top.Value)), working.Percent(float64(sh.Bottom.Value))), "stated"))
	}
	if n := len(b.Readings); n > 0 {
		w.Inputs = append(w.Inputs, working.Plain("meter readings", fmt.Sprint(n), "measured"))
		w.Steps = append(w.Steps, "Photon flux, beam and reflectance were fitted to the readings with what the labels say as prior; a reading far off the others weighs little.")
	} else {
		w.Notes = append(w.Notes, "No meter reading: the level rests on the label alone, taken as good to 15 %.")
	}
	m.fieldWorking(&w)
	w.Steps = append(w.Steps, "The light of a plant is the mean over seven points of its crown, at the planting surface.")
	held := "The band holds label, meter (5 % common to all readings), beam and walls"
	if mirrorDoubt(b) > 0 {
		held += ", how much of a wall mirrors (common practice, no source; Pozzobon2020 has that two sides of one foil differ)"
		w.Sources = append(w.Sources, "Pozzobon2020")
	}
	if m.use.on {
		held += ", and by the residual field what readings of this kind are usually off the model by"
	}
	w.Notes = append(w.Notes, held+". It does not hold the shade of lamps and cables, or a lamp that was moved since.")
	return w
}

// mirrorInput is the mirrored part of a wall with how well it is known.
func (m *Model) mirrorInput(side underlamp.Side, wall underlamp.Wall) working.Input {
	units := m.bench.Units
	in := working.Of("of it mirrored "+side.String(), wall.Mirror, quantity.Share, units)
	say := func(text string) {
		if in.Note != "" {
			in.Note += "; "
		}
		in.Note += text
	}
	if sd := mirrorDoubt(m.bench); sd > 0 && wall.Mirror.Value < wall.Reflectance.Value {
		share := float64(wall.Mirror.Value / wall.Reflectance.Value)
		say(fmt.Sprintf("of all that comes back %s to %s is mirrored (one standard deviation; common practice, no source)",
			working.Percent(ofLogit(share, -sd)), working.Percent(ofLogit(share, sd))))
		if fitted := m.fit.Space.Walls[side]; len(m.bench.Readings) > 0 && fitted.Mirror+fitted.Reflectance > 0 {
			if now := float64(fitted.Mirror / (fitted.Mirror + fitted.Reflectance)); math.Abs(now-share) > 0.005 {
				say("the readings make it " + working.Percent(now))
			}
		}
	}
	return in
}

// notes are what a person should be told beside the figures.
func (m *Model) notes() []string {
	notes := append([]string(nil), m.fit.Notes...)
	for _, r := range m.fit.Readings {
		if r.FarOff {
			notes = append(notes, fmt.Sprintf("Reading %s is far off the model: %.0f measured, %.0f computed. %s", r.Name, r.Measured, r.Model, "It could be that "+strings.Join(r.ReasonsIn(m.bench.Units), "; or ")+"."))
		}
	}
	hours := map[quantity.Hours]bool{}
	for _, l := range m.bench.Lamps {
		hours[l.Hours.Value] = true
	}
	if len(hours) > 1 {
		notes = append(notes, "The lamps burn for different hours: PPFD is the mean over the longest light day.")
	}
	return notes
}

// LeftInput is what age has left of a lamp, with its day.
func LeftInput(b *underlamp.Bench, l *underlamp.Lamp) working.Input {
	in := working.Of("light left by age of "+l.Kind, l.Left, quantity.Share, b.Units)
	if l.LeftOn != "" {
		in.Note = "on " + l.LeftOn
	}
	if day := b.Day(); l.Fade > 0 && day != "" && day != l.LeftOn {
		if in.Note != "" {
			in.Note += ", "
		}
		in.Note += fmt.Sprintf("%s on %s, the day of the bench", quantity.Share.Format(float64(l.LeftAt(day)), b.Units, 3), day)
	}
	return in
}

// Fall is how the mean PPFD at the plants of the answer changes with height, from the
// planting surface to just below the lowest lamp.
func (a *Answer) Fall() (heightsM, ppfd []float64) { return a.lit.fall(a.dim) }
