package learn

import (
	"math"

	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
)

// Numbers of draws by which a running cycle is looked at.
const (
	crops       = 8000 // of which those that agree with what was seen are kept
	chunk       = 500  // followed at a time, for the memory
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
	mass, height := r.plantSD(before[0], within, r.meanStand(stages, c.Start, c.Days))
	first := len(stands) // of the classes that stand for the plants of a count
	if len(c.Counts) > 0 {
		stands = append(stands, r.classStands(stages, c.Start, c.Days)...)
	}
	logs := make([]float64, 0, n)
	for from := 0; from < n; from += chunk {
		to := min(from+chunk, n)
		part := grew(c, before[from:to], factors[from:to], stands[:first], mass, height)
		if burn {
			for i, l := range burnt(c, before[from:to], factors[from:to], within, stands, first, uint64(from)) {
				part[i] += l
			}
		}
		logs = append(logs, part...)
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

// grew is the logarithm of the likelihood of weighings and heights for each draw.
func grew(c *headlearn.Cycle, means []headcycle.Traits, factors []float64, stands []outlook.Stand, mass, height float64) []float64 {
	_, course := outlook.Follow(means, factors, stands, true)
	logs := make([]float64, len(means))
	for k, p := range c.Plants {
		for i := range means {
			days := course[i][k]
			var w, h series
			for _, x := range p.Weighings {
				scale := x.ErrorGrams
				if scale == 0 {
					scale = 1
				}
				w.add(math.Log(x.FreshGrams/days[x.Day-1].Fresh), math.Hypot(headlearn.PathFresh, scale/x.FreshGrams))
			}
			for _, x := range p.Heights {
				ruler := x.ErrorMetres
				if ruler == 0 {
					ruler = 0.005
				}
				h.add(math.Log(x.Metres/days[x.Day-1].Height), math.Hypot(headlearn.PathHeight, ruler/x.Metres))
			}
			logs[i] += w.logLikelihood(mass) + h.logLikelihood(height)
		}
	}
	return logs
}

// burnt is the logarithm of the likelihood of looks for burn and counts for each draw:
// whether there was any, by the share of plants of such a crop that burn by then.
func burnt(c *headlearn.Cycle, means []headcycle.Traits, factors []float64, within headcycle.Spread, stands []outlook.Stand, first int, seed uint64) []float64 {
	var plants []headcycle.Traits
	var light []float64
	for i := range means {
		plants = append(plants, within.Draws(means[i], hearts, outlook.Seed+seed+uint64(i)+1)...)
		for range hearts {
			light = append(light, factors[i])
		}
	}
	outcomes, _ := outlook.Follow(plants, light, stands, false)
	chance := func(i, stand, day int) float64 {
		n := 0.5 // a half, so that none of twelve is not never
		for k := range hearts {
			if outcomes[i*hearts+k][stand].BurnDay <= float64(day) {
				n++
			}
		}
		return headlearn.Slip + (1-2*headlearn.Slip)*n/(hearts+1)
	}
	logs := make([]float64, len(means))
	for i := range means {
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
	return logs
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
