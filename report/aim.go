package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/aim"
	"underlamp/app/light"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// page is one picture with its words, as a file that needs nothing else.
type page struct {
	Title, Kicker string
	CSS           template.CSS
	Picture       template.HTML
	Tables        []template.HTML
	Details       template.HTML // a long table, folded
	Words         []string
	Cautions      template.HTML
}

func writePage(p page) []byte {
	p.CSS, p.Cautions = template.CSS(CSS()), Cautions()
	return []byte(render("aim.tmpl", p))
}

// AimPage is the answer to a target as one HTML file: before and after, and the
// curve of electricity against evenness.
func AimPage(r *aim.Result) []byte {
	t := draw.Table{Caption: "Before and after", Head: []string{"figure", "now", "proposed"}}
	for i, f := range r.BeforeFigures {
		t.Rows = append(t.Rows, []string{f.Name, f.Text(), r.AfterFigures[i].Text()})
	}
	p := page{
		Title: r.Bench.Name, Kicker: "Target of light", Words: append(append([]string{}, r.Limits...), r.Notes...),
		Tables: []template.HTML{template.HTML(t.HTML())},
	}
	if len(r.Curve) > 1 {
		p.Picture = CurvePicture(r)
	}
	return writePage(p)
}

// CurvePicture draws electricity against the distance from the target, with the
// heights along the curve. It needs at least two points.
func CurvePicture(r *aim.Result) template.HTML {
	l := draw.Lines{XName: "electricity, kWh a day"}
	uneven, height := draw.Series{Name: "free dimmers"}, draw.Series{Name: "lamps"}
	unit, perMetre := quantity.Length.Shown(r.Bench.Units)
	for _, p := range r.Curve {
		x := float64(p.Day)
		if n := len(l.X); n > 0 && x <= l.X[n-1] {
			continue
		}
		l.X = append(l.X, x)
		uneven.Y = append(uneven.Y, 100*p.Uneven)
		height.Y = append(height.Y, math.Round(10*perMetre*float64(p.Height))/10)
	}
	l.Panels = []draw.Panel{
		{Name: "Distance of the plants from the target", Unit: "%", Zero: true, Series: []draw.Series{uneven}},
		{Name: "Height of the lamps", Unit: unit, Zero: true, Series: []draw.Series{height}},
	}
	if r.Found && float64(r.After.Day) >= l.X[0] && float64(r.After.Day) <= l.X[len(l.X)-1] {
		l.Markers = []draw.Marker{{X: float64(r.After.Day), Label: "proposed"}}
	}
	return fit("curve", r.Bench, func(f draw.Frame) draw.Picture {
		q := l
		q.Frame = f
		q.Frame.Title = "Electricity against evenness"
		return q.Draw()
	})
}

// RaisePage is the calendar of the lamps as one HTML file.
func RaisePage(r *aim.RaiseResult) []byte {
	moves, days := raiseTables(r)
	p := page{
		Title: r.Bench.Name, Kicker: "Calendar of the lamps", Words: append(append([]string{}, r.Limits...), r.Notes...), Picture: RaisePicture(r),
		Details: template.HTML(days.HTML()),
	}
	if len(moves.Rows) > 0 {
		p.Tables = []template.HTML{template.HTML(moves.HTML())}
	}
	return writePage(p)
}

// raiseTables are the moves of the lamps, and every day.
func raiseTables(r *aim.RaiseResult) (moves, days draw.Table) {
	u := r.Bench.Units
	moves = draw.Table{Caption: "When to raise the lamps", Head: []string{"day", "date", "from", "to"}}
	for _, m := range r.Moves {
		moves.Rows = append(moves.Rows, []string{fmt.Sprint(m.Day), m.Date, quantity.Length.Format(float64(m.From), u, 3), quantity.Length.Format(float64(m.To), u, 3)})
	}
	days = draw.Table{Caption: "Day by day; dim to is the share of the present dimming that would hold the target", Head: []string{"day", "date", "plants", "lamps at", "PPFD", "dim to"}}
	for _, d := range r.Days {
		dim := ""
		if !d.Held {
			dim = working.Percent(float64(d.Dim))
		}
		days.Rows = append(days.Rows, []string{fmt.Sprint(d.Day), d.Date, quantity.Length.Format(float64(d.Canopy), u, 2), quantity.Length.Format(float64(d.Lamps), u, 3), quantity.Fixed(float64(d.PPFD), 0), dim})
	}
	return moves, days
}

// RaiseSection is the calendar as a section of a page.
func RaiseSection(r *aim.RaiseResult) template.HTML {
	moves, days := raiseTables(r)
	v := struct {
		Sentence             string
		Moves, Picture, Days template.HTML
		Limits, Notes        []string
	}{Picture: RaisePicture(r), Days: template.HTML(days.HTML()), Limits: r.Limits, Notes: r.Notes}
	level := quantity.PhotonFluxDensity.Format(float64(r.Target), r.Bench.Units, 3) + " at the top of the canopy, within " + quantity.Share.Format(float64(r.Ask.Tolerance), r.Bench.Units, 3)
	if len(r.Moves) == 0 {
		v.Sentence = level + ": the lamps stay at " + quantity.Length.Format(float64(r.Days[0].Lamps), r.Bench.Units, 3) + "."
	} else {
		moved := "once"
		if n := len(r.Moves); n > 1 {
			moved = fmt.Sprintf("%d times", n)
		}
		v.Sentence = level + ": the lamps are moved " + moved + "."
		v.Moves = template.HTML(moves.HTML())
	}
	return render("raisesection.tmpl", v)
}

// MatchSection is two sides brought to one level, as a section of a page: before
// and after with their plans on one scale. lit holds the light of each side before
// and after, with plans as large as one another.
func MatchSection(r *aim.MatchResult, models [2]*light.Model, lit [2][2]*light.Answer) template.HTML {
	what := "PPFD"
	if r.Ask.DLI {
		what = "DLI"
	}
	sides := [2]string{r.Before[0].Bench.Name, r.Before[1].Bench.Name}
	if r.Before[0].Bench == r.Before[1].Bench {
		for j := range sides {
			sides[j] = "plants " + strings.Join(r.Before[j].Plants, ", ")
		}
	}
	t := draw.Table{Caption: "Before and after", Head: []string{"side", "when", "lamps at", "dimming", "hours", "mean " + what, "90 % band", "spread"}}
	type plan struct {
		Caption string
		Picture template.HTML
	}
	v := struct {
		Sentence      string
		Table         template.HTML
		Plans         []plan
		Limits, Notes []string
		Lines         [][2]string
	}{Limits: r.Limits, Notes: r.Notes}
	var all []float64
	for _, side := range lit {
		for _, a := range side {
			if a != nil {
				all = append(all, a.Map.PPFD...)
			}
		}
	}
	for j := range r.Before {
		for i, s := range [2]aim.SideAnswer{r.Before[j], r.After[j]} {
			when := "now"
			if i == 1 {
				if when = "matched"; !r.Found {
					continue
				}
			}
			b := s.Bench
			p := aim.Proposal{Dim: s.Dim}
			t.Rows = append(t.Rows, []string{sides[j], when, quantity.Length.Format(float64(s.Height), b.Units, 3), strings.Join(aim.DimTexts(&p), ", "), quantity.Duration.Format(float64(s.Hours), b.Units, 3),
				s.Level.Text(), strings.TrimSuffix(s.Level.BandText(), " (90 % band)"), quantity.Fixed(100*s.Uneven, 0) + " %"})
			if lit[j][i] != nil {
				v.Plans = append(v.Plans, plan{sides[j] + ", " + when, planOf(fmt.Sprintf("side-%d-%d", j, i), b, models[j], lit[j][i], [2]float64{slices.Min(all), slices.Max(all)})})
			}
		}
	}
	v.Table = template.HTML(t.HTML())
	if r.Found {
		v.Sentence = fmt.Sprintf("The second has %s times the light of the first, %s to %s with 90 %% probability; the chance that the two are more than 5 %% apart is %s %%. Electricity of a day: %s kWh instead of %s kWh.",
			quantity.Number(r.Ratio.Value, 3), quantity.Number(r.Ratio.Band.Low, 2), quantity.Number(r.Ratio.Band.High, 3), quantity.Fixed(100*float64(r.Apart), 0),
			quantity.Number(float64(r.DayAfter), 3), quantity.Number(float64(r.DayBefore), 3))
		for j, s := range r.After {
			if j == 1 && s.Bench == r.After[0].Bench {
				continue
			}
			var lines strings.Builder
			for k, l := range s.Bench.Lamps {
				fmt.Fprintf(&lines, "%s:  height: %s, dimming: %s\n", l.Name, quantity.Length.Format(float64(l.Height+s.Height-r.Before[j].Height), s.Bench.Units, 3), quantity.Share.Format(float64(s.Dim[k]), s.Bench.Units, 3))
			}
			v.Lines = append(v.Lines, [2]string{s.Bench.Name, lines.String()})
		}
	} else {
		v.Sentence = "The two cannot be brought to one level within the limits."
	}
	return render("matchsection.tmpl", v)
}

// RaisePicture draws lamp and canopy height by day, and the light at the top of
// the canopy with the calendar and without.
func RaisePicture(r *aim.RaiseResult) template.HTML {
	l := draw.Lines{XName: "day after transplanting"}
	lamp, canopy := draw.Series{Name: "lamps"}, draw.Series{Name: "canopy"}
	held, stay, target := draw.Series{Name: "raised"}, draw.Series{Name: "if left"}, draw.Series{Name: "target"}
	tol := quantity.PPFD(r.Ask.Tolerance)
	unit, perMetre := quantity.Length.Shown(r.Bench.Units)
	for _, d := range r.Days {
		l.X = append(l.X, float64(d.Day))
		lamp.Y = append(lamp.Y, perMetre*float64(d.Lamps))
		canopy.Y = append(canopy.Y, perMetre*float64(d.Canopy))
		canopy.Low = append(canopy.Low, perMetre*float64(d.Low))
		canopy.High = append(canopy.High, perMetre*float64(d.High))
		held.Y = append(held.Y, float64(d.PPFD))
		stay.Y = append(stay.Y, float64(d.Stay))
		target.Y = append(target.Y, float64(r.Target))
		target.Low = append(target.Low, float64(r.Target*(1-tol)))
		target.High = append(target.High, float64(r.Target*(1+tol)))
	}
	l.Panels = []draw.Panel{
		{Name: "Height", Unit: unit, Zero: true, Series: []draw.Series{lamp, canopy}},
		{Name: "PPFD at the top of the canopy", Unit: quantity.PhotonFluxDensity.Unit(), Series: []draw.Series{held, stay, target}},
	}
	return fit("raise", r.Bench, func(f draw.Frame) draw.Picture {
		q := l
		q.Frame = f
		q.Frame.Title = "Lamps that follow the canopy"
		return q.Draw()
	})
}

// AimSection is the answer to a target as a section of a page: before and after
// with their plans, what limits, the next best, electricity against evenness.
// before and after are the light of both, with plans as large as one another.
func AimSection(m *light.Model, r *aim.Result, before, after *light.Answer, wanted string) template.HTML {
	b := r.Bench
	length := func(v quantity.Metre) string { return quantity.Length.Format(float64(v), b.Units, 3) }
	title := "proposed"
	if !r.Found {
		title = "nearest"
	}
	t := draw.Table{Caption: "Before and after", Head: []string{"figure", "now", title}}
	row := func(what, now, then string) { t.Rows = append(t.Rows, []string{what, now, then}) }
	row("lamps at", length(r.Before.Height), length(r.After.Height))
	hours := func(h quantity.Hours) string { return quantity.Duration.Format(float64(h), b.Units, 4) }
	row("hours of light", hours(r.Before.Hours), hours(r.After.Hours))
	now, then := aim.DimTexts(&r.Before), aim.DimTexts(&r.After)
	row("dimming", strings.Join(now, ", "), strings.Join(then, ", "))
	for i, f := range r.BeforeFigures {
		row(f.Name, f.Text(), r.AfterFigures[i].Text())
	}
	others := draw.Table{Caption: "Runners-up", Head: []string{"lamps at", "hours", "dimming", "darkest", "mean", "DLI", "kWh a day"}}
	for i := range r.RunnerUps {
		p := &r.RunnerUps[i]
		others.Rows = append(others.Rows, []string{length(p.Height), hours(p.Hours), strings.Join(aim.DimTexts(p), ", "), quantity.Fixed(float64(p.Lowest), 0),
			quantity.Fixed(float64(p.Mean), 0), quantity.Fixed(float64(p.DLI), 1), quantity.Fixed(float64(p.Day), 2)})
	}
	both := append(slices.Clone(before.Map.PPFD), after.Map.PPFD...)
	span := [2]float64{slices.Min(both), slices.Max(both)} // one scale for both plans
	v := struct {
		Wanted               string
		Before, After, Curve template.HTML
		Table, Others        template.HTML
		Limits, Notes        []string
		Found                bool
	}{
		Wanted: wanted, Found: r.Found, Limits: r.Limits, Notes: r.Notes,
		Before: planOf("before", b, m, before, span), After: planOf("after", b, m, after, span),
		Table: template.HTML(t.HTML()),
	}
	if len(others.Rows) > 0 {
		v.Others = template.HTML(others.HTML())
	}
	if len(r.Curve) > 1 {
		v.Curve = CurvePicture(r)
	}
	return render("aimsection.tmpl", v)
}

// Wanted says in words what was asked.
func Wanted(b *underlamp.Bench, a *aim.Ask) string {
	what := quantity.PhotonFluxDensity.Format(float64(a.PPFD), b.Units, 3)
	if a.DLI > 0 {
		what = quantity.DailyIntegral.Format(float64(a.DLI), b.Units, 3)
	}
	switch {
	case a.Goal == aim.MostEven:
		return what + ", as even as can be"
	case a.Goal == aim.MostWithin:
		return fmt.Sprintf("%s within %s for as many plants as can be", what, quantity.Share.Format(float64(a.Tolerance), b.Units, 3))
	case a.Mean:
		return what + " for the mean, least electricity"
	case a.Share > 0:
		return fmt.Sprintf("%s for %s of the plants, least electricity", what, quantity.Share.Format(float64(a.Share), b.Units, 3))
	}
	return what + " for every plant, least electricity"
}
