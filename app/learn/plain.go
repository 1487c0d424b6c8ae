package learn

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
	"underlamp/working"
)

// Words are what a parameter is called.
type Words struct {
	Name  string // "growth in the same light"
	Short string // "growth"
	Means string // a sentence
}

// plain words for the parameters of package headlearn, by key.
var plain = map[string]Words{
	"vigour":           {"growth in the same light", "growth", "How much sugar a plant makes of the light that it catches, against the usual. Seedlings, care and an error in the level of the light are in it too."},
	"respiration":      {"sugar spent on living", "respiration", "How much of its sugar a plant burns to stay alive, against the usual."},
	"leaf-area":        {"leaf area of a gram", "leaf area", "How much leaf area a plant makes of a gram: more catches more light early on."},
	"young-growth":     {"growth of young plants", "growth of young plants", "How fast a plant grows before its leaves cover its ground, against the usual."},
	"area-light":       {"leaf area lost to strong light", "leaf area in strong light", "How much less leaf area a gram makes as the light grows stronger."},
	"dry-share":        {"dry share of the head", "dry share", "How much of a head is not water. More of it makes a lighter head of the same growth."},
	"stretch":          {"height of a head of the same mass", "height", "How high a head of one mass stands, against the usual."},
	"need":             {"calcium that young leaves need, against what arrives", "need of calcium", "How much calcium a gram of young leaf must hold so as not to burn, against what the sap brings and how fast the leaf grows. A higher need burns sooner. Nothing that a grower sees parts the three."},
	"bearing":          {"days of want that leaves bear", "bearing of want", "For how long young leaves bear to want calcium before they burn."},
	"close-mass":       {"mass at which the heart closes", "closing of the heart", "How heavy a head is when its heart closes and the air no longer reaches the young leaves."},
	"heart-resistance": {"stillness of the air in the heart", "stillness of the heart", "How much a closed heart holds back the water, and so the calcium, that its leaves draw."},
	"night":            {"push of the roots by night", "push of the roots", "How much water the roots push into the young leaves by night, and how dry a night must be to stop it."},
	"plant-spread":     {"difference between plants of one crop", "difference between plants", "How far the plants of one crop lie apart in mass, against the usual."},
}

// Plain says what a parameter is.
func Plain(p headlearn.Parameter) Words {
	if w, ok := plain[p.Key]; ok {
		return w
	}
	return Words{Name: p.Name, Short: p.Name}
}

// Figures are what was learned of each parameter with its working, the best known
// first.
func (l *Lesson) Figures() []working.Figure {
	order := make([]int, len(l.Posterior.Parameters))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch d := l.Posterior.Parameters[b].Shrinkage - l.Posterior.Parameters[a].Shrinkage; {
		case d > 0:
			return 1
		case d < 0:
			return -1
		}
		return 0
	})
	var out []working.Figure
	for _, i := range order {
		p := l.Posterior.Parameters[i]
		w := Plain(p)
		n := func(v float64) string { return quantity.Number(v, 3) }
		f := working.Figure{Name: w.Name, Value: p.Posterior.Q50, Unit: "", Band: &working.Band{Low: p.Posterior.Q05, High: p.Posterior.Q95, Level: 0.9}}
		f.Working = working.Working{
			Formula: fmt.Sprintf("%s; before: ln factor ~ normal(0, %s²); after: prior · likelihood of all observations, by sampling", factorOn(p), n(p.PriorLogSD)),
			Inputs: []working.Input{
				working.Plain("before, 90 %", fmt.Sprintf("%s to %s", n(p.Prior.Q05), n(p.Prior.Q95)), "default"),
				working.Plain("narrowed by", working.Percent(max(p.Shrinkage, 0)), "computed"),
				working.Plain("R-hat", fmt.Sprintf("%.3f", p.RHat), "computed"),
				working.Plain("effective draws, bulk and tail", fmt.Sprintf("%.0f and %.0f", p.BulkESS, p.TailESS), "computed"),
			},
			Sources: []string{"Vehtari2021"},
		}
		if w.Means != "" {
			f.Working.Steps = append(f.Working.Steps, w.Means)
		}
		f.Working.Steps = append(f.Working.Steps, l.ToldText(i))
		for _, c := range l.Cycles {
			f.Working.Inputs = append(f.Working.Inputs, working.Plain("cycle "+c.Name, describe(c), "measured"))
		}
		if !p.Learned {
			f.Working.Notes = append(f.Working.Notes, "Hardly anything was learned of it: what stands here is what was held before.")
		}
		out = append(out, f)
	}
	return out
}

func factorOn(p headlearn.Parameter) string {
	if len(p.Traits) == 0 {
		return "factor on the standard deviation between plants"
	}
	return "factor on " + strings.Join(p.Traits, ", ")
}

// ToldText says which data told the i-th parameter.
func (l *Lesson) ToldText(i int) string {
	if i >= len(l.Told) || len(l.Told[i]) == 0 {
		return "None of the data says anything about it."
	}
	var parts []string
	for _, t := range l.Told[i] {
		if t.Share >= 0.05 {
			parts = append(parts, fmt.Sprintf("%s %s", t.Data, working.Percent(t.Share)))
		}
	}
	return "Told by " + strings.Join(parts, ", ") + "."
}

const toldDraws = 16

// told computes which kinds of data bear on each parameter: how much an observation
// moves, in units of its own noise, when the parameter moves by a standard deviation
// of its prior (the Fisher information, by differences).
func (r *room) told(a *account, prior headlearn.Prior, post *headlearn.Posterior) []Told {
	logs := make([]float64, len(post.Parameters))
	for i, p := range post.Parameters {
		logs[i] = p.LogMean
	}
	plantSD := post.PlantSD.Q50
	if !(plantSD > 0) {
		plantSD = 0.1
	}

	var stands []outlook.Stand
	for i, c := range a.evidence.Cycles {
		for _, p := range c.Plants {
			s := outlook.Stand{Start: c.Start, Days: c.Days}
			for k, g := range c.Stages {
				s.Stages = append(s.Stages, outlook.StandStage{FromDay: g.FromDay, Environment: g.Environment, Light: p.Light[k]})
			}
			stands = append(stands, s)
		}
		for _, n := range c.Counts {
			s := r.meanStand(a.stages[i], c.Start, c.Days)
			for k := range s.Stages {
				if n.Light != nil {
					s.Stages[k].Light = n.Light[k]
				}
			}
			stands = append(stands, s)
		}
	}
	out := make([]Told, len(post.Parameters))
	for k, p := range post.Parameters {
		if len(p.Traits) == 0 {
			if len(stands) > 0 {
				out[k] = Told{{"weighings", 1}} // of several plants
			}
			continue
		}
		var ends [2]struct {
			course [][]headcycle.Day
			burnt  [][]float64 // by stand, the days of burn over the draws
		}
		for e, sign := range [2]float64{-1, 1} {
			at := slices.Clone(logs)
			at[k] += sign * p.PriorLogSD / 2
			tr := post.Mean(at)
			_, course := outlook.Follow([]headcycle.Traits{tr}, nil, stands, true)
			ends[e].course = course[0]
			moved := prior.Within.Draws(tr, toldDraws, outlook.Seed)
			outcomes, _ := outlook.Follow(moved, nil, stands, false)
			for s := range stands {
				var days []float64
				for i := range moved {
					days = append(days, outcomes[i][s].BurnDay)
				}
				ends[e].burnt = append(ends[e].burnt, days)
			}
		}
		by := map[string]float64{}
		add := func(kind string, change, sd float64) {
			if x := change / sd; !math.IsNaN(x) && !math.IsInf(x, 0) {
				by[kind] += x * x
			}
		}
		burn := func(s, day int) (change, sd float64) {
			share := func(days []float64) float64 {
				n := 0.5 // a half is added, so that none of 16 is not never
				for _, d := range days {
					if d <= float64(day) {
						n++
					}
				}
				return n / (float64(len(days)) + 1)
			}
			lo, hi := share(ends[0].burnt[s]), share(ends[1].burnt[s])
			mid := (lo + hi) / 2
			return hi - lo, math.Sqrt(mid * (1 - mid))
		}
		s := 0
		for _, c := range a.evidence.Cycles {
			for _, pl := range c.Plants {
				lo, hi := ends[0].course[s], ends[1].course[s]
				for _, w := range pl.Weighings {
					x, y := lo[w.Day-1].Fresh, hi[w.Day-1].Fresh
					scale := w.ErrorGrams
					if scale == 0 {
						scale = 1
					}
					// Weighings of one plant share its own deviation.
					add("weighings", math.Log(y/x), math.Hypot(math.Hypot(plantSD, scale/math.Sqrt(x*y))/math.Sqrt(float64(max(pl.Of, 1))), pl.SharedSD)*math.Sqrt(float64(len(pl.Weighings))))
				}
				for _, h := range pl.Heights {
					x, y := lo[h.Day-1].Height, hi[h.Day-1].Height
					add("heights", math.Log(y/x), math.Hypot(plantSD, max(h.ErrorMetres, 0.005)/math.Sqrt(x*y))*math.Sqrt(float64(len(pl.Heights))))
				}
				for _, b := range pl.Burns {
					change, sd := burn(s, b.Day)
					add("looks for burn", change, sd*math.Sqrt(float64(len(pl.Burns))))
				}
				s++
			}
			for _, n := range c.Counts {
				change, sd := burn(s, n.Day)
				of := float64(n.Of)
				if n.Weight > 0 {
					of *= n.Weight
				}
				add("counts of burn", change, sd/math.Sqrt(of))
				s++
			}
		}
		total := 0.0
		for _, v := range by {
			total += v
		}
		if total < 0.01 { // a hundredth of what a single good datum would say
			continue
		}
		for _, kind := range []string{"weighings", "heights", "looks for burn", "counts of burn"} {
			if v := by[kind]; v > 0 {
				out[k] = append(out[k], ToldBy{kind, v / total})
			}
		}
		slices.SortStableFunc(out[k], func(x, y ToldBy) int {
			if x.Share > y.Share {
				return -1
			}
			if x.Share < y.Share {
				return 1
			}
			return 0
		})
	}
	return out
}

// Compared is one figure before and after learning.
type Compared struct {
	Name          string
	Before, After string
	Change        string
}

// Comparison sets the outlook before beside the outlook after.
func (l *Lesson) Comparison() []Compared {
	u := l.Bench.Units
	band := func(b outlook.Band, unit string, digits int) string {
		if math.IsNaN(b.Mid) {
			return "none to be expected"
		}
		mid := quantity.Fixed(b.Mid, digits)
		if unit != "" {
			mid += " " + unit
		}
		return fmt.Sprintf("%s (%s to %s)", mid, quantity.Fixed(b.Low, digits), quantity.Fixed(b.High, digits))
	}
	narrower := func(a, b outlook.Band) string {
		if !(a.High > a.Low) || math.IsNaN(b.Mid) || math.IsNaN(a.Mid) {
			return "not to be compared"
		}
		return fmt.Sprintf("%s, band %s", working.SignedPercent(b.Mid/a.Mid-1), working.SignedPercent((b.High-b.Low)/(a.High-a.Low)-1))
	}
	x, y := l.Before, l.After
	points := func(a, b float64) string { return working.Signed(100*(b-a), 0) + " points" }
	days := func(a, b float64) string {
		if math.IsNaN(a) || math.IsNaN(b) {
			return "not to be compared"
		}
		return working.Signed(b-a, 0) + " days"
	}
	rows := []Compared{
		{"fresh mass of a head at harvest", band(x.Fresh, "g", 0), band(y.Fresh, "g", 0), narrower(x.Fresh, y.Fresh)},
		{"chance of inner tipburn", working.Percent(x.Chance), working.Percent(y.Chance), points(x.Chance, y.Chance)},
		{"day on which burn is first seen, if at all", band(x.FirstBurn, "", 0), band(y.FirstBurn, "", 0), days(x.FirstBurn.Mid, y.FirstBurn.Mid)},
		{"heads that can be sold", working.Percent(x.Sold), working.Percent(y.Sold), points(x.Sold, y.Sold)},
		{"saleable mass per kWh", band(x.PerKWh, "g/kWh", 1), band(y.PerKWh, "g/kWh", 1), narrower(x.PerKWh, y.PerKWh)},
	}
	if l.BestBefore != nil && l.BestAfter != nil {
		say := func(b *outlook.Best) string {
			s, none := b.Best.Setting, ""
			if !b.Found {
				s, none = b.Nearest.Setting, "none keeps your limit; nearest "
			}
			return none + fmt.Sprintf("%s, %s, %s", quantity.Length.Format(float64(s.Height), u, 3), quantity.Share.Format(float64(s.Dimming), u, 3), quantity.Duration.Format(float64(s.Hours), u, 3))
		}
		rows = append(rows, Compared{"best setting: lamp height, dimming, hours", say(l.BestBefore), say(l.BestAfter), map[bool]string{true: "the same", false: "another"}[say(l.BestBefore) == say(l.BestAfter)]})
		if l.BestBefore.Found && l.BestAfter.Found {
			a, b := l.BestBefore.Best, l.BestAfter.Best
			rows = append(rows,
				Compared{"saleable mass per kWh at the best setting", band(a.PerKWh, "g/kWh", 1), band(b.PerKWh, "g/kWh", 1), narrower(a.PerKWh, b.PerKWh)},
				Compared{"chance of inner tipburn at the best setting", working.Percent(a.Chance), working.Percent(b.Chance), points(a.Chance, b.Chance)})
		}
	}
	return rows
}
