package light

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"underlamp"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/science/residualfield"
)

// A Lit bench is a model at fixed lamp heights: the costly part is done, and
// any dimming and hours are a matter of adding up. It keeps what it has computed
// and may be used in parallel.
type Lit struct {
	m      *Model
	field  *lightfield.Field
	height quantity.Metre // mean height of the lamps

	closeOnce sync.Once
	shut      *Lit // see closed

	mu     sync.Mutex
	crowns []float64           // responses at the crown samples at z = 0
	maps   map[int]*mapLight   // by columns
	slope  *lightfield.Slope   // at the plants at z = 0
	last   map[string]*mixture // by mix of the lamps
}

// A mapLight is the part of a map that no dimming changes.
type mapLight struct {
	x, y      []float64
	pts       []lightfield.Point
	responses []float64
}

// A mixture is the part of an answer that depends on how the lamps share in the
// light, and not on how much there is.
type mixture struct {
	factor  []float64         // of the field at the crown samples; nil without field
	sd      []float64         // relative standard deviation at each plant
	meanSD  float64           // of the mean over the plants
	mapping map[int][]float64 // factor of the field on the map, by columns
	heights []float64         // where the fall is known, in m; nil until it is asked for
	fall    []float64         // mean response of each lamp over the plants, lamps together by height
}

// mostMixtures bounds what a Lit remembers.
const mostMixtures = 32

// At places the lamps at a mean height and solves the space.
func (m *Model) At(height quantity.Metre) (*Lit, error) {
	s := m.bench.Setting()
	s.Height = height
	field, err := m.room.Solve(m.lampsAt(s))
	if err != nil {
		return nil, fmt.Errorf("lamps at %s: %w", quantity.Length.Format(float64(height), m.bench.Units, 3), err)
	}
	return &Lit{m: m, field: field, height: height, maps: map[int]*mapLight{}, last: map[string]*mixture{}}, nil
}

// Height is the mean height of the lamps.
func (l *Lit) Height() quantity.Metre { return l.height }

// atSurface returns the PPFD at the crown samples at the planting surface. The
// caller holds the lock.
func (l *Lit) atSurface(dim []float64) []float64 {
	if l.crowns == nil {
		l.crowns = l.field.ResponsesAt(nil, l.m.crowns.at(l.m.room, 0))
	}
	return lightfield.Combine(make([]float64, len(l.m.samples)), l.crowns, dim)
}

// mixed returns what depends on the mix of the lamps. The caller holds the lock.
func (l *Lit) mixed(dim []float64) (*mixture, error) {
	mix := l.m.mix(dim)
	if !slices.ContainsFunc(mix, func(v float64) bool { return v > 0 }) {
		// In the dark: the doubt is that of the lamps at equal dimming.
		dim = full(len(dim))
		mix = l.m.mix(dim)
	}
	rounded := make([]float64, len(mix))
	for i, v := range mix {
		rounded[i] = math.Round(v * 1e9) // equal dimming gives equal mixes but for rounding
	}
	key := fmt.Sprint(rounded)
	if x, ok := l.last[key]; ok {
		return x, nil
	}
	if l.slope == nil {
		s, err := l.m.slopes()
		if err != nil {
			return nil, err
		}
		if l.slope, err = s.At(l.field.Lamps(), l.m.plants); err != nil {
			return nil, err
		}
	}
	x := &mixture{factor: l.factors(mix, l.m.samples, 0), mapping: map[int][]float64{}}
	targets := l.m.targets(float64(l.height), 0, mix, l.m.plants, l.slope.Log(dim))
	x.sd = l.m.field.SD(targets)
	x.meanSD = l.m.meanSD(targets, crownMeans(l.atSurface(dim), x.factor), x.sd)
	if len(l.last) >= mostMixtures {
		clear(l.last)
	}
	l.last[key] = x
	return x, nil
}

// meanSD is the relative standard deviation of the mean PPFD over the plants.
// With very many plants the mean of their own stands for it: it can only be
// larger.
func (m *Model) meanSD(targets []residualfield.Target, ppfd, sd []float64) float64 {
	const most = 200
	sum := 0.0
	for _, v := range ppfd {
		sum += v
	}
	if sum == 0 {
		return 0
	}
	weight := make([]float64, len(ppfd))
	plain := 0.0
	for i, v := range ppfd {
		weight[i] = v / sum
		plain += weight[i] * sd[i]
	}
	if len(targets) > most {
		return plain
	}
	return m.field.SumSD(targets, weight)
}

// crownMeans are the means over each plant's crown of the PPFD at the samples,
// each times its factor if there are factors.
func crownMeans(ppfd, factor []float64) []float64 {
	n := len(crownOffsets)
	out := make([]float64, len(ppfd)/n)
	for i := range out {
		s := 0.0
		for j := i * n; j < (i+1)*n; j++ {
			if factor != nil {
				s += ppfd[j] * factor[j]
			} else {
				s += ppfd[j]
			}
		}
		out[i] = s / float64(n)
	}
	return out
}

// crownsAt is the PPFD of each plant at a height above the planting surface.
func (l *Lit) crownsAt(dim []float64, z float64) []float64 {
	pts := slices.Clone(l.m.samples)
	for i := range pts {
		pts[i].Z = z
	}
	return crownMeans(l.field.PPFD(nil, dim, pts), l.factors(l.m.mix(dim), pts, z))
}

// fall is how the mean PPFD at the plants changes with height. It is a sum over the lamps,
// so that dimming them alike costs nothing.
func (l *Lit) fall(dim []float64) (heightsM, ppfd []float64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	x, err := l.mixed(dim)
	if err != nil {
		return nil, nil // the answer has failed before
	}
	if x.heights == nil {
		x.heights, x.fall = l.falls(dim)
	}
	ppfd = make([]float64, len(x.heights))
	for k := range ppfd {
		for i, d := range dim {
			ppfd[k] += d * x.fall[k*len(dim)+i]
		}
	}
	return slices.Clone(x.heights), ppfd
}

// falls is the mean response of each lamp over the plants at each height, as the field
// has it for the mix of the lamps.
func (l *Lit) falls(dim []float64) (heightsM, means []float64) {
	heightsM = fallHeights(max(l.lowest()-0.05, 0.01))
	crown, samples := len(crownOffsets), len(l.m.samples)
	var pts []lightfield.Point // all at once, so that the processors share them
	for _, z := range heightsM {
		for _, p := range l.m.samples {
			p.Z = z
			pts = append(pts, p)
		}
	}
	straight, mix := l.field.Direct(nil, pts), l.m.mix(dim)
	for k, z := range heightsM {
		factor := l.factors(mix, l.m.samples, z)
		back := l.field.ReflectedAt(nil, l.m.middles.at(l.m.room, z))
		for lamp := range dim {
			sum := 0.0
			for i := range samples {
				// What the sides send is smooth: the middle of a crown stands for it.
				v := straight[lamp*len(pts)+k*samples+i] + back[lamp*len(l.m.plants)+i/crown]
				if factor != nil {
					v *= factor[i]
				}
				sum += v
			}
			means = append(means, sum/float64(samples))
		}
	}
	return heightsM, means
}

// fallHeights are the heights at which the fall is computed: whole steps, so that what is
// seen from there is known already when the lamps hang elsewhere, and the top.
func fallHeights(top float64) []float64 {
	step := 0.01
	for i := 0; top/step > 10; i++ {
		step *= []float64{2, 2.5, 2}[i%3] // 1, 2, 5, 10 cm …
	}
	var out []float64
	for k := 0; float64(k)*step < top-step/4; k++ {
		out = append(out, float64(k)*step)
	}
	return append(out, top)
}

// canopyReflectance is that of a closed canopy, scattered: grass 0.062, deciduous
// leaves 0.069 (Meerdink2019); lettuce by analogy.
const canopyReflectance = 0.06

// closed is the bench with the planting surface under a closed canopy; nil if
// that side is open or is one already.
func (l *Lit) closed() *Lit {
	l.closeOnce.Do(func() {
		room := l.m.closedRoom()
		if room == nil {
			return
		}
		field, err := l.field.In(room)
		if err != nil {
			return // the same lamps in the same space: it cannot fail where this one did not
		}
		l.shut = &Lit{m: l.m, field: field, height: l.height}
	})
	return l.shut
}

// ClosingProfiles returns for every plant its PPFD by height above the planting
// surface at 0, spacing, 2·spacing … up to the lamps, with every lamp at full
// power for the whole light day, and after that the same with the planting surface
// under a closed canopy: 2·levels values, or levels if that makes no difference.
// Multiply by the share of light of the dimming.
func (l *Lit) ClosingProfiles(spacing float64, levels int) [][]float64 {
	dim := make([]float64, len(l.m.bench.Lamps))
	for i, lamp := range l.m.bench.Lamps {
		dim[i] = output(lamp, 1)
	}
	return l.ClosingProfilesAt(dim, spacing, levels)
}

func full(lamps int) []float64 {
	dim := make([]float64, lamps)
	for i := range dim {
		dim[i] = 1
	}
	return dim
}

// ClosingProfilesNow is ClosingProfiles with each lamp at its own dimming and
// hours, and the length of the light day.
func (l *Lit) ClosingProfilesNow(spacing float64, levels int) ([][]float64, quantity.Hours) {
	dim, day := l.m.weights(nil)
	return l.ClosingProfilesAt(dim, spacing, levels), day
}

// ClosingProfilesAt is ClosingProfiles with a factor on each lamp. The direct
// light is the same in both halves and is computed once.
func (l *Lit) ClosingProfilesAt(dim []float64, spacing float64, levels int) [][]float64 {
	out := l.ProfilesAt(dim, spacing, levels)
	shut := l.closed()
	if shut == nil {
		return out
	}
	for k := range levels {
		// What the surface sends back less is smooth: the middle of a crown stands for it.
		z := l.level(k, spacing)
		places := l.m.middles.at(l.m.room, z)
		change := lightfield.Combine(nil, shut.field.ReflectedAt(nil, places), dim)
		bare := lightfield.Combine(nil, l.field.ReflectedAt(nil, places), dim)
		factor := l.factors(l.m.mix(dim), l.m.plants, z)
		for i := range change {
			change[i] -= bare[i]
			if factor != nil {
				change[i] *= factor[i]
			}
			out[i] = append(out[i], out[i][k]+change[i])
		}
	}
	return out
}

// level is the height of level k of a profile. A canopy cannot grow into the
// lamps: the last 2 cm below them stand for all above.
func (l *Lit) level(k int, spacing float64) float64 {
	return min(float64(k)*spacing, max(l.lowest()-0.02, 0))
}

// lowest is the height of the lowest lamp, in m.
func (l *Lit) lowest() float64 {
	lowest := math.Inf(1)
	for _, lamp := range l.field.Lamps() {
		lowest = min(lowest, lamp.Centre.Z)
	}
	return lowest
}

// ProfilesAt is the first half of [Lit.ClosingProfilesAt]: over the planting
// surface as the bench has it.
func (l *Lit) ProfilesAt(dim []float64, spacing float64, levels int) [][]float64 {
	out := make([][]float64, len(l.m.plants))
	for i := range out {
		out[i] = make([]float64, levels)
	}
	for k := range levels {
		for i, v := range l.crownsAt(dim, l.level(k, spacing)) {
			out[i][k] = v
		}
	}
	return out
}

// mapOf is the light over the planting surface, and what the field multiplied it
// by (nil without field). The caller holds the lock.
func (l *Lit) mapOf(dim []float64, columns int, x *mixture) (Map, []float64) {
	part := l.maps[columns]
	if part == nil {
		part = l.newMap(columns)
		l.maps[columns] = part
	}
	factor, ok := x.mapping[columns]
	if !ok {
		factor = l.factors(l.m.mix(dim), part.pts, 0)
		x.mapping[columns] = factor
	}
	mp := Map{X: slices.Clone(part.x), Y: slices.Clone(part.y)}
	mp.PPFD = lightfield.Combine(make([]float64, len(part.pts)), part.responses, dim)
	for i, f := range factor {
		mp.PPFD[i] *= f
	}
	return mp, slices.Clone(factor)
}

// MapSD is the standard deviation of the light over the planting surface, in PPFD
// on a grid as that of the answer's map, at the dimming of change or of the bench.
// It costs about as much as new lamp heights: ask for few columns.
func (l *Lit) MapSD(change *underlamp.Setting, columns int) (Map, error) {
	dim, _ := l.m.weights(change)
	part := l.newMap(columns)
	slopes, err := l.m.slopes()
	if err != nil {
		return Map{}, err
	}
	at, err := slopes.At(l.field.Lamps(), part.pts)
	if err != nil {
		return Map{}, err
	}
	mix := l.m.mix(dim)
	out := Map{X: part.x, Y: part.y, PPFD: l.m.field.SD(l.m.targets(float64(l.height), 0, mix, part.pts, at.Log(dim)))}
	light := lightfield.Combine(make([]float64, len(part.pts)), part.responses, dim)
	factor := l.factors(mix, part.pts, 0)
	for i, e := range light {
		if factor != nil {
			e *= factor[i]
		}
		out.PPFD[i] *= e
	}
	return out, nil
}

func (l *Lit) newMap(columns int) *mapLight {
	w, d := float64(l.m.bench.Space.Width), float64(l.m.bench.Space.Depth)
	rows := max(5, int(math.Round(float64(columns-1)*d/w))+1)
	part := &mapLight{x: nodes(w, columns), y: nodes(d, rows)}
	const skin = 1e-3 // m: a point in the wall itself is lit by half of it only
	places := l.m.maps.keep(float64(columns), func() *lightfield.Places {
		var pts []lightfield.Point
		for _, y := range part.y {
			for _, x := range part.x {
				pts = append(pts, lightfield.Point{X: clamp(x, skin, w-skin), Y: clamp(y, skin, d-skin)})
			}
		}
		return l.m.room.Places(pts)
	})
	part.pts = places.Points()
	part.responses = l.field.ResponsesAt(nil, places)
	return part
}

// nodes are n equally spaced places from 0 to length.
func nodes(length float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = length * float64(i) / float64(n-1)
	}
	return out
}

// LevelSD is the relative standard deviation of the light level of the bench as
// it is set: the mean over the plants that get light of what readings and labels leave
// open. It is 0 in the dark.
func (m *Model) LevelSD() float64 {
	s, err := m.slopes()
	if err != nil {
		return math.NaN()
	}
	at, err := s.At(m.fit.Lamps, m.plants)
	if err != nil {
		return math.NaN() // the fit has solved these lamps before
	}
	dim, _ := m.weights(nil)
	sum, lit := 0.0, 0
	for _, v := range m.field.SD(m.targets(float64(m.bench.Setting().Height), 0, m.mix(dim), m.plants, at.Log(dim))) {
		if !math.IsNaN(v) { // no light, no doubt about its level
			sum += v
			lit++
		}
	}
	if lit == 0 {
		return 0
	}
	return sum / float64(lit)
}
