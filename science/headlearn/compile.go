package headlearn

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// Errors of observation and of the model beside the spread of plants, all in
// logarithms and all assumed, no source: they are what two careful people, or one
// plant on two days, differ by.
const (
	pathFresh  = 0.03 // a plant's own path between two weighings
	pathDry    = 0.03 // of the dry share
	pathHeight = 0.05
	scaleFresh = 1.0  // g, a kitchen scale
	scaleDry   = 0.01 // g
	rulerM     = 0.005
	freedom    = 5.0  // of the Student distribution of a plant: a slip of the pen pulls little
	burnDays   = 1.5  // standard deviation of the day on which a plant's burn is seen
	slip       = 0.03 // chance that what is written of a plant's burn is wrong
	beyond     = 4    // days that hearts are followed after the last look: burn may be on its way
	reference  = 0.05 // m, height at which the light of plants is compared
)

// Channels of measured quantities.
const (
	fresh = iota
	dry   // ln of dry over fresh where both are there; of the dry share else
	height
	channels
)

// A plant's data in one channel.
type series struct {
	plant int // in the evidence
	index []int
	day   []int
	value []float64 // logarithm
	noise []float64 // standard deviation of the logarithm, without the spread of plants
	of    float64
	same  float64 // variance of the logarithm that all of a mean share
	x     float64 // ln light
}

// A burning is what was seen of one plant's burn.
type burning struct {
	plant int
	x     float64
	looks []look
}

// A look at a plant: the extents that it had reached and not reached, as indices of
// marks, -1 for none.
type look struct {
	index         int // in Burns
	day           float64
	reached, over int
}

type counting struct {
	index     int // in Counts
	mark      int
	day       float64
	burnt, of float64
	weight    float64
	x         float64
}

// Nodes lie at most nodeSpan of ln light apart, as long as there are not too many.
const (
	nodeSpan = 0.17
	maxNodes = 5
)

// A node is a light in which a cycle is computed; plants lie between nodes.
type node struct {
	x     float64
	light []headcycle.Profile
}

// rank is the number of independent ways in which plants or cycles may differ over the
// days of a channel: all traits together, by the largest first.
const rank = 3

// loads are what one standard deviation in each of those ways does to a logarithm, by
// day; days of dry mass alone are negative.
type loads map[int][rank]float64

// A compiled cycle.
type compiled struct {
	*Cycle
	last     int // days to grow
	burnLast int // days to follow hearts; 0 if nobody looked
	nodes    []node
	series   [channels][]series
	burns    []burning
	counts   []counting
	marks    []Extent

	spread [channels]float64 // between plants at the last day of data, of the logarithm
	effect [channels]float64 // between cycles, the same
	plants [channels]loads   // how plants differ, by day
	cycles [channels]loads   // how cycles differ, by day
	toward []float64         // ln of each trait for a tendency of 1
	sway   float64           // standard deviation of the tendency between cycles

	again bool // computed as the cycle before: same air, start, days, nodes and marks

	lights []node // of all plants and counts

	sways   []float64   // of the tendency of the cycle, to integrate over
	prior   []float64   // ln weight of each
	weights [][]float64 // of the plants' tendencies, given that of the cycle
}

// A model is the evidence made ready.
type model struct {
	frame
	cycles  []compiled
	active  []int // axes that the evidence speaks of
	weighed bool  // plantSpread is active
	data    int
	plants  int
}

// cannot makes an error that names the place.
func (c *Cycle) cannot(format string, args ...any) error {
	name := c.Name
	if name == "" {
		name = "without a name"
	}
	return fmt.Errorf("cycle %s: %s", name, fmt.Sprintf(format, args...))
}

func finite(v ...float64) bool {
	for _, f := range v {
		if math.IsNaN(f) || math.IsInf(f, 0) {
			return false
		}
	}
	return true
}

const (
	maxDays   = 400
	maxPlants = 5000
)

// check finds what cannot be.
func (c *Cycle) check() error {
	if c.Days < 1 || c.Days > maxDays {
		return c.cannot("%d days; give 1 to %d", c.Days, maxDays)
	}
	if !finite(c.Start.FreshGrams, c.Start.GroundM2, c.StartSD) || c.Start.FreshGrams <= 0 || c.Start.GroundM2 <= 0 || c.StartSD < 0 {
		return c.cannot("start mass %g g on %g m², known to %g; both must be above 0", c.Start.FreshGrams, c.Start.GroundM2, c.StartSD)
	}
	for _, b := range c.Start.Before {
		if !finite(b.GroundM2) || b.GroundM2 <= 0 {
			return c.cannot("%g m² of ground until day %d; it must be above 0", b.GroundM2, b.Until)
		}
	}
	if len(c.Plants) > maxPlants {
		return c.cannot("%d plants; give at most %d", len(c.Plants), maxPlants)
	}
	if len(c.Stages) == 0 || c.Stages[0].FromDay != 0 {
		return c.cannot("the first stage must begin on day 0")
	}
	for i, s := range c.Stages {
		if i > 0 && s.FromDay <= c.Stages[i-1].FromDay {
			return c.cannot("stage %d begins on day %d, not after the one before", i+1, s.FromDay)
		}
		e := s.Environment
		if !finite(float64(e.Hours), float64(e.CO2), float64(e.DayC), float64(e.NightC), float64(e.DayRH), float64(e.NightRH), float64(e.Speed), e.HeartShare,
			e.Feed.CalciumMgL, e.Feed.EC, e.Feed.RootC) || e.Hours < 0 || e.Hours > 24 || e.CO2 <= 0 || e.DayRH < 0 || e.DayRH > 1 || e.NightRH < 0 || e.NightRH > 1 {
			return c.cannot("stage %d has air or feed that cannot be: %+v", i+1, e)
		}
	}
	for _, p := range c.Plants {
		if err := c.checkPlant(&p); err != nil {
			return err
		}
	}
	for i, n := range c.Counts {
		if n.Day < 1 || n.Day > c.Days || n.Of < 1 || n.Burnt < 0 || n.Burnt > n.Of {
			return c.cannot("count %d: %d of %d burnt on day %d; the day must lie within the cycle and the number burnt within the number looked at", i+1, n.Burnt, n.Of, n.Day)
		}
		if !(n.Weight >= 0 && n.Weight <= 1) {
			return c.cannot("count %d: a weight of %g; give 0 to 1", i+1, n.Weight)
		}
		if n.Light != nil {
			if err := c.checkLight(n.Light); err != nil {
				return c.cannot("count %d: %s", i+1, err)
			}
		} else if len(c.Plants) == 0 {
			return c.cannot("count %d has no light and the cycle no plants to take it from", i+1)
		}
	}
	return nil
}

func weightOf(n Count) float64 {
	if n.Weight == 0 {
		return 1
	}
	return n.Weight
}

func (c *Cycle) checkLight(light []headcycle.Profile) error {
	if len(light) != len(c.Stages) {
		return fmt.Errorf("%d profiles of light for %d stages", len(light), len(c.Stages))
	}
	for _, p := range light {
		if len(p.Levels) == 0 || p.Spacing <= 0 || !finite(p.Spacing) || !finite(p.Levels...) || !finite(p.Closed...) || slices.Min(p.Levels) <= 0 {
			return errors.New("light must be above 0 at every level")
		}
	}
	return nil
}

func (c *Cycle) checkPlant(p *Plant) error {
	if err := c.checkLight(p.Light); err != nil {
		return c.cannot("plant %s: %s", p.Name, err)
	}
	if !finite(p.SharedSD) || p.SharedSD < 0 {
		return c.cannot("plant %s: plants share an error of %g; it must be at least 0", p.Name, p.SharedSD)
	}
	if p.Of < 0 || p.Of > 1 && len(p.Burns) > 0 {
		return c.cannot("plant %s: burn is of one plant, not of a mean; give a count for several", p.Name)
	}
	day := func(d int) bool { return d >= 1 && d <= c.Days }
	for _, w := range p.Weighings {
		if !day(w.Day) || !finite(w.FreshGrams, w.DryGrams, w.ErrorGrams) || w.FreshGrams < 0 || w.DryGrams < 0 || w.ErrorGrams < 0 || w.FreshGrams+w.DryGrams <= 0 {
			return c.cannot("plant %s: %g g fresh, %g g dry on day %d; a mass must be above 0 and the day within the cycle", p.Name, w.FreshGrams, w.DryGrams, w.Day)
		}
		if w.FreshGrams > 0 && w.DryGrams >= w.FreshGrams {
			return c.cannot("plant %s: %g g dry of %g g fresh on day %d", p.Name, w.DryGrams, w.FreshGrams, w.Day)
		}
	}
	for _, h := range p.Heights {
		if !day(h.Day) || !finite(h.Metres, h.ErrorMetres) || h.Metres <= 0 || h.ErrorMetres < 0 {
			return c.cannot("plant %s: a height of %g m on day %d; it must be above 0 and the day within the cycle", p.Name, h.Metres, h.Day)
		}
	}
	for _, b := range p.Burns {
		if !day(b.Day) || !finite(b.Low.Leaves, b.Low.Share, b.High.Leaves, b.High.Share) || b.High.Leaves < b.Low.Leaves || b.High.Share < b.Low.Share || b.High.Leaves <= 0 {
			return c.cannot("plant %s: burn from %+v to %+v on day %d; the day must lie within the cycle and the bounds in order", p.Name, b.Low, b.High, b.Day)
		}
	}
	return nil
}

// compile checks the evidence and makes it ready.
func compile(ev Evidence, prior Prior) (*model, error) {
	m := &model{frame: newFrame(prior)}
	for i := range ev.Cycles {
		if err := ev.Cycles[i].check(); err != nil {
			return nil, err
		}
		m.cycles = append(m.cycles, m.compileCycle(&ev.Cycles[i]))
	}
	m.together()
	for i := range m.cycles {
		if c := &m.cycles[i]; c.last > 0 {
			m.spreads(c, m.central)
		}
	}
	var measured, tall, burnt bool
	for i := range m.cycles {
		c := &m.cycles[i]
		measured = measured || len(c.series[fresh])+len(c.series[dry]) > 0
		tall = tall || len(c.series[height]) > 0
		burnt = burnt || c.burnLast > 0
		m.weighed = m.weighed || len(c.series[fresh]) > 0
	}
	for k, a := range m.axes {
		if a.sd > 0 && (a.heart && burnt || a.key == "stretch" && tall || !a.heart && a.key != "stretch" && (measured || tall || burnt)) {
			m.active = append(m.active, k)
		}
	}
	return m, nil
}

// lightOf is the mean ln light of a plant over the stages of a cycle.
func (c *compiled) lightOf(light []headcycle.Profile) float64 {
	x, days := 0.0, 0.0
	for i, p := range light {
		to := c.last
		if i+1 < len(c.Stages) {
			to = min(to, c.Stages[i+1].FromDay)
		}
		if span := float64(to - c.Stages[i].FromDay); span > 0 {
			x += span * math.Log(p.At(reference))
			days += span
		}
	}
	return x / days
}

func (m *model) compileCycle(cycle *Cycle) compiled {
	c := compiled{Cycle: cycle}
	for _, p := range cycle.Plants {
		for _, w := range p.Weighings {
			c.last = max(c.last, w.Day)
		}
		for _, h := range p.Heights {
			c.last = max(c.last, h.Day)
		}
		for _, b := range p.Burns {
			c.burnLast = max(c.burnLast, b.Day)
		}
	}
	for _, n := range cycle.Counts {
		c.burnLast = max(c.burnLast, n.Day)
	}
	if c.burnLast > 0 {
		c.last = max(c.last, c.burnLast+beyond)
		c.mark(Extent{Leaves: 1}) // the first mark, whatever was looked for
	}
	if c.last == 0 {
		return c
	}
	var lights []node
	for i := range cycle.Plants {
		p := &cycle.Plants[i]
		if len(p.Weighings)+len(p.Heights)+len(p.Burns) == 0 && len(cycle.Counts) == 0 {
			continue
		}
		m.plants += max(p.Of, 1)
		x := c.lightOf(p.Light)
		lights = append(lights, node{x, p.Light})
		c.addSeries(i, p, x)
		if len(p.Burns) > 0 {
			c.addBurns(i, p, x)
		}
	}
	mean := 0.0
	for _, l := range lights {
		mean += l.x / float64(len(lights))
	}
	for i, n := range cycle.Counts {
		x := mean
		if n.Light != nil {
			x = c.lightOf(n.Light)
			lights = append(lights, node{x, n.Light})
		}
		c.counts = append(c.counts, counting{index: i, mark: c.mark(Extent{Leaves: 1}), day: float64(n.Day), burnt: float64(n.Burnt), of: float64(n.Of), weight: weightOf(n), x: x})
		m.data++
		m.plants += n.Of
	}
	c.lights, c.nodes = lights, nodesOf(lights)
	for ch := range channels {
		for _, s := range c.series[ch] {
			m.data += len(s.day)
		}
	}
	for _, b := range c.burns {
		m.data += len(b.looks)
	}
	return c
}

// together gives cycles of one series that follow each other the same nodes, days and
// marks, so that one run serves them all.
func (m *model) together() {
	for from := 0; from < len(m.cycles); {
		a := &m.cycles[from]
		to := from + 1
		for ; to < len(m.cycles); to++ {
			b := &m.cycles[to]
			if a.Series == "" || a.Series != b.Series || a.last == 0 || b.last == 0 || (a.burnLast > 0) != (b.burnLast > 0) || !reflect.DeepEqual(a.Stages, b.Stages) || !reflect.DeepEqual(a.Start, b.Start) || !slices.Equal(a.marks, b.marks) {
				break
			}
		}
		if group := m.cycles[from:to]; len(group) > 1 {
			last, burnLast := 0, 0
			var lights []node
			for i := range group {
				last, burnLast = max(last, group[i].last), max(burnLast, group[i].burnLast)
				lights = append(lights, group[i].lights...)
			}
			nodes := nodesOf(lights)
			for i := range group {
				group[i].last, group[i].burnLast, group[i].nodes, group[i].again = last, burnLast, nodes, i > 0
			}
		}
		from = to
	}
}

// nodesOf picks the lights in which a cycle is computed: the ends, and as many
// between as the response bends over.
func nodesOf(lights []node) []node {
	slices.SortStableFunc(lights, func(a, b node) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	lo, hi := lights[0].x, lights[len(lights)-1].x
	n := 1
	if span := hi - lo; span > 0.002 {
		n = min(max(int(math.Ceil(span/nodeSpan))+1, 2), maxNodes)
	}
	out := make([]node, n)
	for k := range out {
		x := (lo + hi) / 2
		if n > 1 {
			x = lo + (hi-lo)*float64(k)/float64(n-1)
		}
		// The profile of the nearest plant, turned to the light of the node.
		near := lights[0]
		for _, l := range lights {
			if math.Abs(l.x-x) < math.Abs(near.x-x) {
				near = l
			}
		}
		out[k] = node{x: x}
		f := math.Exp(x - near.x)
		for _, p := range near.light {
			q := headcycle.Profile{Spacing: p.Spacing}
			for _, v := range p.Levels {
				q.Levels = append(q.Levels, v*f)
			}
			for _, v := range p.Closed {
				q.Closed = append(q.Closed, v*f)
			}
			out[k].light = append(out[k].light, q)
		}
	}
	return out
}

func (c *compiled) addSeries(plant int, p *Plant, x float64) {
	var s [channels]series
	for ch := range s {
		s[ch] = series{plant: plant, of: float64(max(p.Of, 1)), same: p.SharedSD * p.SharedSD, x: x}
	}
	add := func(ch, index, day int, value, noise float64) {
		s[ch].index = append(s[ch].index, index)
		s[ch].day = append(s[ch].day, day)
		s[ch].value = append(s[ch].value, value)
		s[ch].noise = append(s[ch].noise, noise)
	}
	for i, w := range p.Weighings {
		scale, fine := scaleFresh, scaleDry
		if w.ErrorGrams > 0 {
			scale, fine = w.ErrorGrams, w.ErrorGrams
		}
		if w.FreshGrams > 0 {
			add(fresh, i, w.Day, math.Log(w.FreshGrams), math.Hypot(pathFresh, scale/w.FreshGrams))
			if w.DryGrams > 0 {
				// The fine scale is that of the dry mass: 0.01 g unless said.
				add(dry, i, w.Day, math.Log(w.DryGrams/w.FreshGrams), math.Hypot(pathDry, math.Min(fine, scaleDry)/w.DryGrams))
			}
		} else {
			// Dry alone: its share is not seen, so it counts as a fresh mass at the share
			// that the model gives; see value in the likelihood.
			add(fresh, i, -w.Day, math.Log(w.DryGrams), math.Hypot(pathFresh, fine/w.DryGrams))
		}
	}
	for i, h := range p.Heights {
		ruler := rulerM
		if h.ErrorMetres > 0 {
			ruler = h.ErrorMetres
		}
		add(height, i, h.Day, math.Log(h.Metres), math.Hypot(pathHeight, ruler/h.Metres))
	}
	for ch := range s {
		if len(s[ch].day) > 0 {
			c.series[ch] = append(c.series[ch], s[ch])
		}
	}
}

// mark returns the index of an extent, a new one if need be.
func (c *compiled) mark(e Extent) int {
	if i := slices.Index(c.marks, e); i >= 0 {
		return i
	}
	c.marks = append(c.marks, e)
	return len(c.marks) - 1
}

func (c *compiled) addBurns(plant int, p *Plant, x float64) {
	b := burning{plant: plant, x: x}
	for i, seen := range p.Burns {
		l := look{index: i, day: float64(seen.Day), reached: -1, over: -1}
		if seen.Low != (Extent{}) {
			l.reached = c.mark(seen.Low)
		}
		if seen.High.Leaves < all.Leaves {
			l.over = c.mark(seen.High)
		}
		b.looks = append(b.looks, l)
	}
	c.burns = append(c.burns, b)
}

// spreads finds how far plants and cycles differ in what was measured: the spread of
// every trait times the slope of the response about given traits.
//
// The tendency to burn is one number: it moves the traits of the heart along the
// direction in which the spread within a crop moves the least calcium over the need,
// the most likely way to a given departure in a linear response (as in first-order
// reliability methods, HasoferLind1974). A tendency of 1 is one standard deviation
// between the plants of a crop, growth included.
func (m *model) spreads(c *compiled, about headcycle.Traits) {
	stages := make([]headcycle.Stage, len(c.Stages))
	prepared := make([]headcycle.Prepared, len(c.Stages))
	middle := c.nodes[len(c.nodes)/2]
	// response is the growth day by day, and the least ln calcium over need up to the
	// last look.
	response := func(tr *headcycle.Traits, grams float64) ([]headcycle.Grown, float64) {
		for i, s := range c.Stages {
			prepared[i] = headcycle.Prepare(tr, s.Environment)
			stages[i] = headcycle.Stage{FromDay: s.FromDay, Prepared: &prepared[i], Light: middle.light[i]}
		}
		course := make([]headcycle.Grown, c.last)
		at := c.Start
		at.FreshGrams = grams
		headcycle.Grow(tr, stages, at, course)
		heart := calcium.NewHeart()
		least := math.Inf(1)
		k := 0
		for d := range c.burnLast {
			for k+1 < len(stages) && stages[k+1].FromDay <= d {
				k++
			}
			on := stages[k].Prepared.Heart(&tr.Heart)
			heart.Day(&tr.Heart, &on, course[d].Fresh, course[d].Laid, course[d].AreaFactor)
			if d >= 2 { // a transplant brings calcium along
				least = min(least, math.Log(heart.Concentration/tr.Heart.Need))
			}
		}
		return course, least
	}
	const step = 0.02
	// The last of ups and downs is the start mass.
	ups, downs := make([][]headcycle.Grown, len(m.traits)+1), make([][]headcycle.Grown, len(m.traits)+1)
	heartSlope := make([]float64, len(m.traits))
	for i, t := range m.traits {
		up, down := about, about
		t.Multiply(&up, math.Exp(step))
		t.Multiply(&down, math.Exp(-step))
		var a, b float64
		ups[i], a = response(&up, c.Start.FreshGrams)
		downs[i], b = response(&down, c.Start.FreshGrams)
		if c.burnLast > 0 {
			heartSlope[i] = (a - b) / (2 * step)
		}
	}
	tr := about
	ups[len(m.traits)], _ = response(&tr, c.Start.FreshGrams*math.Exp(step))
	downs[len(m.traits)], _ = response(&tr, c.Start.FreshGrams*math.Exp(-step))
	within, cycle := append(slices.Clone(m.within), 0), append(slices.Clone(m.cycle), c.StartSD)
	for ch := range channels {
		days := c.daysOf(ch)
		if len(days) == 0 {
			continue
		}
		slopes := make([][]float64, len(days)) // [day][trait]
		for j, d := range days {
			for i := range ups {
				slopes[j] = append(slopes[j], (logOf(&ups[i][max(d, -d)-1], ch, d)-logOf(&downs[i][max(d, -d)-1], ch, d))/(2*step))
			}
		}
		c.plants[ch], c.cycles[ch] = loadsOf(days, slopes, within), loadsOf(days, slopes, cycle)
		last := c.lastOf(ch)
		c.spread[ch], c.effect[ch] = norm(c.plants[ch][last]), norm(c.cycles[ch][last])
	}
	c.toward = make([]float64, len(m.traits))
	var whole, heart, cycles float64
	for i := range m.traits {
		g := heartSlope[i]
		whole += math.Pow(g*m.within[i], 2)
		cycles += math.Pow(g*m.cycle[i], 2)
		if m.isHeart(i) {
			heart += math.Pow(g*m.within[i], 2)
		}
	}
	if heart <= 0 {
		return
	}
	for i := range m.traits {
		if m.isHeart(i) {
			// Less calcium for the need is more burn: the sign turns.
			c.toward[i] = -heartSlope[i] * m.within[i] * m.within[i] / heart * math.Sqrt(whole)
		}
	}
	c.sway = math.Sqrt(cycles / whole)
	c.sways, c.prior, c.weights = nil, nil, nil
	c.integrate()
}

// Tendencies of plants that are integrated over, and those of them at which a heart is
// led through the crop; between these the day of burn is linear.
const (
	tendencies   = 25
	tendencyStep = 0.5
	hearts       = 11
	heartStep    = 1.0
)

func tendency(q int) float64 { return tendencyStep * float64(q-tendencies/2) }

// integrate lays out the integral over the tendency of the cycle, and over that of a
// plant given it, by the trapezoidal rule: for a normal density it is exact to five
// digits once the steps are below its standard deviation.
func (c *compiled) integrate() {
	n := min(2*int(math.Ceil(4*c.sway/0.25))+1, 41)
	total := 0.0
	for k := range n {
		z := 0.0
		if n > 1 {
			z = 8*float64(k)/float64(n-1) - 4
		}
		c.sways = append(c.sways, z*c.sway)
		c.prior = append(c.prior, -z*z/2)
		total += math.Exp(-z * z / 2)
		w := make([]float64, tendencies)
		sum := 0.0
		for q := range w {
			d := tendency(q) - z*c.sway
			w[q] = math.Exp(-d * d / 2)
			sum += w[q]
		}
		for q := range w {
			w[q] /= sum
		}
		c.weights = append(c.weights, w)
	}
	for k := range c.prior {
		c.prior[k] -= math.Log(total)
	}
}

// logOf is the logarithm of a channel at the end of a day; a negative day asks for dry
// mass.
func logOf(g *headcycle.Grown, ch, day int) float64 {
	switch {
	case ch == fresh && day > 0:
		return math.Log(g.Fresh)
	case ch == fresh:
		return math.Log(g.Dry)
	case ch == dry:
		return math.Log(g.Dry / g.Fresh)
	}
	return math.Log(g.Height)
}

// daysOf are the days of a channel that have data.
func (c *compiled) daysOf(ch int) []int {
	var days []int
	for _, s := range c.series[ch] {
		days = append(days, s.day...)
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// lastOf is the last day of a channel that has data.
func (c *compiled) lastOf(ch int) int {
	days := c.daysOf(ch)
	last := days[0]
	for _, d := range days {
		if max(d, -d) > max(last, -last) {
			last = d
		}
	}
	return last
}

// loadsOf turns independent spreads of traits into the few ways in which days differ
// together: the singular vectors of slope times spread.
func loadsOf(days []int, slopes [][]float64, sd []float64) loads {
	a := mat.NewDense(len(days), len(sd), nil)
	for j := range days {
		for i, s := range sd {
			a.Set(j, i, slopes[j][i]*s)
		}
	}
	out := loads{}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		panic("headlearn: no singular values of a small finite matrix")
	}
	var u mat.Dense
	svd.UTo(&u)
	values := svd.Values(nil)
	for j, d := range days {
		var l [rank]float64
		for k := range min(rank, len(values)) {
			l[k] = u.At(j, k) * values[k]
		}
		out[d] = l
	}
	return out
}

func dot(a, b [rank]float64) (s float64) {
	for k := range a {
		s += a[k] * b[k]
	}
	return s
}

func norm(a [rank]float64) float64 { return math.Sqrt(dot(a, a)) }
