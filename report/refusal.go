package report

import (
	"html/template"
	"slices"
	"strings"

	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/crops"
	"underlamp/science/quantity"
	"underlamp/working"
)

// RefusalSection says why there is no outlook for a species, and what is known of it.
func RefusalSection(e *outlook.NotSupported) template.HTML {
	view := struct {
		Species     string
		Why         []string
		Table       template.HTML
		Conditions  []string
		Unsupported string
		Sources     []string
	}{Species: e.Species}
	if e.Known == nil {
		view.Why = []string{"Nothing published of it is in underlamp, and the figures of lettuce do not hold for it."}
		return render("refusal.tmpl", view)
	}
	c := e.Known
	view.Why = []string{c.Growth.Text, c.Burn.Text}
	t := draw.Table{Caption: "What is published of " + c.Name, Head: []string{"figure", "value", "spread"}}
	keys := slices.Concat(c.Growth.Sources, c.Burn.Sources)
	var not []string
	for _, f := range c.Facts {
		if f.Status != crops.Number {
			not = append(not, f.Name)
			continue
		}
		hold := func(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") } // on one line
		t.Rows = append(t.Rows, []string{f.Name, hold(CropValue(f)), hold(CropSpread(f))})
		view.Conditions = append(view.Conditions, f.Name+": "+f.Text+" ("+strings.Join(f.Sources, ", ")+")")
		keys = append(keys, f.Sources...)
	}
	view.Table = template.HTML(t.HTML())
	view.Unsupported = strings.Join(not, ", ")
	slices.Sort(keys)
	for _, key := range slices.Compact(keys) {
		view.Sources = append(view.Sources, key+": "+working.Cite(key))
	}
	return render("refusal.tmpl", view)
}

// Unasked stands where a section would follow from the outlook.
func Unasked(e *outlook.NotSupported) template.HTML {
	return template.HTML("<p>Not asked: the outlook of " + template.HTMLEscapeString(e.Species) + " is not supported by data (see Outlook).</p>")
}

// CropValue is the value of a published figure with its unit.
func CropValue(f crops.Fact) string {
	if f.Unit == "×" {
		return "× " + quantity.Number(f.Value, 3)
	}
	return quantity.Number(f.Value, 3) + " " + f.Unit
}

// CropSpread is the standard deviation of a published figure, as a person reads it.
func CropSpread(f crops.Fact) string {
	switch {
	case f.Spread == 0:
		return "none, a rule"
	case f.Unit == "°C":
		return "± " + quantity.Number(f.Spread, 2) + " °C"
	}
	return "± " + working.Percent(f.Spread) + " of it"
}
