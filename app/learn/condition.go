package learn

import (
	"math"

	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
)

// Numbers of draws by which a running cycle is looked at.
const (
	crops       = 3000 // of which those that agree with what was seen are kept
	hearts      = 12   // plants of each crop, where burn was looked for
	leastAgreed = 60   // effective draws, under which the outlook of a running cycle is rough
)

// A cohort is draws of one crop's mean plant, each with a factor on the light.
type cohort struct {
	means   []headcycle.Traits
	factors []float64
	agreed  float64 // effective number of draws that agree with what was seen; +Inf if nothing was
}

// condition draws the mean plants of one crop that agree with what was seen of it, out
// of those that were thought of before: by their likelihood, and drawn again in
// proportion (importance resampling). The level of the light is drawn and kept with
// them, so that what the crop tells of both stays together.
func (r *room) condition(before []headcycle.Traits, factors []float64, within headcycle.Spread, c *headlearn.Cycle, stages []stage, keep int) cohort {
	out := cohort{agreed: math.Inf(1)}
	n := len(before)
	if c == nil || len(c.Plants)+len(c.Counts) == 0 {
		for i := range keep {
			out.means = append(out.means, before[i%n])
			out.factors = append(out.factors, factors[i%n])
		}
		return out
	}
	var stands []outlook.Stand
	burn := len(c.Counts) > 0
	for _, p := range c.Plants {
		s := outlook.Stand{Start: c.Start, Days: c.Days}
		for k, g := range c.Stages {
			s.Stages = append(s.Stages, outlook.StandStage{FromDay: g.FromDay, Environment: g.Environment, Light: p.Light[k]})
		}
		stands = append(stands, s)
		burn = burn || len(p.Burns) > 0
	}
	_, course := outlook.Follow(before, factors, stands, true)
	mass, height := r.plantSD(before[0], within, r.meanStand(stages, c.Start, c.Days))

	logs := make([]float64, n)
	for k, p := range c.Plants {
		for i := range before {
			days := course[i][k]
			var w, h series
			for _, x := range p.Weighings {
				scale := x.ErrorGrams
				if scale == 0 {
					scale = 1
				}
				w.add(math.Log(x.FreshGrams/days[x.Day-1].Fresh), scale/x.FreshGrams)
			}
			for _, x := range p.Heights {
				ruler := x.ErrorMetres
				if ruler == 0 {
					ruler = 0.005
				}
				h.add(math.Log(x.Metres/days[x.Day-1].Height), ruler/x.Metres)
			}
			logs[i] += w.logLikelihood(mass) + h.logLikelihood(height)
		}
	}
	if burn {
		first := len(stands) // of the classes that stand for the plants of a count
		if len(c.Counts) > 0 {
			stands = append(stands, r.classStands(stages, c.Start, c.Days)...)
		}
		plants := make([]headcycle.Traits, 0, n*hearts)
		light := make([]float64, 0, n*hearts)
		for i := range before {
			plants = append(plants, within.Draws(before[i], hearts, outlook.Seed+uint64(i)+1)...)
			for range hearts {
				light = append(light, factors[i])
			}
		}
		outcomes, _ := outlook.Follow(plants, light, stands, false)
		chance := func(i, stand, day int) float64 {
			burnt := 0.5 // a half, so that none of twelve is not never
			for k := range hearts {
				if outcomes[i*hearts+k][stand].BurnDay <= float64(day) {
					burnt++
				}
			}
			return burnt / (hearts + 1)
		}
		for i := range before {
			for k, p := range c.Plants {
				if len(p.Burns) == 0 {
					continue
				}
				// Of several looks at one plant the last holds what the others do.
				b := p.Burns[len(p.Burns)-1]
				if q := chance(i, k, b.Day); b.Low.Leaves > 0 {
					logs[i] += math.Log(q)
				} else {
					logs[i] += math.Log(1 - q)
				}
			}
			for _, x := range c.Counts {
				q := 0.0
				for k := first; k < len(stands); k++ {
					q += chance(i, k, x.Day) / float64(len(stands)-first)
				}
				logs[i] += float64(x.Burnt)*math.Log(q) + float64(x.Of-x.Burnt)*math.Log(1-q)
			}
		}
	}
	most := math.Inf(-1)
	for _, l := range logs {
		if !math.IsNaN(l) {
			most = max(most, l)
		}
	}
	sum, square := 0.0, 0.0
	weights := make([]float64, n)
	for i, l := range logs {
		if w := math.Exp(l - most); !math.IsNaN(w) {
			weights[i] = w
			sum += w
			square += w * w
		}
	}
	out.agreed = sum * sum / square
	// Systematic resampling: every draw is kept in proportion to its weight.
	at, i := sum/float64(keep)/2, 0
	left := weights[0]
	for range keep {
		for left < at && i+1 < n {
			i++
			left += weights[i]
		}
		out.means = append(out.means, before[i])
		out.factors = append(out.factors, factors[i])
		at += sum / float64(keep)
	}
	return out
}

// A series is the residuals of one plant: they share its own deviation.
type series struct{ rdr, rd1, d1, logs float64 }

func (s *series) add(residual, sd float64) {
	v := sd * sd
	s.rdr += residual * residual / v
	s.rd1 += residual / v
	s.d1 += 1 / v
	s.logs += math.Log(v)
}

// logLikelihood of normal residuals with a common part of standard deviation sd: by
// Sherman and Morrison, (D + v 11ᵀ)⁻¹.
func (s *series) logLikelihood(sd float64) float64 {
	v := sd * sd
	f := v / (1 + v*s.d1)
	return -(s.rdr - f*s.rd1*s.rd1 + s.logs + math.Log(1+v*s.d1)) / 2
}

// plantSD is how far the plants of one crop lie apart in the logarithm of mass and
// height.
func (r *room) plantSD(mean headcycle.Traits, within headcycle.Spread, s outlook.Stand) (mass, height float64) {
	outcomes, _ := outlook.Follow(within.Draws(mean, 200, outlook.Seed), nil, []outlook.Stand{s}, false)
	var m, h []float64
	for _, o := range outcomes {
		m = append(m, math.Log(o[0].Last.Fresh))
		h = append(h, math.Log(o[0].Last.Height))
	}
	return max(math.Sqrt(variance(m)), 0.02), max(math.Sqrt(variance(h)), 0.02)
}

// plants draws one plant of each crop of a cohort.
func (c *cohort) plants(within headcycle.Spread) []headcycle.Traits {
	out := make([]headcycle.Traits, len(c.means))
	for i := range out {
		out[i] = within.Draws(c.means[i], 1, outlook.Seed+uint64(i)+1)[0]
	}
	return out
}
