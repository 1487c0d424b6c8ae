package dataset

import (
	"context"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/kept"
	"underlamp/app/logged"
	"underlamp/app/measurand"
	"underlamp/app/photo"
	"underlamp/app/round"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
	"underlamp/store"
)

// A Store is what is asked of a store.
type Store interface {
	store.Sensors
	store.Readings
	store.Observations
	store.Benches
	photo.Keeper
}

// Records are what a store keeps of a bench.
type Records struct {
	Store Store
	Zone  *time.Location // of the days
	Raw   bool           // every reading of the sensors, besides the hours
	Book  *photo.Book    // photos that were read; nil: none
}

// benchKey is the name of a bench in a store.
func benchKey(file string) string { return strings.TrimSuffix(path.Base(file), path.Ext(file)) }

// records adds what the store keeps of the bench between two days (zero: without end),
// and returns the changes of the bench.
func (a *Ask) records(ctx context.Context, out *datapackage.Package, b *underlamp.Bench, file string, from, until time.Time) (changed [][]any, err error) {
	r := a.Records
	if r == nil {
		out.Missing = append(out.Missing, datapackage.Missing{What: "What sensors read, photos, and the history of the bench.", How: "Name the store that underlamp serve keeps: --records underlamp.db."})
		return nil, nil
	}
	if b == nil {
		return nil, nil
	}
	id := benchKey(file)
	add := func(s schema, rows [][]any) {
		if len(rows) > 0 {
			out.Tables = append(out.Tables, s.table(rows))
		}
	}
	lo, hi := int64(0), int64(math.MaxInt64)
	if !from.IsZero() {
		lo, hi = store.At(from.AddDate(0, 0, -1)), store.At(until.AddDate(0, 0, 2)) // zones reach a day beyond
	}
	if r.Book != nil {
		add(photos, photoRows(r.Book, r.Zone, lo, hi))
	}
	all, err := r.Store.Sensors(ctx)
	if err != nil {
		return nil, err
	}
	var here []store.Sensor
	for _, s := range all {
		if s.Bench == id {
			here = append(here, s)
		}
	}
	if len(here) == 0 {
		out.Missing = append(out.Missing, datapackage.Missing{What: "What sensors read: the store knows none of this bench.", How: "Register them with underlamp sensor, or let serve take what devices send."})
	} else {
		days, why, err := environmentRows(ctx, r, here, b, lo, hi)
		if err != nil {
			return nil, err
		}
		add(environment, days)
		if why != "" {
			out.Missing = append(out.Missing, datapackage.Missing{What: "The environment by day.", How: why})
		}
		add(sensors, sensorRows(here))
		out.Tables = append(out.Tables, hourTable(ctx, r.Store, here, lo, hi))
		if r.Raw {
			out.Tables = append(out.Tables, rawTable(ctx, r.Store, here, lo, hi))
		}
	}
	versions, err := r.Store.History(ctx, id)
	if err != nil {
		return nil, err
	}
	steps, _ := kept.Timeline(versions)
	for i, x := range steps {
		if i == 0 || x.From < lo || x.From > hi {
			continue
		}
		at := store.Time(x.From)
		what := strings.Join(x.Changes, "; ")
		if what == "" {
			what = x.Fault
		}
		changed = append(changed, []any{dayIn(at, r.Zone), at, "setting", nil, tables.TextOf(what), tables.TextOf(x.By), tables.TextOf(x.Why), store.Time(x.Recorded)})
	}
	changed = slices.DeleteFunc(changed, func(row []any) bool { return row[4] == nil })
	return changed, nil
}

func dayIn(t time.Time, zone *time.Location) tables.Day {
	y, m, d := t.In(zone).Date()
	return tables.Day{Year: y, Month: m, Day: d}
}

func sensorRows(all []store.Sensor) (rows [][]any) {
	at := func(x *float64) any {
		if x == nil {
			return nil
		}
		return tables.NumberOf(*x)
	}
	for _, s := range all {
		rows = append(rows, []any{s.Key, tables.TextOf(s.Quantity), tables.TextOf(s.Unit), at(s.X), at(s.Y), at(s.Height), tables.Above0(s.Every.Seconds()), tables.TextOf(s.Note), int64(len(s.Calibrations))})
	}
	return rows
}

const hour = int64(time.Hour / time.Microsecond)

// hourTable reads the hours when they are asked for: years of them need not be held.
func hourTable(ctx context.Context, s Store, all []store.Sensor, lo, hi int64) *tables.Table {
	t := sensorHours.table(nil)
	t.Rows = func(each func([]any) error) error {
		for _, x := range all {
			buckets, err := s.Buckets(ctx, x.ID, lo, hi, hour)
			if err != nil {
				return err
			}
			for _, b := range buckets {
				low, high := x.True(b.From, b.Min), x.True(b.From, b.Max)
				err := each([]any{x.Key, store.Time(b.From), b.N, tables.NumberOf(x.True(b.From, b.Sum/float64(b.N))), tables.NumberOf(min(low, high)), tables.NumberOf(max(low, high))})
				if err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

// rawTable reads every reading when asked, some days at a time.
func rawTable(ctx context.Context, s Store, all []store.Sensor, lo, hi int64) *tables.Table {
	t := sensorReadings.table(nil)
	t.Rows = func(each func([]any) error) error {
		for _, x := range all {
			buckets, err := s.Buckets(ctx, x.ID, lo, hi, 24*hour) // where there is anything
			if err != nil {
				return err
			}
			for _, b := range buckets {
				samples, err := s.Samples(ctx, x.ID, max(lo, b.From), min(hi, b.From+24*hour))
				if err != nil {
					return err
				}
				for _, p := range samples {
					if err := each([]any{x.Key, store.Time(p.At), tables.NumberOf(p.Value), tables.NumberOf(x.True(p.At, p.Value))}); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}
	return t
}

// piece is the stretch in which readings of several sensors are put side by side.
const piece = int64(15 * time.Minute / time.Microsecond)

// environmentRows are the days by parts. Sensors of one quantity are averaged.
func environmentRows(ctx context.Context, r *Records, all []store.Sensor, b *underlamp.Bench, lo, hi int64) (rows [][]any, why string, err error) {
	roles := map[measurand.Quantity]logged.Role{measurand.AirTemperature: logged.Temperature, measurand.Humidity: logged.Humidity, measurand.PPFD: logged.Light, measurand.CO2: logged.CO2}
	type sum struct {
		total float64
		n     int
	}
	by := map[logged.Role]map[int64]*sum{}
	var times []int64
	for _, x := range all {
		m, ok := measurand.Named(x.Quantity)
		role := roles[m.Quantity]
		if !ok || role == "" {
			continue
		}
		convert, cerr := m.Conversion(x.Unit, 0)
		if cerr != nil {
			continue // lux without a factor: told by the live page
		}
		buckets, err := r.Store.Buckets(ctx, x.ID, lo, hi, piece)
		if err != nil {
			return nil, "", err
		}
		for _, k := range buckets {
			v := convert.Base(x.True(k.From, k.Sum/float64(k.N)))
			if v < m.Low || v > m.High {
				continue // cannot be true
			}
			if by[role] == nil {
				by[role] = map[int64]*sum{}
			}
			if by[role][k.From] == nil {
				by[role][k.From] = &sum{}
			}
			by[role][k.From].total += v
			by[role][k.From].n++
			times = append(times, k.From)
		}
	}
	slices.Sort(times)
	times = slices.Compact(times)
	if len(times) < 4 {
		return nil, "The sensors of this bench have no readings of air or light in these days.", nil
	}
	ask := logged.Ask{Bench: b, Zone: r.Zone, As: map[string]logged.Role{}}
	for _, at := range times {
		ask.Times = append(ask.Times, store.Time(at+piece/2))
	}
	for _, role := range logged.Roles() {
		if by[role] == nil {
			continue
		}
		c := logged.Column{Name: string(role), Unit: unitOf(role), Values: make([]float64, len(times))}
		for i, at := range times {
			c.Values[i] = math.NaN()
			if s := by[role][at]; s != nil {
				c.Values[i] = s.total / float64(s.n)
				if role == logged.Humidity {
					c.Values[i] *= 100
				}
			}
		}
		ask.Columns, ask.As[c.Name] = append(ask.Columns, c), role
	}
	answer, err := logged.Read(ask)
	if err != nil {
		return nil, fmt.Sprintf("The readings cannot be put together: %v.", err), nil
	}
	for _, d := range answer.Days {
		day := tables.DateOf(d.Date)
		for _, p := range []struct {
			name string
			logged.Part
		}{{"light", d.Light}, {"dark", d.Dark}, {"day", d.All}} {
			if p.name != "day" && !(p.Hours > 0) {
				continue
			}
			row := []any{day, p.name, tables.NumberOf(p.Hours), tables.NumberOf(p.Temperature), tables.NumberOf(p.Humidity), tables.NumberOf(p.VPD), tables.NumberOf(p.CO2), nil, nil, nil, nil}
			if p.name == "day" {
				row[7], row[8], row[9], row[10] = tables.NumberOf(d.DLI), tables.NumberOf(d.LightHours), tables.NumberOf(min(1, d.Covered)), d.Whole
			}
			rows = append(rows, row)
		}
	}
	return rows, "", nil
}

// unitOf is the unit in which a role is handed to package logged.
func unitOf(r logged.Role) string {
	switch r {
	case logged.Temperature:
		return "°C"
	case logged.Humidity:
		return "%"
	case logged.Light:
		return "µmol/m²/s"
	}
	return "ppm"
}

func photoRows(book *photo.Book, zone *time.Location, lo, hi int64) (rows [][]any) {
	for _, l := range book.All() {
		at := l.Shot.Taken
		if x := store.At(at); x < lo || x > hi {
			continue
		}
		method := ""
		if l.Shot.Finding != nil {
			method = l.Shot.Finding.Method
		}
		head := []any{l.Shot.ID, at.UTC(), dayIn(at, zone), tables.TextOf(l.Subject.Plant), tables.TextOf(l.Subject.Unit), tables.TextOf(string(l.Code))}
		row := func(what string, value, sd any, in, why string) {
			rows = append(rows, append(slices.Clone(head), what, value, sd, tables.TextOf(in), tables.TextOf(method), tables.TextOf(why)))
		}
		for _, f := range l.Read.Figures {
			row(string(f.What), tables.NumberOf(f.Value), tables.NumberOf(f.SD), f.What.Unit(), "")
		}
		if l.Refused != nil {
			row("nothing", nil, nil, "", l.Refused.Reason)
		}
		if l.Mass != nil {
			row("mass by leaf area", tables.NumberOf(l.Mass.Grams), tables.NumberOf(l.Mass.SD), "g", "")
		}
	}
	return rows
}

func roundRows(rec *round.Record) (rows [][]any) {
	for _, e := range rec.All {
		clock := ""
		if e.Clock != nil {
			clock = e.Clock.State
		}
		var value any
		if e.Missing == "" && !e.Struck && e.Unit != "" || slices.Contains(underlamp.Responses(), e.What) && e.Missing == "" && !e.Struck {
			value = tables.NumberOf(e.Value)
		}
		rows = append(rows, []any{e.ID, e.At.UTC(), dayIn(e.At, rec.Zone()), tables.TextOf(e.Plant), string(e.What), value, tables.TextOf(e.Unit), tables.TextOf(e.Typed), tables.TextOf(e.Missing), tables.TextOf(e.By), tables.TextOf(e.With), tables.TextOf(e.Note), tables.TextOf(e.Corrects), e.Struck, rec.Counts(&e), e.Recorded.UTC(), tables.TextOf(e.Photo), tables.TextOf(clock), tables.TextOf(strings.Join(e.Beside, "; "))})
	}
	return rows
}

// RoundsOf are the entries of the rounds that a package of a bench holds, as their table has
// them, for a bench of the name given: all but the readings of the phones' clocks. Each is
// held to what entries may be.
func RoundsOf(p *datapackage.Package, bench string) ([]round.Entry, error) {
	t := p.Table(rounds.name)
	if t == nil {
		return nil, nil
	}
	at := map[string]int{}
	for _, c := range rounds.columns {
		i := t.At(c.Name)
		if i < 0 || t.Columns[i].Kind != c.Kind {
			return nil, fmt.Errorf("the table %s has no column %q of the type %s", t.Name, c.Name, c.Kind)
		}
		at[c.Name] = i
	}
	var out []round.Entry
	ids := map[string]bool{}
	err := t.Each(func(row []any) error {
		word := func(name string) string { return tables.Print(row[at[name]]) }
		instant := func(name string) time.Time {
			v, _ := row[at[name]].(time.Time)
			return v.UTC().Truncate(time.Microsecond)
		}
		e := round.Entry{ID: word("id"), Bench: bench, At: instant("time"), Recorded: instant("recorded"), Corrects: word("corrects")}
		e.Struck, _ = row[at["struck"]].(bool)
		e.Seen = round.Seen{Plant: word("plant"), What: underlamp.Response(word("what")), Typed: word("typed"), Unit: word("value_unit"), Missing: word("missing"), Photo: word("photo"), By: word("by"), With: word("with"), Note: word("note")}
		e.Value, _ = row[at["value"]].(float64)
		if e.What == round.Cut && e.Missing == "" && !e.Struck {
			e.Value = 1
		}
		if state := word("clock"); state != "" {
			e.Clock = &round.Clock{State: state}
		}
		for id := range strings.SplitSeq(word("beside"), ";") {
			if id = strings.TrimSpace(id); id != "" {
				e.Beside = append(e.Beside, id)
			}
		}
		err := e.Check()
		if err == nil && ids[e.ID] {
			err = fmt.Errorf("the id %q stands twice", e.ID)
		}
		if err != nil {
			return fmt.Errorf("row %d of the table %s: %w", len(out)+1, t.Name, err)
		}
		if ids[e.ID] = true; len(out) == round.MaxExported {
			return fmt.Errorf("the table %s has more than %d rows", t.Name, round.MaxExported)
		}
		out = append(out, e)
		return nil
	})
	return out, err
}
