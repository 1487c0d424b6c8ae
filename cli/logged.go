package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"time"
	_ "time/tzdata" // zones on machines that have none

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/logged"
	"underlamp/formats/loggercsv"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

type loggedOptions struct {
	bench, table string
	zone         string
	lights       string
	columns      []string
	store        string
	sensors      string
	from, to     string
	order        string
	json         bool
	working      bool
	days         bool
}

func newLogged(w World) *cobra.Command {
	var o loggedOptions
	cmd := &cobra.Command{
		Use:   "logged FILE [TABLE]",
		Short: "What a data logger read: light and air by day and night, beside the bench file",
		Long: `logged reads the table (CSV) of a data logger that stood on the bench, whatever the
dress of the table, and tells the DLI of each day, and temperature, humidity and
vapour pressure deficit while the lamps were on and while they were off. It sets
them beside what the bench file says and writes the lines that would put the measured
values into it: the outlook is then surer of itself.

With --store it reads what sensors have sent to underlamp serve instead of a table.

Columns are told by unit and name. Where that fails say what they read, with
--column, by temperature, humidity, light, co2 or nothing.`,
		Example: `  Is the air of the demo's middle tier what its bench file says?

  underlamp demo --no-serve
  underlamp logged underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.logger.csv --zone Europe/Berlin

  The same without its light sensor, the lamps by the clock:

  underlamp logged underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.logger.csv --zone Europe/Berlin --column PPFD=nothing --lights 06:00-22:00

  prints the means with their spread over the days, and the lines for the bench file.
  What the sensors whose names begin with rack-2/ have sent:

      underlamp logged mybench.yaml --store readings.db --sensors rack-2/ --zone Europe/Berlin --from 2026-11-01`,
		Args: func(cmd *cobra.Command, args []string) error {
			if want := map[bool]int{false: 2, true: 1}[o.store != ""]; len(args) != want {
				if o.store != "" {
					return &wrongError{err: fmt.Errorf("%s takes a bench file alone with --store", cmd.CommandPath())}
				}
				return &wrongError{err: fmt.Errorf("%s takes a bench file and the table of a logger, for example: %s mybench.yaml logger.csv", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.bench = args[0]
			if o.store == "" {
				o.table = args[1]
			}
			return runLogged(cmd.Context(), w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.zone, "zone", "", zoneUsage+"; also of the clock of the logger; Local is that of this machine, and without it UTC is taken")
	f.StringVar(&o.lights, "lights", "", "when the lamps burn, such as 06:00-22:00, where no column reads light")
	f.StringArrayVar(&o.columns, "column", nil, "what a column is, such as T1=temperature; may be given several times")
	f.StringVar(&o.order, "dates", "", "what stands first in a date such as 03/04/2026: day or month")
	storeFlag(f, &o.store, "what its sensors sent is read in place of TABLE")
	f.StringVar(&o.sensors, "sensors", "", "with --store: the sensors whose names begin so")
	f.StringVar(&o.from, "from", "", "first day, such as 2026-11-01; with --store; without it 30 days back")
	f.StringVar(&o.to, "to", "", "last day, such as 2026-11-10; with --store; without it the newest")
	f.BoolVar(&o.days, "every-day", false, "print every day")
	renamedFlag(w, f, "days", "every-day")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
}

func runLogged(ctx context.Context, w World, o loggedOptions) error {
	b, err := load(w, o.bench)
	if err != nil {
		return err
	}
	ask := logged.Ask{Bench: b, Zone: time.UTC, As: map[string]logged.Role{}}
	var opt loggercsv.Options
	if o.zone != "" {
		z, err := zoneOf(o.zone)
		if err != nil {
			return err
		}
		opt.Zone, ask.Zone = z, z
	}
	switch o.order {
	case "":
	case "day", "month":
		first := o.order == "day"
		opt.DayFirst = &first
	default:
		return &wrongError{err: fmt.Errorf("--dates is day or month, not %q", o.order)}
	}
	if err := readLights(o.lights, &ask); err != nil {
		return err
	}
	for _, c := range o.columns {
		name, word, ok := strings.Cut(c, "=")
		role := logged.Role(strings.ToLower(strings.TrimSpace(word)))
		if !ok || !knownRole(role) {
			return &wrongError{err: fmt.Errorf("--column %q is not understood; write it as T1=temperature, with one of %s", c, roleNames())}
		}
		ask.As[strings.TrimSpace(name)] = role
	}
	notes, err := loggedTable(ctx, w, o, opt, &ask)
	if err != nil {
		return err
	}
	a, err := logged.Read(ask)
	if err != nil {
		return &wrongError{err: fmt.Errorf("%s: %w (--column)", cmp.Or(o.table, o.store), err)}
	}
	a.Notes = append(notes, a.Notes...)
	if o.json {
		return writeJSON(w, loggedJSON(a))
	}
	printLogged(w, a, o)
	if o.working {
		writeWorking(w.Out, a.Figures)
	}
	return nil
}

// loggedTable fills an ask with a table, or with what sensors sent to a store.
func loggedTable(ctx context.Context, w World, o loggedOptions, opt loggercsv.Options, ask *logged.Ask) (notes []string, err error) {
	if o.store != "" {
		return nil, loggedStore(ctx, w, o, ask)
	}
	file, err := os.Open(o.table)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the table cannot be opened: %w", err)}
	}
	defer file.Close()
	l, err := loggercsv.Read(file, opt)
	if bad, ok := errors.AsType[*loggercsv.Error](err); ok {
		hint := ""
		switch {
		case strings.Contains(bad.Reason, "zone"):
			hint = " (--zone)"
		case strings.Contains(bad.Reason, "day or the month"):
			hint = " (--dates day, or --dates month)"
		}
		return nil, &wrongError{err: fmt.Errorf("%s: %w%s", o.table, err, hint)}
	} else if err != nil {
		return nil, fmt.Errorf("%s: %w", o.table, err)
	}
	ask.Times = l.Times
	for _, c := range l.Columns {
		ask.Columns = append(ask.Columns, logged.Column{Name: c.Name, Unit: c.Unit, Values: c.Values})
	}
	return l.Notes, nil
}

// storeStep is the time over which readings of a store are taken together, so that
// sensors that send at different instants share their rows.
const storeStep = 5 * store.Minute

// loggedStore fills an ask with what the sensors of a store sent.
func loggedStore(ctx context.Context, w World, o loggedOptions, ask *logged.Ask) error {
	from, to, err := dates(o.from, o.to, ask.Zone)
	if err != nil {
		return err
	}
	if !strings.Contains(o.store, "://") {
		if _, err := os.Stat(o.store); err != nil {
			return &wrongError{err: fmt.Errorf("the store cannot be opened: %w", err)}
		}
	}
	s, err := w.OpenStore(ctx, o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	all, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	rows := map[int64]int{}
	var names []string
	for _, x := range all {
		names = append(names, x.Key)
		if !strings.HasPrefix(x.Key, o.sensors) {
			continue
		}
		sums, err := s.Buckets(ctx, x.ID, store.At(from), store.At(to), storeStep)
		if err != nil {
			return err
		}
		c := logged.Column{Name: strings.TrimPrefix(x.Key, o.sensors), Unit: x.Unit, Values: make([]float64, len(ask.Times))}
		for i := range c.Values {
			c.Values[i] = math.NaN()
		}
		for _, b := range sums {
			i, ok := rows[b.From]
			if !ok {
				i = len(ask.Times)
				rows[b.From] = i
				ask.Times = append(ask.Times, store.Time(b.From+storeStep/2))
				for k := range ask.Columns {
					ask.Columns[k].Values = append(ask.Columns[k].Values, math.NaN())
				}
				c.Values = append(c.Values, math.NaN())
			}
			// Each reading as it was meant on its day.
			c.Values[i] = x.True(b.From, b.Mean())
		}
		if len(sums) > 0 {
			ask.Columns = append(ask.Columns, c)
		}
	}
	if len(ask.Columns) == 0 {
		return &wrongError{err: fmt.Errorf("no sensor whose name begins with %q sent anything from %s to %s; there are %s", o.sensors, from.Format(time.DateOnly), to.AddDate(0, 0, -1).Format(time.DateOnly), cmp.Or(strings.Join(names, ", "), "no sensors yet"))}
	}
	return nil
}

// dates are the begin of the first and the end of the last day.
func dates(first, last string, zone *time.Location) (from, to time.Time, err error) {
	day := func(text string, usual time.Time) (time.Time, error) {
		if text == "" {
			return usual, nil
		}
		t, err := time.ParseInLocation(time.DateOnly, text, zone)
		if err != nil {
			return t, &wrongError{err: fmt.Errorf("the day %q is not understood; write it as 2026-11-01", text)}
		}
		return t, nil
	}
	y, m, d := time.Now().In(zone).Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, zone)
	if to, err = day(last, today); err != nil {
		return from, to, err
	}
	if from, err = day(first, to.AddDate(0, 0, -30)); err != nil {
		return from, to, err
	}
	if to.Before(from) {
		return from, to, &wrongError{err: fmt.Errorf("the last day, %s, is before the first, %s", last, first)}
	}
	return from, to.AddDate(0, 0, 1), nil
}

func knownRole(r logged.Role) bool {
	for _, k := range logged.Roles() {
		if k == r {
			return true
		}
	}
	return false
}

func roleNames() string {
	var out []string
	for _, r := range logged.Roles() {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// readLights reads "06:00-22:00".
func readLights(text string, ask *logged.Ask) error {
	if text == "" {
		return nil
	}
	w, ok := underlamp.ParseWindow(text)
	if !ok {
		return &wrongError{err: fmt.Errorf("--lights %q is not understood; write it as 06:00-22:00", text)}
	}
	ask.On, ask.Off = w.From, w.To
	return nil
}

func printLogged(w World, a *logged.Answer, o loggedOptions) {
	first, last := "", ""
	if n := len(a.Days); n > 0 {
		first, last = a.Days[0].Date, a.Days[n-1].Date
	}
	fmt.Fprintf(w.Out, "%s: logged from %s to %s, a reading every %s\n\n", a.Bench.Name, first, last, a.StepText())
	var uses [][]string
	for _, u := range a.Uses {
		uses = append(uses, []string{u.Column, string(u.Role), u.Unit, u.Why})
	}
	writeTable(w.Out, []column{{head: "column"}, {head: "reads"}, {head: "in"}, {head: "told"}}, uses)
	if len(a.Ignored) > 0 {
		writeParagraph(w.Out, "  ", "Not used: "+strings.Join(a.Ignored, ", ")+".")
	}
	if len(a.Figures) > 0 {
		fmt.Fprintln(w.Out)
		writeFigures(w.Out, a.Figures)
	}
	if o.days {
		fmt.Fprintln(w.Out)
		u := a.Bench.Units
		cell := func(v float64, text string) string {
			if math.IsNaN(v) {
				return ""
			}
			return text
		}
		var rows [][]string
		for _, d := range a.Days {
			whole := working.Percent(d.Covered)
			r := []string{d.Date, whole, cell(d.DLI, quantity.Fixed(d.DLI, 1)), cell(d.LightHours, quantity.Fixed(d.LightHours, 1))}
			sides := []logged.Part{d.Light, d.Dark}
			if math.IsNaN(d.LightHours) {
				sides = []logged.Part{d.All, {Temperature: quantity.Celsius(math.NaN()), Humidity: quantity.Fraction(math.NaN()), VPD: quantity.Kilopascal(math.NaN())}}
			}
			for _, p := range sides {
				r = append(r, cell(float64(p.Temperature), quantity.Temperature.Format(float64(p.Temperature), u, 3)), cell(float64(p.Humidity), quantity.Fixed(100*float64(p.Humidity), 0)+" %"), cell(float64(p.VPD), quantity.Fixed(float64(p.VPD), 2)))
			}
			rows = append(rows, r)
		}
		writeTable(w.Out, []column{{head: "day"}, {"covered", true}, {"DLI", true}, {"light h", true}, {"lit", true}, {"RH", true}, {"VPD kPa", true}, {"dark", true}, {"RH", true}, {"VPD kPa", true}}, rows)
	}
	if len(a.Lines) > 0 {
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, l := range a.Lines {
			rows = append(rows, []string{l.Key, l.Measured, l.Stated})
		}
		writeTable(w.Out, []column{{head: "key of the bench file"}, {"logged", true}, {"now", true}}, rows)
		fmt.Fprintf(w.Out, "\n  To put it into the bench file:\n\n%s", indentLines(a.Block, "    "))
	}
	if a.Gaps > 0 {
		a.Notes = append(a.Notes, count(a.Gaps, "gap")+" in the readings; a day with one does not count for DLI and hours of light.")
	}
	if a.Doubled > 0 {
		a.Notes = append(a.Notes, count(a.Doubled, "row")+" of an instant that stood there before: the later counts.")
	}
	for _, n := range a.Notes {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ! ", n)
	}
}

func indentLines(text, by string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		b.WriteString(by + line)
	}
	return b.String()
}

type loggedOut struct {
	Bench   string         `json:"bench" doc:"its name"`
	StepS   float64        `json:"step_s" doc:"usual time between readings (s)"`
	Gaps    int            `json:"gaps" doc:"in the readings"`
	Doubled int            `json:"rows_doubled" doc:"rows that were there twice"`
	Columns []logged.Use   `json:"columns" doc:"each column with what it was taken for"`
	Ignored []string       `json:"columns_not_used" doc:"columns that were not used, with why"`
	Days    []loggedDayOut `json:"days" doc:"each day that was logged"`
	Figures []any          `json:"figures" doc:"over all days, with working"`
	Block   string         `json:"for_the_bench_file" doc:"lines to put into the bench file"`
	Notes   []string       `json:"notes" doc:"what to know of it, in sentences"`
}

type loggedDayOut struct {
	Date     string        `json:"date" doc:"YYYY-MM-DD"`
	Covered  float64       `json:"covered" doc:"share of the day with readings, 0 to 1"`
	DLI      number        `json:"dli_mol_m2_d" doc:"of the day (mol m⁻² d⁻¹)"`
	LightH   number        `json:"light_h" doc:"hours with light (h)"`
	Lit      loggedPartOut `json:"lit" doc:"means while the lamps burn"`
	Dark     loggedPartOut `json:"dark" doc:"means while they do not"`
	WholeDay loggedPartOut `json:"whole_day" doc:"means of the day"`
}

type loggedPartOut struct {
	Temperature number `json:"temperature_c" doc:"mean of the air (°C)"`
	Humidity    number `json:"humidity" doc:"mean relative humidity, 0 to 1"`
	VPD         number `json:"vpd_kpa" doc:"mean vapour pressure deficit (kPa)"`
	CO2         number `json:"co2_ppm" doc:"mean (ppm)"`
}

func loggedJSON(a *logged.Answer) loggedOut {
	part := func(p logged.Part) loggedPartOut {
		return loggedPartOut{number(p.Temperature), number(p.Humidity), number(p.VPD), number(p.CO2)}
	}
	out := loggedOut{Bench: a.Bench.Name, StepS: a.Step.Seconds(), Gaps: a.Gaps, Doubled: a.Doubled, Columns: a.Uses, Ignored: append([]string{}, a.Ignored...), Days: []loggedDayOut{}, Figures: []any{}, Block: a.Block, Notes: append([]string{}, a.Notes...)}
	for _, d := range a.Days {
		out.Days = append(out.Days, loggedDayOut{d.Date, d.Covered, number(d.DLI), number(d.LightHours), part(d.Light), part(d.Dark), part(d.All)})
	}
	for _, f := range a.Figures {
		out.Figures = append(out.Figures, f)
	}
	return out
}
