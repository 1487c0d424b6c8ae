package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/app/aim"
	"underlamp/app/aswire"
	"underlamp/app/light"
	"underlamp/science/quantity"
	"underlamp/working"
)

type matchOptions struct {
	files                                   []string
	first, second, by, level                string
	canopy, dimStep, within                 string
	highest, heights, twoMeters, json, work bool
}

func newMatch(w World) *cobra.Command {
	var o matchOptions
	cmd := &cobra.Command{
		Use:   "match FILE_A [FILE_B]",
		Short: "Bring two benches, or two groups of plants, to one PPFD or DLI",
		Long: `match dims two benches to one mean PPFD or DLI, so that they can be compared: under
lamps of unlike colour, say. With one file, --first and --second name the plants of
the two groups. Lamps of one kind on one bench are dimmed alike. It takes the lower
of the two levels, the one given by --both, or with --highest the greatest that
both can have; and says how sure it is that the two are equal.`,
		Example: `  Two tiers of the demo under unlike lamps, brought to one light:

  underlamp demo --no-serve
  underlamp match underlamp-demo/tier-1-top.yaml underlamp-demo/tier-2-middle.yaml
  underlamp match underlamp-demo/tier-1-top.yaml underlamp-demo/tier-2-middle.yaml --equal dli --highest --heights

  Two groups of plants on one bench:

  underlamp match underlamp-demo/tier-1-top.yaml --first "P1, P2, P7, P8" --second "P5, P6, P11, P12"`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return &wrongError{err: fmt.Errorf("%s takes two bench files, or one with two groups of plants (%s --help shows its use)", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.files = args
			return runMatch(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.first, "first", "", `names of the plants of the first group, parted by commas (default: all of the first file)`)
	f.StringVar(&o.second, "second", "", `names of the plants of the second group`)
	f.StringVar(&o.by, "equal", "ppfd", "what shall be equal: ppfd or dli")
	renamedFlag(w, f, "by", "equal")
	renamedFlag(w, f, "level", "both")
	f.StringVar(&o.level, "both", "", `level for both, for example "200 µmol/m²/s" or "12 mol/m²/d" (default: the lower of the two now)`)
	f.BoolVar(&o.highest, "highest", false, "the highest level that both can have")
	f.BoolVar(&o.heights, "heights", false, "search the heights too, not the dimming alone")
	f.StringVar(&o.canopy, "canopy", "", "height at which the light is wanted (default: the planting surface)")
	f.StringVar(&o.dimStep, "dim-step", "", `step of the dimmers (default 5 %), or none`)
	f.StringVar(&o.within, "within", "", "tolerance as a share (default 2 %); by how much the steps of the dimmers may leave the two apart")
	f.BoolVar(&o.twoMeters, "two-meters", false, "the two benches were read by different meters")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.work)
	return cmd
}

func (o *matchOptions) ask() (aim.MatchAsk, error) {
	var r amounts
	a := aim.MatchAsk{Highest: o.highest, Heights: o.heights, TwoMeters: o.twoMeters}
	switch strings.ToLower(o.by) {
	case "ppfd":
		a.Level = r.read("both", o.level, quantity.PhotonFluxDensity)
	case "dli":
		a.DLI = true
		a.Level = r.read("both", o.level, quantity.DailyIntegral)
	default:
		return a, wrongf("--equal %q is not known; it can be ppfd or dli", o.by)
	}
	a.Canopy = quantity.Metre(r.read("canopy", o.canopy, quantity.Length))
	a.Tolerance = quantity.Fraction(r.read("within", o.within, quantity.Share))
	if r.err != nil {
		return a, r.err
	}
	var err error
	if a.Step, a.Stepless, err = dimStepOf(o.dimStep); err != nil {
		return a, err
	}
	a.A.Plants, a.B.Plants = plantNames(o.first), plantNames(o.second)
	if len(o.files) == 1 && (a.A.Plants == nil || a.B.Plants == nil) {
		return a, wrongf(`one bench needs two groups of plants: --first "P1, P2" --second "P5, P6"`)
	}
	return a, nil
}

func plantNames(text string) (out []string) {
	for _, s := range strings.Split(text, ",") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func runMatch(cmd *cobra.Command, w World, o matchOptions) error {
	a, err := o.ask()
	if err != nil {
		return err
	}
	var models []*light.Model
	for _, f := range o.files {
		m, err := loadModel(w, f)
		if err != nil {
			return err
		}
		models = append(models, m)
	}
	a.A.Model, a.B.Model = models[0], models[len(models)-1]
	r, err := aim.Match(cmd.Context(), a)
	if err != nil {
		return asked(err)
	}
	if o.json {
		return writeJSON(w, aswire.Match(r))
	}
	printMatch(w, r)
	if o.work {
		writeWorking(w.Out, append(figuresOf(r), r.Ratio))
	}
	return nil
}

func printMatch(w World, r *aim.MatchResult) {
	what := "PPFD"
	if r.Ask.DLI {
		what = "DLI"
	}
	fmt.Fprintf(w.Out, "%s and %s: one mean %s\n\n", sideName(r, 0), sideName(r, 1), what)
	rows := [][]string{}
	for j := range r.Before {
		for i, s := range [2]aim.SideAnswer{r.Before[j], r.After[j]} {
			name, when := "", "now"
			if i == 0 {
				name = sideName(r, j)
			} else if when = "matched"; !r.Found {
				continue
			}
			p := aim.Proposal{Dim: s.Dim}
			rows = append(rows, []string{name, when, length(s.Bench, s.Height), strings.Join(dimNames(&p, s), ", "), quantity.Number(float64(s.Hours), 4),
				s.Level.Text(), s.Level.BandText(), quantity.Fixed(100*s.Uneven, 0) + " %"})
		}
	}
	writeTable(w.Out, []column{{head: ""}, {head: ""}, {"lamps at", true}, {head: "dimming"}, {"hours", true}, {"mean " + what, true}, {head: ""}, {"spread", true}}, rows)
	fmt.Fprintln(w.Out)
	if r.Found {
		writeParagraph(w.Out, "  ", fmt.Sprintf("The second has %s times the light of the first, %s to %s with 90 %% probability; the chance that the two are more than 5 %% apart is %s %%. Electricity of a day: %s kWh instead of %s kWh.",
			quantity.Number(r.Ratio.Value, 3), quantity.Number(r.Ratio.Band.Low, 2), quantity.Number(r.Ratio.Band.High, 3), quantity.Fixed(100*float64(r.Apart), 0),
			quantity.Number(float64(r.DayAfter), 3), quantity.Number(float64(r.DayBefore), 3)))
	}
	writeParagraphs(w.Out, "  ", r.Limits)
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  ! ", r.Notes)
}

// sideName names a side: the bench, and the plants if there are two groups on one.
func sideName(r *aim.MatchResult, j int) string {
	s := r.Before[j]
	if r.Before[0].Bench != r.Before[1].Bench {
		return s.Bench.Name
	}
	return "plants " + strings.Join(s.Plants, " ")
}

func dimNames(p *aim.Proposal, s aim.SideAnswer) []string {
	alike := true
	for _, d := range p.Dim {
		alike = alike && d == p.Dim[0]
	}
	if alike {
		return []string{dimOf(p.Dim[0]) + " all"}
	}
	var out []string
	for k, l := range s.Bench.Lamps {
		out = append(out, l.Name+" "+dimOf(p.Dim[k]))
	}
	return out
}

func figuresOf(r *aim.MatchResult) (out []working.Figure) {
	for _, s := range r.After {
		f := s.Level
		f.Name += ", " + s.Bench.Name
		out = append(out, f)
	}
	return out
}
