package cli

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

type sensorOptions struct {
	store                string
	reads, unit, note    string
	bench, at, height    string
	every                time.Duration
	noBench              bool
	pairs                []string
	gain, offset, factor float64
	date, by             string
	json                 bool
}

func newSensor(w World) *cobra.Command {
	var o sensorOptions
	cmd := &cobra.Command{
		Use:   "sensor",
		Short: "What sensors read, where they stand, and their calibration",
		Long: `sensor keeps the register of sensors. A sensor is entered by its first reading, under
the name by which it sends; say what it reads, in which unit, on which bench and where
it stands, and the bench is live: underlamp watch tells what follows from its readings.

Readings are kept as they were sent. A calibration holds from its day on, and can be put
right later: the readings stay. It makes gain × (read − offset) of what was read.`,
		Example: `  A light sensor stands between the heads of the demo's middle tier, 5 cm over the
  planting surface, and sends every minute:

  underlamp demo --no-serve
  underlamp sensor set rack-2/ppfd --reads PPFD --sends umol/m2/s --bench underlamp-demo/tier-2-middle.yaml --position "60 cm, 30 cm" --height "5 cm" --every "1 min" --store live.db

  Beside a better meter it read 200 where that one read 212, and 401 where it read 424:

  underlamp sensor calibrate rack-2/ppfd --pair "200 212" --pair "401 424" --by Ines --store live.db
  underlamp sensor show rack-2/ppfd --store live.db
  underlamp sensor list --store live.db`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &o.store, "")
	one := func(cmd *cobra.Command, args []string) error {
		if len(args) != 1 || args[0] == "" || strings.ContainsAny(args[0], "\n\t") || len(args[0]) > 200 {
			return &wrongError{err: fmt.Errorf("%s takes the name of one sensor, as it sends it", cmd.CommandPath())}
		}
		return nil
	}
	list := &cobra.Command{Use: "list", Short: "List the sensors", Args: cobra.NoArgs, RunE: func(cmd *cobra.Command, _ []string) error { return listSensors(cmd, w, o) }}
	jsonFlag(list.Flags(), &o.json, "")
	show := &cobra.Command{Use: "show KEY", Short: "Show all that is known of a sensor", Args: one, RunE: func(cmd *cobra.Command, args []string) error { return showSensor(cmd, w, o, args[0]) }}
	set := &cobra.Command{Use: "set KEY", Short: "Say what a sensor reads and where it stands", Args: one, RunE: func(cmd *cobra.Command, args []string) error { return setSensor(cmd, w, o, args[0]) }}
	f := set.Flags()
	f.StringVar(&o.reads, "reads", "", "what it reads: "+measurand.Names())
	f.StringVar(&o.unit, "sends", "", "the unit in which it sends, such as Cel, %RH, umol/m2/s, lx, kWh")
	renamedFlag(w, f, "unit", "sends")
	f.StringVar(&o.bench, "bench", "", "bench file; or the name in the store of the bench that it stands on")
	f.BoolVar(&o.noBench, "no-bench", false, "it stands on no bench any more")
	f.StringVar(&o.at, "position", "", `where it stands: "60 cm, 30 cm" from the left and from the front`)
	renamedFlag(w, f, "at", "position")
	f.StringVar(&o.height, "height", "", `how high over the planting surface, such as "5 cm"`)
	spanFlag(f, &o.every, "every", time.Second, "time between two readings, such as \"1 min\" or \"10 s\"; 0 s if it is not known")
	noteFlag(f, &o.note, "")
	calibrate := &cobra.Command{Use: "calibrate KEY", Short: "Enter a calibration of a sensor", Args: one, RunE: func(cmd *cobra.Command, args []string) error { return calibrateSensor(cmd, w, o, args[0]) }}
	f = calibrate.Flags()
	f.StringArrayVar(&o.pairs, "pair", nil, `what it read and what was true, such as "200 212", in the unit that it sends; may be given several times`)
	f.Float64Var(&o.gain, "gain", 1, "instead of pairs: true = gain × (read − offset)")
	f.Float64Var(&o.offset, "offset", 0, "the offset to a gain")
	f.Float64Var(&o.factor, "worth", 0, "instead of pairs: what one unit of the sensor is worth, such as µmol/m²/s for each lx")
	f.StringVar(&o.date, "date", "", "day, such as 2026-11-01; the first that it holds for; without it from now on")
	byFlag(f, &o.by)
	renamedFlag(w, f, "factor", "worth")
	noteFlag(f, &o.note, "such as with what it was compared")
	cmd.AddCommand(list, show, set, calibrate)
	return cmd
}

func listSensors(cmd *cobra.Command, w World, o sensorOptions) error {
	s, err := openStore(cmd, w, o.store, false)
	if err != nil {
		return err
	}
	defer s.Close()
	all, err := s.Sensors(cmd.Context())
	if err != nil {
		return err
	}
	if o.json {
		out := sensorsOut{Sensors: []sensorOut{}}
		for _, x := range all {
			out.Sensors = append(out.Sensors, sensorOut{x.Key, x})
		}
		return writeJSON(w, out)
	}
	if len(all) == 0 {
		fmt.Fprintln(w.Out, "No sensor is known. One is entered by its first reading, or by underlamp sensor set KEY.")
		return nil
	}
	var rows [][]string
	unsaid := 0
	for _, x := range all {
		reads := x.Quantity
		if _, ok := measurand.Named(x.Quantity); !ok {
			reads = cmp.Or(x.Quantity, "not said")
			unsaid++
		}
		calibrated := ""
		if n := len(x.Calibrations); n > 0 {
			calibrated = store.Time(x.Calibrations[n-1].From).Local().Format(time.DateOnly)
		}
		rows = append(rows, []string{x.Key, reads, x.Unit, x.Bench, placeText(x), everyText(x.Every), calibrated})
	}
	writeTable(w.Out, []column{{head: "sensor"}, {head: "reads"}, {head: "in"}, {head: "bench"}, {head: "at"}, {head: "every"}, {head: "calibrated"}}, rows)
	if unsaid > 0 {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", "Where nobody said what a sensor reads, its readings are kept and nothing follows from them: underlamp sensor set KEY --reads … --sends … --bench …")
	}
	return nil
}

func everyText(d time.Duration) string {
	if d == 0 {
		return ""
	}
	text := d.String() // "1h0m0s"
	if d%time.Minute == 0 {
		text = strings.TrimSuffix(text, "0s")
	}
	if d%time.Hour == 0 {
		text = strings.TrimSuffix(text, "0m")
	}
	return text
}

func placeText(x store.Sensor) string {
	if x.X == nil || x.Y == nil {
		return ""
	}
	text := quantity.Length.Format(*x.X, quantity.Metric, 3) + ", " + quantity.Length.Format(*x.Y, quantity.Metric, 3)
	if x.Height != nil {
		text += ", " + quantity.Length.Format(*x.Height, quantity.Metric, 3) + " up"
	}
	return text
}

func showSensor(cmd *cobra.Command, w World, o sensorOptions, key string) error {
	s, err := openStore(cmd, w, o.store, false)
	if err != nil {
		return err
	}
	defer s.Close()
	x, err := oneSensor(cmd, s, key)
	if err != nil {
		return err
	}
	m, known := measurand.Named(x.Quantity)
	rows := [][]string{{"reads", cmp.Or(x.Quantity, "not said")}, {"in", cmp.Or(x.Unit, "not said")}, {"bench", cmp.Or(x.Bench, "none")}, {"stands at", cmp.Or(placeText(x), "not said")}, {"sends every", cmp.Or(everyText(x.Every), "not said")}}
	if x.Note != "" {
		rows = append(rows, []string{"note", x.Note})
	}
	now := time.Now()
	hours, err := s.Buckets(cmd.Context(), x.ID, store.At(now.AddDate(0, 0, -30)), store.At(now.Add(2*time.Hour)), store.Hour)
	if err != nil {
		return err
	}
	if n := len(hours); n == 0 {
		rows = append(rows, []string{"newest", "nothing in the last 30 days"})
	} else {
		last := hours[n-1]
		text := quantity.Number(last.Last, 6) + " " + x.Unit + " as sent"
		if known {
			if to, err := m.Conversion(x.Unit, 0); err == nil {
				text += ", " + m.Text(to.Base(x.True(last.From, last.Last)), quantity.Metric) + " true"
			}
		}
		rows = append(rows, []string{"newest", text + ", in the hour from " + store.Time(last.From).Local().Format("2006-01-02 15:04")})
	}
	fmt.Fprintln(w.Out, x.Key)
	writeTable(w.Out, []column{{}, {}}, rows)
	if len(x.Calibrations) > 0 {
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, c := range x.Calibrations {
			rows = append(rows, []string{store.Time(c.From).Local().Format("2006-01-02 15:04"), quantity.Number(c.Gain, 5), quantity.Number(c.Offset, 5), c.By, c.Note})
		}
		writeTable(w.Out, []column{{head: "calibrated from"}, {"gain", true}, {"offset", true}, {head: "by"}, {head: "note"}}, rows)
	}
	return nil
}

func oneSensor(cmd *cobra.Command, s store.Store, key string) (store.Sensor, error) {
	x, err := s.Sensor(cmd.Context(), key)
	if errors.Is(err, store.ErrNotFound) {
		return x, &wrongError{err: fmt.Errorf("no sensor is called %q; underlamp sensor list shows them", key)}
	}
	return x, err
}

func setSensor(cmd *cobra.Command, w World, o sensorOptions, key string) error {
	var c live.Change
	f := cmd.Flags()
	if f.NFlag() < 2 { // --store is one
		return &wrongError{err: fmt.Errorf("%s changes nothing as it stands; say for example --reads temperature --sends Cel (%s --help lists what can be said)", cmd.CommandPath(), cmd.CommandPath())}
	}
	for flag, to := range map[string]**string{"reads": &c.Reads, "sends": &c.Unit, "note": &c.Note} {
		if f.Changed(flag) {
			v := f.Lookup(flag).Value.String()
			*to = &v
		}
	}
	if f.Changed("every") {
		c.Every = &o.every
	}
	c.NoBench = o.noBench
	if o.at != "" {
		x, y, ok := strings.Cut(o.at, ", ")
		if !ok {
			x, y, ok = strings.Cut(o.at, ";")
		}
		if !ok {
			return &wrongError{err: fmt.Errorf("--position %q is not understood; write it as \"60 cm, 30 cm\": from the left, and from the front", o.at)}
		}
		for _, p := range []struct {
			text string
			to   **quantity.Metre
		}{{x, &c.X}, {y, &c.Y}} {
			v, err := quantity.Length.Parse(strings.TrimSpace(p.text))
			if err != nil {
				return &wrongError{err: fmt.Errorf("--position: %w", err)}
			}
			m := quantity.Metre(v)
			*p.to = &m
		}
	}
	if o.height != "" {
		v, err := quantity.Length.Parse(o.height)
		if err != nil {
			return &wrongError{err: fmt.Errorf("--height: %w", err)}
		}
		m := quantity.Metre(v)
		c.Height = &m
	}
	s, err := openStore(cmd, w, o.store, true)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.bench != "" {
		b, err := liveBench(cmd.Context(), w, s, o.bench)
		if err != nil {
			return err
		}
		c.Bench = &b
	}
	was, err := s.Sensor(cmd.Context(), key)
	isNew := errors.Is(err, store.ErrNotFound)
	if err != nil && !isNew {
		return err
	}
	was.Key = key
	x, err := live.Described(was, c)
	if err != nil {
		return &wrongError{err: err}
	}
	if _, err := s.PutSensor(cmd.Context(), x); err != nil {
		return err
	}
	word := "is described anew"
	if isNew {
		word = "is entered; it has sent nothing yet"
	}
	fmt.Fprintf(w.Out, "%s %s: %s in %s, on %s.\n", key, word, cmp.Or(x.Quantity, "nobody said what it reads"), cmp.Or(x.Unit, "no unit"), cmp.Or(x.Bench, "no bench"))
	return nil
}

func calibrateSensor(cmd *cobra.Command, w World, o sensorOptions, key string) error {
	s, err := openStore(cmd, w, o.store, false)
	if err != nil {
		return err
	}
	defer s.Close()
	x, err := oneSensor(cmd, s, key)
	if err != nil {
		return err
	}
	f := cmd.Flags()
	byHand := f.Changed("gain") || f.Changed("offset")
	ways := 0
	for _, is := range []bool{len(o.pairs) > 0, byHand, f.Changed("worth")} {
		if is {
			ways++
		}
	}
	if ways != 1 {
		return &wrongError{err: fmt.Errorf("%s needs --pair, or --gain and --offset, or --worth", cmd.CommandPath())}
	}
	var found live.Calibrated
	switch {
	case len(o.pairs) > 0:
		var pairs []live.Pair
		for _, text := range o.pairs {
			words := strings.Fields(strings.ReplaceAll(text, "=", " "))
			if len(words) != 2 {
				return &wrongError{err: fmt.Errorf("--pair %q is not understood; write what it read and what was true: \"200 212\"", text)}
			}
			read, errA := strconv.ParseFloat(words[0], 64)
			is, errB := strconv.ParseFloat(words[1], 64)
			if errA != nil || errB != nil {
				return &wrongError{err: fmt.Errorf("--pair %q is not understood; it takes two numbers with a decimal point, without units", text)}
			}
			pairs = append(pairs, live.Pair{Read: read, True: is})
		}
		m, _ := measurand.Named(x.Quantity)
		if found, err = live.FromPairs(m.Quantity, pairs); err != nil {
			return &wrongError{err: err}
		}
	case byHand:
		found.Calibration.Gain, found.Calibration.Offset, found.How = o.gain, o.offset, "as said"
	default:
		found.Calibration.Gain, found.How = o.factor, "factor as said"
	}
	c := found.Calibration
	c.From, c.By, c.Note = store.At(time.Now()), o.by, o.note
	if o.date != "" {
		day, err := time.ParseInLocation(time.DateOnly, o.date, time.Local)
		if err != nil {
			return &wrongError{err: fmt.Errorf("the day %q is not understood; write it as 2026-11-01", o.date)}
		}
		c.From = store.At(day)
	}
	if c.Note == "" {
		c.Note = found.How
	}
	y, err := live.WithCalibration(x, c, f.Changed("worth"))
	if err != nil {
		return &wrongError{err: err}
	}
	if _, err := s.PutSensor(cmd.Context(), y); err != nil {
		return err
	}
	read := "read"
	if c.Offset != 0 {
		read = "(read " + working.Signed(-c.Offset, 3) + ")"
	}
	fmt.Fprintf(w.Out, "%s is calibrated from %s on: true = %s × %s, %s.\n", key, store.Time(c.From).Local().Format("2006-01-02 15:04"), quantity.Number(c.Gain, 5), read, found.How)
	if len(o.pairs) > 1 {
		fmt.Fprintf(w.Out, "It meets the pairs to %s %s.\n", quantity.Fixed(found.Worst, 3), x.Unit)
	}
	return nil
}

// zoneOf is the zone of a flag; that of this machine if it is empty.
func zoneOf(name string) (*time.Location, error) {
	if name == "" {
		return time.Local, nil
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the zone %q is not known; zones are called after places, such as Europe/Berlin or America/Chicago", name)}
	}
	return z, nil
}

// sensorsOut is the sensors of a store.
type sensorsOut struct {
	Sensors []sensorOut `json:"sensors" doc:"by key"`
}

type sensorOut struct {
	Key string `json:"key" doc:"the name under which it sends"`
	store.Sensor
}
