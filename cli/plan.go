package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

type planOptions struct {
	file     string
	goal     string
	frontier bool
	ramps    bool
	json     bool
}

func newPlan(w World) *cobra.Command {
	var o planOptions
	cmd := &cobra.Command{
		Use:   "plan FILE",
		Short: "The best of everything that you can turn: lamps, fan, nights, stand, harvest",
		Long: `plan searches everything that the limits of the bench file let turn: lamp height,
dimming and hours always; fan speed, night humidity, CO2, plants per area and the day
of harvest where limits: names them. It seeks the most of one goal while the chance
of inner tipburn stays under the limit:

  electricity   saleable mass per kWh (the goal if none is named)
  day           saleable mass per day
  area          saleable mass per m² and day
  money         margin per m² and day; needs sale: in the bench file

It says what binds, what a little more of it would bring, and the cheapest single
change that helps the bench as it is. --frontier adds what a laxer limit of burn would
bring, --ramps whether light that changes over the cycle pays, with its calendar.
best is the quick answer for lamps alone.`,
		Example: `  What would the middle tier yield for each m² and day, if its fan and the day of
  harvest could be turned too (its limits name them)?

  underlamp demo --no-serve
  underlamp plan underlamp-demo/tier-2-middle.yaml --for area

  prints the bench as it is and the best plan side by side, what binds it, and the
  cheapest change. As JSON, with the trade-off against burn and with ramps:

  underlamp plan underlamp-demo/tier-2-middle.yaml --frontier --ramps --json`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runPlan(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.goal, "for", "electricity", "the goal: electricity, day, area or money")
	f.BoolVar(&o.frontier, "frontier", false, "also what a laxer limit of burn would bring")
	f.BoolVar(&o.ramps, "ramps", false, "also whether light that changes over the cycle pays")
	f.BoolVar(&o.json, "json", false, "print the figures as JSON")
	return cmd
}

func runPlan(cmd *cobra.Command, w World, opt planOptions) error {
	goal, ok := outlook.GoalOf(opt.goal)
	if !ok {
		return wrongf("--for: %q is no goal; it is electricity, day, area or money", opt.goal)
	}
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	b := m.Bench()
	x, err := o.Wider(cmd.Context(), outlook.WiderOptions{Goal: goal, Frontier: opt.frontier, Ramps: opt.ramps, Progress: func(what string, done, of int) {
		w.progress(done == of, "searching %s: %d of %d", what, done, of)
	}})
	if err != nil {
		if outlook.NeedsPrice(err) {
			return wrongf("--for money: %w", err)
		}
		return err
	}
	if opt.json {
		return writeJSON(w.Out, planJSON(b, x))
	}
	printPlan(w, b, x, opt)
	return nil
}

func printPlan(w World, b *underlamp.Bench, x *outlook.Wider, opt planOptions) {
	fmt.Fprintf(w.Out, "%s: the most %s under a chance of burn of %s\n\n", b.Name, x.Goal.Name(), quantity.Share.Format(x.Limit, b.Units, 3))
	writeParagraphs(w.Out, "  ", report.PlanSentences(b, x))
	row := func(name string, p outlook.Weighed) []string {
		return []string{name, report.GoalText(b, x.Goal, p.Value), working.Percent(p.Chance), quantity.Fixed(p.Fresh, 0), working.Percent(p.Sold), quantity.Fixed(p.Heads, 0), quantity.Number(p.KWh, 3)}
	}
	cols := []column{{head: ""}, {x.Goal.Name(), true}, {"chance of burn", true}, {"fresh g", true}, {"heads sold", true}, {"heads", true}, {"kWh", true}}
	name := "best"
	if !x.Found {
		name = "nearest"
	}
	fmt.Fprintln(w.Out)
	writeTable(w.Out, cols, [][]string{row("now", x.Now), row(name, x.Best)})
	writeParagraph(w.Out, "  ", fmt.Sprintf("(turned: %s; %d plans compared)", strings.Join(x.Turned, ", "), x.Searched))

	fmt.Fprintln(w.Out, "\nWhat binds, and what a little more would bring")
	if len(x.Bounds) == 0 {
		writeParagraph(w.Out, "  ", "The best plan touches no limit.")
	}
	for _, m := range x.Bounds {
		writeParagraph(w.Out, "  ", m.Name+": "+report.MarginalText(b, x, m)+".")
	}
	if len(x.Changes) > 0 {
		fmt.Fprintln(w.Out, "\nOne change at a time, on the bench as it is")
		rows := [][]string{}
		for _, c := range x.Changes {
			rows = append(rows, []string{c.Name, c.From, c.To, working.Percent(c.After.Chance), working.Signed(c.Gain.Mid, 1), report.ServesText(c)})
		}
		writeTable(w.Out, []column{{head: "change"}, {head: "from"}, {head: "to"}, {"chance of burn", true}, {x.Goal.Unit(b), true}, {head: ""}}, rows)
	}
	if opt.frontier {
		fmt.Fprintln(w.Out, "\nThe most by chance of burn, from fewer draws than above")
		rows := [][]string{}
		for _, p := range x.Frontier {
			rows = append(rows, append(row(working.Percent(p.Chance), p)[0:2:2], quantity.Fixed(p.Fresh, 0), working.Percent(p.Sold), report.DescribePlan(b, x.Now.Plan, p.Plan)))
		}
		writeTable(w.Out, []column{{"chance of burn", true}, {x.Goal.Name(), true}, {"fresh g", true}, {"heads sold", true}, {head: "how"}}, rows)
	}
	if opt.ramps {
		fmt.Fprintln(w.Out, "\nLight that changes over the cycle")
		writeParagraph(w.Out, "  ", report.RampVerdict(b, x))
	}
}

type planOut struct {
	Bench    string        `json:"bench"`
	Goal     string        `json:"goal"`
	Unit     string        `json:"unit"`
	Limit    number        `json:"limit_of_burn"`
	Found    bool          `json:"found"`
	Now      weighedOut    `json:"now"`
	Best     weighedOut    `json:"best"`
	Turned   []string      `json:"turned"`
	Searched int           `json:"plans_compared"`
	Bounds   []marginalOut `json:"bounds"`
	Changes  []changeOut   `json:"single_changes"`
	Frontier []weighedOut  `json:"frontier,omitempty"`
	Ramps    []rampOut     `json:"ramps,omitempty"`
}

type weighedOut struct {
	Setting settingOut `json:"setting"`
	Fan     string     `json:"fan"`
	Speed   number     `json:"air_speed_m_s"`
	Night   number     `json:"night_humidity"`
	CO2     number     `json:"co2_ppm"`
	Density number     `json:"plants_per_m2"`
	Days    int        `json:"days"`
	Value   number     `json:"value"`
	Chance  number     `json:"chance_of_burn"`
	Fresh   number     `json:"fresh_g"`
	Sold    number     `json:"share_of_heads_sold"`
	KWh     number     `json:"kwh"`
	Heads   number     `json:"heads"`
}

type marginalOut struct {
	Bound string  `json:"bound"`
	Gain  bandOut `json:"gain"`
	Told  bool    `json:"beyond_noise"`
}

type changeOut struct {
	Change string     `json:"change"`
	From   string     `json:"from"`
	To     string     `json:"to"`
	Gain   bandOut    `json:"gain"`
	Points bandOut    `json:"change_of_chance_points"`
	Serves bool       `json:"within_limits"`
	After  weighedOut `json:"after"`
}

type rampOut struct {
	Ramp    string        `json:"ramp"`
	Dimmers []rampStepOut `json:"dimmers"`
	Gain    bandOut       `json:"gain_over_constant"`
	Chance  number        `json:"chance_of_burn"`
	Pays    bool          `json:"beyond_noise"`
}

type rampStepOut struct {
	Day     int    `json:"from_day"`
	Dimming number `json:"dimming"`
}

func weighedJSON(p outlook.Weighed) weighedOut {
	return weighedOut{settingJSON(p.Plan.Setting), string(p.Plan.Fan), number(p.Plan.Speed), number(p.Plan.Night), number(p.Plan.CO2), number(p.Plan.Density), p.Plan.Days,
		number(p.Value), number(p.Chance), number(p.Fresh), number(p.Sold), number(p.KWh), number(p.Heads)}
}

func planJSON(b *underlamp.Bench, x *outlook.Wider) planOut {
	out := planOut{Bench: b.Name, Goal: x.Goal.Name(), Unit: x.Goal.Unit(b), Limit: number(x.Limit), Found: x.Found, Now: weighedJSON(x.Now), Best: weighedJSON(x.Best),
		Turned: x.Turned, Searched: x.Searched, Bounds: []marginalOut{}, Changes: []changeOut{}}
	for _, m := range x.Bounds {
		out.Bounds = append(out.Bounds, marginalOut{m.Name, band(m.Gain), m.Told()})
	}
	for _, c := range x.Changes {
		out.Changes = append(out.Changes, changeOut{c.Name, c.From, c.To, band(c.Gain), band(c.Points), c.Serves, weighedJSON(c.After)})
	}
	for _, p := range x.Frontier {
		out.Frontier = append(out.Frontier, weighedJSON(p))
	}
	for _, r := range x.Ramps {
		o := rampOut{Ramp: r.Name, Gain: band(r.Gain), Chance: number(r.After.Chance), Pays: r.Pays()}
		for _, st := range r.Days {
			o.Dimmers = append(o.Dimmers, rampStepOut{st.Day, number(st.Dimming)})
		}
		out.Ramps = append(out.Ramps, o)
	}
	return out
}
