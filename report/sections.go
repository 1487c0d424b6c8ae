package report

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"math"
	"regexp"
	"strings"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

//go:embed *.tmpl report.css
var files embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"cite":  working.Cite,
	"band":  func(f working.Figure) string { return f.BandText() },
	"lower": func(s string) string { return strings.ToLower(s[:min(1, len(s))]) + s[min(1, len(s)):] },
	"dates": func(s string) template.HTML { // a day does not break at its hyphens
		return template.HTML(dayInText.ReplaceAllString(template.HTMLEscapeString(s), `<span class="date">$0</span>`))
	},
	"first": func(s string) string {
		if s == "" {
			return s
		}
		r := []rune(s)
		return strings.ToUpper(string(r[0])) + string(r[1:])
	},
}).ParseFS(files, "*.tmpl"))

var dayInText = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`)

// render carries out a template; a template that cannot be carried out is a
// mistake of the program.
func render(name string, data any) template.HTML {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		panic("report: " + name + ": " + err.Error())
	}
	return template.HTML(b.String())
}

// CSS is the stylesheet of the sections, with that of the pictures.
func CSS() string {
	own, err := files.ReadFile("report.css")
	if err != nil {
		panic("report: " + err.Error())
	}
	return draw.CSS + string(own)
}

// LightSection is the light of a bench: headline figures, the plan as a heat
// map to scale, the side view, every plant in a table, what the readings say and
// where the next one would tell most. next may be nil.
func LightSection(b *underlamp.Bench, m *light.Model, a *light.Answer, next *light.NextReading) template.HTML {
	return lightSection(b, m, a, next, true)
}

// lightSection is [LightSection]; a report has the side view and every plant elsewhere.
func lightSection(b *underlamp.Bench, m *light.Model, a *light.Answer, next *light.NextReading, whole bool) template.HTML {
	v := struct {
		Headline          []working.Figure
		Plan, Side        template.HTML
		Plants            template.HTML
		Readings          []readingRow
		Notes             []string
		Setting           string
		FieldUse, Reading string
	}{
		Headline: a.Figures(), Plan: planPicture(b, m, a), Readings: readingRows(a), Notes: a.Notes, Setting: Describe(b, a.Setting), FieldUse: a.Field.Why,
	}
	if whole {
		v.Side, v.Plants = sidePicture(b, a), plantTable(b, a)
	}
	if next != nil {
		v.Reading = next.Sentence(b.Units)
	}
	return render("light.tmpl", v)
}

type readingRow struct {
	Name, Measured, Model, Difference, Z, End string
	FarOff                                    bool
}

func readingRows(a *light.Answer) []readingRow {
	var rows []readingRow
	for i, r := range a.Readings {
		rows = append(rows, readingRow{
			r.Name, quantity.Fixed(r.Measured, 0), quantity.Fixed(r.Model, 0), working.SignedPercent(r.Measured/r.Model - 1), quantity.Fixed(r.Z, 1),
			quantity.Fixed(float64(a.Field.Readings[i]), 0), r.FarOff,
		})
	}
	return rows
}

// Describe says a setting in words, defaults marked: "lamps at 32 cm, dimming
// 80 %, 16 h (default)".
func Describe(b *underlamp.Bench, s underlamp.Setting) string {
	from := b.Origins(s)
	return fmt.Sprintf("lamps at %s, dimming %s, %s", quantity.Length.Format(float64(s.Height), b.Units, 3),
		mark(quantity.Share.Format(float64(s.Dimming), b.Units, 3), from.Dimming),
		mark(quantity.Duration.Format(float64(s.Hours), b.Units, 3), from.Hours))
}

// mark says beside a value that nobody gave it.
func mark(text string, from underlamp.Origin) string {
	if from == underlamp.Default {
		return text + " (default)"
	}
	return text
}

// OutlookSection is the forecast of a setting.
func OutlookSection(b *underlamp.Bench, f *outlook.Forecast, figures []working.Figure) template.HTML {
	return render("outlook.tmpl", struct {
		Headline        []working.Figure
		Growth, Calcium template.HTML
		Sentence        string
	}{figures, growthPicture(b, f), calciumPicture(b, f), OutlookSentence(b, f)})
}

// OutlookSentence says the forecast in one sentence.
func OutlookSentence(b *underlamp.Bench, f *outlook.Forecast) string {
	s := fmt.Sprintf("By day %d a head should weigh %s g (%s to %s g); of %d heads about %s can be sold.",
		f.Days, quantity.Fixed(f.Fresh.Mid, 0), quantity.Fixed(f.Fresh.Low, 0), quantity.Fixed(f.Fresh.High, 0),
		len(b.Plants), quantity.Fixed(f.Sold*float64(len(b.Plants)), 0))
	if math.IsNaN(f.FirstBurn.Mid) {
		return s + " Inner burn is not to be expected."
	}
	return s + fmt.Sprintf(" The chance of inner burn is %s; where it comes it would first show around day %s (%s to %s).",
		working.Percent(f.Chance), quantity.Fixed(f.FirstBurn.Mid, 0), quantity.Fixed(f.FirstBurn.Low, 0), quantity.Fixed(f.FirstBurn.High, 0))
}

// BestSection is the best setting with what limits it and what would help.
func BestSection(b *underlamp.Bench, r *outlook.Best, mp *outlook.SettingsMap) template.HTML {
	type row struct {
		Name                                                                 string
		Height, Dimming, Hours, PPFD, DLI, PerKWh, Band, Chance, Fresh, Sold string
		HeightM, Dim, HoursH                                                 float64 // for "take this setting"
		Now                                                                  bool
	}
	cells := func(name string, s underlamp.Setting, ppfd, perKWh, chance, fresh, sold float64) row {
		return row{
			Name: name, Height: quantity.Length.Format(float64(s.Height), b.Units, 3), Dimming: quantity.Fixed(100*float64(s.Dimming), 0) + " %",
			Hours: quantity.Duration.Format(float64(s.Hours), b.Units, 3), PPFD: quantity.Fixed(ppfd, 0),
			DLI:    quantity.Fixed(float64(quantity.DailyLight(quantity.PPFD(ppfd), s.Hours)), 1),
			PerKWh: quantity.Fixed(perKWh, 1), Chance: working.Percent(chance), Fresh: quantity.Fixed(fresh, 0), Sold: working.Percent(sold),
			HeightM: float64(s.Height), Dim: float64(s.Dimming), HoursH: float64(s.Hours),
		}
	}
	now := cells("now", r.Now.Setting, r.NowPPFD, r.Now.PerKWh.Mid, r.Now.Chance, r.Now.Fresh.Mid, r.Now.Sold)
	now.Now = true
	rows := []row{now}
	if r.Found {
		rows = append(rows, cells("best", r.Best.Setting, r.BestPPFD, r.Best.PerKWh.Mid, r.Best.Chance, r.Best.Fresh.Mid, r.Best.Sold))
		for i, c := range r.RunnerUps {
			rows = append(rows, cells(fmt.Sprintf("next %d", i+1), c.Setting, c.PPFD, c.PerKWh, c.Chance, c.Fresh, c.Sold))
		}
	} else {
		c := r.Nearest
		rows = append(rows, cells("nearest", c.Setting, c.PPFD, c.PerKWh, c.Chance, c.Fresh, c.Sold))
	}
	return render("best.tmpl", struct {
		Verdict  string
		Rows     []row
		Limits   []string
		Map      template.HTML
		WhatIfs  template.HTML
		Fan      string
		Searched int
	}{Verdict(b, r), rows, r.Limits, mapPicture(b, r, mp), whatIfPicture(b, r), FanSentence(b, r.Fan), r.Searched})
}

// FanSentence says what a fan would change about the best setting; nothing if
// there is a fan already or it would not help. Both figures come from the search
// alone, so the one without a fan differs a little from that of the best setting.
func FanSentence(b *underlamp.Bench, fan *outlook.FanBest) string {
	if fan == nil || !(fan.Candidate.PerKWh > 0) {
		return ""
	}
	c := fan.Candidate
	s := fmt.Sprintf("With %s the best setting would be %s: %s g/kWh and heads of %s g.", fan.Name, Describe(b, c.Setting), quantity.Fixed(c.PerKWh, 1), quantity.Fixed(c.Fresh, 0))
	if w := fan.Without; w.PerKWh > 0 {
		s += fmt.Sprintf(" The same quick search, of few draws, gives %s g/kWh and heads of %s g without it.", quantity.Fixed(w.PerKWh, 1), quantity.Fixed(w.Fresh, 0))
	}
	return s
}

// Verdict says the best setting in one or two sentences.
func Verdict(b *underlamp.Bench, r *outlook.Best) string {
	limit := working.Percent(float64(b.Limits.Burn.Value))
	if !r.Found {
		return fmt.Sprintf("No setting within the limits keeps the chance of burn under %s and lets at least half of the heads be sold. As it is set now, the chance of burn is %s.", limit, working.Percent(r.Now.Chance))
	}
	return fmt.Sprintf("%s. That is %s µmol/m²/s at the plants and %s g saleable per kWh (%s to %s), with a chance of burn of %s under your limit of %s. As it is set now: %s g per kWh, chance of burn %s.",
		Describe(b, r.Best.Setting), quantity.Fixed(r.BestPPFD, 0), quantity.Fixed(r.Best.PerKWh.Mid, 1), quantity.Fixed(r.Best.PerKWh.Low, 1), quantity.Fixed(r.Best.PerKWh.High, 1),
		working.Percent(r.Best.Chance), limit, quantity.Fixed(r.Now.PerKWh.Mid, 1), working.Percent(r.Now.Chance))
}

// FiguresSection shows figures, and how they were reached.
func FiguresSection(figures []working.Figure) template.HTML {
	return render("headline.tmpl", figures) + `<details class="working"><summary>How each was reached</summary>` + render("working.tmpl", figures) + `</details>`
}

// WorkingSection shows how figures were reached.
func WorkingSection(figures []working.Figure) template.HTML {
	return render("working.tmpl", figures)
}

// Cautions is the section of cautions.
func Cautions() template.HTML { return render("cautions.tmpl", nil) }
