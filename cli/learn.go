package cli

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/formats/profilefile"
	"underlamp/formats/trialfile"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/wire"
	"underlamp/working"
)

type learnOptions struct {
	file, out, html, name string
	cycles, trials        []string
	keep                  int
	seed                  uint64
	noBest, json, working bool
	paper                 paperFlag
}

func newLearn(w World) *cobra.Command {
	var o learnOptions
	cmd := &cobra.Command{
		Use:   "learn FILE [CYCLE…]",
		Short: "What your own cycles teach about the cultivar, and the outlook before and after",
		Long: `learn reads what was seen in cycles of a bench (weighings, heights, looks for
burn, see docs/formats/cycle.md), with the light that each plant had under the
settings of each day, and says how far the cultivar in this room lies from what is
usual: each trait before and after, which data told it and which do not fit, the
outlook before and after side by side, and the one observation that would tell most.

With --trial the harvests of a fair trial teach too: each block of it is one cycle, each
unit one repeat with the light that it got, whatever the number of its plants.

With -o it writes a profile. A bench file uses it with crop: {profile: FILE}, and
its outlook, map and best setting then rest on what was learned. No profile is
written if the draws do not stand for the posterior.`,
		Example: `  What does an invented summer crop on the middle tier teach?

  underlamp demo --no-serve
  underlamp learn underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.summer.cycle.yaml --no-best -o underlamp-demo/tarn-copper.profile.yaml

  prints the outlook before and after. Write profile: tarn-copper.profile.yaml under
  crop: in the bench file, and every outlook of that bench uses it. More cycles of
  the same bench may follow the first; --html lesson.html adds the pictures.

  What does the trial of the demo teach? A first look with few draws:

  underlamp learn underlamp-demo/trial-shelf.yaml --trial underlamp-demo/light-levels.trial.yaml --no-best --draws 200`,
		Args: benchAndCycles,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file, o.cycles = args[0], args[1:]
			return runLearn(cmd, w, o)
		},
	}
	f := cmd.Flags()
	outputFlag(f, &o.out, "no profile is written")
	f.StringArrayVar(&o.trials, "trial", nil, "a trial to learn from; its units are the repeats; may be given several times")
	htmlFlag(f, &o.html)
	o.paper.flag(cmd)
	f.StringVar(&o.name, "name", "", "name of the profile (default: cultivar and bench)")
	f.IntVar(&o.keep, "draws", 0, "draws that are kept of what was learned (default 2000)")
	seedFlag(f, &o.seed, 0)
	f.BoolVar(&o.noBest, "no-best", false, "leave out the search for the best setting before and after")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
}

// benchAndCycles takes a bench file and at least one cycle file.
func benchAndCycles(cmd *cobra.Command, args []string) error {
	trials, err := cmd.Flags().GetStringArray("trial")
	if err != nil || len(args) < 1 || len(args)+len(trials) < 2 {
		return &wrongError{err: fmt.Errorf("%s takes a bench file and at least one cycle file, or a trial with --trial, for example: %s mybench.yaml mybench.autumn.cycle.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

// loadHarvests reads what trials brought, for the crop of a bench. What cannot be used is
// told on the way.
func loadHarvests(w World, b *underlamp.Bench, bench string, files []string) ([]trial.Harvest, error) {
	var out []trial.Harvest
	seen := map[string]bool{}
	for _, file := range files {
		if seen[filepath.Clean(file)] {
			return nil, wrongf("%s is given twice; counted twice it would seem to teach more than it does", file)
		}
		seen[filepath.Clean(file)] = true
		_, p, err := openTrial(w, file)
		if err != nil {
			return nil, err
		}
		t := p.Trial
		if t.Bench != "" && bench != "-" && t.Bench != filepath.Base(bench) {
			return nil, wrongf("%s is a trial on %s, not on %s: its air and feed would be others", file, t.Bench, filepath.Base(bench))
		}
		hs, notes, err := trial.Harvests(t, p.Standing(), b.Crop.Cultivar)
		if err != nil {
			return nil, wrongf("%s: %v", file, err)
		}
		if t.Bench == "" {
			notes = append(notes, fmt.Sprintf("The plan names no bench; air and feed are taken from %s.", b.Name))
		}
		writeParagraphs(w.Err, filepath.Base(file)+": ", notes)
		out = append(out, hs...)
	}
	return out, nil
}

// mentionTrials says which trials of the folder of a bench could teach too.
func mentionTrials(w World, bench string, given []string) {
	if bench == "-" {
		return
	}
	dir := filepath.Dir(bench)
	names, err := os.ReadDir(dir)
	if err != nil {
		return // the bench was read from there; this is advice only
	}
	for _, e := range names {
		if e.IsDir() || !benchfolder.IsYAML(e.Name()) || benchfolder.KindOf(os.DirFS(dir), e.Name()) != benchfolder.TrialFile {
			continue
		}
		file := filepath.Join(dir, e.Name())
		if slices.ContainsFunc(given, func(g string) bool { return filepath.Clean(g) == file }) {
			continue
		}
		source, err := os.ReadFile(file)
		if err != nil {
			continue
		}
		if t, _, err := trialfile.Read(bytes.NewReader(source)); err != nil || t == nil || len(t.Cycles) == 0 || t.Bench != "" && t.Bench != filepath.Base(bench) {
			continue
		}
		writeParagraph(w.Out, "  ", fmt.Sprintf("A trial lies beside the bench: --trial %s learns from its harvests too.", file))
	}
}

// loadCycles reads a bench with its light, and cycles of it.
func loadCycles(w World, bench string, names []string) (*light.Model, []*underlamp.Cycle, error) {
	m, err := loadModel(w, bench)
	if err != nil {
		return nil, nil, err
	}
	var cycles []*underlamp.Cycle
	wrong := false
	seen := map[string]string{}
	for _, name := range names {
		source, err := readInput(w, name)
		if err != nil {
			return nil, nil, err
		}
		c, problems, err := cyclefile.Read(bytes.NewReader(source), m.Bench())
		if err != nil {
			return nil, nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
		}
		if len(problems) > 0 {
			fmt.Fprint(w.Err, problems.Render(name, source, w.colour()))
		}
		if c == nil {
			wrong = true
			continue
		}
		if bench != "-" && c.Bench != filepath.Base(bench) {
			return nil, nil, wrongf("%s is a cycle of %s, not of %s: its light would be another", name, c.Bench, filepath.Base(bench))
		}
		if first, twice := seen[string(source)]; twice {
			return nil, nil, wrongf("%s and %s are the same cycle; counted twice it would seem to teach more than it does", first, name)
		}
		seen[string(source)] = name
		cycles = append(cycles, c)
	}
	if wrong {
		return nil, nil, &wrongError{err: fmt.Errorf("a cycle file has errors"), shown: true}
	}
	return m, cycles, nil
}

// doing shows progress on a terminal.
func doing(w World) func(what string, share float64) {
	return func(what string, share float64) { w.progress(share, "%s: %s", what, working.Percent(share)) }
}

func runLearn(cmd *cobra.Command, w World, o learnOptions) error {
	m, cycles, err := loadCycles(w, o.file, o.cycles)
	if err != nil {
		return err
	}
	harvests, err := loadHarvests(w, m.Bench(), o.file, o.trials)
	if err != nil {
		return err
	}
	l, err := learn.Teach(cmd.Context(), m, cycles, learn.Options{Posterior: o.keep, Seed: o.seed, NoBest: o.noBest, Trials: harvests, Progress: doing(w)})
	if err != nil {
		return err
	}
	today := time.Now().Format(time.DateOnly)
	if o.json {
		if err := writeJSON(w, learnJSON(l)); err != nil {
			return err
		}
	} else {
		printLesson(w, l, o.working)
		mentionTrials(w, o.file, o.trials)
	}
	if o.html != "" {
		if _, err := writePage(w, o.html, report.LearnPage(l, today), o.paper, l.Bench.Units); err != nil {
			return err
		}
		if !o.json {
			fmt.Fprintf(w.Out, "\n%s: the same with pictures\n", o.html)
		}
	}
	if o.out == "" {
		return nil
	}
	p, err := l.Profile(o.name, today)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := profilefile.Write(&b, p); err != nil {
		return err
	}
	if err := writeFile(o.out, b.Bytes()); err != nil {
		return err
	}
	if !o.json {
		fmt.Fprintf(w.Out, "\n%s: profile %q; under crop: in the bench file write  profile: %s\n", o.out, p.Name, filepath.Base(o.out))
	}
	return nil
}

func printLesson(w World, l *learn.Lesson, withWorking bool) {
	fmt.Fprintf(w.Out, "%s: what the cycles taught\n\n", l.Bench.Name)
	writeParagraph(w.Out, "  ", l.Summary())
	fmt.Fprintln(w.Out)
	var rows [][]string
	for _, c := range l.Comparison() {
		rows = append(rows, []string{c.Name, c.Before, c.After, c.Change})
	}
	writeTable(w.Out, []column{{head: "outlook of the bench as it is set"}, {head: "before"}, {head: "after"}, {head: "change"}}, rows)
	fmt.Fprintln(w.Out)
	rows = nil
	figures := l.Figures()
	for _, f := range figures {
		rows = append(rows, []string{f.Name, f.Working.Inputs[0].Value, fmt.Sprintf("%s (%s to %s)", quantity.Number(f.Value, 3), quantity.Number(f.Band.Low, 3), quantity.Number(f.Band.High, 3)), f.Working.Inputs[1].Value})
	}
	writeTable(w.Out, []column{{head: "trait, as a factor on what is usual"}, {head: "before, 90 %"}, {head: "after, median and 90 %"}, {"narrowed by", true}}, rows)
	if odd := report.OddTexts(l.Odd); len(odd) > 0 {
		fmt.Fprintln(w.Out, "\nWhat does not fit:")
		writeParagraphs(w.Out, "  - ", odd)
	}
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", l.Next.Sentence())
	s := l.Posterior.Sampling
	writeParagraph(w.Out, "  ", fmt.Sprintf("The draws: R-hat at most %.3f, effective sizes at least %.0f and %.0f.", s.RHat, s.BulkESS, s.TailESS))
	if ok, why := l.Good(); !ok {
		writeParagraph(w.Out, "  ", "Not settled: "+why+".")
	}
	writeParagraphs(w.Out, "  ", l.Notes)
	if withWorking {
		writeWorking(w.Out, figures)
	}
}

type learnOut struct {
	Bench      string            `json:"bench" doc:"its name"`
	Cycles     []learnedCycleOut `json:"cycles" doc:"from which was learned"`
	Comparison []comparedOut     `json:"before_and_after" doc:"the outlook before and after, as printed"`
	Before     forecastOut       `json:"before" doc:"the outlook before"`
	After      forecastOut       `json:"after" doc:"the outlook after"`
	Factors    []factorOut       `json:"factors" doc:"what was learned of each uncertain input"`
	Odd        []string          `json:"does_not_fit" doc:"observations that do not fit, in sentences"`
	Next       []learnFurtherOut `json:"further_observations" doc:"what would narrow the outlook most"`
	RHat       number            `json:"rhat" doc:"greatest R-hat of the draws; near 1 if they agree"`
	BulkESS    number            `json:"bulk_ess" doc:"least effective number of draws for the middle"`
	TailESS    number            `json:"tail_ess" doc:"least effective number of draws for the tails"`
	Good       bool              `json:"good" doc:"the draws are good enough to use"`
	Figures    []wire.Figure     `json:"figures" doc:"with working"`
	Notes      []string          `json:"notes" doc:"what to know of it, in sentences"`
}

type learnedCycleOut struct {
	Name         string `json:"name" doc:"of the cycle"`
	Transplanted string `json:"transplanted" doc:"YYYY-MM-DD"`
	Harvested    string `json:"harvested,omitempty" doc:"YYYY-MM-DD; missing while it grows"`
	Plants       int    `json:"plants" doc:"that were observed"`
	Weighings    int    `json:"weighings" doc:"of plants, that were used"`
	Heights      int    `json:"heights" doc:"of plants, that were used"`
	Burns        int    `json:"looks_for_burn" doc:"looks at single plants for burn, that were used"`
	Counts       int    `json:"counts_of_burn" doc:"of plants with burn, that were used"`
}

type comparedOut struct {
	Name   string `json:"figure" doc:"of the figure, in words"`
	Before string `json:"before" doc:"with its unit, as printed"`
	After  string `json:"after" doc:"with its unit, as printed"`
	Change string `json:"change,omitempty" doc:"as printed; missing where there is none to tell"`
}

type forecastOut struct {
	Fresh  bandOut `json:"fresh_g" doc:"mass of a head (g)"`
	Chance number  `json:"chance_of_burn" doc:"of inner burn, 0 to 1"`
	Day    bandOut `json:"day_of_first_burn" doc:"after transplanting on which burn first shows, where it comes"`
	PerKWh bandOut `json:"saleable_g_per_kwh" doc:"saleable mass over electricity (g/kWh)"`
}

type factorOut struct {
	Key      string    `json:"key" doc:"of the input"`
	Name     string    `json:"name" doc:"of the input, in words"`
	Before   [3]number `json:"before_q05_q50_q95" doc:"quantiles 5, 50 and 95 % before learning"`
	After    [3]number `json:"after_q05_q50_q95" doc:"quantiles 5, 50 and 95 % after learning"`
	Narrowed number    `json:"narrowed" doc:"1 less the spread after over that before; near 0: nothing was learned"`
	Learned  bool      `json:"learned" doc:"it narrowed by more than chance"`
	Told     string    `json:"told" doc:"the same in words"`
}

type learnFurtherOut struct {
	What string `json:"observation" doc:"what to observe, in words"`
	Mass number `json:"narrows_mass" doc:"share by which it would narrow the band of the mass, 0 to 1"`
	Burn number `json:"narrows_burn" doc:"share by which it would narrow the chance of burn, 0 to 1"`
}

// lessonJSON is learnJSON of a lesson that there may not be.
func lessonJSON(l *learn.Lesson) *learnOut {
	if l == nil {
		return nil
	}
	out := learnJSON(l)
	return &out
}

func learnJSON(l *learn.Lesson) learnOut {
	s := l.Posterior.Sampling
	good, _ := l.Good()
	out := learnOut{Bench: l.Bench.Name, RHat: number(s.RHat), BulkESS: number(s.BulkESS), TailESS: number(s.TailESS), Good: good, Odd: report.OddTexts(l.Odd), Figures: aswire.Figures(l.Figures()), Notes: l.Notes}
	out.Before = forecastOut{band(l.Before.Fresh), number(l.Before.Chance), band(l.Before.FirstBurn), band(l.Before.PerKWh)}
	out.After = forecastOut{band(l.After.Fresh), number(l.After.Chance), band(l.After.FirstBurn), band(l.After.PerKWh)}
	for _, c := range l.Cycles {
		out.Cycles = append(out.Cycles, learnedCycleOut{c.Name, c.Transplanted, c.Harvested, c.Plants, c.Weighings, c.Heights, c.Burns, c.Counts})
	}
	for _, c := range l.Comparison() {
		out.Comparison = append(out.Comparison, comparedOut{c.Name, c.Before, c.After, c.Change})
	}
	for i, p := range l.Posterior.Parameters {
		out.Factors = append(out.Factors, factorOut{p.Key, learn.Plain(p).Name, [3]number{number(p.Prior.Q05), number(p.Prior.Q50), number(p.Prior.Q95)},
			[3]number{number(p.Posterior.Q05), number(p.Posterior.Q50), number(p.Posterior.Q95)}, number(p.Shrinkage), p.Learned, l.ToldText(i)})
	}
	for _, f := range l.Next.Further {
		out.Next = append(out.Next, learnFurtherOut{f.What, number(f.Mass), number(f.Burn)})
	}
	return out
}

type backtestOptions struct {
	file, html string
	cycles     []string
	trials     []string
	every      time.Duration
	keep       int
	seed       uint64
	json       bool
	paper      paperFlag
}

func newBacktest(w World) *cobra.Command {
	var o backtestOptions
	cmd := &cobra.Command{
		Use:   "backtest FILE [CYCLE…]",
		Short: "What the outlook would have said of finished cycles, week by week, and what came",
		Long: `backtest takes finished cycles and asks what the outlook would have said on day 0,
7, 14 … with only what was known by then, learning from the observations up to that
day, of this cycle and of the others by date. What came is set beside it: the error,
whether each head lay inside its band, and proper scores (CRPS, interval score, Brier
score), with and without learning.`,
		Example: `  How good would the outlook of the middle tier have been?

  underlamp demo --no-serve
  underlamp backtest underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.summer.cycle.yaml --every "21 d"

  prints a row for each day of issue, here every three weeks; without --every, every
  week. --html backtest.html adds the pictures. With --trial each block
  of a trial is forecast from the other blocks instead.`,
		Args: benchAndCycles,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file, o.cycles = args[0], args[1:]
			return runBacktest(cmd, w, o)
		},
	}
	f := cmd.Flags()
	o.every = 7 * 24 * time.Hour
	f.StringArrayVar(&o.trials, "trial", nil, "a trial to learn from; each block is forecast from the others; may be given several times")
	spanFlag(f, &o.every, "every", 24*time.Hour, "time between two outlooks, in whole days, such as \"7 d\"")
	f.IntVar(&o.keep, "draws", 0, "draws that are kept of what was learned (default 2000)")
	seedFlag(f, &o.seed, 0)
	htmlFlag(f, &o.html)
	o.paper.flag(cmd)
	jsonFlag(f, &o.json, "")
	return cmd
}

func runBacktest(cmd *cobra.Command, w World, o backtestOptions) error {
	days := int(o.every / (24 * time.Hour))
	if days < 1 || o.every%(24*time.Hour) != 0 {
		return wrongf("--every takes whole days, at least 1 day, such as \"7 d\"")
	}
	m, cycles, err := loadCycles(w, o.file, o.cycles)
	if err != nil {
		return err
	}
	if len(o.trials) > 0 {
		return runHoldOut(cmd, w, m, cycles, o)
	}
	r, err := learn.Backtest(cmd.Context(), m, cycles, learn.BacktestOptions{Every: days, Posterior: o.keep, Seed: o.seed, Progress: doing(w)})
	if err != nil {
		return err
	}
	if o.json {
		if err := writeJSON(w, backtestJSON(m.Bench(), r)); err != nil {
			return err
		}
	} else {
		printRecord(w, m.Bench(), r)
	}
	if o.html != "" {
		_, err := writePage(w, o.html, report.BacktestPage(m.Bench(), r, time.Now().Format(time.DateOnly)), o.paper, m.Bench().Units)
		return err
	}
	return nil
}

// runHoldOut forecasts each block of trials from the others.
func runHoldOut(cmd *cobra.Command, w World, m *light.Model, cycles []*underlamp.Cycle, o backtestOptions) error {
	if o.html != "" {
		return wrongf("--html shows cycles week by week; with --trial there is no such picture")
	}
	harvests, err := loadHarvests(w, m.Bench(), o.file, o.trials)
	if err != nil {
		return err
	}
	harvests, notes := learn.Distinct(cycles, harvests)
	h, err := learn.HoldOut(cmd.Context(), m, cycles, harvests, learn.BacktestOptions{Posterior: o.keep, Seed: o.seed, Progress: doing(w)})
	if err != nil {
		return &wrongError{err: err}
	}
	h.Notes = append(h.Notes, notes...)
	if o.json {
		return writeJSON(w, backtestJSON(m.Bench(), &h.Record))
	}
	fmt.Fprintf(w.Out, "%s: each block of the trial, forecast from the others\n\n", m.Bench().Name)
	var rows [][]string
	for _, t := range h.Trials {
		i := t.Issues[0]
		came := func(x float64, digits int, unit string) string {
			if math.IsNaN(x) {
				return ""
			}
			return quantity.Fixed(x, digits) + unit
		}
		rows = append(rows, []string{t.Cycle, came(t.Mass, 0, " g"), came(i.Said.Mass.Mid, 0, " g"), came(i.Usual.Mass.Mid, 0, " g"), came(100*t.Burnt, 0, " %"), came(100*i.Said.Chance, 0, " %"), came(100*i.Usual.Chance, 0, " %")})
	}
	writeTable(w.Out, []column{{head: "unit"}, {"mass came", true}, {"learned", true}, {"usual", true}, {"burnt came", true}, {"learned", true}, {"usual", true}}, rows)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", h.Sentence())
	fmt.Fprintln(w.Out)
	rows = nil
	for _, s := range report.ScoreRows(&h.Record) {
		rows = append(rows, s[:])
	}
	writeTable(w.Out, []column{{head: "over all units"}, {"learning", true}, {"without", true}}, rows)
	writeParagraphs(w.Out, "  ", h.Notes)
	return nil
}

func printRecord(w World, b *underlamp.Bench, r *learn.Record) {
	fmt.Fprintf(w.Out, "%s: what the outlook would have said\n", b.Name)
	for _, t := range r.Trials {
		fmt.Fprintf(w.Out, "\n%s. %s\n\n", t.Cycle, report.Came(t))
		var columns []column
		for _, h := range report.BacktestHead() {
			columns = append(columns, column{h, true})
		}
		var rows [][]string
		for _, i := range t.Issues {
			rows = append(rows, report.BacktestRow(t, i))
		}
		writeTable(w.Out, columns, rows)
	}
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", r.Sentence())
	fmt.Fprintln(w.Out)
	var rows [][]string
	for _, s := range report.ScoreRows(r) {
		rows = append(rows, s[:])
	}
	writeTable(w.Out, []column{{head: "over all"}, {"learning", true}, {"without", true}}, rows)
	writeParagraphs(w.Out, "  ", r.Notes)
}

type scoreOut struct {
	AbsError number `json:"mean_mass_error_share" doc:"mean size of the error of the mean mass, over what came"`
	Within   number `json:"heads_inside_90_percent" doc:"share of heads inside their 90 % band, 0 to 1"`
	CRPS     number `json:"crps_g" doc:"continuous ranked probability score of the masses; less is better (g)"`
	Interval number `json:"interval_score_g" doc:"score of the 90 % bands; less is better (g)"`
	Brier    number `json:"brier" doc:"score of the chance of burn, 0 to 1, less is better; null if nobody looked"`
}

type saidOut struct {
	Mass     bandOut `json:"mean_mass_g" doc:"mean mass of a head that was forecast (g)"`
	Error    number  `json:"error_g" doc:"of that mean (g)"`
	Within   int     `json:"heads_inside" doc:"heads inside their 90 % band"`
	Of       int     `json:"heads" doc:"heads that were weighed"`
	CRPS     number  `json:"crps_g" doc:"continuous ranked probability score of the masses; less is better (g)"`
	Interval number  `json:"interval_score_g" doc:"score of the 90 % bands; less is better (g)"`
	Chance   number  `json:"chance_of_burn" doc:"of inner burn that was forecast, 0 to 1"`
	Brier    number  `json:"brier" doc:"score of that chance, 0 to 1, less is better; null if nobody looked"`
}

type issueOut struct {
	Day   int     `json:"day" doc:"after transplanting on which the forecast is made"`
	Date  string  `json:"date" doc:"YYYY-MM-DD"`
	Data  int     `json:"data_known" doc:"single observations that were known then"`
	Good  bool    `json:"good" doc:"the draws were good enough to use"`
	Said  saidOut `json:"learning" doc:"what the outlook would have said with learning"`
	Usual saidOut `json:"without_learning" doc:"what it would have said without"`
}

type trialOut struct {
	Cycle  string     `json:"cycle" doc:"its name"`
	Days   int        `json:"days" doc:"from transplanting to harvest"`
	Mass   number     `json:"came_mean_mass_g" doc:"mean mass of a head that came (g)"`
	Burnt  number     `json:"came_share_burnt" doc:"share of plants with burn that came, 0 to 1; null if nobody looked"`
	Issues []issueOut `json:"issues" doc:"forecasts on the way"`
}

// backtestOut is what the outlook would have said of finished cycles.
type backtestOut struct {
	Bench string     `json:"bench" doc:"its name"`
	Said  scoreOut   `json:"learning" doc:"score with learning"`
	Usual scoreOut   `json:"without_learning" doc:"score without"`
	Notes []string   `json:"notes" doc:"what to know of it, in sentences"`
	Cycle []trialOut `json:"cycles" doc:"each finished cycle, forecast from the others"`
}

func backtestJSON(b *underlamp.Bench, r *learn.Record) backtestOut {
	sum := func(s learn.Score) scoreOut {
		return scoreOut{number(s.AbsError), number(s.Within), number(s.CRPS), number(s.Interval), number(s.Brier)}
	}
	said := func(s learn.Said) saidOut {
		return saidOut{band(s.Mass), number(s.Error), s.Within, s.Of, number(s.CRPS), number(s.Interval), number(s.Chance), number(s.Brier)}
	}
	out := backtestOut{b.Name, sum(r.Said), sum(r.Usual), append([]string{}, r.Notes...), []trialOut{}}
	for _, t := range r.Trials {
		o := trialOut{Cycle: t.Cycle, Days: t.Days, Mass: number(t.Mass), Burnt: number(t.Burnt)}
		for _, i := range t.Issues {
			o.Issues = append(o.Issues, issueOut{i.Day, i.Date, i.Data, i.Good, said(i.Said), said(i.Usual)})
		}
		out.Cycle = append(out.Cycle, o)
	}
	return out
}
