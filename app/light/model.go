package light

import (
	"fmt"
	"math"
	"sync"

	"underlamp"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/science/residualfield"
)

// What is known of a lamp and its surroundings before any reading, as relative
// standard deviations. Common practice, no source: a label is good to 15 %; a
// photon flux worked out from watts and a default efficacy to 25 %; where neither
// flux nor watts were said it is known to a factor of 2. A beam that was said is
// good to 0.2 in the logarithm of its exponent (109° to 130° for 120°), a default
// one to 0.4 (98° to 138°).
const (
	labelSD       = 0.15
	defaultSD     = 0.25
	unknownSD     = 0.7
	beamSD        = 0.2
	defaultBeamSD = 0.4
)

// Options are what a person may choose beside the bench.
type Options struct {
	Field   FieldUse
	Target  quantity.PPFD // that the shelf should have; 0 takes that of the bench, or the mean over the planting surface
	Ceiling quantity.PPFD // that no plant should exceed; 0 takes that of the bench, if it has one
}

// A Model is the light of one bench: lamps corrected by readings, in their
// space.
type Model struct {
	bench      *underlamp.Bench
	opt        Options
	fit        *lightfield.Fitted // readings judged by lamps and walls alone; lamps as fitted beside the field
	room       *lightfield.Room
	field      *residualfield.Field // of the readings; switched off it holds the parameters alone
	use        fieldUsed
	closedRoom func() *lightfield.Room            // with a closed canopy below; nil if that makes no difference
	plainSD    func() ([]float64, error)          // see PlantSD
	slopes     func() (*lightfield.Slopes, error) // made when first asked
	crownM     float64                            // radius of the disc that a plant's light is averaged over
	plants     []lightfield.Point                 // middle of each crown at z = 0
	samples    []lightfield.Point                 // crownSamples for each plant, at z = 0
	middles    planes                             // plants at heights
	crowns     planes                             // samples at heights
	maps       planes                             // points of maps, by columns
}

// crownOffsets are seven points of a disc of radius 1 whose plain mean stands
// for the mean over the disc: the middle, and six on a ring of radius √(7/12),
// which makes the rule exact for polynomials of degree 3 (the mean of r² over
// the disc is ½ = 6/7 · 7/12).
var crownOffsets = func() [7][2]float64 {
	var o [7][2]float64
	r := math.Sqrt(7.0 / 12.0)
	for i := range 6 {
		a := float64(i) * math.Pi / 3
		o[i+1] = [2]float64{r * math.Cos(a), r * math.Sin(a)}
	}
	return o
}()

// NewModel fits the lamps of a bench to its readings and prepares its space. An
// error means that the bench cannot be lit as described; the reader of bench
// files finds such faults first and with their line.
func NewModel(b *underlamp.Bench) (*Model, error) { return NewModelWith(b, Options{}) }

// NewModelWith is [NewModel] with choices.
func NewModelWith(b *underlamp.Bench, opt Options) (*Model, error) {
	if opt.Target == 0 {
		opt.Target = b.Limits.Target
	}
	if opt.Ceiling == 0 {
		opt.Ceiling = b.Limits.Ceiling
	}
	space := spaceOf(b)
	lamps := lampsOf(b)
	readings, err := readingsOf(b)
	if err != nil {
		return nil, err
	}
	fit, err := lightfield.Fit(space, lamps, readings, priorOf(b))
	if err != nil {
		return nil, fmt.Errorf("the light of bench %q cannot be computed: %w", b.Name, err)
	}
	m := &Model{bench: b, opt: opt, fit: fit, crownM: crownRadius(b)}
	if err := m.addField(readings); err != nil {
		return nil, fmt.Errorf("the readings of bench %q cannot be carried over the shelf: %w", b.Name, err)
	}
	if m.room, err = lightfield.NewRoom(m.fit.Space, lightfield.Options{}); err != nil {
		return nil, fmt.Errorf("the space of bench %q cannot be computed: %w", b.Name, err)
	}
	m.slopes = sync.OnceValues(m.fit.Slopes)
	m.closedRoom = sync.OnceValue(func() *lightfield.Room {
		below := m.fit.Space.Walls[lightfield.Below]
		if below.Open || below.Reflectance <= canopyReflectance+1e-6 && below.Mirror == 0 {
			return nil
		}
		room, err := m.room.WithReflectance(lightfield.Below, canopyReflectance)
		if err != nil {
			return nil // the room has been made before
		}
		return room
	})
	m.plainSD = sync.OnceValues(func() ([]float64, error) { return m.plantSD(priorOf(b).MeterSD) })
	for _, p := range b.Plants {
		c := lightfield.Point{X: float64(p.X), Y: float64(p.Y)}
		m.plants = append(m.plants, c)
		for _, o := range crownOffsets {
			m.samples = append(m.samples, lightfield.Point{
				X: clamp(c.X+o[0]*m.crownM, 0, float64(b.Space.Width)),
				Y: clamp(c.Y+o[1]*m.crownM, 0, float64(b.Space.Depth)),
			})
		}
	}
	m.middles.of, m.crowns.of = m.plants, m.samples
	return m, nil
}

// Bench is the bench of the model.
func (m *Model) Bench() *underlamp.Bench { return m.bench }

// Fit is what the readings taught of lamps, walls and meter, beside the residual
// field. Its Readings and Notes judge by lamps and walls alone.
func (m *Model) Fit() *lightfield.Fitted { return m.fit }

// CrownRadius is the radius in m that a plant's light is averaged over.
func (m *Model) CrownRadius() quantity.Metre { return quantity.Metre(m.crownM) }

// crownRadius is half of the distance to the nearest neighbour, between 3 and
// 15 cm; a single plant gets 12 cm, the radius of a grown butterhead.
func crownRadius(b *underlamp.Bench) float64 {
	nearest := math.Inf(1)
	for i, p := range b.Plants {
		for _, q := range b.Plants[:i] {
			nearest = min(nearest, math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y)))
		}
	}
	if math.IsInf(nearest, 1) {
		return 0.12
	}
	return clamp(nearest/2, 0.03, 0.15)
}

func spaceOf(b *underlamp.Bench) lightfield.Space {
	s := lightfield.Space{Width: float64(b.Space.Width), Depth: float64(b.Space.Depth), Height: float64(b.Space.Height)}
	for _, side := range underlamp.Sides() {
		w := b.Space.Walls[side]
		s.Walls[side] = lightfield.Wall{Open: w.Open, Reflectance: max(w.Reflectance.Value-w.Mirror.Value, 0), Mirror: w.Mirror.Value}
	}
	for _, sh := range b.Space.Shelves {
		s.Panels = append(s.Panels, lightfield.Panel{
			X1: float64(sh.X1), X2: float64(sh.X2), Y1: float64(sh.Y1), Y2: float64(sh.Y2), Z: float64(sh.Height),
			Top: sh.Top.Value, Bottom: sh.Bottom.Value,
		})
	}
	return s
}

func lampsOf(b *underlamp.Bench) []lightfield.Lamp {
	out := make([]lightfield.Lamp, len(b.Lamps))
	for i, l := range b.Lamps {
		shape := lightfield.Rectangle
		switch {
		case l.Opening.Inner > 0:
			shape = lightfield.Ring
		case l.Opening.Round:
			shape = lightfield.Disc
		}
		m, err := lightfield.ExponentFromBeam(l.Beam.Value)
		if err != nil {
			m = 1 // the reader refuses such beams; a Lambertian lamp is the neutral answer
		}
		out[i] = lightfield.Lamp{
			Centre: lightfield.Point{X: float64(l.X), Y: float64(l.Y), Z: float64(l.Height)},
			Shape:  shape, Width: float64(l.Opening.Width.Value), Depth: float64(l.Opening.Depth.Value),
			Inner: float64(l.Opening.Inner),
			Name:  l.Name,
			Flux:  l.Flux.Value * quantity.PPF(l.LeftAt(b.Day())), Exponent: m,
			Turn: l.Pose.Turn, Tilt: l.Pose.Tilt, Towards: l.Pose.Towards,
		}
		if l.File != nil {
			out[i].Distribution = l.File.Web
		}
	}
	return out
}

func readingsOf(b *underlamp.Bench) ([]lightfield.Reading, error) {
	var out []lightfield.Reading
	for _, r := range b.Readings {
		dim := make([]float64, len(b.Lamps))
		known := map[string]bool{}
		for i, l := range b.Lamps {
			known[l.Name] = true
			if len(r.Lamps) == 0 || contains(r.Lamps, l.Name) {
				dim[i] = output(l, r.Dimming.Value)
				if r.Dimming.IsDefault() {
					dim[i] = output(l, l.Dimming.Value)
				}
				if r.When != "" { // the lamp was younger, or older, than on the day of the bench
					dim[i] *= float64(l.LeftAt(r.When) / l.LeftAt(b.Day()))
				}
			}
		}
		for _, name := range r.Lamps {
			if !known[name] {
				return nil, fmt.Errorf("reading %q names the lamp %q, which the bench does not have", r.Name, name)
			}
		}
		out = append(out, lightfield.Reading{
			Name: r.Name,
			At:   lightfield.Point{X: float64(r.X), Y: float64(r.Y), Z: float64(r.Height)},
			PPFD: r.PPFD, Dimming: dim,
		})
	}
	return out, nil
}

// priorOf says what was known before the readings.
func priorOf(b *underlamp.Bench) lightfield.Prior {
	groups := map[string]int{}
	var p lightfield.Prior
	for _, l := range b.Lamps {
		g, ok := groups[l.Kind]
		if !ok {
			g = len(groups)
			groups[l.Kind] = g
		}
		sd := labelSD
		switch {
		case l.Flux.IsDefault() && l.Power.IsDefault():
			sd = unknownSD
		case l.Flux.IsDefault() || (l.Flux.Origin == underlamp.Computed && l.Rated.IsDefault()):
			sd = defaultSD
		}
		switch {
		case l.File != nil: // its beam is known; only lamps without a file have one to fit
		case l.Beam.IsDefault():
			p.ExponentSD = defaultBeamSD // the widest counts for all
		default:
			p.ExponentSD = max(p.ExponentSD, beamSD)
		}
		p.Group = append(p.Group, g)
		p.FluxSD = append(p.FluxSD, sd)
	}
	p.MeterSD = MeterSD
	p.MirrorSD = mirrorDoubt(b)
	for _, w := range b.Space.Walls {
		if !w.Open && w.Reflectance.Value > 0 && w.Reflectance.Value < 1 {
			p.ReflectanceSD = 0.6
		}
	}
	return p
}

// How well the mirrored share of what a wall sends back is known, as the standard
// deviation of its logit: assumed for a named surface (foil 0.64 to 0.90 about 0.80,
// film and steel 0.40 to 0.77 about 0.60), stated, and measured. That the share differs
// where all that comes back does not is in the abstract of Pozzobon2020, of the two
// sides of kitchen foil; the spreads are common practice, no source. One shift is
// common to all walls, and the least known counts.
const (
	assumedMirrorSD  = 0.8
	statedMirrorSD   = 0.4
	measuredMirrorSD = 0.2
)

// mirrorDoubt is the spread of the mirrored shares of a bench; 0 where no wall both
// mirrors and scatters.
func mirrorDoubt(b *underlamp.Bench) float64 {
	doubt := 0.0
	for _, w := range b.Space.Walls {
		if w.Open || w.Mirror.Value <= 0 || w.Mirror.Value >= w.Reflectance.Value {
			continue
		}
		switch w.Mirror.Origin {
		case underlamp.Default:
			doubt = max(doubt, assumedMirrorSD)
		case underlamp.Measured:
			doubt = max(doubt, measuredMirrorSD)
		default:
			doubt = max(doubt, statedMirrorSD)
		}
	}
	return doubt
}

// ofLogit moves a share by a step of its logit.
func ofLogit(share, step float64) float64 {
	return 1 / (1 + (1-share)/share*math.Exp(-step))
}

// MeterSD is the relative standard deviation of a quantum meter, common to all
// of its readings: about what makers state for hand meters. Common practice, no
// source.
const MeterSD = 0.05

func clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

// lampsAt are the fitted lamps moved to a setting: each keeps its distance from
// the mean height.
func (m *Model) lampsAt(s underlamp.Setting) []lightfield.Lamp {
	b := m.bench.With(s)
	lamps := make([]lightfield.Lamp, len(m.fit.Lamps))
	copy(lamps, m.fit.Lamps)
	for i := range lamps {
		lamps[i].Centre.Z = clearOf(m.fit.Space, lamps[i], float64(b.Lamps[i].Height))
	}
	return lamps
}

// clearOf is the height of a lamp moved to where its opening, tilted as it is,
// stays between floor and ceiling and does not touch a shelf: a search over heights
// goes to the limits and passes every shelf, and a lamp in a board cannot be
// computed.
func clearOf(space lightfield.Space, l lightfield.Lamp, z float64) float64 {
	const gap = 2e-3 // m
	half := max(l.Width, l.Depth) / 2
	high := half * math.Sin(float64(l.Tilt)*math.Pi/180)
	if high > 0 {
		z = clamp(z, min(high+gap, space.Height/2), max(space.Height-high-gap, space.Height/2))
	}
	for _, p := range space.Panels {
		beside := l.Centre.X+half < p.X1 || l.Centre.X-half > p.X2 || l.Centre.Y+half < p.Y1 || l.Centre.Y-half > p.Y2
		if !beside && math.Abs(z-p.Z) < high+gap {
			z = p.Z + high + gap
		}
	}
	return z
}
