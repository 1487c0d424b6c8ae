package cli

import (
	"underlamp/app/aim"
	"underlamp/report"
	"underlamp/working"
)

// The JSON of aim, match and raise: field names carry the units.
type aimOut struct {
	Bench     string           `json:"bench"`
	Wanted    string           `json:"wanted"`
	Currency  string           `json:"currency"`
	Found     bool             `json:"found"`
	Before    proposalOut      `json:"before"`
	After     proposalOut      `json:"after"`
	Figures   []working.Figure `json:"figures_after"`
	RunnerUps []proposalOut    `json:"runners_up"`
	Curve     []proposalOut    `json:"electricity_against_evenness"`
	Limits    []string         `json:"what_limits"`
	Notes     []string         `json:"notes"`
	Searched  int              `json:"settings_compared"`
}

type dimmedOut struct {
	Name    string  `json:"name"`
	X       float64 `json:"x_m"`
	Y       float64 `json:"y_m"`
	Dimming float64 `json:"dimming"`
}

type proposalOut struct {
	HeightM float64     `json:"height_m"`
	Hours   float64     `json:"hours"`
	Layout  string      `json:"layout"`
	Lamps   []dimmedOut `json:"lamps"`
	Lowest  number      `json:"ppfd_darkest_umol_m2_s"`
	Mean    number      `json:"ppfd_mean_umol_m2_s"`
	Top     number      `json:"ppfd_brightest_umol_m2_s"`
	DLI     number      `json:"dli_mean_mol_m2_d"`
	Uneven  number      `json:"distance_from_target"`
	Within  int         `json:"plants_as_asked"`
	Under   number      `json:"chance_under_target"`
	Watt    number      `json:"power_w"`
	Day     number      `json:"electricity_kwh_per_day"`
	Money   number      `json:"money_per_day"`
	Light   []string    `json:"light,omitempty"`
	Exact   bool        `json:"proven_best_dimming"`
}

func proposalJSON(p *aim.Proposal) proposalOut {
	o := proposalOut{
		HeightM: float64(p.Height), Hours: float64(p.Hours), Layout: p.Layout.Name, Lowest: number(p.Lowest), Mean: number(p.Mean), Top: number(p.Top),
		DLI: number(p.DLI), Uneven: number(p.Uneven), Within: p.Within, Under: number(p.Under), Watt: number(p.Power), Day: number(p.Day), Money: number(p.Money),
		Light: stretches(p), Exact: p.Exact,
	}
	for k, n := range p.Layout.Names() {
		o.Lamps = append(o.Lamps, dimmedOut{n, p.Layout.X[k], p.Layout.Y[k], float64(p.Dim[k])})
	}
	return o
}

func proposalsJSON(list []aim.Proposal) []proposalOut {
	out := []proposalOut{}
	for i := range list {
		out = append(out, proposalJSON(&list[i]))
	}
	return out
}

func aimJSON(r *aim.Result) aimOut {
	return aimOut{
		Bench: r.Bench.Name, Wanted: report.Wanted(r.Bench, &r.Ask), Currency: r.Currency, Found: r.Found, Before: proposalJSON(&r.Before), After: proposalJSON(&r.After),
		Figures: r.AfterFigures, RunnerUps: proposalsJSON(r.RunnerUps), Curve: proposalsJSON(r.Curve), Limits: r.Limits, Notes: append([]string{}, r.Notes...), Searched: r.Searched,
	}
}

type matchOut struct {
	By     string     `json:"matched_by"`
	Found  bool       `json:"found"`
	Before []sideOut  `json:"before"`
	After  []sideOut  `json:"after"`
	Ratio  number     `json:"second_over_first"`
	Band   [2]number  `json:"second_over_first_band_90"`
	Apart  number     `json:"chance_more_than_5_percent_apart"`
	Day    [2]float64 `json:"electricity_kwh_per_day_before_after"`
	Limits []string   `json:"what_limits"`
	Notes  []string   `json:"notes"`
}

type sideOut struct {
	Bench   string      `json:"bench"`
	Plants  []string    `json:"plants"`
	HeightM float64     `json:"height_m"`
	Hours   float64     `json:"hours"`
	Lamps   []dimmedOut `json:"lamps"`
	Level   number      `json:"level"`
	Unit    string      `json:"level_unit"`
	Low     number      `json:"level_low_90"`
	High    number      `json:"level_high_90"`
	Uneven  number      `json:"spread_over_plants"`
	Watt    number      `json:"power_w"`
}

func sidesJSON(list [2]aim.SideAnswer) []sideOut {
	out := []sideOut{}
	for _, s := range list {
		o := sideOut{Bench: s.Bench.Name, Plants: s.Plants, HeightM: float64(s.Height), Hours: float64(s.Hours), Level: number(s.Level.Value), Unit: s.Level.Unit,
			Low: number(s.Level.Band.Low), High: number(s.Level.Band.High), Uneven: number(s.Uneven), Watt: number(s.Power)}
		for k, l := range s.Bench.Lamps {
			o.Lamps = append(o.Lamps, dimmedOut{l.Name, float64(l.X), float64(l.Y), float64(s.Dim[k])})
		}
		out = append(out, o)
	}
	return out
}

func matchJSON(r *aim.MatchResult) matchOut {
	by := "PPFD"
	if r.Ask.DLI {
		by = "DLI"
	}
	return matchOut{By: by, Found: r.Found, Before: sidesJSON(r.Before), After: sidesJSON(r.After), Ratio: number(r.Ratio.Value),
		Band: [2]number{number(r.Ratio.Band.Low), number(r.Ratio.Band.High)}, Apart: number(r.Apart),
		Day: [2]float64{float64(r.DayBefore), float64(r.DayAfter)}, Limits: append([]string{}, r.Limits...), Notes: append([]string{}, r.Notes...)}
}

type raiseOut struct {
	Bench  string        `json:"bench"`
	Target number        `json:"target_umol_m2_s"`
	Moves  []moveOut     `json:"moves"`
	Days   []raiseDayOut `json:"days"`
	Out    int           `json:"days_out_of_tolerance"`
	Limits []string      `json:"what_limits"`
	Notes  []string      `json:"notes"`
}

type moveOut struct {
	Day  int     `json:"day"`
	Date string  `json:"date,omitempty"`
	From float64 `json:"from_m"`
	To   float64 `json:"to_m"`
}

type raiseDayOut struct {
	Day    int     `json:"day"`
	Date   string  `json:"date,omitempty"`
	Canopy float64 `json:"canopy_m"`
	Low    float64 `json:"canopy_low_m"`
	High   float64 `json:"canopy_high_m"`
	Lamps  float64 `json:"lamps_m"`
	PPFD   number  `json:"ppfd_umol_m2_s"`
	Stay   number  `json:"ppfd_if_left_umol_m2_s"`
	Held   bool    `json:"within_tolerance"`
	Dim    number  `json:"dimming_that_would_hold"`
}

func raiseJSON(r *aim.RaiseResult) raiseOut {
	o := raiseOut{Bench: r.Bench.Name, Target: number(r.Target), Moves: []moveOut{}, Out: r.Out, Limits: append([]string{}, r.Limits...), Notes: append([]string{}, r.Notes...)}
	for _, m := range r.Moves {
		o.Moves = append(o.Moves, moveOut{m.Day, m.Date, float64(m.From), float64(m.To)})
	}
	for _, d := range r.Days {
		o.Days = append(o.Days, raiseDayOut{d.Day, d.Date, float64(d.Canopy), float64(d.Low), float64(d.High), float64(d.Lamps), number(d.PPFD), number(d.Stay), d.Held, number(d.Dim)})
	}
	return o
}
