package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/learn"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// LearnSection is what cycles taught: the outlook before beside the outlook after,
// what was learned of each parameter, what does not fit, and what to look at next.
func LearnSection(l *learn.Lesson) template.HTML {
	t := draw.Table{Caption: "The outlook of the bench as it is set, before and after learning; intervals hold 90 %", Head: []string{"figure", "before", "after", "change"}}
	for _, c := range l.Comparison() {
		t.Rows = append(t.Rows, []string{c.Name, c.Before, c.After, c.Change})
	}
	further := draw.Table{Caption: "One further observation of the next crop, and by how much it should narrow the doubt", Head: []string{"observation", "mass", "burn"}}
	for _, f := range l.Next.Further {
		further.Rows = append(further.Rows, []string{f.What, working.Percent(f.Mass), working.Percent(f.Burn)})
	}
	good, why := l.Good()
	s := l.Posterior.Sampling
	return render("learn.tmpl", struct {
		Lead, Next         string
		Table, Further     template.HTML
		Outlook, Densities template.HTML
		Odd                []string
		Good               bool
		Why, Sampling      string
		Notes              []string
		Workings           template.HTML
	}{
		Lead: l.Summary(), Next: l.Next.Sentence(),
		Table: template.HTML(t.HTML()), Further: template.HTML(further.HTML()),
		Outlook: learnedPicture(l), Densities: densityPicture(l),
		Odd: OddTexts(l.Odd), Good: good, Why: why,
		Sampling: fmt.Sprintf("R-hat at most %.3f, effective draws at least %.0f in the bulk and %.0f in the tails, of %d in %d chains.", s.RHat, s.BulkESS, s.TailESS, s.Chains*s.DrawsPerChain, s.Chains),
		Notes:    l.Notes, Workings: WorkingSection(l.Figures()),
	})
}

// OddTexts says which observations do not fit.
func OddTexts(odd []learn.Odd) []string {
	var out []string
	for _, o := range odd {
		where := "Cycle " + o.Cycle
		if o.Plant != "" {
			where += ", plant " + o.Plant
		}
		if o.Line > 0 {
			where += fmt.Sprintf(", %s (line %d)", o.Date, o.Line)
		}
		out = append(out, where+": "+o.Says+".")
	}
	return out
}

// learnedPicture is the outlook before and after by day, with what was seen.
func learnedPicture(l *learn.Lesson) template.HTML {
	b := l.Bench
	chance := func(name string, f *outlook.Forecast) draw.Series {
		s := draw.Series{Name: name}
		for _, d := range f.Course {
			s.Y = append(s.Y, 100*d.Chance)
		}
		return s
	}
	weighed, looked := draw.Points{Name: "weighed"}, draw.Points{Name: "seen on the bench"}
	for _, s := range l.Seen {
		if !math.IsNaN(s.Mass) {
			weighed.At = append(weighed.At, draw.Dot{X: float64(s.Day), Y: s.Mass, Odd: s.Odd})
		}
		if !math.IsNaN(s.Burnt) {
			looked.At = append(looked.At, draw.Dot{X: float64(s.Day), Y: 100 * s.Burnt, Odd: s.Odd})
		}
	}
	fresh := func(d outlook.DayBand) outlook.Band { return d.Fresh }
	p := draw.Lines{
		X: days(l.After), XName: "day after transplanting",
		Panels: []draw.Panel{
			{
				Name: "Fresh mass of a head", Unit: "g", Zero: true,
				Series: []draw.Series{series("after", l.After, 1, fresh), series("before", l.Before, 1, fresh)},
				Points: []draw.Points{weighed},
				Limits: []draw.Limit{{Value: float64(b.Crop.Saleable.Value), Label: "smallest saleable"}},
			},
			{
				Name: "Heads with inner burn so far", Unit: "%", Zero: true,
				Series: []draw.Series{chance("after", l.After), chance("before", l.Before)},
				Points: []draw.Points{looked},
			},
		},
	}
	return fit("learned", b, func(f draw.Frame) draw.Picture {
		q := p
		q.Frame = f
		q.Frame.Title = "The outlook before and after learning, with what was seen"
		return q.Draw()
	})
}

// densityPicture shows each parameter before and after.
func densityPicture(l *learn.Lesson) template.HTML {
	d := draw.Densities{Name: "What the cycles taught of each trait, as a factor on what is usual"}
	for _, p := range l.Posterior.Parameters {
		note := "narrowed by " + working.Percent(max(p.Shrinkage, 0))
		if !p.Learned {
			note = "hardly learned"
		}
		q := draw.Density{
			Name: learn.Plain(p).Name, Level: 0.9, Note: note,
			PriorLow: p.Prior.Q05, PriorMid: p.Prior.Q50, PriorHigh: p.Prior.Q95,
			AfterLow: p.Posterior.Q05, AfterMid: p.Posterior.Q50, AfterHigh: p.Posterior.Q95,
		}
		bell := func(x, mean, sd float64) float64 {
			z := (math.Log(x) - mean) / sd
			return math.Exp(-z*z/2) / sd
		}
		reach := 3 * p.PriorLogSD
		lo, hi := min(-reach, p.LogMean-3*p.LogSD), max(reach, p.LogMean+3*p.LogSD)
		const n = 80
		for i := range n + 1 {
			x := math.Exp(lo + (hi-lo)*float64(i)/n)
			q.X = append(q.X, x)
			q.Prior = append(q.Prior, bell(x, 0, p.PriorLogSD))
			q.After = append(q.After, bell(x, p.LogMean, p.LogSD))
		}
		d.Panels = append(d.Panels, q)
	}
	return fit("densities", l.Bench, func(f draw.Frame) draw.Picture {
		q := d
		q.Frame = f
		return q.Draw()
	})
}

// LearnPage is what cycles taught as one HTML file.
func LearnPage(l *learn.Lesson, written string) []byte {
	return []byte(render("sectionpage.tmpl", sectionPage{l.Bench.Name, "What the cycles taught", written, template.CSS(CSS()), LearnSection(l), Cautions()}))
}

// sectionPage is one section as a file that needs nothing else.
type sectionPage struct {
	Title, Heading, Written string
	CSS                     template.CSS
	Section                 template.HTML
	Cautions                template.HTML
}

// BacktestSection is how the outlook would have done in finished cycles.
func BacktestSection(b *underlamp.Bench, r *learn.Record) template.HTML {
	type trial struct {
		Name, Came     string
		Picture, Table template.HTML
	}
	var trials []trial
	for i, t := range r.Trials {
		trials = append(trials, trial{t.Cycle, Came(t), backtestPicture(b, fmt.Sprintf("backtest%d", i+1), t), template.HTML(backtestTable(t).HTML())})
	}
	sum := draw.Table{Caption: "Over all outlooks", Head: []string{"score", "learning", "without learning"}}
	for _, s := range ScoreRows(r) {
		sum.Rows = append(sum.Rows, []string{s[0], s[1], s[2]})
	}
	return render("backtest.tmpl", struct {
		Lead   string
		Trials []trial
		Sum    template.HTML
		Notes  []string
	}{r.Sentence(), trials, template.HTML(sum.HTML()), r.Notes})
}

// BacktestPage is [BacktestSection] as one HTML file.
func BacktestPage(b *underlamp.Bench, r *learn.Record, written string) []byte {
	return []byte(render("sectionpage.tmpl", sectionPage{b.Name, "Back-test of the outlook", written, template.CSS(CSS()), BacktestSection(b, r), Cautions()}))
}

// Came says what came of a cycle.
func Came(t learn.Trial) string {
	s := fmt.Sprintf("Harvested on day %d", t.Days)
	n := 0
	for _, h := range t.Heads {
		if !math.IsNaN(h.Mass) {
			n++
		}
	}
	if n > 0 {
		s += fmt.Sprintf(": %s g on the mean of %d heads", quantity.Fixed(t.Mass, 0), n)
	}
	if !math.IsNaN(t.Burnt) {
		s += fmt.Sprintf(", %s of those looked at with inner burn", working.Percent(t.Burnt))
	}
	return s + "."
}

// ScoreRows are the scores over all outlooks, with and without learning.
func ScoreRows(r *learn.Record) [][3]string {
	a, u := r.Said, r.Usual
	f := func(x float64, digits int) string {
		if math.IsNaN(x) {
			return "none"
		}
		return quantity.Fixed(x, digits)
	}
	p := func(x float64) string {
		if math.IsNaN(x) {
			return "none"
		}
		return working.Percent(x)
	}
	return [][3]string{
		{"error of the mean mass, share of what came", p(a.AbsError), p(u.AbsError)},
		{"heads inside their 90 % band", p(a.Within), p(u.Within)},
		{"CRPS of a head, g (less is better)", f(a.CRPS, 0), f(u.CRPS, 0)},
		{"interval score of a head, g (less is better)", f(a.Interval, 0), f(u.Interval, 0)},
		{"Brier score of burn (less is better)", f(a.Brier, 3), f(u.Brier, 3)},
	}
}

// BacktestHead and [BacktestRow] are the table of one cycle.
func BacktestHead() []string {
	return []string{"said on day", "data known", "mean mass g", "error", "inside", "CRPS g", "without learning", "burn said", "Brier", "without learning"}
}

// BacktestRow is the row of one issue.
func BacktestRow(t learn.Trial, i learn.Issue) []string {
	f := func(x float64, digits int) string {
		if math.IsNaN(x) {
			return "none"
		}
		return quantity.Fixed(x, digits)
	}
	mass, off, inside := "none", "none", "none"
	if i.Said.Of > 0 {
		mass = fmt.Sprintf("%s (%s to %s)", quantity.Fixed(i.Said.Mass.Mid, 0), quantity.Fixed(i.Said.Mass.Low, 0), quantity.Fixed(i.Said.Mass.High, 0))
		off = working.SignedPercent(i.Said.Error / t.Mass)
		inside = fmt.Sprintf("%d of %d", i.Said.Within, i.Said.Of)
	}
	burn := "none"
	if !math.IsNaN(i.Said.Chance) {
		burn = working.Percent(i.Said.Chance)
	}
	return []string{fmt.Sprint(i.Day), fmt.Sprint(i.Data), mass, off, inside, f(i.Said.CRPS, 0), f(i.Usual.CRPS, 0), burn, f(i.Said.Brier, 2), f(i.Usual.Brier, 2)}
}

func backtestTable(t learn.Trial) draw.Table {
	out := draw.Table{Caption: "What the outlook would have said, by day; intervals hold 90 %", Head: BacktestHead()}
	for _, i := range t.Issues {
		out.Rows = append(out.Rows, BacktestRow(t, i))
	}
	return out
}

// backtestPicture shows what was said by day of issue, with what came as a level.
func backtestPicture(b *underlamp.Bench, id string, t learn.Trial) template.HTML {
	p := draw.Lines{XName: "said on day"}
	said, usual := draw.Series{Name: "learning"}, draw.Series{Name: "without"}
	burn, burnUsual := draw.Series{Name: "learning"}, draw.Series{Name: "without"}
	for _, i := range t.Issues {
		p.X = append(p.X, float64(i.Day))
		add := func(s *draw.Series, b outlook.Band) {
			s.Y, s.Low, s.High = append(s.Y, b.Mid), append(s.Low, b.Low), append(s.High, b.High)
		}
		add(&said, i.Said.Mass)
		add(&usual, i.Usual.Mass)
		burn.Y = append(burn.Y, 100*i.Said.Chance)
		burnUsual.Y = append(burnUsual.Y, 100*i.Usual.Chance)
	}
	if !math.IsNaN(t.Mass) {
		p.Panels = append(p.Panels, draw.Panel{Name: "Mean mass of the weighed heads at harvest", Unit: "g", Zero: true, Series: []draw.Series{said, usual},
			Limits: []draw.Limit{{Value: t.Mass, Label: "came: " + quantity.Fixed(t.Mass, 0) + " g"}}})
	}
	if !math.IsNaN(t.Burnt) {
		p.Panels = append(p.Panels, draw.Panel{Name: "Heads with inner burn at harvest", Unit: "%", Zero: true, Series: []draw.Series{burn, burnUsual},
			Limits: []draw.Limit{{Value: 100 * t.Burnt, Label: "came: " + working.Percent(t.Burnt)}}})
	}
	return fit(id, b, func(f draw.Frame) draw.Picture {
		q := p
		q.Frame = f
		q.Frame.Title = "What the outlook would have said, and what came: " + t.Cycle
		return q.Draw()
	})
}
