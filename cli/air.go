package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/air"
	"underlamp/app/aswire"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/formats/watchfile"
	"underlamp/report"
	"underlamp/science/fanjet"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/wire"
)

// airMeasures are the options that tell the moisture of air, by name.
var airMeasures = []struct {
	name, help string
	m          moistair.Measure
}{
	{"humidity", "relative humidity, for example 65 %", moistair.RelativeHumidity},
	{"vpd", "vapour pressure deficit of the air, for example 0.9 kPa", moistair.Deficiency},
	{"dew-point", "dew point, for example 15 °C", moistair.DewPointC},
	{"wet-bulb", "wet-bulb temperature, for example 18 °C", moistair.WetBulbC},
	{"absolute-humidity", "water in the air, for example 13 g/m³", moistair.VapourDensity},
	{"mixing-ratio", "water for each kg of dry air, for example 11 g/kg", moistair.MixingRatio},
	{"enthalpy", "enthalpy of the air, for example 51 kJ/kg", moistair.EnthalpyKJ},
	{"vapour-pressure", "pressure of the vapour, for example 1.8 kPa", moistair.PartialPressure},
}

type airOptions struct {
	file        string
	temperature string
	leaf        string
	units       string
	known       []string // texts of airMeasures
	turns       []string // texts of air.Knobs
	fan         string
	day         int

	blades, flow, outlet, distance string
	turnsPerMinute                 float64
	fans                           int
	readings                       string

	hearts  bool
	store   string
	zone    string
	json    bool
	working bool
}

func newAir(w World) *cobra.Command {
	o := airOptions{known: make([]string, len(airMeasures)), turns: make([]string, len(air.Knobs()))}
	cmd := &cobra.Command{
		Use:   "air [FILE]",
		Short: "VPD, dew, water and heat to remove, fan; or moist air by itself",
		Long: `air tells of a bench how hard its air pulls at the leaves by day and night, whether
dew may form, how much water and heat must leave the room each hour as the crop grows,
what machine or how much air does it and what that costs in electricity, money and CO2.
Water is that of the outlook. What is said of the room stands under room in the bench file.
Options named like the values of the bench show what would be.

--hearts asks the outlook what air speed and what humidity by night do to the chance of
burn. --blades says what a fan does at the heads, --readings what an anemometer read.

Without FILE it computes moist air: a temperature and one measure of its moisture give
all the others, at any altitude.`,
		Example: `  Which humidity, dew point and wet bulb has air of 24 °C with a deficit of 0.9 kPa?

  underlamp air --temperature "24 °C" --vpd "0.9 kPa"
  underlamp air --temperature "75 °F" --humidity "65 %" --altitude "5000 ft" --units us

  What must leave the air of the demo's middle tier, and what would moister nights do?

  underlamp demo --no-serve
  underlamp air underlamp-demo/tier-2-middle.yaml
  underlamp air underlamp-demo/tier-2-middle.yaml --night-humidity "90 %" --working

  Is a fan of 12 cm that moves 90 m³/h, 60 cm over the heads, enough?

  underlamp air underlamp-demo/tier-2-middle.yaml --hearts --blades "12 cm" --flow "90 m³/h" --distance "60 cm" --fan down

  An anemometer was held over five heads:

  underlamp air underlamp-demo/tier-2-middle.yaml --readings "0.2, 0.35, 0.1, 0.25, 0.3 m/s"`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return wrongf("%s takes one bench file, or none", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				o.file = args[0]
				return runAir(cmd, w, o)
			}
			return runPsychrometry(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.temperature, "temperature", "", "temperature of the air, for example 24 °C, without FILE")
	for i, m := range airMeasures {
		f.StringVar(&o.known[i], m.name, "", m.help+", without FILE")
	}
	f.StringVar(&o.leaf, "leaf", "", "temperature of a leaf, for example 22 °C, without FILE")
	unitsFlag(f, &o.units, "as the bench file has it")
	for i, k := range air.Knobs() {
		help := strings.ToLower(k.Label[:1]) + k.Label[1:] + ", instead of that of the bench"
		if k.Name == "altitude" {
			help = "altitude of the place, for example 300 m"
		}
		if strings.HasPrefix(k.Label, "CO2") {
			help = "CO2 by day, instead of that of the bench"
		}
		f.StringVar(&o.turns[i], k.Name, "", help)
	}
	f.StringVar(&o.fan, "fan", "", "how air is moved, instead of as on the bench: none, across or down; with --blades where they blow")
	f.IntVar(&o.day, "crop-day", 0, "day of the crop to show (default: that on which most water must go)")
	f.StringVar(&o.blades, "blades", "", "diameter of the blades of a fan, for example 12 cm")
	f.StringVar(&o.flow, "flow", "", "air that the fan moves, for example 90 m³/h")
	f.StringVar(&o.outlet, "outlet", "", "speed of the air at the blades of the fan, for example 2 m/s")
	f.Float64Var(&o.turnsPerMinute, "turns", 0, "turns of the fan a minute, if neither --flow nor --outlet is known")
	f.StringVar(&o.distance, "distance", "", "distance from the blades to the heads, for example 80 cm")
	f.IntVar(&o.fans, "fans", 1, "how many fans alike, spread evenly")
	f.StringVar(&o.readings, "readings", "", "readings of an anemometer over the bench: \"0.2, 0.35 m/s\"; within: before those between the leaves")
	f.BoolVar(&o.hearts, "hearts", false, "ask the outlook about air speeds and nights")
	storeFlag(f, &o.store, "the hours that its sensors have sent are looked at too")
	renamedFlag(w, f, "day", "crop-day")
	zoneFlag(f, &o.zone, "")
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
}

func runPsychrometry(cmd *cobra.Command, w World, o airOptions) error {
	u, err := system(o.units, quantity.Metric)
	if err != nil {
		return err
	}
	if o.temperature == "" {
		return wrongf("%s needs a bench file, or --temperature with one measure of moisture (%s --help shows both)", cmd.CommandPath(), cmd.CommandPath())
	}
	t, err := quantity.Temperature.Parse(o.temperature)
	if err != nil {
		return wrongf("--temperature: %w", err)
	}
	given := -1
	for i, text := range o.known {
		if text == "" {
			continue
		}
		if given >= 0 {
			return wrongf("--%s and --%s are both given; one measure of moisture is enough", airMeasures[given].name, airMeasures[i].name)
		}
		given = i
	}
	if given < 0 {
		return wrongf("one measure of moisture is needed beside --temperature: --humidity, --vpd, --dew-point, --wet-bulb, --absolute-humidity, --mixing-ratio, --enthalpy or --vapour-pressure")
	}
	known, err := air.ParseKnown(airMeasures[given].m, o.known[given])
	if err != nil {
		return wrongf("--%s: %w", airMeasures[given].name, err)
	}
	leaf, altitude := math.NaN(), 0.0
	if o.leaf != "" {
		if leaf, err = quantity.Temperature.Parse(o.leaf); err != nil {
			return wrongf("--leaf: %w", err)
		}
	}
	for i, k := range air.Knobs() {
		if o.turns[i] == "" {
			continue
		}
		if k.Name != "altitude" {
			return wrongf("--%s is of a bench: name its file", k.Name)
		}
		if altitude, err = k.Kind.Parse(o.turns[i]); err != nil {
			return wrongf("--altitude: %w", err)
		}
		if altitude < k.Low || altitude > k.High {
			return wrongf("--altitude: from %s to %s", k.Kind.Format(k.Low, u, 3), k.Kind.Format(k.High, u, 3))
		}
	}
	figures, err := air.Psychrometry(quantity.Celsius(t), quantity.Metre(altitude), known, leaf, u)
	if err != nil {
		return &wrongError{err: err}
	}
	if o.json {
		return writeJSON(w, moistAirOut{aswire.Figures(figures)})
	}
	fmt.Fprintf(w.Out, "Air of %s\n\n", quantity.Temperature.Format(t, u, 4))
	writeFigures(w.Out, figures)
	if o.working {
		writeWorking(w.Out, figures)
	}
	return nil
}

func runAir(cmd *cobra.Command, w World, o airOptions) error {
	for i, text := range append([]string{o.temperature, o.leaf}, o.known...) {
		if text != "" {
			name := append([]string{"temperature", "leaf"}, names(airMeasures)...)[i]
			return wrongf("--%s is of moist air by itself, without a bench file; of a bench turn --day-temperature, --night-humidity and the like", name)
		}
	}
	m, err := loadModel(w, o.file)
	if err != nil {
		return err
	}
	b := m.Bench()
	if b.Units, err = system(o.units, b.Units); err != nil {
		return err
	}
	ol, err := outlook.New(m, 0)
	var refused *outlook.NotSupported
	if err != nil && !errors.As(err, &refused) {
		return &wrongError{err: fmt.Errorf("%s: %w", o.file, err)}
	}
	turned, changed, err := o.turned(b)
	if err != nil {
		return err
	}
	now, err := answerAir(m, ol, b, refused, o.day)
	if err != nil {
		return err
	}
	var then *air.Answer
	a := now
	if changed {
		if then, err = answerAir(m, ol, turned, refused, o.day); err != nil {
			return err
		}
		a = then
	}
	var hearts *air.Hearts
	if o.hearts {
		if refused != nil {
			return refused
		}
		if hearts, err = air.HeartsOf(cmd.Context(), turned, ol, 0); err != nil {
			return err
		}
	}
	var blown *air.Blown
	if o.blades != "" {
		if blown, err = o.blow(turned); err != nil {
			return &wrongError{err: err}
		}
	} else if o.flow+o.outlet+o.distance != "" || o.turnsPerMinute != 0 {
		return wrongf("--flow, --outlet, --turns and --distance are of a fan: say the diameter of its --blades too")
	}
	var survey *fanjet.Survey
	if o.readings != "" {
		r, err := air.ParseReadings(o.readings)
		if err != nil {
			return wrongf("--readings: %w", err)
		}
		s, err := fanjet.SurveyOf(r)
		if err != nil {
			return wrongf("--readings: %w", err)
		}
		survey = &s
	}
	zone, err := zoneOf(o.zone)
	if err != nil {
		return err
	}
	var record *air.Record
	if o.store != "" {
		if record, err = recordedAir(cmd, w, o, zone); err != nil {
			return err
		}
	}
	if o.json {
		return writeJSON(w, airJSON(a, then != nil, now, hearts, blown, survey, record))
	}
	printAir(w, now, then, o.working)
	if hearts != nil {
		fmt.Fprintln(w.Out, "\nAir speed, nights and the hearts")
		writeParagraphs(w.Out, "  ", hearts.Sentences(turned))
		fmt.Fprintln(w.Out)
		writeDrawn(w, report.SpeedsTable(turned, hearts))
		fmt.Fprintln(w.Out)
		writeDrawn(w, report.NightsTable(turned, hearts))
		writeParagraphs(w.Out, "  note     ", []string{air.SpeedNote, air.NightNote})
	}
	if blown != nil {
		fmt.Fprintln(w.Out, "\nThe fan")
		writeParagraphs(w.Out, "  ", air.BlownSentences(turned, blown, hearts))
	}
	if survey != nil {
		fmt.Fprintln(w.Out, "\nThe anemometer")
		writeParagraphs(w.Out, "  ", air.SurveySentences(*survey, b.Units))
	}
	if o.store != "" {
		fmt.Fprintln(w.Out, "\nRecorded hours")
		if record == nil {
			writeParagraph(w.Out, "  ", fmt.Sprintf("No sensor of air temperature and humidity has read this bench in the last %d days.", air.RecordedDays))
		} else {
			writeParagraphs(w.Out, "  ", air.RecordSentences(turned, record, zone))
		}
	}
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ! ", "Machines that stand in a wet room: residual-current device (RCD or GFCI), drip loops, no plug over water; a drain that cannot be blocked. Fixed wiring is work for a licensed electrician; local code governs.")
	if a.Dose.Enriched {
		writeParagraph(w.Out, "  ! ", "CO2 can kill. "+air.Caution(a.Bench, a.Dose))
	}
	return nil
}

func names(list []struct {
	name, help string
	m          moistair.Measure
}) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = x.name
	}
	return out
}

// answerAir computes the air of a bench, with all draws of its outlook.
func answerAir(m *light.Model, o *outlook.Outlook, b *underlamp.Bench, refused error, day int) (*air.Answer, error) {
	if o == nil {
		lit, err := m.At(b.Setting().Height)
		if err != nil {
			return nil, err
		}
		return air.Of(b, nil, refused, lit.Answer(nil, 5).Mean.Value, day), nil
	}
	f, err := o.Under(b, 0)
	if err != nil {
		return nil, err
	}
	return air.Of(b, f, nil, f.AtSurface, day), nil
}

// turned is the bench with what the options say.
func (o *airOptions) turned(b *underlamp.Bench) (out *underlamp.Bench, changed bool, err error) {
	out = b
	for i, k := range air.Knobs() {
		if o.turns[i] == "" {
			continue
		}
		v, err := k.Kind.Parse(o.turns[i])
		if err != nil {
			return nil, false, wrongf("--%s: %w", k.Name, err)
		}
		if out, err = k.Turn(out, v); err != nil {
			return nil, false, wrongf("--%s: %w", k.Name, err)
		}
	}
	if o.fan != "" && o.blades == "" {
		aim, err := aimOf(o.fan)
		if err != nil {
			return nil, false, err
		}
		if aim != out.Air.Fan.Value {
			c := *out
			c.Air.Fan = underlamp.Said(aim)
			if c.Air.Speed.IsDefault() {
				c.Air.Speed = underlamp.UsualSpeed(aim)
			}
			out = &c
		}
	}
	return out, out != b, nil
}

func aimOf(word string) (underlamp.FanAim, error) {
	for _, a := range underlamp.FanAims() {
		if strings.EqualFold(word, string(a)) {
			return a, nil
		}
	}
	return "", wrongf("--fan is none, across or down, not %q", word)
}

// blow reads the options of a fan.
func (o *airOptions) blow(b *underlamp.Bench) (*air.Blown, error) {
	var r amounts
	f := air.Blades{
		Diameter: quantity.Metre(r.read("blades", o.blades, quantity.Length)), Flow: r.read("flow", o.flow, quantity.AirFlow),
		Outlet: r.read("outlet", o.outlet, quantity.AirSpeed), Turns: o.turnsPerMinute,
		Distance: quantity.Metre(r.read("distance", o.distance, quantity.Length)), Aim: underlamp.Down, Count: o.fans,
	}
	if r.err != nil {
		return nil, r.err
	}
	if o.fan != "" {
		aim, err := aimOf(o.fan)
		if err != nil {
			return nil, err
		}
		f.Aim = aim
	}
	return air.Blow(b, f)
}

// recordedAir reads the hours of a bench in a store.
func recordedAir(cmd *cobra.Command, w World, o airOptions, zone *time.Location) (*air.Record, error) {
	ctx := cmd.Context()
	s, err := openStore(cmd, w, o.store, false)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	b, err := liveBench(ctx, w, s, o.file)
	if err != nil {
		return nil, err
	}
	engine := live.New(s, func(context.Context) ([]live.Bench, error) { return []live.Bench{b}, nil }, live.Options{
		Zone: zone, ReadWatch: func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) { return watchfile.Parse(text, b.Units) },
	})
	return air.Recorded(ctx, engine, b.Bench, b.Key, time.Now())
}

func printAir(w World, now, then *air.Answer, working bool) {
	a := now
	if then != nil {
		a = then
	}
	b := a.Bench
	what := ""
	if then != nil {
		what = ", what if"
	}
	fmt.Fprintf(w.Out, "%s: air%s\n\n", b.Name, what)
	writeParagraphs(w.Out, "  ", a.Sentences())
	fmt.Fprintln(w.Out)
	figures := a.Figures()
	if then != nil {
		was := map[string]string{}
		for _, f := range now.Figures() {
			was[f.Name] = f.Text()
		}
		rows := [][]string{}
		for _, f := range figures {
			rows = append(rows, []string{f.Name, was[f.Name], f.Text(), f.BandText()})
		}
		writeTable(w.Out, []column{{head: "figure"}, {head: "now"}, {head: "what if"}, {head: "band"}}, rows)
	} else {
		writeFigures(w.Out, figures)
	}
	if a.Refused != nil {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ! ", a.Refused.Error())
	}
	if len(a.Days) > 0 {
		fmt.Fprintln(w.Out, "\nWater and warmth by day of the crop")
		rows := [][]string{}
		for i, d := range a.Days {
			if d.Day%7 != 0 && i != len(a.Days)-1 && i != a.At {
				continue
			}
			rows = append(rows, []string{fmt.Sprint(d.Day), quantity.Fixed(d.Fresh, 0), quantity.Fixed(d.Light.Remove.Mid, 0), quantity.Fixed(d.Dark.Remove.Mid, 0),
				quantity.Fixed(d.Light.Sensible.Mid, 0), quantity.Fixed(d.Light.Latent, 0), quantity.Fixed(d.Dark.Sensible.Mid, 0), quantity.Fixed(d.Dark.Latent, 0)})
		}
		writeTable(w.Out, []column{{"day", true}, {"fresh g", true}, {"water day g/h", true}, {"night", true}, {"warmth day W", true}, {"in water W", true}, {"warmth night W", true}, {"in water W", true}}, rows)
		fmt.Fprintln(w.Out)
		writeDrawn(w, report.WaysTable(a))
		writeParagraphs(w.Out, "  note     ", report.WaysNotes(a))
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", report.DoseText(a))
	}
	if working {
		writeWorking(w.Out, figures)
	}
}

// writeDrawn prints a table of a page in the terminal.
func writeDrawn(w World, t draw.Table) {
	fmt.Fprintln(w.Out, t.Caption)
	cols := make([]column, len(t.Head))
	for i, h := range t.Head {
		cols[i] = column{head: h, right: i > 0}
	}
	writeTable(w.Out, cols, t.Rows)
}

// moistAirOut is moist air by itself.
type moistAirOut struct {
	Figures []wire.Figure `json:"figures" doc:"of the air, with working"`
}

type airLoadOut struct {
	Hours    number  `json:"hours" doc:"how long it lasts a day (h)"`
	Water    bandOut `json:"water_g_h" doc:"that the crop gives off (g/h)"`
	Remove   bandOut `json:"water_to_remove_g_h" doc:"water that must go so that the humidity holds (g/h)"`
	Add      number  `json:"water_to_add_g_h" doc:"water that must be added so that the humidity holds (g/h)"`
	Electric number  `json:"electricity_w" doc:"electricity that becomes heat in the room (W)"`
	Envelope number  `json:"envelope_w" doc:"heat through walls and chinks, into the room (W)"`
	Sensible bandOut `json:"warmth_w" doc:"warmth to remove; negative: the room must be warmed (W)"`
	Latent   number  `json:"latent_w" doc:"heat that the water to remove carries (W)"`
}

type airDayOut struct {
	Day   int        `json:"day" doc:"after transplanting"`
	Light airLoadOut `json:"by_day" doc:"while the lamps burn"`
	Dark  airLoadOut `json:"by_night" doc:"while they do not"`
	CO2   number     `json:"co2_uptake_g_d" doc:"that the crop takes up (g/d)"`
}

type airWayOut struct {
	Key      string  `json:"key" doc:"which way it is"`
	Possible bool    `json:"possible" doc:"it can hold the room"`
	Why      string  `json:"why,omitempty" doc:"why it cannot, or what it rests on"`
	Flow     number  `json:"air_by_day_m3_h" doc:"air exchanged while the lamps burn, 0 for machines (m³/h)"`
	Dark     number  `json:"air_by_night_m3_h" doc:"air exchanged while they do not, 0 for machines (m³/h)"`
	KWh      number  `json:"kwh_d" doc:"electricity of drying, cooling, heating and fans (kWh/d)"`
	CO2      number  `json:"co2_lost_g_d" doc:"that leaves the room while the lamps burn (g/d)"`
	Money    number  `json:"money_d" doc:"of a day for electricity and CO2, in the currency of the bench file"`
	Cycle    *number `json:"kwh_cycle,omitempty" doc:"electricity of the cycle (kWh)"`
	Costs    *number `json:"money_cycle,omitempty" doc:"of the cycle, in the currency of the bench file"`
}

type airOut struct {
	Bench    string         `json:"bench" doc:"its name"`
	WhatIf   bool           `json:"what_if" doc:"something was changed by an option"`
	Figures  []wire.Figure  `json:"figures" doc:"of the air of the room, with working"`
	Before   []wire.Figure  `json:"figures_now,omitempty" doc:"the same as it is now, beside a change"`
	Days     []airDayOut    `json:"days" doc:"what must go as the crop grows"`
	Ways     []airWayOut    `json:"ways" doc:"by which it can go"`
	Hearts   *airHeartsOut  `json:"hearts,omitempty" doc:"what moving air and drier nights do for the youngest leaves"`
	Fan      *airFanOut     `json:"fan,omitempty" doc:"the air of a fan at the heads"`
	Readings *fanjet.Survey `json:"readings,omitempty" doc:"what readings of an anemometer mean"`
	Record   *airRecordOut  `json:"recorded,omitempty" doc:"what hours recorded by sensors say of dew"`
}

type airSpeedOut struct {
	Speed  number `json:"speed_m_s" unit:"m/s" doc:"of the air at the plants"`
	Across number `json:"burn_across" doc:"chance of burn if air blows across the heads, 0 to 1"`
	Down   number `json:"burn_down" doc:"chance of burn if air blows down into the hearts, 0 to 1"`
}

type airNightOut struct {
	Humidity number `json:"humidity" doc:"relative humidity by night, 0 to 1"`
	VPD      number `json:"vpd_kpa" unit:"kPa"`
	Root     number `json:"root_pressure_left" doc:"share of the root pressure that is left, 0 to 1"`
	Margin   number `json:"over_dew_point_k" unit:"K"`
	Chance   number `json:"chance_of_burn" doc:"0 to 1"`
}

type airHeartsOut struct {
	Limit  number             `json:"limit" doc:"chance of burn that the grower allows, 0 to 1"`
	Now    number             `json:"chance_now" doc:"chance of burn as it is, 0 to 1"`
	Speeds []airSpeedOut      `json:"speeds" doc:"chance of burn by speed of air"`
	Need   map[string]*number `json:"needed_m_s" unit:"m/s" doc:"least speed that keeps the limit, by how the air blows; null if none does"`
	Nights []airNightOut      `json:"nights" doc:"chance of burn by humidity at night"`
}

type airFanOut struct {
	Outlet number `json:"outlet_m_s" unit:"m/s"`
	Mean   number `json:"mean_at_plants_m_s" unit:"m/s"`
	Low    number `json:"low" unit:"m/s" doc:"90 % band of the mean"`
	High   number `json:"high" unit:"m/s"`
	Least  number `json:"least_m_s" unit:"m/s" doc:"at the plant that has least"`
	Most   number `json:"most_m_s" unit:"m/s" doc:"at the plant that has most"`
}

type airRecordOut struct {
	Hours  int       `json:"hours" doc:"hours that were recorded"`
	Wet    int       `json:"hours_of_dew" doc:"hours with dew on the leaves (h)"`
	Near   int       `json:"hours_near_dew" doc:"hours in which dew was near (h)"`
	Worst  time.Time `json:"nearest_at" doc:"when dew was nearest"`
	Margin number    `json:"nearest_over_dew_point_k" unit:"K"`
}

func airBand(b air.Band) bandOut {
	return bandOut{Low: number(b.Low), Mid: number(b.Mid), High: number(b.High)}
}

func airJSON(a *air.Answer, whatIf bool, now *air.Answer, h *air.Hearts, fan *air.Blown, s *fanjet.Survey, r *air.Record) airOut {
	out := airOut{Bench: a.Bench.Name, WhatIf: whatIf, Figures: aswire.Figures(a.Figures()), Days: []airDayOut{}, Ways: []airWayOut{}, Readings: s}
	if whatIf {
		out.Before = aswire.Figures(now.Figures())
	}
	load := func(l air.Load) airLoadOut {
		return airLoadOut{number(l.Hours), airBand(l.Water), airBand(l.Remove), number(l.Add), number(l.Electric), number(l.Envelope), airBand(l.Sensible), number(l.Latent)}
	}
	for _, d := range a.Days {
		out.Days = append(out.Days, airDayOut{d.Day, load(d.Light), load(d.Dark), number(d.Uptake)})
	}
	maybe := func(v float64) *number {
		if math.IsNaN(v) {
			return nil
		}
		n := number(v)
		return &n
	}
	for _, x := range a.Ways {
		out.Ways = append(out.Ways, airWayOut{x.Key, x.Possible, x.Why, number(x.Flow), number(x.Dark), number(x.KWh()), number(x.CO2), number(x.Money), maybe(x.Cycle), maybe(x.Costs)})
	}
	if h != nil {
		v := &airHeartsOut{Limit: number(h.Limit), Now: number(h.Now), Need: map[string]*number{}}
		for _, x := range h.Speeds {
			v.Speeds = append(v.Speeds, airSpeedOut{number(x.Speed), number(x.Burn[0]), number(x.Burn[1])})
		}
		for i, aim := range h.Aims {
			v.Need[string(aim)] = maybe(h.Need[i])
		}
		for _, x := range h.Nights {
			v.Nights = append(v.Nights, airNightOut{number(x.Humidity), number(x.VPD), number(x.Pressure), number(x.Margin), number(x.Chance)})
		}
		out.Hearts = v
	}
	if fan != nil {
		out.Fan = &airFanOut{number(fan.Jet.Outlet), number(fan.Mean), number(fan.Low), number(fan.High), number(fan.Least), number(fan.Most)}
	}
	if r != nil {
		out.Record = &airRecordOut{len(r.Hours), r.Wet, r.Near, r.Worst.At, number(r.Worst.Margin)}
	}
	return out
}
