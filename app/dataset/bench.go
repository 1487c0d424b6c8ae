package dataset

import (
	"context"
	"fmt"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/round"
	"underlamp/formats/benchfolder"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
)

// OfBench is everything of a bench with its cycles. file is the name of the bench file in
// the folder; rec is what was seen on its rounds, nil if nothing is known.
func OfBench(ctx context.Context, a Ask, file string, b *underlamp.Bench, rec *round.Record) (*datapackage.Package, error) {
	title := b.Name
	if title == "" {
		title = benchKey(file)
	}
	a.ofAuthors()
	out := a.begin(KindBench, title, file)
	files := newFiles(a.Folder)
	files.bench(file, b)
	add := func(s schema, rows [][]any) {
		if len(rows) > 0 {
			out.Tables = append(out.Tables, s.table(rows))
		}
	}
	add(lamps, lampRows(b))
	plants, err := benchPlantRows(b)
	if err != nil {
		out.Missing = append(out.Missing, datapackage.Missing{What: "The computed light of the plants.", How: fmt.Sprintf("It cannot be worked out: %v.", err)})
	}
	add(benchPlants, plants)
	add(readings, readingRows(b))
	var events [][]any
	if all, err := benchfolder.Cycles(a.Folder, file, b); err == nil {
		var rows, looks [][]any
		for _, c := range all {
			files.add(c.Name, "Cycle", "The record of a crop as it was written.")
			if c.Cycle == nil {
				out.Missing = append(out.Missing, datapackage.Missing{What: "The cycle " + c.Name + " as a table.", How: "The file has mistakes; underlamp learn shows them."})
				continue
			}
			rows = append(rows, cycleRow(c))
			looks = append(looks, cycleLookRows(c)...)
			events = append(events, cycleEvents(c)...)
		}
		add(cycles, rows)
		add(cycleLooks, looks)
	}
	if rec != nil {
		add(rounds, roundRows(rec))
	}
	changed, err := a.records(ctx, out, b, file, time.Time{}, time.Time{})
	if err != nil {
		return nil, err
	}
	if len(events) == 0 && b.Crop.Transplanted != "" {
		if d := tables.DateOf(b.Crop.Transplanted); d != nil {
			events = append(events, []any{d, nil, "transplanting", nil, "Plants were set under the lamps.", nil, nil, nil})
		}
	}
	addChanges(out, append(events, changed...))
	out.Files = files.all
	if err := a.leaveOut(out, ""); err != nil {
		return nil, err
	}
	a.describe(out, nil)
	return out, nil
}

func lampRows(b *underlamp.Bench) (rows [][]any) {
	for _, l := range b.Lamps {
		var file, colour string
		if l.File != nil {
			file = l.File.Name
		}
		if l.Colour != nil {
			colour = l.Colour.Name
		}
		rows = append(rows, []any{l.Name, tables.TextOf(l.Kind), tables.NumberOf(l.X), tables.NumberOf(l.Y), tables.NumberOf(l.Height), tables.Above0(l.Flux.Value), tables.TextOf(l.Flux.Origin.String()), tables.Above0(l.Power.Value), tables.TextOf(l.Power.Origin.String()), tables.NumberOf(l.Dimming.Value), tables.NumberOf(l.Hours.Value), tables.TextOf(file), tables.TextOf(colour), tables.DateOf(l.NewOn)})
	}
	return rows
}

func benchPlantRows(b *underlamp.Bench) (rows [][]any, err error) {
	m, err := light.NewModel(b)
	if err != nil {
		return nil, err
	}
	answer, err := m.Answer(nil, 2)
	if err != nil {
		return nil, err
	}
	tall := map[string]any{}
	for _, p := range b.Plants {
		tall[p.Name] = tables.Above0(p.Height)
	}
	for _, p := range answer.Plants {
		rows = append(rows, []any{p.Name, tables.NumberOf(p.X), tables.NumberOf(p.Y), tall[p.Name], tables.NumberOf(p.PPFD), tables.NumberOf(p.PPFDSD), tables.NumberOf(p.DLI), tables.NumberOf(p.DLISD)})
	}
	return rows, nil
}

func cycleRow(c benchfolder.Found) []any {
	x := c.Cycle
	row := []any{c.Name, tables.TextOf(x.Name), tables.TextOf(x.Cultivar), tables.DateOf(x.Transplanted), tables.DateOf(x.Harvested), nil, nil, tables.TextOf(x.Note)}
	if x.Days > 0 {
		row[5] = int64(x.Days)
	}
	if x.StartMass != nil {
		row[6] = tables.Above0(x.StartMass.Value)
	}
	return row
}

func cycleLookRows(c benchfolder.Found) (rows [][]any) {
	add := func(o underlamp.Observation, counts bool) {
		row := []any{c.Name, tables.TextOf(o.Name), tables.DateOf(o.Date), int64(o.Day), tables.TextOf(o.Plant), nil, nil, nil, nil, nil, nil, nil, nil, nil, o.Cut, counts, tables.TextOf(o.By), tables.TextOf(o.With), tables.TextOf(o.Note)}
		if o.Mass != nil {
			row[5], row[6] = tables.NumberOf(*o.Mass), tables.Above0(o.MassError)
		}
		if o.Height != nil {
			row[7] = tables.NumberOf(*o.Height)
		}
		if o.Leaves != nil {
			row[8] = int64(*o.Leaves)
		}
		if o.Burn != nil {
			row[9] = o.Burn.Seen()
			if o.Burn.Scored {
				row[11] = int64(o.Burn.Severity)
			} else if !o.Burn.Some {
				row[10] = int64(o.Burn.Leaves)
			}
		}
		if o.Count != nil {
			row[12], row[13] = int64(o.Count.Burnt), int64(o.Count.Of)
		}
		rows = append(rows, row)
	}
	for _, o := range c.Cycle.Observations {
		add(o, true)
	}
	for _, o := range c.Cycle.Withdrawn {
		add(o, false)
	}
	return rows
}

func cycleEvents(c benchfolder.Found) (rows [][]any) {
	x := c.Cycle
	for _, e := range []struct{ day, event, what string }{{x.Transplanted, "transplanting", "Plants were set under the lamps."}, {x.Harvested, "harvest", "Plants were cut."}} {
		if d := tables.DateOf(e.day); d != nil {
			rows = append(rows, []any{d, nil, e.event, c.Name, e.what, nil, nil, nil})
		}
	}
	for _, ch := range x.Changes {
		if d := tables.DateOf(ch.Date); d != nil {
			rows = append(rows, []any{d, nil, "setting", c.Name, changeWords(ch), nil, tables.TextOf(ch.Note), nil})
		}
	}
	return rows
}

// changeWords says what a change of a cycle set.
func changeWords(c underlamp.Change) string {
	var all []string
	say := func(what, unit string, value any) {
		all = append(all, strings.TrimSpace(fmt.Sprintf("%s %v %s", what, value, unit)))
	}
	number := func(what, unit string, x *float64) {
		if x != nil {
			say(what, unit, tables.Print(*x))
		}
	}
	number("height of the lamps", "m", valueOf(c.Height))
	number("dimming", "", valueOf(c.Dimming))
	number("hours of light", "h", valueOf(c.Hours))
	if c.Fan != nil {
		say("fan", "", c.Fan.Value)
	}
	number("air speed", "m/s", valueOf(c.Speed))
	number("CO2", "ppm", valueOf(c.CO2))
	number("temperature by day", uC, valueOf(c.DayTemperature))
	number("temperature by night", uC, valueOf(c.NightTemperature))
	number("humidity by day", "", valueOf(c.DayHumidity))
	number("humidity by night", "", valueOf(c.NightHumidity))
	number("calcium", "mg/L", valueOf(c.Calcium))
	number("ammonium nitrogen", "mg/L", valueOf(c.Ammonium))
	number("potassium", "mg/L", valueOf(c.Potassium))
	number("magnesium", "mg/L", valueOf(c.Magnesium))
	number("EC", "mS/cm", valueOf(c.EC))
	number("root temperature", uC, valueOf(c.RootTemp))
	if len(all) == 0 {
		return "A note."
	}
	return strings.Join(all, "; ")
}

func valueOf[T ~float64](g *underlamp.Given[T]) *float64 {
	if g == nil {
		return nil
	}
	x := float64(g.Value)
	return &x
}
