package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
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
	bench, out, name, question, response, difference, expect, from, control string
	levels, treatments, parts                                               []string
	lamps, cycles, plants, take                                             int
	seed                                                                    uint64
	json, working                                                           bool
}

// designOut is a proposal for programs.
type designOut struct {
	Name    string           `json:"name"`
	Layout  string           `json:"layout"`
	Unit    string           `json:"experimental_unit"`
	Repeats int              `json:"repeats"`
	DF      int              `json:"error_df"`
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
difference worth knowing, and what it cannot tell apart. With a bench it works out how
each lamp must be dimmed so that its plants get what their treatment claims. With -o it
writes the plan, drawn at random by its seed.`,
		Example: `  Do 12 or 15 mol/m²/d under the two panels of the demo differ by 15 g?

  underlamp trial design --level "12 mol/m²/d" --level "15 mol/m²/d" --bench underlamp-demo/tier-2-middle.yaml --cycles 6 --difference "15 g" -o underlamp-demo/two-levels.trial.yaml

  Five levels under five lamps, with the scatter that the demo's trial had:

  underlamp trial design --level 10 --level 13 --level 16 --level 19 --level 22 --lamps 5 --plants 8 --cycles 4 --difference "12 g" --from underlamp-demo/light-levels.trial.yaml`,
		Args: noArguments,
		RunE: func(_ *cobra.Command, _ []string) error { return runDesign(w, o) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.levels, "level", nil, "a level of light as DLI, such as 15 or \"15 mol/m²/d\"; give each")
	f.StringArrayVar(&o.treatments, "treatment", nil, "a treatment that is no level of light; give each")
	f.StringArrayVar(&o.parts, "cultivar", nil, "cultivars to be grown side by side under every lamp: a split plot")
	f.StringVar(&o.control, "control", "", "the treatment that is the present setting")
	f.StringVar(&o.response, "response", "mass", "mass or height")
	f.StringVar(&o.difference, "difference", "", "smallest difference worth knowing, such as \"12 g\"")
	f.StringVar(&o.expect, "expect", "150 g", "what a plant is expected to reach; scatter is a share of it unless --from is given")
	f.StringVar(&o.from, "from", "", "an earlier trial to take the scatter from")
	f.StringVar(&o.bench, "bench", "", "bench file: lamps, plants and their light")
	f.IntVar(&o.lamps, "lamps", 0, "lamps, without a bench")
	f.IntVar(&o.plants, "plants", 8, "plants under a lamp, without a bench")
	f.IntVar(&o.cycles, "cycles", 1, "cycles that will be run")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the randomisation")
	f.IntVar(&o.take, "take", 1, "which proposal to write with -o")
	f.StringVar(&o.name, "name", "Trial", "name of the trial")
	f.StringVar(&o.question, "question", "", "the question in words")
	f.StringVarP(&o.out, "output", "o", "", "write the plan to this file")
	f.BoolVar(&o.json, "json", false, "print the proposals as JSON")
	f.BoolVar(&o.working, "working", false, "show how each figure was reached")
	return cmd
}

func (o designOptions) ask(w World) (trial.Ask, *light.Model, error) {
	a := trial.Ask{Name: o.name, Question: o.question, Response: underlamp.Response(o.response), Cycles: o.cycles, Plants: o.plants, Seed: o.seed, Parts: o.parts}
	if a.Response != underlamp.ResponseMass && a.Response != underlamp.ResponseHeight {
		return a, nil, wrongf("--response: mass or height; plans for counts and grades are not made yet")
	}
	for _, l := range o.levels {
		x, err := quantity.DailyIntegral.Parse(l)
		if err != nil {
			if x, err = quantity.DailyIntegral.Parse(l + " mol/m²/d"); err != nil {
				return a, nil, wrongf("--level: %v", err)
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
			return a, nil, wrongf("the treatment %q is given twice", t.Name)
		}
		seen[t.Name] = true
		if t.Name == o.control {
			a.Treatments[i].Control, known = true, true
		}
	}
	if !known {
		return a, nil, wrongf("--control: no treatment is called %q", o.control)
	}
	var err error
	if o.difference == "" {
		return a, nil, wrongf("say the smallest difference worth knowing, such as --difference \"12 g\"")
	}
	if a.Difference, err = trialtable.Value(a.Response, o.difference); err != nil {
		return a, nil, wrongf("--difference: %v", err)
	}
	expect, err := trialtable.Value(a.Response, o.expect)
	if err != nil {
		return a, nil, wrongf("--expect: %v", err)
	}
	a.Lamp, a.Cycle, a.Plant = 0.05*expect, 0.05*expect, 0.1*expect
	a.Origin, a.Note = underlamp.Default, "5 % of what is expected between lamps and between cycles, 10 % between plants: assumed, no source; --from takes them from a trial of your own"
	if o.from != "" {
		_, p, err := openTrial(w, o.from)
		if err != nil {
			return a, nil, err
		}
		if a.Lamp, a.Plant, a.Cycle, err = trial.Scatter(p.Trial, p.Standing()); err != nil {
			return a, nil, wrongf("%s: %v", o.from, err)
		}
		a.Origin, a.Note = underlamp.Fitted, "from "+filepath.Base(o.from)
	}
	if o.bench == "" {
		for i := range o.lamps {
			a.Lamps = append(a.Lamps, fmt.Sprintf("lamp %d", i+1))
		}
		return a, nil, nil
	}
	m, err := loadModel(w, o.bench)
	if err != nil {
		return a, nil, err
	}
	least := len(m.Bench().Plants)
	for k, g := range trial.Groups(m.Bench()) {
		a.Lamps = append(a.Lamps, m.Bench().Lamps[k].Name)
		least = min(least, len(g))
	}
	a.Plants = least
	return a, m, nil
}

func runDesign(w World, o designOptions) error {
	a, m, err := o.ask(w)
	if err != nil {
		return err
	}
	proposals, not, err := trial.Propose(a)
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
			out = append(out, designOut{p.Name, string(p.Layout), p.Unit, p.Repeats, p.DF, p.Figures, p.Cannot})
		}
		if err := writeJSON(w.Out, out); err != nil {
			return err
		}
	} else {
		for i, p := range proposals {
			fmt.Fprintf(w.Out, "%d  %s\n", i+1, p.Name)
			writeParagraph(w.Out, "   ", fmt.Sprintf("The unit is %s; %d repeats, %d degrees of freedom of error.", p.Unit, p.Repeats, p.DF))
			writeFigures(w.Out, p.Figures)
			writeParagraphs(w.Out, "   - ", p.Cannot)
			if p.Power < trial.Goal {
				writeParagraph(w.Out, "   - ", "This is likely to miss a difference that is worth knowing. More cycles help most.")
			}
		}
		writeParagraphs(w.Out, "not: ", not)
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
