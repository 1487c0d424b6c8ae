package cli

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/trialfile"
	"underlamp/report"
	"underlamp/safefolder"
	"underlamp/wire"
	"underlamp/working"
)

type designOptions struct {
	bench, out, name, question, response, difference, expect, from, control, curve, between, hours string
	levels, treatments, parts, factors, checks                                                     []string
	lamps, cycles, plants, take, place, days, rounds                                               int
	seed                                                                                           uint64
	json, working                                                                                  bool
}

// designOut is a proposal for programs.
type designOut struct {
	Name    string        `json:"name" doc:"of the layout, in words"`
	Layout  string        `json:"layout" doc:"its key"`
	Unit    string        `json:"experimental_unit" doc:"what is treated as one: the experimental unit"`
	Repeats int           `json:"repeats" doc:"of each treatment"`
	DF      int           `json:"error_df" doc:"degrees of freedom of the error"`
	Why     string        `json:"why" doc:"when it is the right one"`
	Figures []wire.Figure `json:"figures" doc:"what it could show, with working"`
	Cannot  []string      `json:"cannot_separate" doc:"what it cannot tell apart"`
	Light   []string      `json:"light,omitempty" doc:"of the proposal that is taken, on a bench: what the light of its units says, and what guards leave of the chance"`
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

  underlamp trial design --level 10 --level 13 --level 16 --level 19 --level 22 --lamps 5 --plants-per-lamp 8 --cycles 4 --difference "12 g" --scatter-from underlamp-demo/light-levels.trial.yaml

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
	f.StringArrayVar(&o.levels, "level", nil, "a level of light as DLI, such as 15 or \"15 mol/m²/d\"; may be given several times; as PPFD with --hours")
	f.StringVar(&o.hours, "hours", "", "hours of light a day, such as \"16 h\"; for --level as PPFD")
	f.StringArrayVar(&o.treatments, "treatment", nil, "a treatment that is no level of light; may be given several times")
	f.StringArrayVar(&o.parts, "cultivar", nil, "cultivars to be grown side by side under every lamp: a split plot")
	f.StringArrayVar(&o.factors, "factor", nil, "something that is varied, with its levels, such as \"PPFD=180,240 µmol/m²/s\" or \"cultivar=green,red\"; may be given several times, and all combinations are planned")
	f.StringArrayVar(&o.checks, "check", nil, "a treatment that stands in every cycle while the others stand once; may be given several times")
	f.StringVar(&o.curve, "curve", "", "an expected curve over the light to place levels by: its form and numbers, such as \"Mitscherlich 180 0.12 2\", \"parabola 10 12 -0.3\" or \"logit -7 0.35\" for burn")
	f.StringVar(&o.between, "between", "", "with --curve: lowest and highest level of light as DLI in mol/m²/d, such as \"8 24\"")
	f.IntVar(&o.place, "place", 0, "with --curve: number of levels (default: one more than the curve has numbers)")
	f.StringVar(&o.control, "control", "", "the treatment that is the present setting")
	f.StringVar(&o.response, "response", "mass", "what is compared: mass, height, burn, severity or onset, the day of the first burn")
	f.StringVar(&o.difference, "difference", "", "smallest difference worth knowing, such as \"12 g\"; of burn and severity a share of plants with burn, \"20 %\"; of onset days, \"5 d\"")
	f.StringVar(&o.expect, "expect", "", "what a plant is expected to reach (150 g, 20 cm if not given), of which scatter is a share; of burn and severity the share of plants with burn where there is least (10 %, 20 %), of onset the day by which half have burnt where it is latest (28 d)")
	f.StringVar(&o.from, "scatter-from", "", "an earlier trial to take the scatter from")
	renamedFlag(w, f, "from", "scatter-from")
	f.StringVar(&o.bench, "bench", "", "bench file; its lamps, plants and their light are taken")
	f.IntVar(&o.lamps, "lamps", 0, "number of lamps; without --bench")
	f.IntVar(&o.plants, "plants-per-lamp", 8, "number of plants under a lamp; without --bench")
	renamedFlag(w, f, "plants", "plants-per-lamp")
	renamedFlag(w, f, "take", "proposal")
	f.IntVar(&o.cycles, "cycles", 1, "number of cycles that will be run")
	f.IntVar(&o.days, "days", 35, "days of a cycle; for --response onset")
	f.IntVar(&o.rounds, "rounds", 3, "days between two looks; for --response onset")
	seedFlag(f, &o.seed, 1)
	f.IntVar(&o.take, "proposal", 1, "which proposal to write with -o")
	f.StringVar(&o.name, "name", "Trial", "name of the trial")
	f.StringVar(&o.question, "question", "", "the question in words")
	outputFlag(f, &o.out, "no plan is written")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
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

// flags are what fields of a question are called on the command line.
var flags = map[string]string{"levels": "level", "treatments": "treatment", "parts": "cultivar", "factors": "factor", "checks": "check"}

func (o designOptions) ask(w World) (trial.Ask, *trial.Placed, *light.Model, error) {
	var placed *trial.Placed
	fail := func(err error) (trial.Ask, *trial.Placed, *light.Model, error) { return trial.Ask{}, nil, nil, err }
	ways := 0
	for _, given := range []bool{len(o.levels)+len(o.treatments) > 0, len(o.factors) > 0, o.curve != ""} {
		if given {
			ways++
		}
	}
	if ways > 1 {
		return fail(wrongf("give --level and --treatment, or --factor, or --curve, not several of them"))
	}
	q := trialbook.Question{Name: o.name, Question: o.question, Levels: o.levels, Hours: o.hours, Treatments: o.treatments, Factors: o.factors, Checks: o.checks, Parts: o.parts, Control: o.control, Response: o.response, Difference: o.difference, Expect: o.expect,
		Days: fmt.Sprint(o.days), Rounds: fmt.Sprint(o.rounds), Bench: o.bench, Lamps: fmt.Sprint(o.lamps), Cycles: fmt.Sprint(o.cycles), Plants: fmt.Sprint(o.plants), Seed: fmt.Sprint(o.seed)}
	if o.curve != "" {
		p, err := o.placed(0.2)
		if err != nil {
			return fail(err)
		}
		placed = p
		for _, x := range p.Levels {
			q.Levels = append(q.Levels, strconv.FormatFloat(x, 'g', -1, 64)+" mol/m²/d")
		}
	}
	place := safefolder.New(".")
	if o.from != "" {
		if _, _, err := openTrial(w, o.from); err != nil { // its mistakes are shown
			return fail(err)
		}
		place, q.From = safefolder.New(filepath.Dir(o.from)), filepath.Base(o.from)
	}
	var opening error // of the bench, with its mistakes shown
	a, err := q.Ask(place, func(file string) (m *light.Model, err error) {
		m, opening = loadModel(w, file)
		return m, opening
	})
	if opening != nil {
		return fail(opening)
	}
	var faults trialbook.FieldErrors
	if errors.As(err, &faults) {
		var says []string
		for _, f := range faults {
			says = append(says, "--"+cmp.Or(flags[f.Field], f.Field)+": "+f.Reason)
		}
		return fail(wrongf("%s", strings.Join(says, "\n")))
	}
	if err != nil {
		return fail(err)
	}
	return a.Ask, placed, a.Model, nil
}

func runDesign(ctx context.Context, w World, o designOptions) error {
	a, placed, m, err := o.ask(w)
	if err != nil {
		return err
	}
	proposals, not, err := trial.ProposeContext(ctx, a, func(what string, done, of int) {
		w.progress(part(done, of), "%s: %s", what, working.Percent(part(done, of)))
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
		return wrongf("--proposal: from 1 to %d", len(proposals))
	}
	p := proposals[o.take-1]
	if m != nil {
		p.Trial.Bench = filepath.Base(o.bench)
	}
	var light *trial.TrialLight // of the proposal that is taken
	if m != nil {
		if light, err = trial.CheckLight(m, p.Trial, trial.LightOptions{}); err != nil {
			return err
		}
		if s := a.Counted(ctx, &p, light); s != "" {
			light.Says = append(light.Says, s)
		}
	}
	if o.json {
		out := designsOut{Proposals: []designOut{}}
		for i, p := range proposals {
			d := designOut{Name: p.Name, Layout: string(p.Layout), Unit: p.Unit, Repeats: p.Repeats, DF: p.DF, Why: p.Why, Figures: aswire.Figures(p.Figures), Cannot: p.Cannot}
			if light != nil && i == o.take-1 {
				d.Light = light.Says
			}
			out.Proposals = append(out.Proposals, d)
		}
		if err := writeJSON(w, out); err != nil {
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
	if light != nil && !o.json {
		printLightCheck(w, light)
		if o.working {
			writeWorking(w.Out, light.Figures())
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

// designsOut is the layouts that would answer a question.
type designsOut struct {
	Proposals []designOut `json:"proposals" doc:"best first"`
}
