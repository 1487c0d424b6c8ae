package lightfield

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/quantity"
)

// fitPatches is the number of patches while fitting: coarser than for the
// answer, since a fit solves the room many times.
const fitPatches = 200

// reachSD is how many standard deviations of the prior the exponent and the
// reflectances may move in a fit.
const reachSD = 3.5

// tableNodes is the number of Chebyshev nodes for exponent and reflectance.
const tableNodes = 8

// A problem is what [Fit] was asked.
type problem struct {
	space    Space
	lamps    []Lamp
	readings []Reading
	prior    Prior
}

// A layout says which parameter stands where: first the ln flux factors of the
// groups, then (if free) their ln exponent factors, then (each if free) the logit
// shifts of the reflectances and of the share of them that is mirrored, last the ln
// meter factor.
type layout struct {
	groups  []int     // group numbers, ascending
	of      []int     // index into groups by lamp
	sd      []float64 // prior standard deviation by parameter
	beams   bool      // exponents are free
	walls   bool      // reflectances are free
	mirrors bool      // mirrored shares are free
}

func (p problem) layout() layout {
	var lay layout
	group := p.prior.Group
	if group == nil {
		for i := range p.lamps {
			group = append(group, i)
		}
	}
	lay.groups = slices.Compact(slices.Sorted(slices.Values(group)))
	for _, g := range group {
		i, _ := slices.BinarySearch(lay.groups, g)
		lay.of = append(lay.of, i)
	}
	for g := range lay.groups {
		sum, n := 0.0, 0.0
		for i, of := range lay.of {
			if of == g {
				sd := defaultFluxSD
				if p.prior.FluxSD != nil {
					sd = p.prior.FluxSD[i]
				}
				sum, n = sum+sd*sd, n+1
			}
		}
		lay.sd = append(lay.sd, math.Sqrt(sum/n))
	}
	if lay.beams = p.prior.ExponentSD > 0; lay.beams {
		for range lay.groups {
			lay.sd = append(lay.sd, p.prior.ExponentSD)
		}
	}
	for _, w := range p.space.Walls {
		if rho := w.reflectance(); rho > 0 && rho < 1 && p.prior.ReflectanceSD > 0 {
			lay.walls = true
		}
		if w.mirror() > 0 && w.reflectance() > 0 && p.prior.MirrorSD > 0 {
			lay.mirrors = true
		}
	}
	if lay.walls {
		lay.sd = append(lay.sd, p.prior.ReflectanceSD)
	}
	if lay.mirrors {
		lay.sd = append(lay.sd, p.prior.MirrorSD)
	}
	meter := p.prior.MeterSD
	if meter == 0 {
		meter = defaultMeterSD
	}
	lay.sd = append(lay.sd, meter)
	return lay
}

func (l layout) count() int { return len(l.sd) }
func (l layout) meter() int { return len(l.sd) - 1 }

// mirror is the place of the shift of mirrored shares, wall that of the shift of
// reflectances; −1 if it is fixed.
func (l layout) mirror() int {
	if !l.mirrors {
		return -1
	}
	return l.meter() - 1
}

func (l layout) wall() int {
	switch {
	case !l.walls:
		return -1
	case l.mirrors:
		return l.meter() - 2
	}
	return l.meter() - 1
}

// exponent is the ln exponent factor of a group, shift the logit shift of the
// reflectances and shine that of the mirrored shares.
func (l layout) exponent(th []float64, group int) float64 {
	if !l.beams {
		return 0
	}
	return th[len(l.groups)+group]
}

func (l layout) shift(th []float64) float64 {
	if j := l.wall(); j >= 0 {
		return th[j]
	}
	return 0
}

func (l layout) shine(th []float64) float64 {
	if j := l.mirror(); j >= 0 {
		return th[j]
	}
	return 0
}

func (l layout) names() []string {
	var out []string
	for _, g := range l.groups {
		out = append(out, fmt.Sprintf("ln flux factor of group %d", g))
	}
	if l.beams {
		for _, g := range l.groups {
			out = append(out, fmt.Sprintf("ln exponent factor of group %d", g))
		}
	}
	if l.walls {
		out = append(out, "logit shift of the reflectances")
	}
	if l.mirrors {
		out = append(out, "logit shift of the mirrored shares")
	}
	return append(out, "ln meter factor")
}

// bound is how far a parameter may go; 0 means anywhere.
func (l layout) bound(j int) float64 {
	if j < len(l.groups) || j == l.meter() {
		return 0
	}
	return reachSD * l.sd[j]
}

// shifted is a reflectance moved on the logit scale, of what a mirror leaves; 0
// and all of it stay.
func shifted(w Wall, shift float64) float64 {
	rho, most := w.reflectance(), 1-w.mirror()
	if rho <= 0 || rho >= most {
		return rho
	}
	return most / (1 + (most-rho)/rho*math.Exp(-shift))
}

// shining is a wall whose mirrored share of all that it sends back is moved on the
// logit scale; that of a wall that only mirrors, or not at all, stays.
func shining(w Wall, shift float64) Wall {
	total := w.reflectance() + w.mirror()
	if shift == 0 || w.mirror() <= 0 || w.reflectance() <= 0 {
		return w
	}
	mirror := total / (1 + w.reflectance()/w.mirror()*math.Exp(-shift))
	w.Mirror, w.Reflectance = quantity.Fraction(mirror), quantity.Fraction(total-mirror)
	return w
}

// at returns lamps and space with the parameters applied.
func (p problem) at(lay layout, th []float64) ([]Lamp, Space) {
	lamps, space := append([]Lamp(nil), p.lamps...), p.space
	for i := range lamps {
		g := lay.of[i]
		lamps[i].Flux *= quantity.PPF(math.Exp(th[g]))
		lamps[i].Exponent = min(lamps[i].Exponent*math.Exp(lay.exponent(th, g)), largestExponent)
	}
	for side := range space.Walls {
		if w := &space.Walls[side]; !w.Open {
			*w = shining(*w, lay.shine(th))
			w.Reflectance = quantity.Fraction(shifted(*w, lay.shift(th)))
		}
	}
	return lamps, space
}

// A table holds the PPFD of each lamp at its label flux at each sensor place, on
// Chebyshev nodes of ln exponent factor and logit shift. Places are those of the
// readings, then the six neighbours of each, from which the slopes come.
type table struct {
	beam, wall []float64       // nodes; one node 0 if the parameter is fixed
	value      [][][][]float64 // by place, lamp, beam node, wall node
	mirror     [][]float64     // ∂ ln value/∂ [table.shone] by reading and lamp; nil if mirrored shares are fixed
	shares     []float64       // mirrored shares of the walls that have one to shift
}

// neighbour is how far the neighbours of a reading lie, in m.
const neighbour = 0.003

// places lists the sensor places: for reading i the place itself at 7i, then
// pairs along x, y, z.
func (p problem) places() []Point {
	var out []Point
	for _, r := range p.readings {
		out = appendAround(out, r.At)
	}
	return out
}

// appendAround appends a point and its six neighbours along the axes, by which
// the fall of light around it is told.
func appendAround(out []Point, p Point) []Point {
	const d = neighbour
	return append(out, p,
		Point{p.X - d, p.Y, p.Z}, Point{p.X + d, p.Y, p.Z},
		Point{p.X, p.Y - d, p.Z}, Point{p.X, p.Y + d, p.Z},
		Point{p.X, p.Y, p.Z - d}, Point{p.X, p.Y, p.Z + d})
}

// chebyshev returns n nodes on −bound..bound, or the node 0.
func chebyshev(bound float64, n int) []float64 {
	if bound == 0 {
		return []float64{0}
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = -bound * math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
	}
	return out
}

// tabulate solves the room at the nodes. Every lamp's light at a place depends
// on its own exponent and on the walls only, so a table of two parameters serves
// any number of groups.
func (p problem) tabulate(lay layout) (*table, error) {
	t := &table{beam: []float64{0}, wall: []float64{0}}
	if lay.beams {
		t.beam = chebyshev(reachSD*p.prior.ExponentSD, tableNodes)
	}
	if lay.walls {
		t.wall = chebyshev(reachSD*p.prior.ReflectanceSD, tableNodes)
	}
	places := p.places()
	t.value = make([][][][]float64, len(places))
	for i := range t.value {
		t.value[i] = make([][][]float64, len(p.lamps))
		for k := range t.value[i] {
			t.value[i][k] = make([][]float64, len(t.beam))
			for b := range t.beam {
				t.value[i][k][b] = make([]float64, len(t.wall))
			}
		}
	}
	if len(places) == 0 {
		return t, nil
	}
	room, err := NewRoom(p.space, Options{Patches: fitPatches})
	if err != nil {
		return nil, err
	}
	n := len(room.patches)
	// By reciprocity the light at a place from a lamp is yᵀ(A E₀) with (A/ρ − A F) y = f:
	// one solution for each place serves all lamps and exponents.
	weights := make([]*mat.Dense, len(t.wall))
	if n > 0 {
		factors := mat.NewDense(n, len(places), nil)
		var scratch []float64
		f := make([]float64, n)
		for i, pt := range places {
			room.gather(f, pt, &scratch)
			factors.SetCol(i, f)
		}
		for w, shift := range t.wall {
			var rho [NumSides]float64
			for side, wall := range p.space.Walls {
				rho[side] = shifted(wall, shift)
			}
			sys, ok := room.factorise(rho)
			if !ok {
				return nil, errors.New("the sides reflect so much that the balance of light cannot be solved; give at least one side a reflectance below 1")
			}
			weights[w] = new(mat.Dense)
			if err := sys.chol.SolveTo(weights[w], factors); err != nil {
				if _, near := err.(mat.Condition); !near {
					return nil, err
				}
			}
		}
	}
	jobs := len(p.lamps) * len(t.beam)
	inParallel(jobs, 1, func(from, to int) {
		direct := make([]float64, n)
		for job := from; job < to; job++ {
			k, b := job/len(t.beam), job%len(t.beam)
			lamp := p.lamps[k]
			if lamp.Distribution != nil && b > 0 {
				continue // it has no exponent
			}
			lamp.Exponent = min(lamp.Exponent*math.Exp(t.beam[b]), largestExponent)
			s := room.source(lamp, 0.002)
			room.onPatches(direct, &s, room.patches)
			for j := range direct {
				direct[j] *= room.areas[j]
			}
			for i, pt := range places {
				e := room.fromLamp(&s, pt)
				for w := range t.wall {
					sum := e
					for j, v := range direct {
						sum += v * weights[w].At(j, i)
					}
					t.value[i][k][b][w] = sum
				}
			}
		}
	})
	for k, lamp := range p.lamps {
		if lamp.Distribution != nil {
			for i := range places {
				for b := 1; b < len(t.beam); b++ {
					copy(t.value[i][k][b], t.value[i][k][0])
				}
			}
		}
	}
	return t, p.tabulateMirrors(lay, t, room)
}

// mirrorStep is by how much the logit of mirrored shares is moved for differences:
// 0.80 to 0.71 and 0.87.
const mirrorStep = 0.5

// tabulateMirrors adds how the light of each lamp at each reading follows the
// mirrored shares, with beams and reflectances as given. The logarithm of the light
// is nearly straight in the shares.
func (p problem) tabulateMirrors(lay layout, t *table, room *Room) error {
	if !lay.mirrors {
		return nil
	}
	for _, w := range p.space.Walls {
		if m, rho := w.mirror(), w.reflectance(); m > 0 && rho > 0 {
			t.shares = append(t.shares, m/(m+rho))
		}
	}
	var pts []Point
	for _, r := range p.readings {
		pts = append(pts, r.At)
	}
	var rooms []*Room
	for _, step := range []float64{-mirrorStep, mirrorStep} {
		th := make([]float64, lay.count())
		th[lay.mirror()] = step
		_, space := p.at(lay, th)
		with, err := room.withMirrors(space)
		if err != nil {
			return err
		}
		rooms = append(rooms, with)
	}
	fields, err := solveAlike(rooms, p.lamps)
	if err != nil {
		return err
	}
	light := [2][]float64{fields[0].Responses(nil, pts), fields[1].Responses(nil, pts)}
	less, _ := t.shone(-mirrorStep)
	more, _ := t.shone(mirrorStep)
	t.mirror = make([][]float64, len(pts))
	for i := range pts {
		t.mirror[i] = make([]float64, len(p.lamps))
		for k := range p.lamps {
			if dull, bright := light[0][k*len(pts)+i], light[1][k*len(pts)+i]; dull > 0 && bright > 0 {
				t.mirror[i][k] = math.Log(bright/dull) / (more - less)
			}
		}
	}
	return nil
}

// shone is by how much a shift of their logit moves the mirrored shares, all
// together and in units of what a small shift does, and its slope.
func (t *table) shone(shift float64) (moved, slope float64) {
	unit := 0.0
	for _, s := range t.shares {
		now := 1 / (1 + (1-s)/s*math.Exp(-shift))
		moved += now - s
		slope += now * (1 - now)
		unit += s * (1 - s)
	}
	return moved / unit, slope / unit
}

// barycentric returns the weights and slopes of the polynomial through Chebyshev
// nodes at v (BerrutTrefethen2004, by the product form: there are eight nodes).
func barycentric(nodes []float64, v float64) (w, slope []float64) {
	n := len(nodes)
	w, slope = make([]float64, n), make([]float64, n)
	if n == 1 {
		w[0] = 1
		return w, slope
	}
	for i := range nodes {
		w[i] = 1
		for j := range nodes {
			if j == i {
				continue
			}
			slope[i] = slope[i]*(v-nodes[j])/(nodes[i]-nodes[j]) + w[i]/(nodes[i]-nodes[j])
			w[i] *= (v - nodes[j]) / (nodes[i] - nodes[j])
		}
	}
	return w, slope
}

// weights are what the table's nodes weigh at given parameters: the same for all
// places, so they are worked out once for all readings.
type weights struct {
	wall, wallSlope []float64
	beam, beamSlope [][]float64 // by group

	shone, shoneSlope float64 // of the mirrored shares
}

func (t *table) weights(lay layout, th []float64) weights {
	var w weights
	w.wall, w.wallSlope = barycentric(t.wall, lay.shift(th))
	if t.mirror != nil {
		w.shone, w.shoneSlope = t.shone(lay.shine(th))
	}
	for g := range lay.groups {
		beam, slope := barycentric(t.beam, lay.exponent(th, g))
		w.beam, w.beamSlope = append(w.beam, beam), append(w.beamSlope, slope)
	}
	return w
}

// light returns the PPFD at a place with dimmed lamps and its derivatives by the
// parameters (dst, may be nil), meter left out. at must be the weights for th.
func (t *table) light(lay layout, th []float64, at weights, place int, dimming, dst []float64) float64 {
	wall, wallSlope := at.wall, at.wallSlope
	clear(dst)
	total := 0.0
	for k, d := range dimming {
		if d == 0 {
			continue
		}
		g := lay.of[k]
		beam, beamSlope := at.beam[g], at.beamSlope[g]
		var e, byBeam, byWall float64
		for b, row := range t.value[place][k] {
			for w, v := range row {
				e += beam[b] * wall[w] * v
				byBeam += beamSlope[b] * wall[w] * v
				byWall += beam[b] * wallSlope[w] * v
			}
		}
		scale := d * math.Exp(th[g])
		if t.mirror != nil {
			scale *= math.Exp(t.mirror[place/7][k] * at.shone)
			if dst != nil {
				dst[lay.mirror()] += scale * e * t.mirror[place/7][k] * at.shoneSlope
			}
		}
		total += scale * e
		if dst != nil {
			dst[g] += scale * e
			if lay.beams {
				dst[len(lay.groups)+g] += scale * byBeam
			}
			if lay.walls {
				dst[lay.wall()] += scale * byWall
			}
		}
	}
	return total
}

// reachable refuses readings that no lamp can explain.
func (p problem) reachable(t *table) error {
	var errs []error
	lay := p.layout()
	th := make([]float64, lay.count())
	at := t.weights(lay, th)
	for i, r := range p.readings {
		if e := t.light(lay, th, at, 7*i, r.Dimming, nil); !(e > 0) {
			errs = append(errs, fmt.Errorf("reading %s: no lamp that was on sends light there; check which lamps were on, their photon flux, and the height of the sensor", nameOf(r, i)))
		}
	}
	return errors.Join(errs...)
}

// spreads returns the standard deviation of ln(reading) of each reading: its own
// error and what its place does to it.
func (p problem) spreads(lay layout, t *table, th []float64) []float64 {
	out := make([]float64, len(p.readings))
	at := t.weights(lay, th)
	for i, r := range p.readings {
		e := t.light(lay, th, at, 7*i, r.Dimming, nil)
		v := r.OwnSD * r.OwnSD
		for axis := range 3 {
			down := t.light(lay, th, at, 7*i+1+2*axis, r.Dimming, nil)
			up := t.light(lay, th, at, 7*i+2+2*axis, r.Dimming, nil)
			slope := (up - down) / (2 * neighbour * e)
			v += slope * slope * r.PlaceSD * r.PlaceSD
		}
		out[i] = math.Sqrt(min(v, 1)) // beyond a factor e the straight line in the place means nothing
	}
	return out
}
