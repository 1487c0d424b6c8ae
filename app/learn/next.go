package learn

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/working"
)

// Next is which one further observation would narrow the outlook most.
type Next struct {
	Best    Further
	Further []Further // all that were compared, the best first
}

// Further is one observation in the next crop and what it would take from the doubt
// about the cultivar here, which all coming crops share: the share by which the
// standard deviation of the mean mass at harvest and of the share of burnt heads is
// expected to fall.
type Further struct {
	What     string // "weigh one head on day 21"
	Mass     float64
	Burn     float64
	Combined float64 // mean of both
}

const (
	nextCrops  = 200
	nextPlants = 6
)

// next compares observations by the variance that they would take away, to first
// order (ChalonerVerdinelli1995; linear Bayes): cov(T, y)² / (var(y) + noise²) of
// the target T, over cultivars drawn from what is known now, at the present setting.
// The noise is that of the instrument, of the plant, and of a crop that differs from
// what all share.
func (r *room) next(prior headlearn.Prior, l *Lesson) Next {
	shared := sharedDraws(l, nextCrops)
	crops := cropDraws(l.summary, prior, nextCrops)
	if len(crops) == 0 || len(shared) == 0 {
		return Next{}
	}
	days := r.b.Crop.Days.Value
	stages, err := r.stages(&underlamp.Cycle{}, 0)
	if err != nil {
		return Next{} // the forecast at this setting would have failed before
	}
	mean := []outlook.Stand{r.meanStand(stages, outlook.Start(r.b), days)}
	_, course := outlook.Follow(shared, nil, mean, true)
	_, ofCrops := outlook.Follow(crops, nil, mean, true)

	classes := r.classStands(stages, outlook.Start(r.b), days)
	// Plants within each crop, for burn: half of them make the target, the other half
	// what is observed, so that their chance does not correlate.
	hearts := func(of []headcycle.Traits) func(day float64) (target, seen []float64) {
		var all []headcycle.Traits
		for i := range of {
			all = append(all, prior.Within.Draws(of[i], nextPlants, outlook.Seed+uint64(i)+1)...)
		}
		burn, _ := outlook.Follow(all, nil, classes, false)
		return func(day float64) (target, seen []float64) {
			for i := range of {
				n := [2]float64{}
				for k := range nextPlants {
					for c := range classes {
						if burn[i*nextPlants+k][c].BurnDay <= day {
							n[k%2] += 2.0 / nextPlants / float64(len(classes))
						}
					}
				}
				target, seen = append(target, n[0]), append(seen, n[1])
			}
			return target, seen
		}
	}
	shares, cropShares := hearts(shared), hearts(crops)
	pick := func(course [][][]headcycle.Day, day int, of func(*headcycle.Day) float64) []float64 {
		out := make([]float64, len(course))
		for i := range course {
			out[i] = of(&course[i][0][day-1])
		}
		return out
	}
	// at is what is seen of a day, and how much single crops differ in it.
	at := func(day int, of func(*headcycle.Day) float64) (y []float64, crop float64) {
		y = pick(course, day, of)
		return y, max(variance(pick(ofCrops, day, of))-variance(y), 0)
	}
	logFresh := func(d *headcycle.Day) float64 { return math.Log(d.Fresh) }
	mass, _ := at(days, logFresh)
	burnt, other := shares(float64(days))
	varMass, varBurn := variance(mass), max(covariance(burnt, other), 0)
	plantSD := l.Posterior.PlantSD.Q50
	if !(plantSD > 0) {
		plantSD = 0.1
	}
	taken := func(target, y []float64, varTarget, varY, noise float64) float64 {
		if !(varTarget > 1e-9) || !(varY+noise > 1e-12) {
			return 0
		}
		c := covariance(target, y)
		left := 1 - min(c*c/(max(varY, 0)+noise)/varTarget, 0.999)
		return 1 - math.Sqrt(left)
	}
	var out []Further
	add := func(what string, y []float64, varY, noise float64) {
		f := Further{What: what, Mass: taken(mass, y, varMass, varY, noise), Burn: taken(burnt, y, varBurn, varY, noise)}
		f.Combined = (f.Mass + f.Burn) / 2
		out = append(out, f)
	}
	plants := len(r.b.Plants)
	for _, d := range nextDays(days) {
		when := fmt.Sprintf("on day %d", d)
		if d == days {
			when = "at harvest"
		}
		fresh, crop := at(d, logFresh)
		typical := math.Exp(average(fresh))
		add("weigh one head "+when, fresh, variance(fresh), crop+square(plantSD)+square(1/typical))
		if d == days {
			dry, crop := at(d, func(x *headcycle.Day) float64 { return math.Log(x.Dry) })
			add("dry and weigh one head "+when, dry, variance(dry), crop+square(plantSD))
			add(fmt.Sprintf("weigh all %d heads %s", plants, when), fresh, variance(fresh), crop+(square(plantSD)+square(1/typical))/float64(plants))
		}
		height, crop := at(d, func(x *headcycle.Day) float64 { return math.Log(x.Height) })
		add("measure the height of one head "+when, height, variance(height), crop+square(plantSD/3)+square(0.005/math.Exp(average(height))))
		half, seen := shares(float64(d))
		v := max(covariance(half, seen), 0)
		a, b := cropShares(float64(d))
		crop = max(covariance(a, b)-v, 0)
		one := max(average(seen)*(1-average(seen))-v-crop, 0.01) // of one head, given its crop
		add("look into one heart "+when, seen, v, crop+one)
		add(fmt.Sprintf("look into all %d hearts %s", plants, when), seen, v, crop+one/float64(plants))
	}
	slices.SortStableFunc(out, func(a, b Further) int {
		switch {
		case a.Combined > b.Combined:
			return -1
		case a.Combined < b.Combined:
			return 1
		}
		return 0
	})
	return Next{Best: out[0], Further: out[:min(len(out), 8)]}
}

// Sentence says what to do next.
func (n Next) Sentence() string {
	if n.Best.What == "" || n.Best.Combined < 0.01 {
		return "No single further observation would narrow the outlook noticeably."
	}
	return fmt.Sprintf("In the next crop, %s: that alone should narrow what is not known of the mass of this cultivar here by %s, and of its burn by %s.", n.Best.What, working.Percent(n.Best.Mass), working.Percent(n.Best.Burn))
}

func nextDays(days int) []int {
	var out []int
	for d := 14; d < days-3; d += 7 {
		out = append(out, d)
	}
	return append(out, days)
}

// cropDraws draws mean plants of coming crops, without what parts the plants of one.
func cropDraws(s headlearn.Summary, prior headlearn.Prior, n int) []headcycle.Traits {
	prior.Within = headcycle.Spread{}
	learned, err := headlearn.FromSummary(s, prior)
	if err != nil {
		return nil // it has been read before
	}
	return learned.Traits(n, outlook.Seed)
}

// sharedDraws draws mean plants of the cultivar here, without what parts crops or the
// plants of one.
func sharedDraws(l *Lesson, n int) []headcycle.Traits {
	s := l.summary
	k := len(s.Keys)
	cov := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i + 1 {
			cov.SetSym(i, j, s.Covariance[i][j])
		}
		cov.SetSym(i, i, s.Covariance[i][i]*(1+1e-9)+1e-12)
	}
	var root mat.Cholesky
	if !root.Factorize(cov) {
		return nil // a summary that can be drawn from has a covariance
	}
	var lower mat.TriDense
	root.LTo(&lower)
	z := headcycle.Normals(n*k, outlook.Seed)
	out := make([]headcycle.Traits, n)
	for d := range out {
		logs := make([]float64, k)
		for i := range k {
			logs[i] = s.Mean[i]
			for j := range i + 1 {
				logs[i] += lower.At(i, j) * z[d*k+j]
			}
		}
		out[d] = l.Posterior.Mean(logs)
	}
	return out
}

func square(x float64) float64 { return x * x }

func average(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v / float64(len(x))
	}
	return sum
}

func variance(x []float64) float64 { return covariance(x, x) }

func covariance(x, y []float64) float64 {
	mx, my := average(x), average(y)
	sum := 0.0
	for i := range x {
		sum += (x[i] - mx) * (y[i] - my) / float64(len(x)-1)
	}
	return sum
}
