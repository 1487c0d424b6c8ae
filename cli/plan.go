package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
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
  underlamp plan underlamp-demo/tier-2-middle.yaml --goal area

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
	f.StringVar(&o.goal, "goal", "electricity", "saleable mass for each kWh (electricity), day or m² (area); or money")
	renamedFlag(w, f, "for", "goal")
	f.BoolVar(&o.frontier, "frontier", false, "also what a laxer limit of burn would bring")
	f.BoolVar(&o.ramps, "ramps", false, "also whether light that changes over the cycle pays")
	jsonFlag(f, &o.json, "")
	return cmd
}

func runPlan(cmd *cobra.Command, w World, opt planOptions) error {
	goal, ok := outlook.GoalOf(opt.goal)
	if !ok {
		return wrongf("--goal: %q is no goal; it is electricity, day, area or money", opt.goal)
	}
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	b := m.Bench()
	x, err := o.Wider(cmd.Context(), outlook.WiderOptions{Goal: goal, Frontier: opt.frontier, Ramps: opt.ramps, Progress: func(what string, share float64) {
		w.progress(share, "searching %s: %.0f %%", what, 100*share)
	}})
	if err != nil {
		if outlook.NeedsPrice(err) {
			return wrongf("--goal money: %w", err)
		}
		return err
	}
	if opt.json {
		return writeJSON(w, aswire.Plan(b, x))
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
