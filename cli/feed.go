package cli

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/feed"
	"underlamp/formats/feedfile"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

func newFeed(w World) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "feed",
		Short: "The nutrient solution: what to weigh, what it is, how to correct a tank",
		Long: `feed works out a nutrient solution from what it shall hold, the water and the salts in
the cupboard, which stand in one text file (docs/formats/feed.md).

Acid: goggles and gloves, acid into water and never the reverse. Nitrates away from fuel
and heat. Both out of children's reach.`,
		Example: `  What to weigh for the tank of the demo:

  underlamp demo --no-serve
  underlamp feed mix underlamp-demo/rack.feed.yaml

  prints grams and millilitres, the two tanks, EC and pH to expect, and what is off target.`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newFeedNew(w), newFeedMix(w), newFeedCheck(w), newFeedCorrect(w), newFeedRecipes(w), newFeedSubstances(w))
	return cmd
}

// loadFeed reads a feed and shows every problem in it on standard error.
func loadFeed(w World, name string) (*underlamp.FeedPlan, error) {
	source, err := readInput(w, name)
	if err != nil {
		return nil, err
	}
	p, problems, err := feedfile.Read(bytes.NewReader(source))
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	if len(problems) > 0 {
		fmt.Fprint(w.Err, problems.Render(name, source, w.colour()))
	}
	if p == nil {
		return nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	}
	return p, nil
}

func oneFeed(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongError{err: fmt.Errorf("%s takes one feed file, for example: %s mine.feed.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

func newFeedNew(w World) *cobra.Command {
	var out, recipe, volume string
	cmd := &cobra.Command{
		Use:   "new",
		Short: "Write a first feed file to amend",
		Long: `new writes the description of a feed with a published recipe and usual salts, to be
amended by hand: the water analysis, what is in the cupboard, the tank.`,
		Example: `  underlamp feed new --recipe "Hoagland 2" --volume "80 L" -o mine.feed.yaml
  underlamp feed mix mine.feed.yaml`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error {
			text, err := feedfile.New(feedfile.Answers{Name: "My feed", Recipe: recipe, Litres: volume, Metal: "11 %", Strength: "38 %",
				Products: []string{calciumNitrateFor(recipe), "potassium nitrate", "monopotassium phosphate", "magnesium sulfate heptahydrate", "ammonium sulfate", "iron DTPA",
					"manganese sulfate monohydrate", "zinc sulfate heptahydrate", "boric acid", "copper sulfate pentahydrate", "sodium molybdate dihydrate", "potassium bicarbonate"}})
			if err != nil {
				return &wrongError{err: err}
			}
			if out == "" {
				_, err = io.WriteString(w.Out, text)
				return err
			}
			return writeFile(out, []byte(text))
		},
	}
	f := cmd.Flags()
	outputFlag(f, &out, "standard output")
	f.StringVar(&recipe, "recipe", "Hoagland & Arnon solution 2", "name of a recipe (underlamp feed recipes lists them)")
	f.StringVar(&volume, "volume", "100 L", "volume of the tank when it is full")
	return cmd
}

type feedOptions struct {
	json, work      bool
	cheapest        bool
	volume, weighed string
	ec, ph, temp    string
	ions            string
}

func newFeedMix(w World) *cobra.Command {
	var o feedOptions
	cmd := &cobra.Command{
		Use:   "mix FILE",
		Short: "What to weigh and measure, and what the feed then is",
		Long: `mix finds the amounts of the products that come closest to the target, none below nothing
and the acid with them, or the cheapest within tolerance. It tells what cannot be met
and why, and which salt would mend it; puts the mix into tanks, and looks whether they
stay clear.`,
		Example: `  underlamp feed mix underlamp-demo/rack.feed.yaml
  underlamp feed mix underlamp-demo/rack.feed.yaml --cheapest --volume "60 L" --json`,
		Args: oneFeed,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := loadFeed(w, args[0])
			if err != nil {
				return err
			}
			if o.cheapest {
				if p.Cheapest = true; !p.Problem().Priced() {
					return wrongf("--cheapest needs a price for every product of %s", args[0])
				}
			}
			if err := o.setVolume(p); err != nil {
				return err
			}
			a := feed.Mix(p)
			if o.json {
				return writeJSON(w, mixJSON(a))
			}
			printMix(w, a)
			if o.work {
				writeWorking(w.Out, a.Figures)
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.cheapest, "cheapest", false, "the least cost within tolerance, not the closest composition")
	f.StringVar(&o.volume, "volume", "", "volume of feed to make (default: the tank of the file)")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.work)
	return cmd
}

func (o *feedOptions) setVolume(p *underlamp.FeedPlan) error {
	if o.volume == "" {
		return nil
	}
	v, err := quantity.Volume.Parse(o.volume)
	if err != nil || !(v > 0) {
		return wrongf("--volume %q is no volume; write for example 80 L or 21 gal", o.volume)
	}
	p.Litres = underlamp.Said(v)
	return nil
}

func newFeedCheck(w World) *cobra.Command {
	var o feedOptions
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Does a feed hold together, or what is a feed of amounts that were weighed",
		Long: `check looks whether the water and the target balance, whether the cupboard suffices, whether
stocks stay clear, and whether the EC that was read fits the one that is worked out. With
--weighed it goes the other way: from grams and millilitres to what is in the feed.`,
		Example: `  underlamp feed check underlamp-demo/rack.feed.yaml
  underlamp feed check underlamp-demo/rack.feed.yaml --weighed "calcium nitrate 15.5-0-0 58 g, potassium nitrate 53 g, Epsom salt 28 g" --volume "120 L"`,
		Args: oneFeed,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := loadFeed(w, args[0])
			if err != nil {
				return err
			}
			if err := o.setVolume(p); err != nil {
				return err
			}
			if o.weighed != "" {
				amounts, err := feed.ParseWeighed(p, o.weighed)
				if err != nil {
					return &wrongError{err: fmt.Errorf("--weighed: %w", err)}
				}
				a := feed.Weighed(p, amounts, p.Litres.Value)
				if o.json {
					return writeJSON(w, mixJSON(a))
				}
				fmt.Fprintf(w.Out, "%s of %s with\n\n", quantity.Volume.Format(p.Litres.Value, p.Units, 3), p.WaterName)
				printLines(w, a.Lines)
				fmt.Fprintln(w.Out)
				printRows(w, a.Rows)
				fmt.Fprintln(w.Out)
				writeFigures(w.Out, a.Figures)
				if o.work {
					writeWorking(w.Out, a.Figures)
				}
				return nil
			}
			a, rows := feed.Check(p)
			if o.json {
				return writeJSON(w, feedCheckOut{rows})
			}
			fmt.Fprintf(w.Out, "%s: %d of %d hold\n\n", title(p), holds(rows), len(rows))
			var cells [][]string
			for _, r := range rows {
				word := "ok"
				if !r.OK {
					word = "look"
				}
				cells = append(cells, []string{word, r.What, r.Verdict})
			}
			writeTable(w.Out, []column{{head: ""}, {head: "what"}, {head: "verdict"}}, cells)
			fmt.Fprintln(w.Out)
			writeParagraphs(w.Out, "  ", a.Why)
			writeParagraphs(w.Out, "  + ", a.Remedies)
			if o.work {
				writeWorking(w.Out, a.Figures)
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.weighed, "weighed", "", `amounts, parted by commas: "potassium nitrate 53 g, nitric acid 12 mL"`)
	f.StringVar(&o.volume, "volume", "", "volume of water (default: the tank of the file)")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.work)
	return cmd
}

func holds(rows []feed.CheckRow) (n int) {
	for _, r := range rows {
		if r.OK {
			n++
		}
	}
	return n
}

func newFeedCorrect(w World) *cobra.Command {
	var o feedOptions
	cmd := &cobra.Command{
		Use:   "correct FILE",
		Short: "What brings a running tank back, and when to make it up anew",
		Long: `correct takes EC, pH and volume of a running tank (and ions, if they were analysed), and
tells what to let out, how much water to fill up and what to add. Without readings it
takes the newest entry of the log. It also tells what the log says: water used, what goes
with it, and when sodium and chloride reach their limits.`,
		Example: `  underlamp feed correct underlamp-demo/rack.feed.yaml
  underlamp feed correct underlamp-demo/rack.feed.yaml --volume "70 L" --ec "1.9 mS/cm" --ph 6.6
  underlamp feed correct underlamp-demo/rack.feed.yaml --volume "70 L" --ec "1.9 mS/cm" --ph 6.6 --ions "ca 130 mg/L, k 90 mg/L, na 45 mg/L" --working`,
		Args: oneFeed,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := loadFeed(w, args[0])
			if err != nil {
				return err
			}
			ask, err := o.ask(p)
			if err != nil {
				return err
			}
			a, d := feed.Correct(p, ask), feed.Drift(p)
			if o.json {
				return writeJSON(w, correctJSON(a, d))
			}
			printCorrect(w, a, d)
			if o.work {
				writeWorking(w.Out, append(a.Figures, d.Figures...))
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.volume, "volume", "", "volume in the tank now, such as \"82 L\"")
	f.StringVar(&o.ec, "ec", "", "electrical conductivity of the tank at 25 °C, such as \"1.8 mS/cm\"")
	f.StringVar(&o.ph, "ph", "", "pH of the tank, as read")
	f.StringVar(&o.temp, "temperature", "", "temperature of the tank, such as \"21 °C\"")
	f.StringVar(&o.ions, "ions", "", `analysis, parted by commas: "ca 130 mg/L, k 90 mg/L"`)
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.work)
	return cmd
}

// calciumNitrateFor is the calcium nitrate with which a recipe is met from usual salts: that of
// greenhouses brings ammonium, which recipes with some can use and those without cannot.
func calciumNitrateFor(recipe string) string {
	if r, err := nutrients.FindRecipe(recipe); err == nil {
		if r.Amounts[nutrients.Ammonium] > 0.03*r.Amounts.TotalN() {
			return "calcium nitrate 15.5-0-0"
		}
	}
	return "calcium nitrate tetrahydrate"
}

// ask reads the flags, or the newest entry of the log.
func (o *feedOptions) ask(p *underlamp.FeedPlan) (feed.Ask, error) {
	a := feed.Unread()
	var err error
	read := func(name, text string, k quantity.Kind, to *float64) {
		if text == "" || err != nil {
			return
		}
		v, bad := k.Parse(text)
		if bad != nil {
			err = &wrongError{err: fmt.Errorf("--%s: %w", name, bad)}
			return
		}
		*to = v
	}
	read("volume", o.volume, quantity.Volume, &a.Litres)
	read("ec", o.ec, quantity.Conductivity, &a.EC)
	read("ph", o.ph, quantity.Acidity, &a.PH)
	read("temperature", o.temp, quantity.Temperature, &a.C)
	if err != nil {
		return a, err
	}
	if o.ions != "" {
		if a.Known, a.Knows, err = feedfile.ParseIons(o.ions); err != nil {
			return a, &wrongError{err: fmt.Errorf("--ions: %w", err)}
		}
	}
	switch tank := p.Litres.Value; {
	case a.PH < 3 || a.PH > 9:
		return a, wrongf("--ph: %s is beyond what a tank can be, 3 to 9", quantity.Number(a.PH, 4))
	case a.EC < 0 || a.EC > 20:
		return a, wrongf("--ec: %s is beyond what a tank can be, 0 to 20 mS/cm", quantity.Conductivity.Format(a.EC, quantity.Metric, 4))
	case a.Litres < 0:
		return a, wrongf("--volume: a tank cannot hold less than nothing")
	case tank > 0 && a.Litres > 1.5*tank: // rims and tapes differ, half as much again is another tank
		return a, wrongf("--volume: %s is more than the tank of the file holds, %s; mend one of the two",
			quantity.Volume.Format(a.Litres, quantity.Metric, 4), quantity.Volume.Format(tank, quantity.Metric, 4))
	}
	if a.Said() {
		return a, nil
	}
	if len(p.Log) == 0 {
		return a, wrongf(`nothing was read: give --volume, --ec and --ph, or write a log into the file`)
	}
	return feed.AskOf(p.Log[len(p.Log)-1]), nil
}

func title(p *underlamp.FeedPlan) string {
	name := p.Name
	if name == "" {
		name = "Feed"
	}
	if p.Recipe != "" {
		name += ", " + p.Recipe
		if p.Strength != 1 {
			name += " at " + quantity.Number(100*float64(p.Strength), 3) + " %"
		}
	}
	return name
}

func printLines(w World, lines []feed.Line) {
	cols := []column{{head: ""}, {"amount", true}}
	var rows [][]string
	micro, note := false, false
	for _, l := range lines {
		micro, note = micro || l.MicroGrams > 0, note || l.Note != ""
	}
	if micro {
		cols = append(cols, column{head: "as micro stock"})
	}
	if note {
		cols = append(cols, column{head: ""})
	}
	for _, l := range lines {
		row := []string{l.Product.Name, l.Text()}
		if micro {
			text := ""
			if l.MicroGrams > 0 {
				text = fmt.Sprintf("%s mL of %s g in 1 L", quantity.Number(l.MicroML, 4), quantity.Number(l.MicroGrams, 3))
			}
			row = append(row, text)
		}
		if note {
			row = append(row, l.Note)
		}
		rows = append(rows, row)
	}
	writeTable(w.Out, cols, rows)
}

func printRows(w World, rows []feed.Row) {
	var cells [][]string
	for _, r := range rows {
		want, off := "", ""
		if r.Asked {
			want = quantity.Number(r.Want*r.Ion.Mass(), 3)
			if r.Want > 0 {
				off = working.SignedPercent(r.Got/r.Want - 1)
			}
		}
		if r.Off {
			off += " off"
		}
		cells = append(cells, []string{r.Ion.String(), want, quantity.Number(r.Got*r.Ion.Mass(), 3), quantity.Number(r.Got, 3), quantity.Number(r.Water*r.Ion.Mass(), 3), strings.TrimSpace(off)})
	}
	writeTable(w.Out, []column{{head: ""}, {"wanted mg/L", true}, {"comes to", true}, {"mmol/L", true}, {"from water", true}, {head: ""}}, cells)
}

func printMix(w World, a *feed.Answer) {
	p := a.Plan
	fmt.Fprintf(w.Out, "%s: %s with %s\n\n", title(p), quantity.Volume.Format(a.Litres, p.Units, 3), p.WaterName)
	if a.Stock == nil {
		printLines(w, a.Lines)
	} else {
		for _, part := range a.Stock.Parts {
			switch {
			case a.Stock.Kind == underlamp.DryMix:
				fmt.Fprintf(w.Out, "  Blend %s, %s kg; %s\n\n", part.Name, quantity.Number(p.Stock.Litres, 3), part.Use)
			case part.Name == "":
				fmt.Fprintf(w.Out, "  Stock, %s at 1:%g; %s\n\n", quantity.Volume.Format(part.Litres, p.Units, 3), a.Stock.Factor, part.Use)
			default:
				fmt.Fprintf(w.Out, "  Tank %s, %s at 1:%g; %s\n\n", part.Name, quantity.Volume.Format(part.Litres, p.Units, 3), a.Stock.Factor, part.Use)
			}
			printLines(w, part.Lines)
			fmt.Fprintln(w.Out)
		}
		if len(a.Stock.Apart) > 0 {
			fmt.Fprintf(w.Out, "  Into the feed itself, for %s of it\n\n", quantity.Volume.Format(a.Litres, p.Units, 3))
			apart := slices.Clone(a.Stock.Apart)
			for k := range apart {
				apart[k].Note = ""
			}
			printLines(w, apart)
			fmt.Fprintln(w.Out)
		}
		writeParagraphs(w.Out, "  ", a.Stock.Verdicts)
	}
	fmt.Fprintln(w.Out)
	printRows(w, a.Rows)
	fmt.Fprintln(w.Out)
	writeFigures(w.Out, a.Figures)
	if len(a.Why)+len(a.Remedies) > 0 {
		fmt.Fprintln(w.Out)
		writeParagraphs(w.Out, "  ", a.Why)
		writeParagraphs(w.Out, "  + ", a.Remedies)
	}
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  ", a.Notes)
	writeParagraphs(w.Out, "  ! ", a.Cautions)
}

func printCorrect(w World, a *feed.CorrectAnswer, d *feed.DriftAnswer) {
	p := a.Plan
	when := ""
	if a.Date != "" {
		when = ", as read on " + a.Date
	}
	fmt.Fprintf(w.Out, "%s: %s in the tank%s\n\n", title(p), quantity.Volume.Format(a.Litres, p.Units, 3), when)
	writeParagraphs(w.Out, "  - ", a.Do)
	if len(a.Lines) > 0 && !a.Replace {
		fmt.Fprintln(w.Out)
		printLines(w, a.Lines)
	}
	if !a.Replace {
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, r := range a.Now {
			want := ""
			if r.Asked {
				want = quantity.Number(r.Want*r.Ion.Mass(), 3)
			}
			rows = append(rows, []string{r.Ion.String(), quantity.Number(r.Water*r.Ion.Mass(), 3), quantity.Number(r.Got*r.Ion.Mass(), 3), want})
		}
		writeTable(w.Out, []column{{head: ""}, {"now mg/L", true}, {"after", true}, {"wanted", true}}, rows)
		fmt.Fprintln(w.Out)
		writeFigures(w.Out, a.Figures)
	}
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  ", a.Notes)
	writeParagraphs(w.Out, "  ! ", a.Cautions)
	if len(d.Rows) > 1 {
		fmt.Fprintln(w.Out, "\nThe log")
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, r := range d.Rows {
			cell := func(v float64, digits int) string {
				if math.IsNaN(v) {
					return ""
				}
				return quantity.Number(v, digits)
			}
			rows = append(rows, []string{r.Entry.Date, cell(r.Entry.Litres, 3), cell(r.Entry.EC, 3), cell(r.Entry.PH, 2), cell(r.Used, 3), cell(r.Entry.Water, 3), cell(r.EC, 3)})
		}
		writeTable(w.Out, []column{{head: "day"}, {"L", true}, {"EC", true}, {"pH", true}, {"used L", true}, {"filled L", true}, {"EC after", true}}, rows)
		fmt.Fprintln(w.Out)
		writeFigures(w.Out, d.Figures)
		writeParagraphs(w.Out, "  ", d.Notes)
	}
}

func newFeedRecipes(w World) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "recipes",
		Short:   "Published recipes by name, with their source and how it was read",
		Example: "  underlamp feed recipes",
		Args:    noArguments,
		RunE: func(*cobra.Command, []string) error {
			if asJSON {
				return writeJSON(w, recipesOut{recipesJSON()})
			}
			var rows [][]string
			for _, r := range nutrients.Recipes() {
				row := []string{r.Name}
				for _, i := range []nutrients.Ion{nutrients.Nitrate, nutrients.Ammonium, nutrients.Phosphorus, nutrients.Potassium, nutrients.Calcium, nutrients.Magnesium, nutrients.Sulfur} {
					row = append(row, quantity.Number(r.Amounts.MgL(i), 3))
				}
				rows = append(rows, row)
			}
			writeTable(w.Out, []column{{head: "mg/L"}, {"NO3-N", true}, {"NH4-N", true}, {"P", true}, {"K", true}, {"Ca", true}, {"Mg", true}, {"S", true}}, rows)
			fmt.Fprintln(w.Out)
			for _, r := range nutrients.Recipes() {
				writeParagraph(w.Out, "  ", r.Name+": "+working.Cite(r.Source)+". "+r.Read+".")
			}
			return nil
		},
	}
	jsonFlag(cmd.Flags(), &asJSON, "")
	return cmd
}

func newFeedSubstances(w World) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "substances",
		Short:   "Salts and acids that are known by name, and what is in them",
		Example: "  underlamp feed substances",
		Args:    noArguments,
		RunE: func(*cobra.Command, []string) error {
			if asJSON {
				return writeJSON(w, substancesJSON())
			}
			var rows [][]string
			for _, s := range nutrients.Substances() {
				var holds []string
				for i := range nutrients.Ions {
					if n := s.PerMol[i]; n > 0 && s.Kind != nutrients.Chelate {
						holds = append(holds, i.String()+" "+quantity.Number(100*n*i.Mass()/s.Molar, 3))
					}
				}
				if s.Kind == nutrients.Chelate {
					holds = []string{"by its label"}
				}
				at := ""
				if v := s.SolubilityAt(20); v > 0 {
					at = quantity.Number(v, 3)
					if s.FromMemory {
						at += " from memory"
					}
				}
				rows = append(rows, []string{s.Name, s.Formula, strings.Join(holds, ", "), at})
			}
			writeTable(w.Out, []column{{head: "substance"}, {head: "formula"}, {head: "% of the mass"}, {head: "g/L at 20 °C"}}, rows)
			return nil
		},
	}
	jsonFlag(cmd.Flags(), &asJSON, "")
	return cmd
}
