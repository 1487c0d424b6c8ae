package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/app/learn"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A CycleDocument is what a report of a cycle holds, finished or running: what the outlook said,
// what came, and by how much they differ.
type CycleDocument struct {
	Head
	Comparison *learn.Comparison
	Around     *environment.Table // nil leaves it out
	Strips     []Strip
	Metered    *float64 // kWh that a meter counted over the cycle; nil: none did
	MeteredBy  string
}

// farFrom is how far off the middle of the outlook a mean mass is before a report says so though
// it lies in the band: common practice, no source.
const farFrom = 0.15

const cycleKind = "Report on a cycle"

// grams prints a band of masses.
func grams(b outlook.Band) string {
	return fmt.Sprintf("%s g (%s to %s)", quantity.Fixed(b.Mid, 0), quantity.Fixed(b.Low, 0), quantity.Fixed(b.High, 0))
}

// massFigure is what came less what was said, with the band that the outlook leaves.
func (d *CycleDocument) massFigure() (working.Figure, bool) {
	x, ok := d.Comparison.Final()
	if !ok {
		return working.Figure{}, false
	}
	u := d.Comparison.Bench.Units
	return working.Figure{
		Name: fmt.Sprintf("mass on day %d, what came less what was said", x.Day), Value: x.Mass - x.Run.Mid, Unit: "g",
		Band: &working.Band{Low: x.Mass - x.Run.High, High: x.Mass - x.Run.Low, Level: 0.9},
		Working: working.Working{
			Formula: "mean of the weighed heads − mean that the outlook says of the same heads at their own places",
			Inputs: []working.Input{
				working.Plain("came", fmt.Sprintf("%s on the mean of %s", quantity.Mass.Format(x.Mass, u, 3), headsText(x.Of)), underlamp.Measured.String()),
				working.Plain("said, with what was changed", grams(x.Run), underlamp.Computed.String()),
				working.Plain("said at transplanting", grams(x.Planned), underlamp.Computed.String()),
			},
			Steps: []string{fmt.Sprintf("%d draws of plants and of the level of the light; a draw leads all heads of the crop at once.", d.Comparison.Draws)},
			Notes: []string{"the band is that of the outlook; what a scale is off by is not in it"},
		},
	}, true
}

// burnFigure is the same for burn, in points.
func (d *CycleDocument) burnFigure() (working.Figure, bool) {
	b := d.Comparison.Burn
	if b == nil {
		return working.Figure{}, false
	}
	came := float64(b.Burnt) / float64(b.Of)
	return working.Figure{
		Name: "heads with inner burn, what came less what was said", Value: math.Round(100 * (came - b.Run.Mid)), Unit: "points",
		Band: &working.Band{Low: math.Round(100 * (came - b.Run.High)), High: math.Round(100 * (came - b.Run.Low)), Level: 0.9},
		Working: working.Working{
			Formula: "share of the heads that were looked at − mean chance that the outlook gives them by the day of their last look",
			Inputs: []working.Input{
				working.Plain("came", fmt.Sprintf("%d of %s, last look on day %d", b.Burnt, headsText(b.Of), b.Day), underlamp.Measured.String()),
				working.Plain("said, with what was changed", working.Percent(b.Run.Mid), underlamp.Computed.String()),
				working.Plain("said at transplanting", working.Percent(b.Planned.Mid), underlamp.Computed.String()),
			},
			Notes: []string{"the band is of the share of these heads over the draws; heads of one draw are alike but for their light, so it is rather too wide"},
		},
	}, true
}

// powerFigure is the electricity of the lamps, as run less as planned; of a meter if there is one.
func (d *CycleDocument) powerFigure() working.Figure {
	c := d.Comparison
	came, name, from := float64(c.RunKWh), "by the settings as they were", underlamp.Computed.String()
	var notes []string
	if d.Metered != nil {
		came, name, from = *d.Metered, "by the meter "+d.MeteredBy, underlamp.Measured.String()
		notes = append(notes, "the meter counts whatever is plugged into it")
	} else {
		notes = append(notes, "no meter counted it: both sides are the label of the lamps, their dimming and their hours")
	}
	return working.Figure{
		Name: fmt.Sprintf("electricity until day %d, what came less what was planned", c.Last), Value: came - float64(c.PlannedKWh), Unit: "kWh",
		Working: working.Working{
			Formula: "Σ W · hours · days, over the settings",
			Inputs: []working.Input{
				working.Plain("came, "+name, quantity.Number(came, 3)+" kWh", from),
				working.Plain("planned at transplanting", quantity.Number(float64(c.PlannedKWh), 3)+" kWh", underlamp.Computed.String()),
			},
			Notes: notes,
		},
	}
}

func headsText(n int) string {
	if n == 1 {
		return "1 head"
	}
	return fmt.Sprintf("%d heads", n)
}

func (d *CycleDocument) figures() []working.Figure {
	var out []working.Figure
	if f, ok := d.massFigure(); ok {
		out = append(out, f)
	}
	if f, ok := d.burnFigure(); ok {
		out = append(out, f)
	}
	return append(out, d.powerFigure())
}

func (d *CycleDocument) running() bool { return d.Comparison.Cycle.Harvested == "" }

func (d *CycleDocument) question() string {
	return fmt.Sprintf("Does what came of %s agree with what the outlook said of it?", cropName(d.Comparison.Bench))
}

func (d *CycleDocument) summary() summary {
	c := d.Comparison
	s := summary{Asked: []string{d.question()}}
	x, weighed := c.Final()
	if weighed {
		inside := "inside its band"
		if x.Mass < x.Run.Low || x.Mass > x.Run.High {
			inside = "outside its band"
		}
		s.Came = append(s.Came, fmt.Sprintf("On day %d %s weighed %s g on the mean; the outlook said %s of them, so what came lies %s.", x.Day, headsText(x.Of), quantity.Fixed(x.Mass, 0), grams(x.Run), inside))
	} else {
		s.Came = append(s.Came, "No plant was weighed.")
	}
	if b := c.Burn; b != nil {
		s.Came = append(s.Came, fmt.Sprintf("Of %s that were looked at %d had inner burn by day %d; the outlook gave a chance of %s.", headsText(b.Of), b.Burnt, b.Day, working.Percent(b.Run.Mid)))
	}
	s.Came = append(s.Came, fmt.Sprintf("The lamps took %s kWh until day %d, planned were %s kWh.", quantity.Number(d.kWh(), 3), c.Last, quantity.Number(float64(c.PlannedKWh), 3)))
	inside, of := c.Within()
	switch {
	case of == 0:
		s.Do = []string{"Weigh some heads at harvest, at bright and at dark places: nothing else tells whether the outlook holds here."}
	case weighed && (x.Mass < x.Run.Low || x.Mass > x.Run.High):
		s.Do = []string{"Let the outlook learn from this cycle before it is used for the next one (underlamp learn); then look again whether the light is what the bench file says."}
	case weighed && math.Abs(x.Mass/x.Run.Mid-1) > farFrom:
		s.Do = []string{fmt.Sprintf("What came is %s off what was said, within the band: let the outlook learn from this cycle (underlamp learn) before the next one is planned by it.", working.SignedPercent(x.Mass/x.Run.Mid-1))}
	case d.running():
		s.Do = []string{"Go on as planned, and weigh the same heads again at harvest."}
	default:
		s.Do = []string{"The outlook may be used for the next crop here; learning from this cycle (underlamp learn) makes its bands narrower."}
	}
	if of > 0 {
		s.Sure = append(s.Sure, fmt.Sprintf("%d of %d weighings lie in the band that the outlook has for their plant, where 9 of 10 should.", inside, of))
	}
	s.Sure = append(s.Sure, "It is one crop. That what came agrees once does not show that it always will.")
	if t := sureOf(d.Around); t != "" {
		s.Sure = append(s.Sure, t)
	}
	return s
}

func (d *CycleDocument) kWh() float64 {
	if d.Metered != nil {
		return *d.Metered
	}
	return float64(d.Comparison.RunKWh)
}

// picture is what was said by day, with every weighing.
func (d *CycleDocument) picture() template.HTML {
	c := d.Comparison
	p := draw.Lines{XName: "day after transplanting"}
	run, planned := draw.Series{Name: "as it was run"}, draw.Series{Name: "as planned"}
	for _, x := range c.Course {
		p.X = append(p.X, float64(x.Day))
		run.Y, run.Low, run.High = append(run.Y, x.Run.Mid), append(run.Low, x.Run.Low), append(run.High, x.Run.High)
		planned.Y = append(planned.Y, x.Planned.Mid)
	}
	weighed := draw.Points{Name: "weighed"}
	for _, w := range c.Weighings {
		weighed.At = append(weighed.At, draw.Dot{X: float64(w.Day), Y: w.Mass, Odd: !w.Inside()})
	}
	panel := draw.Panel{Name: "Fresh mass of a head", Unit: "g", Zero: true, Series: []draw.Series{run}, Points: []draw.Points{weighed},
		Limits: []draw.Limit{{Value: float64(c.Bench.Crop.Saleable.Value), Label: "smallest saleable"}}}
	if len(c.Cycle.Changes) > 0 {
		panel.Series = append(panel.Series, planned)
	}
	p.Panels = []draw.Panel{panel}
	return fit("cycle", c.Bench, func(f draw.Frame) draw.Picture {
		q := p
		q.Frame = f
		q.Frame.Title = "What the outlook said of the mean plant, and every weighing"
		return q.Draw()
	})
}

// changeRows are what was set anew, by day.
func changeRows(c *underlamp.Cycle, u quantity.System) [][2]string {
	var out [][2]string
	for _, x := range c.Changes {
		var parts []string
		add := func(name, text string) { parts = append(parts, name+" "+text) }
		if x.Height != nil {
			add("lamps at", quantity.Length.Format(float64(x.Height.Value), u, 3))
		}
		if x.Dimming != nil {
			add("dimming", quantity.Share.Format(float64(x.Dimming.Value), u, 3))
		}
		if x.Hours != nil {
			add("light for", quantity.Duration.Format(float64(x.Hours.Value), u, 3))
		}
		if x.Fan != nil {
			add("fan", string(x.Fan.Value))
		}
		if x.Speed != nil {
			add("air speed", quantity.AirSpeed.Format(float64(x.Speed.Value), u, 2))
		}
		if x.CO2 != nil {
			add("CO2", quantity.GasShare.Format(float64(x.CO2.Value), u, 3))
		}
		for _, t := range []struct {
			name string
			v    *underlamp.Given[quantity.Celsius]
		}{{"air by day", x.DayTemperature}, {"air by night", x.NightTemperature}, {"roots at", x.RootTemp}} {
			if t.v != nil {
				add(t.name, quantity.Temperature.Format(float64(t.v.Value), u, 3))
			}
		}
		for _, t := range []struct {
			name string
			v    *underlamp.Given[quantity.Fraction]
		}{{"humidity by day", x.DayHumidity}, {"humidity by night", x.NightHumidity}} {
			if t.v != nil {
				add(t.name, quantity.Share.Format(float64(t.v.Value), u, 3))
			}
		}
		if x.EC != nil {
			add("EC", quantity.Conductivity.Format(float64(x.EC.Value), u, 2))
		}
		for _, t := range []struct {
			name string
			v    *underlamp.Given[quantity.MilligramPerLitre]
		}{{"calcium", x.Calcium}, {"ammonium nitrogen", x.Ammonium}, {"potassium", x.Potassium}, {"magnesium", x.Magnesium}} {
			if t.v != nil {
				add(t.name, quantity.Concentration.Format(float64(t.v.Value), u, 3))
			}
		}
		text := strings.Join(parts, ", ")
		if x.Note != "" {
			text = strings.TrimPrefix(text+": "+x.Note, ": ")
		}
		out = append(out, [2]string{fmt.Sprintf("day %d, %s", x.Day, x.Date), text})
	}
	return out
}

// weighingTable is every weighing beside what was said of its plant.
func (d *CycleDocument) weighingTable() template.HTML {
	t := draw.Table{Caption: "Every weighing, and what the outlook said of that plant (90 %)", Head: []string{"plant", "date", "day", "weighed g", "said, as run", "said at transplanting", "judgment"}}
	for _, w := range d.Comparison.Weighings {
		judgment := "inside"
		switch {
		case w.Mass < w.Run.Low:
			judgment = "lighter"
		case w.Mass > w.Run.High:
			judgment = "heavier"
		}
		t.Rows = append(t.Rows, []string{w.Plant, w.Date, fmt.Sprint(w.Day), quantity.Number(w.Mass, 3), grams(w.Run), grams(w.Planned), judgment})
	}
	return scrolled(t)
}

// scrolled is a table that scrolls by itself where it is too wide.
func scrolled(t draw.Table) template.HTML {
	if len(t.Rows) == 0 {
		return ""
	}
	return template.HTML(`<div class="d-scroll" role="group" tabindex="0" aria-label="`+template.HTMLEscapeString(t.Caption)+`">`) + template.HTML(t.HTML()) + "</div>"
}

// differences is the table of what was said and what came.
func (d *CycleDocument) differences() template.HTML {
	c := d.Comparison
	t := draw.Table{Caption: "What the outlook said, and what came; intervals hold 90 %", Head: []string{"what", "said at transplanting", "said, as run", "came", "difference"}}
	for _, x := range c.Means {
		t.Rows = append(t.Rows, []string{
			fmt.Sprintf("mean mass of %s, day %d", headsText(x.Of), x.Day), grams(x.Planned), grams(x.Run), quantity.Fixed(x.Mass, 0) + " g",
			fmt.Sprintf("%s g (%s to %s)", working.Signed(x.Mass-x.Run.Mid, 0), working.Signed(x.Mass-x.Run.High, 0), working.Signed(x.Mass-x.Run.Low, 0)),
		})
	}
	if b := c.Burn; b != nil {
		came := float64(b.Burnt) / float64(b.Of)
		t.Rows = append(t.Rows, []string{
			fmt.Sprintf("inner burn of %s, day %d", headsText(b.Of), b.Day), working.Percent(b.Planned.Mid),
			fmt.Sprintf("%s (%s to %s of the heads)", working.Percent(b.Run.Mid), working.Percent(b.Run.Low), working.Percent(b.Run.High)), working.Percent(came),
			fmt.Sprintf("%s points", working.Signed(100*(came-b.Run.Mid), 0)),
		})
	}
	by := " (settings)"
	if d.Metered != nil {
		by = " (meter)"
	}
	t.Rows = append(t.Rows, []string{fmt.Sprintf("electricity until day %d", c.Last), quantity.Number(float64(c.PlannedKWh), 3) + " kWh", quantity.Number(float64(c.RunKWh), 3) + " kWh", quantity.Number(d.kWh(), 3) + " kWh" + by,
		working.Signed(d.kWh()-float64(c.PlannedKWh), 1) + " kWh"})
	return scrolled(t)
}

func (d *CycleDocument) limits() []string {
	c := d.Comparison
	out := []string{"The outlook said at transplanting knows the bench as it was set on that day; as run, it also knows every change, on the day it was made."}
	out = append(out, c.Notes...)
	if b := c.Burn; b == nil {
		out = append(out, "Nobody looked for burn, so its forecast is not held against anything.")
	}
	if d.Metered == nil {
		out = append(out, "No meter counted the electricity: what came is computed from the settings, so it differs from the plan only where somebody changed them.")
	}
	if d.running() {
		out = append(out, fmt.Sprintf("The cycle was still running; it is looked at until day %d, the last with an entry.", c.Last))
	}
	taken := 0
	for _, w := range c.Weighings {
		if w.Cut {
			taken++
		}
	}
	if taken == 0 && len(c.Weighings) > 0 {
		out = append(out, "No weighed head was noted as cut: masses of plants that go on growing hold roots or pots if those were not taken off.")
	}
	return out
}

// HTML is the whole report.
func (d *CycleDocument) HTML() []byte {
	c := d.Comparison
	b := c.Bench
	p := &paper{Kind: cycleKind, Title: c.Name, Note: c.Cycle.Note, Head: d.Head, Summary: d.summary()}
	p.add("question", "Question", paragraph(d.question()))
	until := c.Cycle.Harvested
	if until == "" {
		until = "running"
	}
	// The bench stands as it was at transplanting.
	rows := append([][2]string{{"bench", b.Name}, {"transplanted", c.Cycle.Transplanted}, {"harvested", until}}, BenchRows(c.Begun)...)
	changes := template.HTML("")
	if r := changeRows(c.Cycle, b.Units); len(r) > 0 {
		changes = joined(heading("What was changed in the cycle"), facts(r))
	}
	p.add("bench", "Bench and method", joined(facts(rows), changes, heading("How it was computed"), bullets(methods(c.Draws)[:2])))
	if d.Around != nil {
		p.add("environment", "Environment", EnvironmentSection(d.Around, nil))
	}
	p.add("results", "Results", joined(`<div class="pictures">`, d.picture(), "</div>", d.weighingTable()))
	p.add("findings", "Findings", joined(render("headline.tmpl", d.figures()), d.differences()))
	p.add("limits", "Limits", bullets(d.limits()))
	p.add("photos", "Photos", StripsSection(d.Strips))
	p.addix("working", "Working", WorkingSection(d.figures()))
	p.Seed = fmt.Sprint(uint64(outlook.Seed))
	return p.close(guidelines)
}

// Short is the report as one page.
func (d *CycleDocument) Short() []byte {
	c := d.Comparison
	s := short{Kind: cycleKind, Title: c.Name, Head: d.Head, Picture: d.picture(), Lead: strings.Join(d.summary().Came[:1], " ")}
	for _, f := range d.figures() {
		sentence := ""
		switch {
		case strings.HasPrefix(f.Name, "mass"):
			x, _ := c.Final()
			sentence = fmt.Sprintf("%s g came, %s was said.", quantity.Fixed(x.Mass, 0), grams(x.Run))
		case strings.HasPrefix(f.Name, "heads"):
			sentence = fmt.Sprintf("%d of %s burnt; the chance was %s.", c.Burn.Burnt, headsText(c.Burn.Of), working.Percent(c.Burn.Run.Mid))
		default:
			sentence = fmt.Sprintf("%s kWh for %s planned.", quantity.Number(d.kWh(), 3), quantity.Number(float64(c.PlannedKWh), 3))
		}
		s.Numbers = append(s.Numbers, shortNumber{f, sentence})
	}
	if inside, of := c.Within(); len(s.Numbers) < 3 && of > 0 {
		s.Numbers = append(s.Numbers, shortNumber{working.Figure{Name: "weighings in their band", Value: 100 * float64(inside) / math.Max(float64(of), 1), Unit: "%"}, "Where 90 % should."})
	}
	return s.html()
}
