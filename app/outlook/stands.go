package outlook

import (
	"math"

	"underlamp/app/light"
	"underlamp/science/headcycle"
)

// A Stand is one plant, or the mean of several, through the stages of a cycle.
type Stand struct {
	Stages []StandStage // by day; the first from day 0
	Start  headcycle.Start
	Days   int // followed
}

// A StandStage is the light of a plant and the air and feed around it from a day on.
type StandStage struct {
	FromDay     int
	Environment headcycle.Environment
	Light       headcycle.Profile
}

// LightFactors draws n factors on all PPFD, from what is not known of the level of
// the light.
func LightFactors(m *light.Model, n int) []float64 {
	sd := m.LevelSD()
	out := make([]float64, n)
	for i, z := range headcycle.Normals(n, seed+1) {
		out[i] = math.Exp(sd * z)
	}
	return out
}

// Seed of the draws of every forecast, so that two of them differ by what they are
// of and not by chance.
const Seed = seed

// Follow leads every draw of a plant through every stand, each draw with its own
// factor on the light; no factors mean 1. Outcomes come by draw, then by stand. With
// a course, day d of draw i in stand s is in course[i][s][d].
func Follow(traits []headcycle.Traits, factors []float64, stands []Stand, withCourse bool) (out [][]headcycle.Outcome, course [][][]headcycle.Day) {
	out = make([][]headcycle.Outcome, len(traits))
	course = make([][][]headcycle.Day, len(traits))
	parallel(len(traits), func(i int) {
		tr := &traits[i]
		f := 1.0
		if factors != nil {
			f = factors[i]
		}
		out[i] = make([]headcycle.Outcome, len(stands))
		course[i] = make([][]headcycle.Day, len(stands))
		prepared := map[headcycle.Environment]*headcycle.Prepared{}
		for s, st := range stands {
			if st.Days == 0 {
				continue
			}
			stages := make([]headcycle.Stage, len(st.Stages))
			for k, g := range st.Stages {
				pre, ok := prepared[g.Environment]
				if !ok {
					p := headcycle.Prepare(tr, g.Environment)
					pre = &p
					prepared[g.Environment] = pre
				}
				stages[k] = headcycle.Stage{FromDay: g.FromDay, Prepared: pre, Light: scaled(make([]float64, 0, 2*levelCount), g.Light, f)}
			}
			var days []headcycle.Day
			if withCourse {
				days = make([]headcycle.Day, st.Days)
			}
			out[i][s] = headcycle.Follow(tr, stages, st.Start, st.Days, nil, days)
			course[i][s] = days
		}
	})
	return out, course
}
