package report

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/app/lamp"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/quantity"
	"underlamp/working"
)

// mapColumns is the number of columns of the light map.
const mapColumns = 49

// A Document is everything that a report of one bench holds.
type Document struct {
	Head
	Bench    *underlamp.Bench
	Model    *light.Model
	Light    *light.Answer
	Next     *light.NextReading // nil leaves it out
	Lamps    []lamp.Kind
	Outlook  *outlook.Forecast
	Figures  []working.Figure
	Best     *outlook.Best
	Settings *outlook.SettingsMap
	Doubts   *outlook.Doubts       // nil leaves it out
	Around   *environment.Table    // by [Compute] from the bench alone; a caller with sensors or a feed puts a better one
	Strips   []Strip               // photos of the plants; none leaves them out
	Lesson   *learn.Lesson         // what cycles taught; nil leaves it out
	Draws    int                   // of the outlook
	Refused  *outlook.NotSupported // why there is no outlook; then all that follows from one is nil
}

// Compute answers everything a report asks of a bench, with so many draws in what is shown of the
// outlook; 0 means the usual number.
func Compute(ctx context.Context, m *light.Model, draws int, progress func(done, of int)) (*Document, error) {
	if draws <= 0 {
		draws = outlook.Draws
	}
	d := &Document{Bench: m.Bench(), Model: m, Draws: draws}
	o, err := outlook.New(m, draws)
	if err != nil && !errors.As(err, &d.Refused) {
		return nil, err
	}
	if d.Light, err = m.Answer(nil, mapColumns); err != nil {
		return nil, err
	}
	if d.Next, err = m.NextReading(); err != nil {
		return nil, err
	}
	d.Lamps = lamp.Kinds(m, quantity.PPFD(d.Light.Mean.Value))
	d.Around = environment.Of(environment.Known{Bench: d.Bench, Light: d.Light})
	if d.Refused != nil {
		return d, nil
	}
	if d.Best, err = o.Best(ctx, progress); err != nil {
		return nil, err
	}
	d.Outlook = &d.Best.Now
	d.Figures = o.Figures(d.Outlook)
	if d.Settings, err = o.Map(ctx, 0, 0); err != nil {
		return nil, err
	}
	if d.Doubts, err = o.Doubts(ctx); err != nil {
		return nil, err
	}
	return d, nil
}

// headline are the figures whose workings stand in the appendix.
func (d *Document) headline() []working.Figure {
	return append([]working.Figure{d.Light.Mean, d.Light.DLI, d.Light.Spread, d.Light.Lowest, d.Light.Highest}, d.Figures...)
}

const (
	benchKind = "Report on a bench"
	toFindOut = "How bright, from how high and for how many hours should %s be lit, for the most saleable mass from a kWh with inner burn in at most %s of the heads?"
)

// question is what a report on a bench answers.
func (d *Document) question() string {
	if d.Refused != nil {
		return fmt.Sprintf("What light do %s of %s get on this bench, how even is it, and how sure is that?", plantsText(d.Bench), d.Bench.Crop.Species.Value)
	}
	return fmt.Sprintf(toFindOut, plantsText(d.Bench)+" of "+cropName(d.Bench), working.Percent(float64(d.Bench.Limits.Burn.Value)))
}

func plantsText(b *underlamp.Bench) string {
	if len(b.Plants) == 1 {
		return "1 plant"
	}
	return fmt.Sprintf("%d plants", len(b.Plants))
}

// cropName is what grows, as a person says it.
func cropName(b *underlamp.Bench) string {
	c := b.Crop
	s := c.Species.Value
	if t := string(c.Type.Value); t != "" && !c.Type.IsDefault() {
		s = t + " " + s
	}
	if c.Cultivar != "" {
		s += " (" + c.Cultivar + ")"
	}
	return s
}

func (d *Document) summary() summary {
	s := summary{Asked: []string{d.question()}}
	a := d.Light
	s.Came = []string{fmt.Sprintf("The plants get %s on the mean, %s a day; the darkest %s, the brightest %s.", a.Mean.Text(), a.DLI.Text(), a.Lowest.Text(), a.Highest.Text())}
	if d.Refused == nil {
		s.Came = append(s.Came, OutlookSentence(d.Bench, d.Outlook))
		s.Do = []string{upper(Verdict(d.Bench, d.Best))}
		if w := helps(d.Best); w != "" {
			s.Do = append(s.Do, w)
		}
		if d.Doubts != nil {
			s.Sure = DoubtSentences(d.Bench, d.Doubts)
		}
	} else {
		s.Do = []string{"Growth and burn are not forecast: data do not support a figure. Light, and what is known of the species, stand below."}
		s.Sure = []string{fmt.Sprintf("The mean light is known to %s.", a.Mean.BandText())}
	}
	switch n := len(d.Bench.Readings); {
	case n == 0:
		s.Sure = append(s.Sure, "No meter reading holds the light: it is computed from what the labels of the lamps say.")
	default:
		s.Sure = append(s.Sure, fmt.Sprintf("The light is computed and held to %s; the level is known to %s.", readingsText(n), a.Mean.BandText()))
	}
	if t := sureOf(d.Around); t != "" {
		s.Sure = append(s.Sure, t)
	}
	return s
}

func readingsText(n int) string {
	if n == 1 {
		return "1 meter reading"
	}
	return fmt.Sprintf("%d meter readings", n)
}

// helps names the single change that lowers the chance of burn most, if one does so by 5 points.
func helps(r *outlook.Best) string {
	best := -1
	for i, w := range r.WhatIfs {
		if w.Points.Mid <= -5 && (best < 0 || w.Points.Mid < r.WhatIfs[best].Points.Mid) {
			best = i
		}
	}
	if best < 0 {
		return ""
	}
	w := r.WhatIfs[best]
	return fmt.Sprintf("Of single changes of the bench as it is, this takes most from the chance of burn: %s, by %s points (%s to %s).", w.Name, quantity.Fixed(-w.Points.Mid, 0), quantity.Fixed(-w.Points.High, 0), quantity.Fixed(-w.Points.Low, 0))
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// methods say how the figures of a bench were reached, with the works they follow.
// draws are those of the outlook; 0: there is none.
func methods(draws int) []string {
	out := []string{
		"Light: each luminous opening is cut into patches, and what arrives at a place is the sum over them by the law of distance and the cosines; walls, floor and shelves send light back, solved for all patches together. Flux, beam and reflectance are fitted to the meter readings where there are some, and what they leave is carried over the bench where they suffice.",
	}
	if draws > 0 {
		out = append(out,
			fmt.Sprintf("Outlook: heads grow by the day from light, air and carbon dioxide, water and calcium reach the youngest leaves by transpiration and by the pressure of the roots at night, and burn follows where growth outruns the calcium. %d draws of plants and of the level of the light give the bands.", draws),
			"Best setting: heights, dimming and hours within the limits of the bench are compared on common draws; the best is the one with the most saleable mass from a kWh whose chance of burn is under the limit.",
		)
	}
	return append(out, "Values that nobody gave are marked as defaults. What was tuned to which data, and how the whole was held against others, is told by underlamp validate.")
}

// HTML is the whole report.
func (d *Document) HTML() []byte {
	b := d.Bench
	p := &paper{Kind: benchKind, Title: b.Name, Note: b.Note, Head: d.Head, Summary: d.summary()}
	p.add("question", "Question", paragraph(d.question()))
	p.add("bench", "Bench and method", joined(facts(BenchRows(b)), `<div class="pictures">`, sidePicture(b, d.Light), "</div>", heading("How it was computed"), bullets(methods(d.draws())), LampsSection(b, d.Lamps)))
	if d.Around != nil {
		p.add("environment", "Environment", EnvironmentSection(d.Around, nil))
	}
	p.add("light", "Results: light", lightSection(b, d.Model, d.Light, d.Next, false))
	if d.Refused != nil {
		p.add("outlook", "Findings: outlook", RefusalSection(d.Refused))
	} else {
		p.add("outlook", "Findings: outlook", OutlookSection(b, d.Outlook, d.Figures))
		p.add("best", "Findings: best setting", BestSection(b, d.Best, d.Settings))
	}
	if d.Lesson != nil {
		p.add("learn", "Findings: what cycles taught", LearnSection(d.Lesson))
	}
	var doubt template.HTML
	if d.Doubts != nil {
		doubt = DoubtSection(b, d.Doubts)
	}
	p.add("limits", "Limits", joined(bullets(d.limits()), doubt))
	p.add("photos", "Photos", StripsSection(d.Strips))
	p.addix("working", "Working", joined(paragraph("How every headline figure was reached, what went into it and where each input came from."), WorkingSection(d.headline())))
	p.addix("plants", "Light of every plant", template.HTML(`<div class="d-scroll" role="group" tabindex="0" aria-label="Light of every plant">`)+plantTable(b, d.Light)+"</div>")
	p.Seed = fmt.Sprint(uint64(outlook.Seed))
	return p.close(append(sourcesOf(d.headline()), guidelines...))
}

func (d *Document) draws() int {
	if d.Refused != nil {
		return 0
	}
	return d.Draws
}

// limits say what the report cannot know.
func (d *Document) limits() []string {
	var out []string
	if n := assumed(d.headline()); len(n) > 0 {
		out = append(out, "Nobody gave these, and usual values stand in: "+strings.Join(n, ", ")+".")
	}
	if d.Refused == nil {
		out = append(out,
			"The chance of burn puts light, hours, air and nights in the order that trials found, but its level is uncertain: use it to compare settings, and look at your own heads.",
			"Heads are forecast too heavy in cool air, and the bands hold what the description and the plants leave open, not what the model itself cannot know.",
		)
	}
	return append(out, "It is one bench. What holds here need not hold on another with the same lamps: read its light.")
}

// assumed are the names of inputs that are defaults, once each.
func assumed(figures []working.Figure) []string {
	var out []string
	for _, f := range figures {
		for _, in := range f.Working.Inputs {
			if in.Origin == underlamp.Default.String() && !slices.Contains(out, in.Name) {
				out = append(out, in.Name)
			}
		}
	}
	return out
}

// Short is the report as one page.
func (d *Document) Short() []byte {
	b, a := d.Bench, d.Light
	s := short{Kind: benchKind, Title: b.Name, Head: d.Head, Picture: planPicture(b, d.Model, a)}
	s.Numbers = []shortNumber{{a.Mean, fmt.Sprintf("That is %s a day; the darkest plant has %s, the brightest %s.", a.DLI.Text(), a.Lowest.Text(), a.Highest.Text())}}
	if d.Refused != nil {
		s.Lead = d.question()
		s.Numbers = append(s.Numbers, shortNumber{a.Spread, "How far the plants differ in light."}, shortNumber{a.DLI, "What they get in a day."})
		return s.html()
	}
	s.Lead = upper(Verdict(b, d.Best))
	f := d.Outlook
	mass, burn := figureNamed(d.Figures, "fresh mass"), figureNamed(d.Figures, "chance of inner tipburn")
	s.Numbers = append(s.Numbers,
		shortNumber{mass, fmt.Sprintf("A head by day %d; of %d about %s can be sold.", f.Days, len(b.Plants), quantity.Fixed(f.Sold*float64(len(b.Plants)), 0))},
		shortNumber{burn, fmt.Sprintf("The limit is %s of the heads.", working.Percent(float64(b.Limits.Burn.Value)))})
	return s.html()
}

// figureNamed is the first figure whose name begins so.
func figureNamed(all []working.Figure, name string) working.Figure {
	for _, f := range all {
		if strings.HasPrefix(f.Name, name) {
			return f
		}
	}
	return working.Figure{Name: name, Word: "not computed"}
}

// BenchRows describe a bench in name and value, defaults marked.
func BenchRows(b *underlamp.Bench) [][2]string {
	u := b.Units
	l := func(v quantity.Metre) string { return quantity.Length.Format(float64(v), u, 3) }
	rows := [][2]string{
		{"space", fmt.Sprintf("%s wide, %s deep, %s high", l(b.Space.Width), l(b.Space.Depth), l(b.Space.Height))},
	}
	for _, side := range underlamp.Sides() {
		w := b.Space.Walls[side]
		rows = append(rows, [2]string{"side " + side.String(), mark(wall(w).Label, w.Reflectance.Origin)})
	}
	for _, sh := range b.Space.Shelves {
		rows = append(rows, [2]string{sh.Name, fmt.Sprintf("from %s, %s to %s, %s, at %s; sends back %s above, %s below", l(sh.X1), l(sh.Y1), l(sh.X2), l(sh.Y2), l(sh.Height),
			mark(working.Percent(float64(sh.Top.Value)), sh.Top.Origin), mark(working.Percent(float64(sh.Bottom.Value)), sh.Bottom.Origin))})
	}
	for _, x := range b.Lamps {
		rows = append(rows, [2]string{lampLabel(x.Name), fmt.Sprintf("%s; %s, %s, beam %s, at %s, dimming %s, %s a day%s", x.Kind,
			mark(quantity.PhotonFlux.Format(float64(x.Flux.Value), u, 3), x.Flux.Origin),
			mark(quantity.Power.Format(float64(x.Power.Value), u, 3), x.Power.Origin),
			mark(quantity.Angle.Format(float64(x.Beam.Value), u, 3), x.Beam.Origin), l(x.Height),
			mark(quantity.Share.Format(float64(x.Dimming.Value), u, 3), x.Dimming.Origin),
			mark(quantity.Duration.Format(float64(x.Hours.Value), u, 3), x.Hours.Origin), besides(x, u))})
	}
	c := b.Crop
	crop := mark(c.Species.Value, c.Species.Origin)
	if c.Type.Value != "" {
		crop += ", " + mark(string(c.Type.Value), c.Type.Origin)
	}
	if c.Cultivar != "" {
		crop += ", " + c.Cultivar
	}
	closer := ""
	for _, s := range c.Spacing {
		closer += fmt.Sprintf("; at %s until day %d", quantity.PlantDensity.Format(s.Density, u, 3), s.Until)
	}
	rows = append(rows,
		[2]string{"crop", crop + "; tendency to tipburn " + mark(string(c.Tendency.Value), c.Tendency.Origin)},
		[2]string{"plants", fmt.Sprintf("%d, from %s to harvest on day %s", len(b.Plants),
			mark(quantity.Mass.Format(float64(c.StartMass.Value), u, 3), c.StartMass.Origin), mark(fmt.Sprint(c.Days.Value), c.Days.Origin)) + closer},
	)
	climate := func(x underlamp.Climate) string {
		return mark(quantity.Temperature.Format(float64(x.Temperature.Value), u, 3), x.Temperature.Origin) + ", " +
			mark(quantity.Share.Format(float64(x.Humidity.Value), u, 3), x.Humidity.Origin)
	}
	a, f := b.Air, b.Feed
	rows = append(rows,
		[2]string{"air by day", climate(a.Day)},
		[2]string{"air by night", climate(a.Night)},
		[2]string{"CO2", mark(quantity.GasShare.Format(float64(a.CO2.Value), u, 3), a.CO2.Origin)},
		[2]string{"moving air", mark(quantity.AirSpeed.Format(float64(a.Speed.Value), u, 2), a.Speed.Origin) + ", fan " + mark(string(a.Fan.Value), a.Fan.Origin)},
		[2]string{"feed", fmt.Sprintf("calcium %s, ammonium nitrogen %s, potassium %s, magnesium %s, EC %s, roots at %s", mark(quantity.Concentration.Format(float64(f.Calcium.Value), u, 3), f.Calcium.Origin),
			mark(quantity.Concentration.Format(float64(f.Ammonium.Value), u, 3), f.Ammonium.Origin), mark(quantity.Concentration.Format(float64(f.Potassium.Value), u, 3), f.Potassium.Origin),
			mark(quantity.Concentration.Format(float64(f.Magnesium.Value), u, 3), f.Magnesium.Origin),
			mark(quantity.Conductivity.Format(float64(f.EC.Value), u, 2), f.EC.Origin), mark(quantity.Temperature.Format(float64(f.RootTemp.Value), u, 3), f.RootTemp.Origin))},
	)
	return append(rows, moneyRows(b)...)
}

// lampLabel does not say "lamp lamp 1".
func lampLabel(name string) string {
	if strings.HasPrefix(strings.ToLower(name), "lamp") {
		return name
	}
	return "lamp " + name
}

// moneyRows are the price of electricity and what else the file says of money.
func moneyRows(b *underlamp.Bench) [][2]string {
	price := b.Price.Value.String()
	if b.Money.Tariff != nil {
		price = b.Money.Tariff.String()
	}
	rows := [][2]string{{"electricity", mark(price, b.Price.Origin)}}
	amount := func(v float64, per underlamp.Basis) string {
		return quantity.Number(v, 4) + " " + b.Price.Value.Currency + "/" + string(per)
	}
	var costs, sale []string
	for _, c := range b.Money.Costs {
		costs = append(costs, c.For+" "+amount(c.Amount, c.Per))
	}
	for _, s := range b.Money.Sale {
		sale = append(sale, "from "+quantity.Mass.Format(float64(s.From), b.Units, 3)+" "+amount(s.Amount, s.Per))
	}
	if len(costs) > 0 {
		rows = append(rows, [2]string{"costs besides", strings.Join(costs, ", ")})
	}
	if len(sale) > 0 {
		rows = append(rows, [2]string{"heads sell", strings.Join(sale, ", ")})
	}
	return rows
}

// besides are what only some lamps have.
func besides(x underlamp.Lamp, u quantity.System) string {
	angle := func(a quantity.Degree) string { return quantity.Angle.Format(float64(a), u, 3) }
	text := ""
	if x.Pose.Turn != 0 {
		text += ", turned by " + angle(x.Pose.Turn)
	}
	if x.Pose.Tilt != 0 {
		text += ", tilted by " + angle(x.Pose.Tilt) + " towards " + angle(x.Pose.Towards)
	}
	if x.File != nil {
		text += ", light spread as in " + x.File.Name
	}
	if x.Colour != nil {
		text += ", colour as in " + x.Colour.Name
	}
	if !x.Left.IsDefault() {
		text += ", of its light " + working.Percent(float64(x.Left.Value)) + " left"
		if x.LeftOn != "" {
			text += " on " + x.LeftOn
		}
	}
	if len(x.Curve) > 0 {
		text += ", with a measured dimming curve"
	}
	return text
}
