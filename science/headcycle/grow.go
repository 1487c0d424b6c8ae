package headcycle

import (
	"underlamp/science/calcium"
	"underlamp/science/cropgrowth"
	"underlamp/science/quantity"
)

// A Stage is air, feed and light from a day on, until the next stage begins.
type Stage struct {
	FromDay  int // the first day that it holds for, counted from 0
	Prepared *Prepared
	Light    Profile
}

// A Grown is a head at the end of a day, as far as its growth alone decides, with
// what its heart needs to know of that day.
type Grown struct {
	Fresh      float64 // g
	Dry        float64 // shoot, g
	Height     float64 // m
	Laid       calcium.Laid
	AreaFactor float64 // on leaf area, of the light that the leaves form in
}

// Grow follows the growth of a head through stages, one day for each entry of
// course, without water and heart: for whoever asks of many hearts in one plant. The
// heart does not act on growth, so heart after heart can be led through the course
// with calcium.Heart.Day and gives what [Follow] gives. Grow allocates nothing.
//
// It panics if there is no stage or the first does not begin on day 0.
func Grow(tr *Traits, stages []Stage, start Start, course []Grown) {
	plant := newGrowing(tr, stages, start)
	for d := range course {
		plant.day(tr, d, 1)
		course[d] = plant.grown
	}
}

// growing is a head on its way.
type growing struct {
	head   cropgrowth.Head
	start  Start
	stages []Stage // the one that holds and those to come
	height float64

	grown            Grown // of the day that is over
	hours, ppfd, dli float64
	leafArea, crown  float64 // at the start of the day
}

func newGrowing(tr *Traits, stages []Stage, start Start) growing {
	if len(stages) == 0 || stages[0].FromDay != 0 {
		panic("headcycle: the first stage must begin on day 0")
	}
	g := growing{head: cropgrowth.NewHead(&tr.Growth, start.FreshGrams, start.Ground(1)), start: start, stages: stages}
	g.height = tr.Stretch * cropgrowth.Height(&tr.Growth, g.head.Fresh(&tr.Growth), quantity.PPFD(stages[0].Light.At(0)))
	return g
}

// day carries the head through day d under its light times scale, and returns the
// environment that held.
func (g *growing) day(tr *Traits, d int, scale float64) *Prepared {
	for len(g.stages) > 1 && g.stages[1].FromDay <= d {
		g.stages = g.stages[1:]
	}
	pre := g.stages[0].Prepared
	g.hours = min(max(float64(pre.env.Hours), 0), 24)
	ground := g.start.Ground(d + 1)
	g.head.SetGround(ground)
	_, shaded := g.head.AtDayStart() // of the day before: its change in a day is small
	g.ppfd = g.stages[0].Light.Under(g.height, shaded/ground) * scale
	g.dli = float64(quantity.DailyLight(quantity.PPFD(g.ppfd), quantity.Hours(g.hours)))
	g.head.SetLight(&tr.Growth, g.dli)
	g.leafArea, g.crown = g.head.AtDayStart()

	g.grown.Laid = calcium.Laid{
		Light: g.head.Step(&tr.Growth, &pre.day, g.ppfd, g.hours*3600).Grown / g.crown,
		Dark:  g.head.Step(&tr.Growth, &pre.night, 0, (24-g.hours)*3600).Grown / g.crown,
	}
	g.grown.Fresh = g.head.Fresh(&tr.Growth)
	g.grown.Dry = g.head.ShootDry(&tr.Growth)
	g.grown.AreaFactor = g.head.AreaFactor()
	g.height = tr.Stretch * cropgrowth.Height(&tr.Growth, g.grown.Fresh, quantity.PPFD(g.ppfd))
	g.grown.Height = g.height
	return pre
}
