package report

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"

	"underlamp"
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
	Lesson   *learn.Lesson         // what cycles taught; nil leaves it out
	Refused  *outlook.NotSupported // why there is no outlook; then all that follows from one is nil
	Written  string                // the day it was written, as printed; empty leaves it out
	Version  string                // of the program; empty leaves it out
}

// Compute answers everything a report asks of a bench.
func Compute(ctx context.Context, m *light.Model, written string, progress func(done, of int)) (*Document, error) {
	d := &Document{Bench: m.Bench(), Model: m, Written: written}
	o, err := outlook.New(m, 0)
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

// Write writes the report as one HTML file that needs nothing else.
func (d *Document) Write(w io.Writer) error {
	headline := append([]working.Figure{d.Light.Mean, d.Light.DLI, d.Light.Spread, d.Light.Lowest, d.Light.Highest}, d.Figures...)
	var doubt, forecast, best template.HTML
	if d.Refused != nil {
		forecast, best = RefusalSection(d.Refused), Unasked(d.Refused)
	} else {
		forecast, best = OutlookSection(d.Bench, d.Outlook, d.Figures), BestSection(d.Bench, d.Best, d.Settings)
	}
	if d.Doubts != nil {
		doubt = DoubtSection(d.Bench, d.Doubts)
	}
	_, err := io.WriteString(w, string(render("report.tmpl", struct {
		Title, Written, Version, Note string
		CSS                           template.CSS
		Light, Lamps, Outlook, Best   template.HTML
		Doubt                         template.HTML
		Lesson                        template.HTML
		Workings, Cautions            template.HTML
		BenchRows                     [][2]string
	}{
		d.Bench.Name, d.Written, d.Version, d.Bench.Note, template.CSS(CSS()),
		LightSection(d.Bench, d.Model, d.Light, d.Next), LampsSection(d.Bench, d.Lamps),
		forecast, best, doubt,
		d.lesson(),
		WorkingSection(headline), Cautions(),
		BenchRows(d.Bench),
	})))
	if err != nil {
		return fmt.Errorf("the report cannot be written: %w", err)
	}
	return nil
}

// lesson is the section of what cycles taught; empty if there is none.
func (d *Document) lesson() template.HTML {
	if d.Lesson == nil {
		return ""
	}
	return LearnSection(d.Lesson)
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
		rows = append(rows, [2]string{"lamp " + x.Name, fmt.Sprintf("%s; %s, %s, beam %s, at %s, dimming %s, %s a day%s", x.Kind,
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
