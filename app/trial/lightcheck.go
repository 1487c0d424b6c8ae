package trial

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/lightaim"
	"underlamp/science/quantity"
	"underlamp/working"
)

// Bounds of the check of the light. All are common practice, no source.
const (
	reached     = 0.05 // a unit has its level if its mean lies this near to it
	offMean     = 0.20 // a plant farther from the mean of its unit is a guard
	otherLight  = 0.50 // a plant that gets more than this from lamps of other treatments is a guard
	leastKept   = 0.5  // plants at the edge are guards where each unit keeps this share of its plants
	fewestKept  = 2    // a unit never counts fewer plants for the sake of guards
	dimmerSteps = 100  // the dimmers are set in whole percents
)

// LightOptions are choices of [CheckLight]. The zero value is usable.
type LightOptions struct {
	KeepPlaces bool // look for no swaps
	KeepEdge   bool // plants at the edge of the planting count like others
}

// A TrialLight is the light of a trial by the field of its bench: what each unit gets
// now and with the dimmings proposed, and what comes along with the treatments.
type TrialLight struct {
	Trial     *underlamp.Trial
	Bench     *underlamp.Bench
	Crown     quantity.Metre // radius over which the light of a plant is averaged
	Blocks    []BlockLight
	Confounds []Confound
	Says      []string
}

// A BlockLight is the light of one block, mostly a cycle.
type BlockLight struct {
	Block string
	Units []LitUnit
	Lamps []LitLamp // every lamp of the bench
	Swaps []LightSwap
	Says  []string
}

// A LitUnit is the light of a unit. In a split plot it is the whole unit, with the plants
// of all its parts. Light is at the planting surface, mean over the crown of each plant.
type LitUnit struct {
	Unit, Treatment, Lamp, Block string

	Hours        quantity.Hours
	Aim          quantity.DLI // 0: no level of light
	Now, Got     quantity.DLI // mean over the plants that count, at the dimmings of the bench and at those proposed
	GotPPFD      quantity.PPFD
	Miss         float64           // Got over Aim − 1; 0 without an aim
	Achieved     bool              // within 5 % of the aim
	Dimming      quantity.Fraction // proposed, what the dimmer says
	Power        quantity.Watt     // of its lamp with it
	SpreadBefore float64           // coefficient of variation over the plants that count, as the bench is set
	Spread       float64           // the same with the dimmings proposed
	FromOthers   float64           // share of its light that lamps of other units give
	AtEdge       float64           // share of the plants that count that stand at the edge of the planting
	Plants       []UnitPlant       // all, guards too, from front left to back right
}

// Guards are the plants that are grown and not counted.
func (u *LitUnit) Guards() (out []UnitPlant) {
	for _, p := range u.Plants {
		if p.Guard != "" {
			out = append(out, p)
		}
	}
	return out
}

// A UnitPlant is one plant of a unit.
type UnitPlant struct {
	Name   string // on the bench
	Code   string // for its label: Unit and Plant
	Unit   string // the part of a split plot, where it is one
	Plant  string // its number within the unit: P3
	Part   string // of a split plot: what grows there
	X, Y   quantity.Metre
	PPFD   quantity.PPFD // with the dimmings proposed
	DLI    quantity.DLI
	AtEdge bool
	Guard  string // why it does not count; empty if it counts
}

// A LitLamp is one lamp before and after.
type LitLamp struct {
	Name          string
	Unit          string // empty: it bears none
	Before, After quantity.Fraction
	Power         quantity.Watt // after
	Hours         quantity.Hours
}

// A LightSwap is an exchange of the places of two units that brings the treatments nearer
// to what they claim.
type LightSwap struct {
	A, B          string  // units
	LampA, LampB  string  // where they stand now
	Before, After float64 // worst |miss| of the block
}

// Groups gives every plant to its nearest lamp; the index of plants by lamp.
func Groups(b *underlamp.Bench) [][]int {
	out := make([][]int, len(b.Lamps))
	for i, p := range b.Plants {
		best, d := 0, math.Inf(1)
		for k, l := range b.Lamps {
			if x := math.Hypot(float64(p.X-l.X), float64(p.Y-l.Y)); x < d-1e-9 {
				best, d = k, x
			}
		}
		out[best] = append(out[best], i)
	}
	return out
}

// bed is a bench with the light of each lamp at each plant.
type bed struct {
	b      *underlamp.Bench
	resp   []float64 // lamp k at plant i at full light, mean over the light day of the bench
	day    quantity.Hours
	groups [][]int
	edge   []bool
	now    []float64 // share of full light of each lamp
	lamps  []lightaim.Lamp
}

func newBed(m *light.Model) (*bed, error) {
	b := m.Bench()
	if len(b.Lamps) == 0 || len(b.Plants) == 0 {
		return nil, fmt.Errorf("the bench %q has no lamps or no plants", b.Name)
	}
	lit, err := m.At(b.Setting().Height)
	if err != nil {
		return nil, err
	}
	d := &bed{b: b, resp: lit.Responses(0), groups: Groups(b), edge: atEdge(b.Plants)}
	_, d.day = light.DayWeights(b)
	if d.day <= 0 {
		return nil, fmt.Errorf("the lamps of the bench %q burn for no hours", b.Name)
	}
	n := len(b.Plants)
	for k := range b.Lamps {
		l := &b.Lamps[k]
		f := float64(l.Hours.Value / d.day)
		for i := range n {
			d.resp[k*n+i] *= f
		}
		d.now = append(d.now, float64(l.Light(l.Dimming.Value)))
		d.lamps = append(d.lamps, lightaim.Lamp{Lower: float64(l.Light(b.Limits.MinDim.Value)), Upper: float64(l.Light(b.Limits.MaxDim.Value)), Power: lightaim.Proportional(float64(l.Power.Value))})
	}
	return d, nil
}

// at is the PPFD of plant i.
func (d *bed) at(x []float64, i int) float64 {
	s := 0.0
	for k, v := range x {
		s += v * d.resp[k*len(d.b.Plants)+i]
	}
	return s
}

func (d *bed) mean(x []float64, plants []int) float64 {
	s := 0.0
	for _, i := range plants {
		s += d.at(x, i) / float64(len(plants))
	}
	return s
}

// spread is the coefficient of variation.
func (d *bed) spread(x []float64, plants []int) float64 {
	m := d.mean(x, plants)
	if len(plants) < 2 || !(m > 0) {
		return 0
	}
	ss := 0.0
	for _, i := range plants {
		e := d.at(x, i) - m
		ss += e * e
	}
	return math.Sqrt(ss/float64(len(plants)-1)) / m
}

// A claim is what one lamp is to give to its plants in a block.
type claim struct {
	lamp   int
	aim    float64 // PPFD; 0: none
	name   string  // the unit; the whole unit in a split plot
	treat  string
	parts  []underlamp.TrialUnit
	counts []int // plants of the bench that count
}

// claims are the units of a block by lamp; lamps without a plant and units without a
// lamp are told.
func (d *bed) claims(t *underlamp.Trial, block string) (out []claim, says []string) {
	at := map[string]int{}
	for k, l := range d.b.Lamps {
		at[l.Name] = k
	}
	by := map[int]int{}
	for _, u := range t.Places {
		if u.Block != block {
			continue
		}
		k, ok := at[u.Lamp]
		if !ok {
			says = append(says, fmt.Sprintf("The bench has no lamp %q, so the light of %s cannot be checked.", u.Lamp, u.Name))
			continue
		}
		dose := doseOfTreatment(t, u.Treatment)
		if i, twice := by[k]; twice {
			c := &out[i]
			c.parts = append(c.parts, u)
			if u.Treatment != c.treat {
				says = append(says, fmt.Sprintf("%s and %s stand under one lamp and claim different treatments; a lamp gives one.", c.parts[0].Name, u.Name))
			}
			continue
		}
		if len(d.groups[k]) == 0 {
			says = append(says, fmt.Sprintf("No plant stands nearest to %s.", u.Lamp))
			continue
		}
		c := claim{lamp: k, name: cmp.Or(u.Whole, u.Name), treat: u.Treatment, parts: []underlamp.TrialUnit{u}, counts: d.groups[k]}
		if dose > 0 {
			c.aim = float64(quantity.ConstantPPFD(quantity.DLI(dose), d.day))
		}
		by[k] = len(out)
		out = append(out, c)
	}
	return out, says
}

// settle finds the shares of full light of all lamps: first those that bring the means
// of the units nearest to their aims (least squares of the relative miss), then, where
// that leaves a choice, those that spread the light of the plants least. Lamps without
// a claim on light stay as they are.
func (d *bed) settle(claims []claim) ([]float64, error) {
	lamps := slices.Clone(d.lamps)
	claimed := make([]bool, len(lamps))
	var aims []claim
	for _, c := range claims {
		if c.aim > 0 {
			claimed[c.lamp] = true
			aims = append(aims, c)
		}
	}
	if len(aims) == 0 {
		return slices.Clone(d.now), nil
	}
	for k := range lamps {
		if !claimed[k] {
			lamps[k].Lower, lamps[k].Upper = d.now[k], d.now[k]
		}
	}
	n := len(d.b.Plants)
	p := lightaim.Problem{Points: len(aims), Lamps: lamps}
	for k := range lamps {
		for _, c := range aims {
			s := 0.0
			for _, i := range c.counts {
				s += d.resp[k*n+i] / float64(len(c.counts))
			}
			p.Responses = append(p.Responses, s)
		}
	}
	for _, c := range aims {
		p.Target = append(p.Target, c.aim)
	}
	first, err := p.MostEven()
	if err != nil {
		return nil, err
	}
	// Among all that reach as much: the most even over the plants.
	q := lightaim.Problem{Lamps: lamps}
	var points []int
	for j, c := range aims {
		mean := lightaim.Mean{Low: first.PPFD[j] * (1 - 1e-4), High: first.PPFD[j] * (1 + 1e-4)}
		for _, i := range c.counts {
			mean.Points = append(mean.Points, len(points))
			points = append(points, i)
			q.Target = append(q.Target, c.aim)
		}
		q.Means = append(q.Means, mean)
	}
	q.Points = len(points)
	for k := range lamps {
		for _, i := range points {
			q.Responses = append(q.Responses, d.resp[k*n+i])
		}
	}
	if second, err := q.MostEven(); err == nil {
		return second.Dim, nil
	}
	return first.Dim, nil
}

// miss is the sum of squares of the relative misses of the units, and the worst.
func (d *bed) miss(claims []claim, x []float64) (sum, worst float64) {
	for _, c := range claims {
		if c.aim > 0 {
			e := d.mean(x, c.counts)/c.aim - 1
			sum += e * e
			worst = max(worst, math.Abs(e))
		}
	}
	return sum, worst
}

// step brings shares of light to whole percents of the dimmers: rounded, then bettered
// one lamp or two at a time while the units come nearer to their aims.
func (d *bed) step(claims []claim, x []float64) (dims, shares []float64) {
	var turn []int
	for _, c := range claims {
		if c.aim > 0 {
			turn = append(turn, c.lamp)
		}
	}
	slices.Sort(turn)
	dims = make([]float64, len(x))
	shares = slices.Clone(x)
	lo := math.Ceil(float64(d.b.Limits.MinDim.Value)*dimmerSteps - 1e-6)
	hi := math.Floor(float64(d.b.Limits.MaxDim.Value)*dimmerSteps + 1e-6)
	set := func(k int, percent float64) {
		dims[k] = percent / dimmerSteps
		shares[k] = float64(d.b.Lamps[k].Light(quantity.Fraction(dims[k])))
	}
	for k := range x {
		dims[k] = float64(d.b.Lamps[k].Dimming.Value)
	}
	for _, k := range turn {
		set(k, min(max(math.Round(dimmerSteps*float64(d.b.Lamps[k].DimmingFor(quantity.Fraction(x[k])))), lo), hi))
	}
	best, _ := d.miss(claims, shares)
	try := func(moves ...[2]int) bool {
		old := make([]float64, len(moves))
		ok := true
		for j, m := range moves {
			old[j] = math.Round(dims[m[0]] * dimmerSteps)
			v := old[j] + float64(m[1])
			ok = ok && v >= lo && v <= hi
		}
		if ok {
			for j, m := range moves {
				set(m[0], old[j]+float64(m[1]))
			}
			if s, _ := d.miss(claims, shares); s < best-1e-15 {
				best = s
				return true
			}
			for j, m := range moves {
				set(m[0], old[j])
			}
		}
		return false
	}
	for again := true; again; {
		again = false
		for _, a := range turn {
			for _, u := range []int{1, -1} {
				again = try([2]int{a, u}) || again
				for _, b := range turn {
					for _, v := range []int{1, -1} {
						if b > a {
							again = try([2]int{a, u}, [2]int{b, v}) || again
						}
					}
				}
			}
		}
	}
	return dims, shares
}

// guards says of each plant that does not count why, given shares of light.
func (d *bed) guards(c claim, claims []claim, x []float64, edge bool) map[int]string {
	out := map[int]string{}
	n := len(d.b.Plants)
	mean := d.mean(x, c.counts)
	for _, i := range d.groups[c.lamp] {
		own := d.at(x, i)
		other := 0.0
		for _, o := range claims {
			if o.treat != c.treat {
				other += x[o.lamp] * d.resp[o.lamp*n+i]
			}
		}
		switch {
		case own > 0 && other/own > otherLight:
			out[i] = "more than half of its light is from lamps of other treatments"
		case edge && d.edge[i]:
			out[i] = "at the edge of the planting"
		case math.Abs(own-mean) > offMean*mean:
			out[i] = "its light is more than a fifth above the mean of its unit"
			if own < mean {
				out[i] = "its light is more than a fifth below the mean of its unit"
			}
		}
	}
	return out
}

// without are plants that are no guards.
func without(plants []int, guards map[int]string) (out []int) {
	for _, i := range plants {
		if guards[i] == "" {
			out = append(out, i)
		}
	}
	return out
}

// CheckLight works out, block by block, the dimming of each lamp that gives the plants of
// each unit what its treatment claims, the light of the neighbours' lamps included, and
// what is achieved. It says which plants are guards, which swaps of places would bring
// treatments nearer to their levels, and what comes along with the treatments.
func CheckLight(m *light.Model, t *underlamp.Trial, opt LightOptions) (*TrialLight, error) {
	d, err := newBed(m)
	if err != nil {
		return nil, err
	}
	out := &TrialLight{Trial: t, Bench: d.b, Crown: m.CrownRadius()}
	var blocks []string
	for _, u := range t.Places {
		if !slices.Contains(blocks, u.Block) {
			blocks = append(blocks, u.Block)
		}
	}
	edge := !opt.KeepEdge && d.edgeIsSpared()
	guards, err := d.commonGuards(t, blocks, edge)
	if err != nil {
		return nil, err
	}
	for _, block := range blocks {
		b, err := d.block(t, block, guards, opt)
		if err != nil {
			return nil, err
		}
		out.Blocks = append(out.Blocks, *b)
	}
	if !slices.ContainsFunc(out.Blocks, func(b BlockLight) bool { return len(b.Units) > 0 }) {
		var has []string
		for _, x := range d.b.Lamps {
			has = append(has, x.Name)
		}
		return nil, fmt.Errorf("no unit of the trial %s stands under a lamp of the bench %s, which has %s; name them in the plan (lamp:), or give the bench of the trial", t.Name, d.b.Name, strings.Join(has, ", "))
	}
	out.Confounds = confounds(out)
	out.say(d, edge, opt)
	return out, nil
}

// edgeIsSpared tells whether each lamp keeps enough plants without those at the edge.
func (d *bed) edgeIsSpared() bool {
	for _, g := range d.groups {
		inner := 0
		for _, i := range g {
			if !d.edge[i] {
				inner++
			}
		}
		if len(g) > 0 && (inner < fewestKept || float64(inner) < leastKept*float64(len(g))) {
			return false
		}
	}
	return true
}

// commonGuards are the guards of each lamp in all blocks, with the reason: were they others
// from block to block, each treatment would be read off other places. A plant that is a
// guard in one block is one in all, as long as enough plants are left; else only those
// that are guards in every block.
func (d *bed) commonGuards(t *underlamp.Trial, blocks []string, edge bool) ([]map[int]string, error) {
	whys := make([]map[int]string, len(d.b.Lamps)) // by lamp, then plant
	times, bears := make([]map[int]int, len(whys)), make([]int, len(whys))
	for k := range whys {
		whys[k], times[k] = map[int]string{}, map[int]int{}
	}
	for _, block := range blocks {
		claims, _ := d.claims(t, block)
		x, err := d.settle(claims)
		if err != nil {
			return nil, err
		}
		// Found with all plants counted; the dimming is then for the rest, and shows whether
		// more of them are off.
		found := make([]map[int]string, len(claims))
		for range 4 {
			more := false
			for j := range claims {
				g := d.guards(claims[j], claims, x, edge)
				maps.Copy(g, found[j]) // once a guard, always a guard
				if kept := without(d.groups[claims[j].lamp], g); len(g) > len(found[j]) && len(kept) >= fewestKept {
					found[j], claims[j].counts, more = g, kept, true
				}
			}
			if !more {
				break
			}
			if x, err = d.settle(claims); err != nil {
				return nil, err
			}
		}
		for j, c := range claims {
			bears[c.lamp]++
			for i, why := range found[j] {
				times[c.lamp][i]++
				if old, seen := whys[c.lamp][i]; !seen || why < old {
					whys[c.lamp][i] = why
				}
			}
		}
	}
	for k, g := range d.groups {
		if len(without(g, whys[k])) < fewestKept {
			for i, n := range times[k] {
				if n < bears[k] {
					delete(whys[k], i)
				}
			}
		}
	}
	return whys, nil
}

func (d *bed) block(t *underlamp.Trial, block string, guards []map[int]string, opt LightOptions) (*BlockLight, error) {
	out := &BlockLight{Block: block}
	claims, says := d.claims(t, block)
	out.Says = says
	for j, c := range claims {
		claims[j].counts = without(c.counts, guards[c.lamp])
	}
	x, err := d.settle(claims)
	if err != nil {
		return nil, err
	}
	dims, shares := d.step(claims, x)
	if !opt.KeepPlaces {
		if out.Swaps, err = d.swaps(t, claims, shares); err != nil {
			return nil, err
		}
	}
	bears := map[int]string{}
	for _, c := range claims {
		bears[c.lamp] = c.name
		out.Units = append(out.Units, d.unit(t, c, guards[c.lamp], block, dims, shares))
	}
	for k := range d.b.Lamps {
		l := &d.b.Lamps[k]
		out.Lamps = append(out.Lamps, LitLamp{Name: l.Name, Unit: bears[k], Before: l.Dimming.Value, After: quantity.Fraction(dims[k]), Power: l.Draw(quantity.Fraction(dims[k])), Hours: l.Hours.Value})
	}
	var off []string
	for _, u := range out.Units {
		if u.Aim > 0 && !u.Achieved {
			off = append(off, fmt.Sprintf("%s (%s mol/m²/d of %s, %s)", u.Unit, quantity.Number(float64(u.Got), 3), quantity.Number(float64(u.Aim), 3), MissText(u)))
		}
	}
	if len(off) > 0 {
		out.Says = append(out.Says, fmt.Sprintf("Cannot be reached within the dimmers' limits: %s. Choose other levels, hang the lamps otherwise, change the hours, or part the lamps from each other.", strings.Join(off, ", ")))
	}
	for _, s := range out.Swaps {
		out.Says = append(out.Says, fmt.Sprintf("If %s and %s change places (%s, %s), no unit is farther than %s from its level; now it is %s. A place chosen for its light is no draw: write layout: systematic then, or draw with other seeds until the light fits.",
			s.A, s.B, s.LampA, s.LampB, working.Percent(s.After), working.Percent(s.Before)))
	}
	return out, nil
}

func (d *bed) unit(t *underlamp.Trial, c claim, whys map[int]string, block string, dims, shares []float64) LitUnit {
	dli := func(x float64) quantity.DLI { return quantity.DailyLight(quantity.PPFD(x), d.day) }
	n := len(d.b.Plants)
	got := d.mean(shares, c.counts)
	l := &d.b.Lamps[c.lamp]
	u := LitUnit{
		Unit: c.name, Treatment: c.treat, Lamp: l.Name, Block: block, Hours: d.day,
		Now: dli(d.mean(d.now, c.counts)), Got: dli(got), GotPPFD: quantity.PPFD(got), Dimming: quantity.Fraction(dims[c.lamp]), Power: l.Draw(quantity.Fraction(dims[c.lamp])),
		SpreadBefore: d.spread(d.now, c.counts), Spread: d.spread(shares, c.counts),
	}
	if c.aim > 0 {
		u.Aim, u.Miss = dli(c.aim), got/c.aim-1
		u.Achieved = math.Abs(u.Miss) <= reached
	}
	own := 0.0
	for _, i := range c.counts {
		own += shares[c.lamp] * d.resp[c.lamp*n+i] / float64(len(c.counts))
		if d.edge[i] {
			u.AtEdge += 1 / float64(len(c.counts))
		}
	}
	if got > 0 {
		u.FromOthers = max(0, 1-own/got)
	}
	// Parts of a split plot share the plants so that each has its part of the bright and of
	// the dim ones: plants in the order of their light, as many at a time as there are parts,
	// dealt out by the seed.
	part := map[int]int{}
	all := slices.Clone(d.groups[c.lamp])
	if k := len(c.parts); k > 1 {
		h := fnv.New64a()
		h.Write([]byte(c.name))
		rng := rand.New(rand.NewPCG(t.Seed, h.Sum64()))
		deal := func(plants []int) {
			slices.SortStableFunc(plants, func(a, b int) int { return cmp.Compare(d.at(shares, a), d.at(shares, b)) })
			for from := 0; from < len(plants); from += k {
				order := rng.Perm(k)
				for j := from; j < min(from+k, len(plants)); j++ {
					part[plants[j]] = order[j-from]
				}
			}
		}
		deal(slices.Clone(c.counts))
		var guards []int
		for _, i := range all {
			if whys[i] != "" {
				guards = append(guards, i)
			}
		}
		deal(guards)
	}
	slices.SortStableFunc(all, func(a, b int) int {
		p, q := d.b.Plants[a], d.b.Plants[b]
		return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.X, q.X))
	})
	number := make([]int, len(c.parts))
	for _, i := range all {
		p := d.b.Plants[i]
		j := part[i]
		number[j]++
		e := d.at(shares, i)
		plant := fmt.Sprintf("P%d", number[j])
		u.Plants = append(u.Plants, UnitPlant{Name: p.Name, Code: c.parts[j].Name + "-" + plant, Unit: c.parts[j].Name, Plant: plant, Part: c.parts[j].Part, X: p.X, Y: p.Y,
			PPFD: quantity.PPFD(e), DLI: dli(e), AtEdge: d.edge[i], Guard: whys[i]})
	}
	return u
}

// swaps looks for exchanges of two units within a block, the best first and then again,
// while the worst miss is not within bounds and falls by more than a hundredth. A Latin
// square has none: it would be one no longer.
func (d *bed) swaps(t *underlamp.Trial, claims []claim, shares []float64) (out []LightSwap, err error) {
	_, worst := d.miss(claims, shares)
	if worst <= reached || t.Layout == underlamp.LatinLayout {
		return nil, nil
	}
	now := slices.Clone(claims)
	exchange := func(c []claim, i, j int) {
		c[i].aim, c[j].aim = c[j].aim, c[i].aim
		c[i].name, c[j].name = c[j].name, c[i].name
		c[i].treat, c[j].treat = c[j].treat, c[i].treat
	}
	for range len(claims) {
		bi, bj, best := -1, -1, worst-0.01
		for i := range now {
			for j := range i {
				if now[i].aim == now[j].aim || now[i].aim == 0 || now[j].aim == 0 {
					continue
				}
				exchange(now, i, j)
				x, err := d.settle(now)
				if err != nil {
					return nil, err
				}
				_, x = d.step(now, x)
				if _, w := d.miss(now, x); w < best-1e-9 {
					bi, bj, best = i, j, w
				}
				exchange(now, i, j)
			}
		}
		if bi < 0 {
			break
		}
		out = append(out, LightSwap{A: now[bj].name, B: now[bi].name, LampA: d.b.Lamps[now[bj].lamp].Name, LampB: d.b.Lamps[now[bi].lamp].Name, Before: worst, After: best})
		exchange(now, bi, bj)
		if worst = best; worst <= reached {
			break
		}
	}
	return out, nil
}

// atEdge marks the plants on the outline of the planting: those on its convex hull.
func atEdge(plants []underlamp.Plant) []bool {
	out := make([]bool, len(plants))
	const slack = 1e-6 // m²
	for i, p := range plants {
		for j, q := range plants {
			if i == j {
				continue
			}
			left, right := false, false
			for _, r := range plants {
				cross := float64(q.X-p.X)*float64(r.Y-p.Y) - float64(q.Y-p.Y)*float64(r.X-p.X)
				left, right = left || cross > slack, right || cross < -slack
			}
			if !left || !right {
				out[i] = true
				break
			}
		}
	}
	return out
}

// say adds what holds of all blocks.
func (l *TrialLight) say(d *bed, edge bool, opt LightOptions) {
	counted, guards, worst, before := 0, 0, 0.0, 0.0
	low, high := LitUnit{Power: quantity.Watt(math.Inf(1))}, LitUnit{}
	var off []string
	for _, b := range l.Blocks {
		for _, u := range b.Units {
			g := len(u.Guards())
			guards, counted = guards+g, counted+len(u.Plants)-g
			if u.Aim > 0 {
				worst = max(worst, math.Abs(u.Miss))
				before = max(before, math.Abs(float64(u.Now/u.Aim)-1))
				if !u.Achieved {
					off = append(off, u.Unit)
				}
			}
			if u.Power < low.Power {
				low = u
			}
			if u.Power > high.Power {
				high = u
			}
		}
	}
	if before > 0 {
		s := fmt.Sprintf("As the bench is set, a unit lies up to %s %% from its level; with the dimmings proposed up to %s %%.", quantity.Fixed(100*before, 1), quantity.Fixed(100*worst, 1))
		if len(off) > 0 {
			s += " Not reached: " + strings.Join(off, ", ") + "."
		}
		l.Says = append(l.Says, s)
	}
	if guards > 0 {
		l.Says = append(l.Says, fmt.Sprintf("%s counted and %s: guards are grown like the others, and neither weighed with them nor counted.", count(counted, "plant is", "plants are"), count(guards, "is a guard", "are guards")))
	}
	if !edge && !opt.KeepEdge {
		l.Says = append(l.Says, "Plants at the edge of the planting count here: without them some lamp would keep too few. Their neighbours shade them less and they stand in more air than others; a row of guards about the planting helps.")
	}
	if high.Power > 1.2*low.Power {
		l.Says = append(l.Says, fmt.Sprintf("Light warms: the lamp of %s (%s) draws %s W, that of %s (%s) %s W. Warmer leaves under the brighter lamp are part of its treatment; measure the air at the leaves under both.",
			high.Unit, high.Treatment, quantity.Number(float64(high.Power), 3), low.Unit, low.Treatment, quantity.Number(float64(low.Power), 3)))
	}
	l.Says = append(l.Says, "The air is that of the whole bench. A fan at one end, a door or a cold wall is a difference between places that no number here shows.")
	for _, c := range l.Confounds {
		if c.Says != "" {
			l.Says = append(l.Says, c.Says)
		}
	}
}

func doseOfTreatment(t *underlamp.Trial, name string) float64 {
	for _, x := range t.Treatments {
		if x.Name == name {
			return float64(x.DLI)
		}
	}
	return 0
}

// MissText says how far the light of a unit lies from its aim: "0.4 % under".
func MissText(u LitUnit) string {
	s := quantity.Fixed(100*math.Abs(u.Miss), 1)
	switch {
	case u.Aim == 0:
		return ""
	case s == "0.0":
		return "0 %"
	case u.Miss < 0:
		return s + " % under"
	}
	return s + " % over"
}

// Figures are the light of every unit and what goes along with the treatments, each with
// its working.
func (l *TrialLight) Figures() []working.Figure {
	var out []working.Figure
	for _, b := range l.Blocks {
		for _, u := range b.Units {
			w := working.Working{
				Formula: "DLI = 0.0036 · hours · mean over the plants that count of Σ lamps share of full light · light of the lamp at the plant",
				Inputs: []working.Input{
					working.Plain("hours of light", quantity.Duration.Format(float64(u.Hours), l.Bench.Units, 4), underlamp.Stated.String()),
					working.Plain("dimming of its lamp", working.Percent(float64(u.Dimming)), underlamp.Computed.String()),
					working.Plain("from other lamps", working.Percent(u.FromOthers), underlamp.Computed.String()),
					working.Plain("plants that count", fmt.Sprint(len(u.Plants)-len(u.Guards())), underlamp.Computed.String()),
				},
				Steps:   []string{"Least squares of the relative miss of all units of the block within the bounds of the dimmers, then the least spread over their plants, then whole percents."},
				Notes:   []string{"At the planting surface, mean over the crown of each plant. Plants that grow towards a lamp get more."},
				Sources: []string{"ASABE2017"},
			}
			if u.Aim > 0 {
				w.Inputs = append(w.Inputs, working.Plain("aim", quantity.Number(float64(u.Aim), 3)+" mol/m²/d", underlamp.Stated.String()))
			}
			out = append(out, working.Figure{Name: "light of " + u.Unit, Value: float64(u.Got), Unit: quantity.DailyIntegral.Unit(), Digits: 3, Working: w})
		}
	}
	for _, c := range l.Confounds {
		out = append(out, c.Figure)
	}
	return out
}
