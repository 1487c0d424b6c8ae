package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// DescribePlan says in words how a plan turns a bench, what stays left out.
func DescribePlan(b *underlamp.Bench, now, p outlook.Plan) string {
	u := b.Units
	s := fmt.Sprintf("lamps at %s, dimming %s, %s a day", quantity.Length.Format(float64(p.Height), u, 3),
		quantity.Share.Format(float64(p.Dimming), u, 3), quantity.Duration.Format(float64(p.Hours), u, 3))
	if p.Fan != now.Fan || p.Speed != now.Speed {
		where := "down onto the hearts"
		if p.Fan == underlamp.Across {
			where = "across the heads"
		}
		s += fmt.Sprintf(", air at %s %s", quantity.AirSpeed.Format(float64(p.Speed), u, 2), where)
	}
	if p.Night != now.Night {
		s += ", nights of " + quantity.Share.Format(float64(p.Night), u, 3) + " humidity"
	}
	if p.CO2 != now.CO2 {
		s += ", CO2 " + quantity.GasShare.Format(float64(p.CO2), u, 3)
	}
	if math.Abs(p.Density/now.Density-1) > 0.01 {
		s += ", " + quantity.PlantDensity.Format(p.Density, u, 3)
	}
	if p.Days != now.Days {
		s += fmt.Sprintf(", harvest on day %d", p.Days)
	}
	return s
}

// GoalText prints a value of a goal with its unit.
func GoalText(b *underlamp.Bench, g outlook.Goal, v float64) string {
	if g == outlook.Margin {
		return quantity.Fixed(v, 2) + " " + g.Unit(b)
	}
	return quantity.Number(v, 3) + " " + g.Unit(b)
}

// PlanSentences say what the search found, what binds it and the cheapest change
// that helps.
func PlanSentences(b *underlamp.Bench, w *outlook.Wider) []string {
	limit := working.Percent(w.Limit)
	var out []string
	if w.Found {
		out = append(out, fmt.Sprintf("Best: %s. That gives %s, with a chance of burn of %s under your limit of %s and %s of the heads sold. As it is set now: %s, chance of burn %s.",
			DescribePlan(b, w.Now.Plan, w.Best.Plan), GoalText(b, w.Goal, w.Best.Value), working.Percent(w.Best.Chance), limit, working.Percent(w.Best.Sold),
			GoalText(b, w.Goal, w.Now.Value), working.Percent(w.Now.Chance)))
	} else {
		out = append(out, fmt.Sprintf("No plan within the limits keeps the chance of burn under %s and sells at least half of the heads. The nearest: %s, with a chance of burn of %s and %s sold.",
			limit, DescribePlan(b, w.Now.Plan, w.Best.Plan), working.Percent(w.Best.Chance), working.Percent(w.Best.Sold)))
	}
	if c, ok := w.CheapestChange(); ok {
		cost := [...]string{"it costs nothing but a turn of the hand", "it costs a fan and its electricity, which is not in the sum", "it costs moister, drier or richer air, which is not in the sum"}[c.Expense]
		s := fmt.Sprintf("The cheapest single change of the bench as it is: %s from %s to %s (%s). The chance of burn then is %s instead of %s, and the bench gives %s instead of %s.",
			c.Name, c.From, c.To, cost, working.Percent(c.After.Chance), working.Percent(w.Now.Chance), GoalText(b, w.Goal, c.After.Value), GoalText(b, w.Goal, w.Now.Value))
		if !c.Serves {
			s += " By itself it does not bring the bench within your limits."
		}
		out = append(out, s)
	} else if w.Now.Chance > w.Limit || w.Now.Sold < 0.5 {
		out = append(out, "No single change of the bench as it is helps beyond the noise of the draws.")
	}
	return out
}

// MarginalText says what a bound is worth.
func MarginalText(b *underlamp.Bench, w *outlook.Wider, m outlook.Marginal) string {
	unit := w.Goal.Unit(b)
	switch {
	case m.Gain.Low == 0 && m.Gain.High == 0:
		return "brings nothing"
	case !m.Told():
		return fmt.Sprintf("cannot be told from the draws (%s to %s %s)", working.Signed(m.Gain.Low, decimalsOf(w)), working.Signed(m.Gain.High, decimalsOf(w)), unit)
	}
	return fmt.Sprintf("%s %s (%s to %s)", working.Signed(m.Gain.Mid, decimalsOf(w)), unit, working.Signed(m.Gain.Low, decimalsOf(w)), working.Signed(m.Gain.High, decimalsOf(w)))
}

func decimalsOf(w *outlook.Wider) int {
	if math.Abs(w.Best.Value) < 10 {
		return 2
	}
	return 1
}

// RampText is the calendar of a ramp: "day 1: 40 %, day 22: 70 %".
func RampText(b *underlamp.Bench, r outlook.Ramp) string {
	var s []string
	for _, st := range r.Days {
		s = append(s, fmt.Sprintf("day %d: %s", st.Day, quantity.Share.Format(float64(st.Dimming), b.Units, 2)))
	}
	return strings.Join(s, ", ")
}

// RampVerdict says whether light that changes over the cycle pays.
func RampVerdict(b *underlamp.Bench, w *outlook.Wider) string {
	if len(w.Ramps) == 0 {
		return "None of the ramps that were tried keeps the limits as well as constant light."
	}
	r := w.Ramps[0]
	if !r.Pays() {
		return "None of the ramps that were tried beats constant light beyond the noise of the draws."
	}
	return fmt.Sprintf("%s pays: %s %s over constant light set as finely (%s to %s, 90 %%), with the chance of burn changed by %s points. Turn the dimmers: %s. The rest as in the best plan.",
		firstUpper(r.Name), working.Signed(r.Gain.Mid, decimalsOf(w)), w.Goal.Unit(b), working.Signed(r.Gain.Low, decimalsOf(w)), working.Signed(r.Gain.High, decimalsOf(w)),
		working.Signed(r.Points.Mid, 1), RampText(b, r))
}

func firstUpper(s string) string {
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// PlanSection shows a search over everything that may be turned.
func PlanSection(b *underlamp.Bench, w *outlook.Wider) template.HTML {
	type row struct{ Name, Plan, Value, Chance, Fresh, Sold, KWh, Heads string }
	cells := func(name string, x outlook.Weighed) row {
		return row{name, DescribePlan(b, w.Now.Plan, x.Plan), GoalText(b, w.Goal, x.Value), working.Percent(x.Chance), quantity.Fixed(x.Fresh, 0), working.Percent(x.Sold), quantity.Number(x.KWh, 3), quantity.Fixed(x.Heads, 0)}
	}
	v := struct {
		Sentences             []string
		Goal                  string
		Rows, Frontier        []row
		Picture               template.HTML
		Bounds                [][2]string
		Changes               [][6]string
		Ramps                 [][4]string
		Ramp                  string
		Searched              int
		Turned                string
		HasFrontier, HasRamps bool
		OneFrontier           bool
	}{Sentences: PlanSentences(b, w), Goal: w.Goal.Name(), Searched: w.Searched, Turned: strings.Join(w.Turned, ", "), HasFrontier: len(w.Frontier) > 1, HasRamps: w.Ramps != nil, OneFrontier: len(w.Frontier) == 1}
	v.Rows = append(v.Rows, cells("now", w.Now))
	name := "best"
	if !w.Found {
		name = "nearest"
	}
	v.Rows = append(v.Rows, cells(name, w.Best))
	for _, x := range w.Frontier {
		v.Frontier = append(v.Frontier, cells(working.Percent(x.Chance), x))
	}
	if v.HasFrontier {
		v.Picture = frontierPicture(b, w)
	}
	for _, m := range w.Bounds {
		v.Bounds = append(v.Bounds, [2]string{m.Name, MarginalText(b, w, m)})
	}
	for _, c := range w.Changes {
		v.Changes = append(v.Changes, [6]string{c.Name, c.From, c.To, working.Percent(c.After.Chance),
			fmt.Sprintf("%s (%s to %s)", working.Signed(c.Gain.Mid, decimalsOf(w)), working.Signed(c.Gain.Low, decimalsOf(w)), working.Signed(c.Gain.High, decimalsOf(w))), ServesText(c)})
	}
	if w.Ramps != nil {
		v.Ramp = RampVerdict(b, w)
		for _, r := range w.Ramps {
			v.Ramps = append(v.Ramps, [4]string{r.Name, RampText(b, r),
				fmt.Sprintf("%s (%s to %s)", working.Signed(r.Gain.Mid, decimalsOf(w)), working.Signed(r.Gain.Low, decimalsOf(w)), working.Signed(r.Gain.High, decimalsOf(w))), working.Percent(r.After.Chance)})
		}
	}
	return render("plan.tmpl", v)
}

// ServesText says what a single change does for the limits.
func ServesText(c outlook.Change) string {
	switch {
	case c.Serves:
		return "within the limits"
	case c.Helps():
		return "helps, not enough"
	}
	return "hardly matters"
}

// frontierPicture is the best value against the chance of burn.
func frontierPicture(b *underlamp.Bench, w *outlook.Wider) template.HTML {
	var x, y []float64
	for _, p := range w.Frontier {
		c := 100 * p.Chance
		if n := len(x); n > 0 && c <= x[n-1] {
			c = x[n-1] + 1e-6
		}
		x, y = append(x, c), append(y, p.Value)
	}
	lines := draw.Lines{X: x, XName: "chance of burn, %", Panels: []draw.Panel{{
		Name: firstUpper(w.Goal.Name()), Unit: w.Goal.Unit(b), Zero: true,
		Series: []draw.Series{{Name: "best", Y: y}},
		Points: []draw.Points{{Name: "now", At: []draw.Dot{{X: 100 * w.Now.Chance, Y: w.Now.Value, Odd: true}}}, {Name: "recommended", At: []draw.Dot{{X: 100 * w.Best.Chance, Y: w.Best.Value}}}},
	}}, Markers: []draw.Marker{{X: 100 * w.Limit, Label: "your limit"}}}
	return fit("frontier", b, func(f draw.Frame) draw.Picture {
		q := lines
		q.Frame = f
		return q.Draw()
	})
}
