package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/air"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// AirSection is the air of a bench as a section of a page. now is the bench as it is, then the
// one that a person is thinking of; nil if nothing was turned.
func AirSection(now, then *air.Answer) template.HTML {
	a := now
	if then != nil {
		a = then
	}
	v := struct {
		Sentences        []string
		Compared, Halves template.HTML
		Unchanged        string
		Refused          string
		Course, Ways     template.HTML
		WaysNotes        []string
		Dose             string
		Caution          string
		Figures          template.HTML
	}{Sentences: a.Sentences(), Halves: template.HTML(halvesTable(a).HTML())}
	figures := a.Figures()
	if then != nil {
		if t := compared(now, then); len(t.Rows) > 0 {
			v.Compared = template.HTML(t.HTML())
		} else {
			v.Unchanged = "Nothing that is shown here would change."
		}
	}
	if a.Refused != nil {
		v.Refused = a.Refused.Error()
	} else if len(a.Days) > 0 {
		v.Course = airPicture(a)
		v.Ways = template.HTML(WaysTable(a).HTML())
		v.WaysNotes = WaysNotes(a)
		v.Dose = DoseText(a)
		if a.Dose.Enriched {
			v.Caution = air.Caution(a.Bench, a.Dose)
		}
	}
	v.Figures = WorkingSection(figures)
	return render("airsection.tmpl", v)
}

// halvesTable is the air and the leaves by day and by night.
func halvesTable(a *air.Answer) draw.Table {
	u := a.Bench.Units
	t := draw.Table{Caption: "Air and leaves by day and night", Head: []string{"what", "by day", "by night"}}
	for _, c := range a.Crossings {
		t.Head = append(t.Head, "at "+c.Name)
	}
	const dewPoint, overDew = "dew point", "coldest leaf over it"
	temp := func(c float64) string { return quantity.Temperature.Format(c, u, 3) }
	// What is known of the minutes after lights go off or on.
	crossing := func(c air.Crossing, row string) string {
		switch row {
		case c.Where:
			return temp(c.Surface.Mid)
		case dewPoint:
			return temp(c.Dew.Mid)
		case overDew:
			return quantity.Temperature.Difference(c.Margin.Mid, u, 2) + ": " + string(air.RiskOf(c.Margin))
		}
		return ""
	}
	row := func(name string, f func(h air.Half) string) {
		cell := func(h air.Half) string {
			if h.Hours <= 0 {
				return ""
			}
			return f(h)
		}
		cells := []string{name, cell(a.Day), cell(a.Night)}
		for _, c := range a.Crossings {
			cells = append(cells, crossing(c, name))
		}
		t.Rows = append(t.Rows, cells)
	}
	kpa := func(b air.Band) string {
		return quantity.Fixed(b.Mid, 2) + " kPa (" + quantity.Fixed(b.Low, 2) + " to " + quantity.Fixed(b.High, 2) + ")"
	}
	row("air", func(h air.Half) string {
		return temp(float64(h.Air.Dry)) + ", " + working.Percent(float64(h.Air.Humidity()))
	})
	row("VPD of the air", func(h air.Half) string { return kpa(h.VPD) })
	row(air.OpenLeaves, func(h air.Half) string { return temp(h.Leaf.Mid) })
	row("VPD of those leaves", func(h air.Half) string { return kpa(h.LeafVPD) })
	row(air.YoungLeaves, func(h air.Half) string { return temp(h.Heart) })
	row(dewPoint, func(h air.Half) string { return temp(h.Dew.Mid) })
	row(overDew, func(h air.Half) string {
		return quantity.Temperature.Difference(h.Margin.Mid, u, 2) + ": " + string(air.RiskOf(h.Margin))
	})
	row("hours", func(h air.Half) string { return quantity.Duration.Format(h.Hours, u, 3) })
	return t
}

// compared sets the figures of two airs that differ beside each other.
func compared(now, then *air.Answer) draw.Table {
	t := draw.Table{Caption: "What would change", Head: []string{"figure", "now", "what if"}}
	was := map[string]string{}
	for _, f := range now.Figures() {
		was[f.Name] = f.Text()
	}
	add := func(name, a, b string) {
		if a != b {
			t.Rows = append(t.Rows, []string{name, a, b})
		}
	}
	for _, f := range then.Figures() {
		add(f.Name, was[f.Name], f.Text())
	}
	for i, w := range then.Ways {
		add("a day by "+w.Name, wayCost(now, now.Ways[i]), wayCost(then, w))
	}
	return t
}

func wayCost(a *air.Answer, w air.Way) string {
	if !w.Possible {
		return "not possible"
	}
	return quantity.Number(w.KWh(), 2) + " kWh, " + quantity.Fixed(w.Money, 2) + " " + a.Bench.Price.Value.Currency
}

// airPicture is water and warmth by day of the crop.
func airPicture(a *air.Answer) template.HTML {
	l := draw.Lines{XName: "day after transplanting", Markers: []draw.Marker{{X: float64(a.Days[a.At].Day), Label: fmt.Sprintf("shown below, day %d", a.Days[a.At].Day)}}}
	water := [2]draw.Series{{Name: "by day"}, {Name: "by night"}}
	warm := [2]draw.Series{{Name: "by day"}, {Name: "by night"}}
	for _, d := range a.Days {
		l.X = append(l.X, float64(d.Day))
		for i, x := range [2]air.Load{d.Light, d.Dark} {
			water[i].Y = append(water[i].Y, x.Remove.Mid)
			water[i].Low, water[i].High = append(water[i].Low, x.Remove.Low), append(water[i].High, x.Remove.High)
			warm[i].Y = append(warm[i].Y, x.Sensible.Mid)
			warm[i].Low, warm[i].High = append(warm[i].Low, x.Sensible.Low), append(warm[i].High, x.Sensible.High)
		}
	}
	n := 2
	if a.Night.Hours <= 0 {
		n = 1
	}
	l.Panels = []draw.Panel{
		{Name: "Water to remove from the air", Unit: "g/h", Zero: true, Series: water[:n]},
		{Name: "Warmth to remove (below 0: to add)", Unit: "W", Zero: true, Series: warm[:n]},
	}
	return fit("air", a.Bench, func(f draw.Frame) draw.Picture {
		q := l
		q.Frame = f
		q.Frame.Title = "Water and warmth by day of the crop"
		return q.Draw()
	})
}

// WaysTable compares the ways to hold the air.
func WaysTable(a *air.Answer) draw.Table {
	cur := a.Bench.Price.Value.Currency
	t := draw.Table{Caption: fmt.Sprintf("Ways to hold this air on day %d, and over the cycle", a.Days[a.At].Day),
		Head: []string{"way", "drying kWh/d", "cooling kWh/d", "warming kWh/d", "fans kWh/d", "air by day and night", "CO2 lost g/d", cur + "/d", "kWh of the cycle", cur + " of the cycle"}}
	num := func(v float64) string {
		if v == 0 {
			return "0"
		}
		return quantity.Number(v, 2)
	}
	for _, w := range a.Ways {
		if !w.Possible {
			t.Rows = append(t.Rows, []string{w.Name, "not possible", "", "", "", "", "", "", "", ""})
			continue
		}
		flow := "by chinks alone"
		if w.Flow > 0 || w.Dark > 0 {
			flow = quantity.AirFlow.Format(w.Flow, a.Bench.Units, 2) + ", " + quantity.AirFlow.Format(w.Dark, a.Bench.Units, 2)
		}
		t.Rows = append(t.Rows, []string{w.Name, num(w.Drying), num(w.Cooling), num(w.Heating), num(w.Fans), flow, num(w.CO2), quantity.Fixed(w.Money, 2), cycleCell(w.Cycle, 0), cycleCell(w.Costs, 2)})
	}
	return t
}

func cycleCell(v float64, decimals int) string {
	if math.IsNaN(v) {
		return "not on every day"
	}
	return quantity.Fixed(v, decimals)
}

// WaysNotes say what the comparison rests on.
func WaysNotes(a *air.Answer) []string {
	b := a.Bench
	out := []string{fmt.Sprintf("Cooling carries off %s kWh of heat for each kWh (%s); warming is electric; a small fan with its duct takes 0.15 W for each m³/h (common practice, no source). The lamps take %s kWh a day besides.",
		quantity.Number(b.Room.Cooling.Value, 2), b.Room.Cooling.Origin, quantity.Number(a.KWhLamps, 3))}
	if b.Room.Outside.Temperature.IsDefault() || b.Room.Outside.Humidity.IsDefault() {
		out = append(out, "Nobody said what the air beyond the room is: a mean of a temperate year is taken. Exchange of air dries little in a moist summer and takes much warmth in winter; try both above.")
	}
	if b.Room.Volume.IsDefault() {
		out = append(out, "Nobody said how large the room is: the space of the bench alone is taken, so what chinks carry is too small for a bench in a larger room.")
	}
	if b.Air.CO2.Value > b.Room.OutsideCO2.Value && b.Room.CO2Price.IsDefault() && a.Dose.Enriched {
		out = append(out, "Nobody said what CO2 costs: what is lost is in no sum of money.")
	}
	if d := a.Days[a.At]; d.Light.Add > 0 || d.Dark.Add > 0 {
		out = append(out, "Water that must be added to hold the humidity is in no sum.")
	}
	for _, w := range a.Ways {
		if w.Why != "" {
			out = append(out, firstUpper(w.Name)+". "+w.Why)
		}
	}
	return out
}

// DoseText is the carbon dioxide in a sentence.
func DoseText(a *air.Answer) string {
	d, u := a.Dose, a.Bench.Units
	if !d.Enriched {
		return fmt.Sprintf("No CO2 is added: %s inside, %s beyond the room. The crop takes up %s g/h while the lamps are on; a closed room would run short of it.",
			quantity.GasShare.Format(float64(d.Inside), u, 3), quantity.GasShare.Format(float64(d.Outside), u, 3), quantity.Number(d.Uptake, 2))
	}
	s := fmt.Sprintf("To hold %s, %s g/h of CO2 while the lamps are on: %s by chinks, %s for the crop, %s kg a day", quantity.GasShare.Format(float64(d.Inside), u, 3),
		quantity.Number(d.Rate, 2), quantity.Number(d.Leak, 2), quantity.Number(d.Uptake, 2), quantity.Number(d.PerDay, 2))
	if !a.Bench.Room.CO2Price.IsDefault() {
		s += fmt.Sprintf(", %s %s a day", quantity.Fixed(d.Money, 2), a.Bench.Price.Value.Currency)
	}
	return s + fmt.Sprintf(". Filling the room once takes %s g.", quantity.Number(d.Fill, 2))
}

// HeartsSection is what speeds and nights do for the hearts.
func HeartsSection(b *underlamp.Bench, h *air.Hearts) template.HTML {
	v := struct {
		Sentences      []string
		Picture        template.HTML
		Speeds, Nights template.HTML
		Notes          []string
	}{Sentences: h.Sentences(b), Speeds: template.HTML(SpeedsTable(b, h).HTML()), Nights: template.HTML(NightsTable(b, h).HTML()), Notes: []string{air.SpeedNote, air.NightNote}}
	l := draw.Lines{XName: "air speed among the plants, " + speedUnit(b)}
	across, down := draw.Series{Name: "across"}, draw.Series{Name: "down"}
	_, per := quantity.AirSpeed.Shown(b.Units)
	for _, s := range h.Speeds {
		l.X = append(l.X, s.Speed*per)
		across.Y, down.Y = append(across.Y, 100*s.Burn[0]), append(down.Y, 100*s.Burn[1])
	}
	l.Panels = []draw.Panel{{Name: "Chance of inner tipburn", Unit: "%", Zero: true, Series: []draw.Series{across, down}, Limits: []draw.Limit{{Value: 100 * h.Limit, Label: "your limit"}}}}
	v.Picture = fit("hearts", b, func(f draw.Frame) draw.Picture {
		q := l
		q.Frame = f
		q.Frame.Title = "Burn by air speed"
		return q.Draw()
	})
	return render("heartssection.tmpl", v)
}

func speedUnit(b *underlamp.Bench) string { unit, _ := quantity.AirSpeed.Shown(b.Units); return unit }

// SpeedsTable is burn by air speed and aim.
func SpeedsTable(b *underlamp.Bench, h *air.Hearts) draw.Table {
	t := draw.Table{Caption: "Chance of inner tipburn by air speed", Head: []string{"among the plants", "over the hearts, across", "over the hearts, down", "burn, across", "burn, down"}}
	speed := func(v float64) string { return quantity.AirSpeed.Format(v, b.Units, 2) }
	for _, s := range h.Speeds {
		t.Rows = append(t.Rows, []string{speed(s.Speed), speed(s.Heart[0]), speed(s.Heart[1]), air.ChanceText(s.Burn[0]), air.ChanceText(s.Burn[1])})
	}
	return t
}

// NightsTable is what a humidity of the nights does.
func NightsTable(b *underlamp.Bench, h *air.Hearts) draw.Table {
	t := draw.Table{Caption: "Humidity by night, root pressure and burn", Head: []string{"humidity by night", "VPD kPa", "root pressure left", "water to young leaves g/g", "over the dew point", "chance of burn"}}
	for _, n := range h.Nights {
		name := working.Percent(n.Humidity)
		if n.Now {
			name += " (as it is)"
		}
		t.Rows = append(t.Rows, []string{name, quantity.Fixed(n.VPD, 2), working.Percent(n.Pressure), quantity.Number(n.Flow, 2), quantity.Temperature.Difference(n.Margin, b.Units, 2), air.ChanceText(n.Chance)})
	}
	return t
}

// BlownSection is the air of a fan at the plants.
func BlownSection(b *underlamp.Bench, w *air.Blown, limit *air.Hearts) template.HTML {
	return render("blownsection.tmpl", struct{ Sentences []string }{air.BlownSentences(b, w, limit)})
}
