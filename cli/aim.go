package cli

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aim"
	"underlamp/app/aswire"
	"underlamp/report"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

// aimOptions are the options of aim as written.
type aimOptions struct {
	file                                       string
	target, dli, least, most, wanted           string
	atMost, within, sure, hours                string
	canopy, clearance, dimStep, lamps          string
	tariff, dark, lightFrom, lightUntil        string
	keepHeight, oneDimmer, mayBeOff, inStretch bool
	json, working                              bool
	picture                                    string
}

func newAim(w World) *cobra.Command {
	var o aimOptions
	cmd := &cobra.Command{
		Use:   "aim FILE",
		Short: "Height, dimming and hours for a target of PPFD or DLI with the least electricity",
		Long: `aim finds how the lamps of a bench should hang, how far each should be dimmed and
for how long they should burn, to give the plants a target of PPFD or DLI: with the
least electricity, as evenly as can be, or with as many plants near the target as
can be. It keeps the limits of the bench, shows before and after, the runners-up,
what limits, and electricity against evenness. Nothing is written to the bench.

With a tariff it also says when the lamps should burn. With --try-lamps it tries other
numbers of lamps in even rows.`,
		Example: `  180 µmol/m²/s for every plant of the demo's top tier, with the least electricity:

  underlamp demo --no-serve
  underlamp aim underlamp-demo/tier-1-top.yaml --target "180 µmol/m²/s"

  As even as can be, or lit when power is cheap, or with another number of lamps:

  underlamp aim underlamp-demo/tier-1-top.yaml --dli "12 mol/m²/d" --most even
  underlamp aim underlamp-demo/tier-1-top.yaml --dli "12 mol/m²/d" --tariff "07:00-23:00 0.34, 23:00-07:00 0.19" --dark "6 h"
  underlamp aim underlamp-demo/tier-1-top.yaml --target "180 µmol/m²/s" --try-lamps "2 to 4"`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runAim(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.target, "target", "", `PPFD wanted, for example "180 µmol/m²/s"`)
	f.StringVar(&o.dli, "dli", "", `DLI wanted instead, for example "12 mol/m²/d"; the hours are then searched`)
	f.StringVar(&o.least, "least", "", `what shall be least: electricity (default)`)
	f.StringVar(&o.most, "most", "", `what shall be most instead: even (light), or within (plants near the target, see --within)`)
	f.StringVar(&o.wanted, "for", "every", `who shall have the target: every plant, the mean, or a share such as "90 %"`)
	f.StringVar(&o.atMost, "at-most", "", `greatest PPFD that any plant may have`)
	f.StringVar(&o.within, "within", "", "tolerance as a share (default 10 %); how near to the target counts as near")
	f.StringVar(&o.sure, "sure", "", `how sure the target shall be reached, the level being known only so well (default 50 %)`)
	f.StringVar(&o.hours, "hours", "", `hours of light a day, such as "16 h"; or free, to search them within the limits`)
	f.StringVar(&o.canopy, "canopy", "", `height at which the light is wanted (default: the planting surface)`)
	f.StringVar(&o.clearance, "clearance", "", "least distance between plants and lamps")
	f.BoolVar(&o.keepHeight, "keep-height", false, "leave the lamps where they hang")
	f.BoolVar(&o.oneDimmer, "one-dimmer", false, "all lamps hang on one dimmer")
	f.BoolVar(&o.mayBeOff, "may-be-off", false, "single lamps may be switched off")
	f.StringVar(&o.dimStep, "dim-step", "", `step of the dimmers (default 5 %), or none`)
	f.StringVar(&o.lamps, "try-lamps", "", `numbers of lamps to try in even rows, for example "2 to 6"`)
	f.StringVar(&o.tariff, "tariff", "", `price of a kWh by time of day, for example "07:00-23:00 0.34, 23:00-07:00 0.19"`)
	f.StringVar(&o.dark, "dark", "", `whole dark period that must be kept, for example "6 h"`)
	f.StringVar(&o.lightFrom, "light-from", "", `earliest time of light, for example 18:00 (with --light-until)`)
	f.StringVar(&o.lightUntil, "light-until", "", `latest time of light`)
	f.BoolVar(&o.inStretch, "broken-day", false, "light may come in several stretches outside the dark period")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	htmlFlag(f, &o.picture)
	renamedFlag(w, f, "lamps", "try-lamps")
	renamedFlag(w, f, "picture", "html")
	return cmd
}

// amount reads one amount of an option; empty text is 0.
func amount(option, text string, k quantity.Kind) (float64, error) {
	if text == "" {
		return 0, nil
	}
	v, err := k.Parse(text)
	if err != nil {
		return 0, &wrongError{err: fmt.Errorf("--%s: %w", option, err)}
	}
	if v <= 0 {
		return 0, &wrongError{err: fmt.Errorf("--%s: %s is not above 0", option, text)}
	}
	return v, nil
}

// amounts reads several; the first mistake wins.
type amounts struct{ err error }

func (a *amounts) read(option, text string, k quantity.Kind) float64 {
	if a.err != nil {
		return 0
	}
	v, err := amount(option, text, k)
	a.err = err
	return v
}

func wrongf(format string, args ...any) error { return &wrongError{err: fmt.Errorf(format, args...)} }

// ask turns the options into a question.
func (o *aimOptions) ask() (aim.Ask, error) {
	var r amounts
	if _, err := quantity.PhotonFluxDensity.Parse(o.target); o.target != "" && err != nil {
		if _, err := quantity.DailyIntegral.Parse(o.target); err == nil {
			return aim.Ask{}, wrongf("--target is a PPFD, and %q is a DLI: write --dli %q", o.target, o.target)
		}
	}
	if _, err := quantity.DailyIntegral.Parse(o.dli); o.dli != "" && err != nil {
		if _, err := quantity.PhotonFluxDensity.Parse(o.dli); err == nil {
			return aim.Ask{}, wrongf("--dli is a DLI, and %q is a PPFD: write --target %q", o.dli, o.dli)
		}
	}
	a := aim.Ask{
		PPFD: quantity.PPFD(r.read("target", o.target, quantity.PhotonFluxDensity)), DLI: quantity.DLI(r.read("dli", o.dli, quantity.DailyIntegral)),
		AtMost:    quantity.PPFD(r.read("at-most", o.atMost, quantity.PhotonFluxDensity)),
		Tolerance: quantity.Fraction(r.read("within", o.within, quantity.Share)),
		Sure:      quantity.Fraction(r.read("sure", o.sure, quantity.Share)),
		Canopy:    quantity.Metre(r.read("canopy", o.canopy, quantity.Length)),
		Clearance: quantity.Metre(r.read("clearance", o.clearance, quantity.Length)),
		Dark:      quantity.Hours(r.read("dark", o.dark, quantity.Duration)),

		KeepHeight: o.keepHeight, OneDimmer: o.oneDimmer, MayBeOff: o.mayBeOff, Broken: o.inStretch,
	}
	if r.err != nil {
		return a, r.err
	}
	switch {
	case o.target == "" && o.dli == "":
		return a, wrongf(`aim needs a target: --target "180 µmol/m²/s" or --dli "12 mol/m²/d"`)
	case o.target != "" && o.dli != "":
		return a, wrongf("--target and --dli ask for two things; give one of them")
	case o.least != "" && o.most != "":
		return a, wrongf("--least and --most ask for two things; give one of them")
	}
	switch o.least {
	case "", "electricity":
	default:
		return a, wrongf("--least %q is not known; it can be electricity", o.least)
	}
	switch o.most {
	case "":
	case "even":
		a.Goal = aim.MostEven
	case "within":
		a.Goal = aim.MostWithin
	default:
		return a, wrongf("--most %q is not known; it can be even or within", o.most)
	}
	var err error
	if err = o.who(&a); err != nil {
		return a, err
	}
	if a.Step, a.Stepless, err = dimStepOf(o.dimStep); err != nil {
		return a, err
	}
	switch o.hours {
	case "free":
		a.FreeHours = true
	default:
		h, err := amount("hours", o.hours, quantity.Duration)
		if err != nil {
			return a, err
		}
		a.Hours = quantity.Hours(h)
	}
	if o.lamps != "" {
		if a.LampsFrom, a.LampsTo, err = lampNumbers(o.lamps); err != nil {
			return a, err
		}
	}
	return a, o.times(&a)
}

// who reads --for.
func (o *aimOptions) who(a *aim.Ask) error {
	switch strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(o.wanted), "the "), " plant") {
	case "every", "":
	case "mean":
		a.Mean = true
	default:
		v, err := quantity.Share.Parse(o.wanted)
		if err != nil || v <= 0 || v > 1 {
			return wrongf(`--for %q is not known; it can be every, mean, or a share such as "90 %%"`, o.wanted)
		}
		a.Share = quantity.Fraction(v)
	}
	if a.Goal != aim.LeastElectricity && (a.Mean || a.Share > 0) {
		return wrongf("--for says who shall have the target at least electricity; it does not go with --most %s", o.most)
	}
	return nil
}

// dimStepOf reads --dim-step.
func dimStepOf(text string) (step quantity.Fraction, stepless bool, err error) {
	if text == "none" {
		return 0, true, nil
	}
	v, err := amount("dim-step", text, quantity.Share)
	return quantity.Fraction(v), false, err
}

// lampNumbers reads "2 to 6", "2-6" or "4".
func lampNumbers(text string) (from, to int, err error) {
	parts := strings.SplitN(strings.NewReplacer(" to ", "-", "–", "-", "..", "-").Replace(text), "-", 2)
	from, err = strconv.Atoi(strings.TrimSpace(parts[0]))
	to = from
	if err == nil && len(parts) == 2 {
		to, err = strconv.Atoi(strings.TrimSpace(parts[1]))
	}
	if err != nil || from < 1 || to < from {
		return 0, 0, wrongf(`--try-lamps %q is no number of lamps; write "4" or "2 to 6"`, text)
	}
	return from, to, nil
}

// times reads the tariff and the window of light.
func (o *aimOptions) times(a *aim.Ask) error {
	if o.tariff != "" {
		t, err := energycost.ParseTariff(o.tariff)
		if err != nil {
			return wrongf("--tariff: %w", err)
		}
		a.Tariff = &t
	}
	if (o.lightFrom == "") != (o.lightUntil == "") {
		return wrongf("--light-from and --light-until go together")
	}
	if o.lightFrom != "" {
		for i, s := range []string{o.lightFrom, o.lightUntil} {
			q, err := energycost.ParseClock(s)
			if err != nil {
				return wrongf("--%s: %w", []string{"light-from", "light-until"}[i], err)
			}
			*[]*int{&a.From, &a.To}[i] = q
		}
		if a.From == a.To {
			return wrongf("--light-from and --light-until are the same time")
		}
	}
	return nil
}

func runAim(cmd *cobra.Command, w World, o aimOptions) error {
	a, err := o.ask()
	if err != nil {
		return err
	}
	m, err := loadModel(w, o.file)
	if err != nil {
		return err
	}
	r, err := aim.Reach(cmd.Context(), m, a, progressTo(w))
	if err != nil {
		return asked(err)
	}
	if o.picture != "" {
		if err := writeFile(o.picture, report.AimPage(r)); err != nil {
			return err
		}
	}
	if o.json {
		return writeJSON(w, aswire.Aim(r, report.Wanted(r.Bench, &r.Ask)))
	}
	printAim(w, r)
	if o.working {
		writeWorking(w.Out, r.AfterFigures)
	}
	return nil
}

// asked marks a question that makes no sense as the fault of the input.
func asked(err error) error {
	if _, ok := errors.AsType[*aim.AskError](err); ok {
		return &wrongError{err: err}
	}
	return err
}

func printAim(w World, r *aim.Result) {
	b := r.Bench
	fmt.Fprintf(w.Out, "%s: %s\n\n", b.Name, report.Wanted(b, &r.Ask))
	proposed := "proposed"
	if !r.Found {
		proposed = "nearest"
	}
	rows := [][]string{
		{"lamps at", length(b, r.Before.Height), length(b, r.After.Height), ""},
		{"hours of light", quantity.Duration.Format(float64(r.Before.Hours), b.Units, 4), quantity.Duration.Format(float64(r.After.Hours), b.Units, 4), ""},
	}
	if r.Ask.LampsTo > 0 {
		rows = append(rows, []string{"layout", r.Before.Layout.Name, r.After.Layout.Name, ""})
	}
	rows = append(rows, dimRows(r)...)
	if r.After.Light != nil {
		rows = append(rows, []string{"light from", "", strings.Join(stretches(&r.After), ", "), ""})
	}
	for i, f := range r.BeforeFigures {
		rows = append(rows, []string{f.Name, f.Text(), r.AfterFigures[i].Text(), r.AfterFigures[i].BandText()})
	}
	writeTable(w.Out, []column{{head: ""}, {"now", true}, {proposed, true}, {head: ""}}, rows)
	fmt.Fprintln(w.Out, "\nWhat limits")
	writeParagraphs(w.Out, "  ", r.Limits)
	if len(r.RunnerUps) > 0 {
		fmt.Fprintln(w.Out, "\nRunners-up")
		writeProposals(w, r, r.RunnerUps)
	}
	if len(r.Curve) > 1 {
		fmt.Fprintln(w.Out, "\nElectricity against evenness, the mean at the target, free dimmers")
		writeProposals(w, r, r.Curve)
	}
	if r.Ask.LampsTo > 0 && r.Found {
		fmt.Fprintln(w.Out, "\nPlaces of the lamps (from left, from front)")
		rows = rows[:0]
		for i, n := range r.After.Layout.Names() {
			rows = append(rows, []string{n, length(b, quantity.Metre(r.After.Layout.X[i])), length(b, quantity.Metre(r.After.Layout.Y[i]))})
		}
		writeTable(w.Out, []column{{head: "lamp"}, {"from left", true}, {"from front", true}}, rows)
	}
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  ! ", r.Notes)
}

func length(b *underlamp.Bench, v quantity.Metre) string {
	return quantity.Length.Format(float64(v), b.Units, 3)
}

// dimRows set the dimming of each lamp before beside after.
func dimRows(r *aim.Result) (rows [][]string) {
	before, after := aim.DimTexts(&r.Before), aim.DimTexts(&r.After)
	if len(before) == 1 && len(after) == 1 || r.Ask.LampsTo > 0 {
		return [][]string{{"dimming", strings.Join(before, ", "), strings.Join(after, ", "), ""}}
	}
	for k, n := range r.After.Layout.Names() {
		rows = append(rows, []string{"dimming of " + n, dimOf(r.Before.Dim[k]), dimOf(r.After.Dim[k]), ""})
	}
	return rows
}

func dimOf(d quantity.Fraction) string {
	if d == 0 {
		return "off"
	}
	return quantity.Number(100*float64(d), 3) + " %"
}

func stretches(p *aim.Proposal) (out []string) {
	for _, s := range p.Light {
		out = append(out, s.String())
	}
	return out
}

func writeProposals(w World, r *aim.Result, list []aim.Proposal) {
	rows := [][]string{}
	for i := range list {
		p := &list[i]
		name := length(r.Bench, p.Height)
		if r.Ask.LampsTo > 0 {
			name += ", " + p.Layout.Name
		}
		rows = append(rows, []string{
			name, aim.DimSummary(p), quantity.Number(float64(p.Hours), 4), quantity.Fixed(float64(p.Lowest), 0), quantity.Fixed(float64(p.Mean), 0),
			quantity.Fixed(float64(p.Top), 0), quantity.Fixed(100*p.Uneven, 0) + " %", quantity.Number(float64(p.Day), 3), quantity.Fixed(p.Money, 2),
		})
	}
	writeTable(w.Out, []column{{head: "lamps at"}, {head: "dimming"}, {"hours", true}, {"darkest", true}, {"mean", true}, {"brightest", true}, {"off target", true}, {"kWh/d", true}, {r.Currency + "/d", true}}, rows)
}
