package cli

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

type designOptions struct {
	bench, out, name, question, response, difference, expect, from, control, curve, between string
	levels, treatments, parts, factors, checks                                              []string
	lamps, cycles, plants, take, place, days, rounds                                        int
	seed                                                                                    uint64
	json, working                                                                           bool
}

// designOut is a proposal for programs.
type designOut struct {
	Name    string           `json:"name"`
	Layout  string           `json:"layout"`
	Unit    string           `json:"experimental_unit"`
	Repeats int              `json:"repeats"`
	DF      int              `json:"error_df"`
	Why     string           `json:"why"`
	Figures []working.Figure `json:"figures"`
	Cannot  []string         `json:"cannot_separate"`
}

func newTrialDesign(w World) *cobra.Command {
	var o designOptions
	cmd := &cobra.Command{
		Use:   "design",
		Short: "Layouts that would answer a question, what each could show, and the plan as a file",
		Long: `design proposes layouts for a question with the lamps, cycles and plants there are, and
says of each its unit, repeats, degrees of freedom, the chance of finding the smallest
difference worth knowing, and what it cannot tell apart, the most useful first. With a
bench it works out how each lamp must be dimmed so that its plants get what their
treatment claims. With -o it writes the plan, drawn at random by its seed.

Treatments are levels of light (--level), anything else (--treatment), or all
combinations of several things (--factor). Levels can be placed where an expected curve
is told best (--curve). What is looked at is mass, height, burn (yes or no), severity
(grades) or onset (day of the first burn); the last three are planned by simulation,
which takes some seconds.`,
		Example: `  Do 12 or 15 mol/m²/d under the two panels of the demo differ by 15 g?

  underlamp trial design --level "12 mol/m²/d" --level "15 mol/m²/d" --bench underlamp-demo/tier-2-middle.yaml --cycles 6 --difference "15 g" -o underlamp-demo/two-levels.trial.yaml

  Five levels under five lamps, with the scatter that the demo's trial had:

  underlamp trial design --level 10 --level 13 --level 16 --level 19 --level 22 --lamps 5 --plants 8 --cycles 4 --difference "12 g" --from underlamp-demo/light-levels.trial.yaml

  Light, hours and cultivar together, under four lamps:

  underlamp trial design --factor "PPFD=180,240 µmol/m²/s" --factor "hours=14,18 h" --factor "cultivar=green,red" --lamps 4 --cycles 4 --difference "15 g"

  How many plants burn at 12 and at 18 mol/m²/d, if about one in ten does at 12?

  underlamp trial design --level 12 --level 18 --lamps 4 --cycles 4 --response burn --expect "10 %" --difference "30 %"

  Five levels where a curve that flattens is told best:

  underlamp trial design --curve "Mitscherlich 180 0.12 2" --between "8 24" --place 5 --lamps 5 --cycles 4 --difference "15 g"`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDesign(cmd.Context(), w, o) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.levels, "level", nil, "a level of light as DLI, such as 15 or \"15 mol/m²/d\"; give each")
	f.StringArrayVar(&o.treatments, "treatment", nil, "a treatment that is no level of light; give each")
	f.StringArrayVar(&o.parts, "cultivar", nil, "cultivars to be grown side by side under every lamp: a split plot")
	f.StringArrayVar(&o.factors, "factor", nil, "something that is varied, with its levels, such as \"PPFD=180,240 µmol/m²/s\" or \"cultivar=green,red\"; give each, and all combinations are planned")
	f.StringArrayVar(&o.checks, "check", nil, "a treatment that stands in every cycle while the others stand once; give each")
	f.StringVar(&o.curve, "curve", "", "an expected curve over the light to place levels by: its form and numbers, such as \"Mitscherlich 180 0.12 2\", \"parabola 10 12 -0.3\" or \"logit -7 0.35\" for burn")
	f.StringVar(&o.between, "between", "", "with --curve: lowest and highest level of light, such as \"8 24\"")
	f.IntVar(&o.place, "place", 0, "with --curve: how many levels; one more than the curve has numbers if not given")
	f.StringVar(&o.control, "control", "", "the treatment that is the present setting")
	f.StringVar(&o.response, "response", "mass", "mass, height, burn, severity or onset (day of the first burn)")
	f.StringVar(&o.difference, "difference", "", "smallest difference worth knowing, such as \"12 g\"; of burn and severity a share of plants with burn, \"20 %\"; of onset days, \"5 d\"")
	f.StringVar(&o.expect, "expect", "", "what a plant is expected to reach (150 g, 20 cm if not given), of which scatter is a share; of burn and severity the share of plants with burn where there is least (10 %, 20 %), of onset the day by which half have burnt where it is latest (28 d)")
	f.StringVar(&o.from, "from", "", "an earlier trial to take the scatter from")
	f.StringVar(&o.bench, "bench", "", "bench file: lamps, plants and their light")
	f.IntVar(&o.lamps, "lamps", 0, "lamps, without a bench")
	f.IntVar(&o.plants, "plants", 8, "plants under a lamp, without a bench")
	f.IntVar(&o.cycles, "cycles", 1, "cycles that will be run")
	f.IntVar(&o.days, "days", 35, "of onset: days of a cycle")
	f.IntVar(&o.rounds, "rounds", 3, "of onset: days between two looks")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the randomisation")
	f.IntVar(&o.take, "take", 1, "which proposal to write with -o")
	f.StringVar(&o.name, "name", "Trial", "name of the trial")
	f.StringVar(&o.question, "question", "", "the question in words")
	f.StringVarP(&o.out, "output", "o", "", "write the plan to this file")
	f.BoolVar(&o.json, "json", false, "print the proposals as JSON")
	f.BoolVar(&o.working, "working", false, "show how each figure was reached")
	return cmd
}

// factor reads "PPFD=180,240 µmol/m²/s".
func factor(text string) (underlamp.TrialFactor, error) {
	name, list, ok := strings.Cut(text, "=")
	f := underlamp.TrialFactor{Name: strings.TrimSpace(name)}
	if !ok || f.Name == "" {
		return f, wrongf("--factor: %q; write a name, = and the levels, such as \"hours=14,18 h\"", text)
	}
	levels := strings.Split(list, ",")
	// A unit after the last number is that of all.
	last := strings.TrimSpace(levels[len(levels)-1])
	if number, unit, ok := strings.Cut(last, " "); ok {
		if _, err := strconv.ParseFloat(number, 64); err == nil {
			levels[len(levels)-1], f.Unit = number, strings.TrimSpace(unit)
		}
	}
	for _, l := range levels {
		l = strings.TrimSpace(l)
		switch {
		case l == "":
			return f, wrongf("--factor: %q has an empty level", text)
		case slices.Contains(f.Levels, l):
			return f, wrongf("--factor: %s has the level %s twice", f.Name, l)
		}
		f.Levels = append(f.Levels, l)
	}
	if len(f.Levels) < 2 {
		return f, wrongf("--factor: %s has one level; give two or more, such as \"hours=14,18 h\"", f.Name)
	}
	return f, nil
}

// placed are the levels of an expected curve.
func (o designOptions) placed(burnLimit float64) (*trial.Placed, error) {
	if o.between == "" {
		return nil, wrongf("--curve needs --between: the lowest and the highest level of light, such as --between \"8 24\"")
	}
	e, err := trial.ParseExpected(o.curve)
	if err != nil {
		return nil, wrongf("--curve: %v", err)
	}
	e.Limit = burnLimit
	var low, high float64
	if n, err := fmt.Sscanf(strings.ReplaceAll(o.between, "mol/m²/d", ""), "%g %g", &low, &high); err != nil || n != 2 {
		return nil, wrongf("--between: %q; write two numbers, such as \"8 24\"", o.between)
	}
	n := o.place
	if n == 0 {
		n = len(e.Parameters) + 1
	}
	p, err := trial.Levels(e, low, high, n)
	if err != nil {
		return nil, wrongf("--curve: %v", err)
	}
	return p, nil
}

// share reads "20 %" or 0.2.
func share(flag, text string) (float64, error) {
	x, err := quantity.Share.Parse(text)
	if err != nil {
		return 0, wrongf("%s: %v; write a share of plants, such as \"20 %%\"", flag, err)
	}
	return x, nil
}

// dayOf reads "24 d" or 24.
func dayOf(flag, text string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "d")), 64)
	if err != nil || !(x > 0) {
		return 0, wrongf("%s: %q; write days, such as \"24 d\"", flag, text)
	}
	return x, nil
}

// amounts reads difference and expectation of the response, and the scatter.
func (o designOptions) amounts(w World, a *trial.Ask) error {
	if o.difference == "" {
		return wrongf("say the smallest difference worth knowing, such as --difference \"12 g\" (or \"20 %%\" of plants with --response burn)")
	}
	expect := o.expect
	if expect == "" {
		expect = map[string]string{"mass": "150 g", "height": "20 cm", "burn": "10 %", "severity": "20 %", "onset": "28 d"}[o.response]
	}
	var err error
	a.Origin = underlamp.Default
	switch o.response {
	case "burn", "severity":
		if a.Difference, err = share("--difference", o.difference); err != nil {
			return err
		}
		if a.Burn.Base, err = share("--expect", expect); err != nil {
			return err
		}
		a.Burn.Rho, a.Burn.Logit, a.Burn.Cycle = 0.1, 0.7, 0.5
		a.Note = "assumed, no source; --from takes the correlation of burn from a trial of your own"
	case "onset":
		if a.Difference, err = dayOf("--difference", o.difference); err != nil {
			return err
		}
		if a.Burn.Base, err = dayOf("--expect", expect); err != nil {
			return err
		}
		if o.rounds < 1 || o.days < 2*o.rounds || o.days > 400 {
			return wrongf("--rounds and --days: at least two looks in a cycle of up to 400 days")
		}
		for d := o.rounds; d <= o.days; d += o.rounds {
			a.Burn.Rounds = append(a.Burn.Rounds, float64(d))
		}
		a.Burn.Log, a.Burn.Shape, a.Burn.Cycle = 0.15, 3, 0.1
		a.Note = "assumed, no source"
	default:
		if a.Difference, err = trialtable.Value(a.Response, o.difference); err != nil {
			return wrongf("--difference: %v", err)
		}
		x, err := trialtable.Value(a.Response, expect)
		if err != nil {
			return wrongf("--expect: %v", err)
		}
		lamp, plant, cycle, note := trial.Published()
		a.Lamp, a.Plant, a.Cycle, a.Note = lamp*x, plant*x, cycle*x, note
	}
	if o.from == "" {
		return nil
	}
	t, err := loadTrial(w, o.from)
	if err != nil {
		return err
	}
	_, all, err := loadTable(t, o.from)
	if err != nil {
		return err
	}
	standing := trialtable.Standing(all)
	switch o.response {
	case "burn":
		a.Burn.Rho, err = trial.ScatterOfBurn(t, standing)
	case "severity", "onset":
		return wrongf("--from: the scatter of grades and of days is not taken from earlier trials; leave --from out")
	default:
		if t.Response != a.Response {
			return wrongf("%s: its response is %s and yours is %s; scatter does not carry over", o.from, t.Response, a.Response)
		}
		a.Lamp, a.Plant, a.Cycle, err = trial.Scatter(t, standing)
	}
	if err != nil {
		return wrongf("%s: %v", o.from, err)
	}
	a.Origin, a.Note = underlamp.Fitted, "from "+filepath.Base(o.from)
	return nil
}

func (o designOptions) ask(w World) (trial.Ask, *trial.Placed, *light.Model, error) {
	a := trial.Ask{Name: o.name, Question: o.question, Response: underlamp.Response(o.response), Cycles: o.cycles, Plants: o.plants, Seed: o.seed, Parts: o.parts, Checks: o.checks}
	var placed *trial.Placed
	fail := func(err error) (trial.Ask, *trial.Placed, *light.Model, error) { return a, nil, nil, err }
	switch o.response {
	case "mass", "height", "burn", "severity":
	case "onset":
		a.Response, a.Onset = underlamp.ResponseBurn, true
	default:
		return fail(wrongf("--response: mass, height, burn, severity or onset, not %q", o.response))
	}
	ways := 0
	for _, given := range []bool{len(o.levels)+len(o.treatments) > 0, len(o.factors) > 0, o.curve != ""} {
		if given {
			ways++
		}
	}
	if ways > 1 {
		return fail(wrongf("give --level and --treatment, or --factor, or --curve, not several of them"))
	}
	for _, text := range o.factors {
		f, err := factor(text)
		if err != nil {
			return fail(err)
		}
		for _, other := range a.Factors {
			if other.Name == f.Name {
				return fail(wrongf("--factor: %s is given twice", f.Name))
			}
		}
		a.Factors = append(a.Factors, f)
	}
	if len(a.Factors) > 0 {
		var err error
		if a.Treatments, err = trial.Combine(a.Factors); err != nil {
			return fail(wrongf("%v", err))
		}
	}
	if o.curve != "" {
		p, err := o.placed(0.2)
		if err != nil {
			return fail(err)
		}
		placed = p
		for _, x := range p.Levels {
			a.Treatments = append(a.Treatments, underlamp.Treatment{Name: quantity.Number(x, 4) + " mol", DLI: quantity.DLI(x)})
		}
	}
	for _, l := range o.levels {
		x, err := quantity.DailyIntegral.Parse(l)
		if err != nil {
			if x, err = quantity.DailyIntegral.Parse(l + " mol/m²/d"); err != nil {
				return fail(wrongf("--level: %v", err))
			}
		}
		a.Treatments = append(a.Treatments, underlamp.Treatment{Name: quantity.Number(x, 4) + " mol", DLI: quantity.DLI(x)})
	}
	for _, n := range o.treatments {
		a.Treatments = append(a.Treatments, underlamp.Treatment{Name: n})
	}
	known := o.control == ""
	seen := map[string]bool{}
	for i, t := range a.Treatments {
		if seen[t.Name] {
			return fail(wrongf("the treatment %q is given twice", t.Name))
		}
		seen[t.Name] = true
		if t.Name == o.control {
			a.Treatments[i].Control, known = true, true
		}
	}
	if !known {
		return fail(wrongf("--control: no treatment is called %q", o.control))
	}
	if err := o.amounts(w, &a); err != nil {
		return fail(err)
	}
	if o.bench == "" {
		for i := range o.lamps {
			a.Lamps = append(a.Lamps, fmt.Sprintf("lamp %d", i+1))
		}
		return a, placed, nil, nil
	}
	m, err := loadModel(w, o.bench)
	if err != nil {
		return fail(err)
	}
	least := len(m.Bench().Plants)
	for k, g := range trial.Groups(m.Bench()) {
		a.Lamps = append(a.Lamps, m.Bench().Lamps[k].Name)
		least = min(least, len(g))
	}
	a.Plants = least
	return a, placed, m, nil
}

func runDesign(ctx context.Context, w World, o designOptions) error {
	a, placed, m, err := o.ask(w)
	if err != nil {
		return err
	}
	proposals, not, err := trial.ProposeContext(ctx, a, func(what string, done, of int) {
		w.progress(done >= of, "%s: %s", what, working.Percent(float64(done)/float64(of)))
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		return wrongf("%v", err)
	}
	if len(proposals) == 0 {
		return wrongf("%s", strings.Join(not, " "))
	}
	if o.take < 1 || o.take > len(proposals) {
		return wrongf("--take: from 1 to %d", len(proposals))
	}
	p := proposals[o.take-1]
	if m != nil {
		p.Trial.Bench = filepath.Base(o.bench)
	}
	if o.json {
		var out []designOut
		for _, p := range proposals {
			out = append(out, designOut{p.Name, string(p.Layout), p.Unit, p.Repeats, p.DF, p.Why, p.Figures, p.Cannot})
		}
		if err := writeJSON(w.Out, out); err != nil {
			return err
		}
	} else {
		if placed != nil {
			fmt.Fprintln(w.Out, "Levels of light placed by the expected curve:")
			writeFigures(w.Out, placed.Figures)
			writeParagraphs(w.Out, "   - ", placed.Says)
			fmt.Fprintln(w.Out)
		}
		for i, p := range proposals {
			fmt.Fprintf(w.Out, "%d  %s\n", i+1, p.Name)
			writeParagraph(w.Out, "   ", p.Why)
			writeParagraph(w.Out, "   ", fmt.Sprintf("The unit is %s; %s, %s of freedom of error.", p.Unit, count(p.Repeats, "repeat"), count(p.DF, "degree")))
			writeFigures(w.Out, p.Figures)
			writeParagraphs(w.Out, "   - ", p.Cannot)
			if p.Power < trial.Goal {
				writeParagraph(w.Out, "   - ", "This is likely to miss a difference that is worth knowing. More cycles help most.")
			}
		}
		writeParagraphs(w.Out, "not: ", not)
		writeParagraph(w.Out, "", a.Scatter())
		fmt.Fprintf(w.Out, "\nThe layout of proposal %d, seed %d:\n", o.take, a.Seed)
		printLayout(w, p.Trial)
		if o.working {
			writeWorking(w.Out, p.Figures)
		}
	}
	if m != nil && !o.json {
		l, err := trial.CheckLight(m, p.Trial, trial.LightOptions{})
		if err != nil {
			return err
		}
		printLightCheck(w, l)
		if o.working {
			writeWorking(w.Out, l.Figures())
		}
	}
	if o.out == "" {
		return nil
	}
	p.Trial.Table = strings.TrimSuffix(filepath.Base(o.out), filepath.Ext(o.out)) + ".csv"
	var b bytes.Buffer
	if err := trialfile.Write(&b, p.Trial); err != nil {
		return err
	}
	if err := writeFile(o.out, b.Bytes()); err != nil {
		return err
	}
	if !o.json {
		fmt.Fprintf(w.Out, "\n%s: the plan; underlamp trial sheet %s prints it\n", o.out, o.out)
	}
	return nil
}

// printLayout shows cycles by lamps.
func printLayout(w World, t *underlamp.Trial) {
	head, rows := report.TrialLayout(t)
	var columns []column
	for _, h := range head {
		columns = append(columns, column{head: h})
	}
	writeTable(w.Out, columns, rows)
}
