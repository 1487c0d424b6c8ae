package loggercsv_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	_ "time/tzdata" // zones, whatever the machine has

	"underlamp/formats/loggercsv"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func read(t *testing.T, text string, opt loggercsv.Options) *loggercsv.Log {
	t.Helper()
	l, err := loggercsv.Read(strings.NewReader(text), opt)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return l
}

// One afternoon, written down by loggers of many habits, reads the same. The tables
// are made up, in forms that loggers are known to use (common practice, no source).
func TestHabits(t *testing.T) {
	berlin := loggercsv.Options{Zone: zone(t, "Europe/Berlin")}
	chicago := loggercsv.Options{Zone: zone(t, "America/Chicago")}
	want := time.Date(2026, 11, 25, 13, 40, 0, 0, time.UTC)
	for _, c := range []struct {
		name, text string
		opt        loggercsv.Options
		column     string
		unit       string
	}{
		{"ISO with Z", "time,air (°C),rh (%)\n2026-11-25T13:40:00Z,21.4,62\n2026-11-25T13:50:00Z,21.6,61\n", loggercsv.Options{}, "air", "°C"},
		{"ISO with an offset", "time,air (°C),rh (%)\n2026-11-25T14:40:00+01:00,21.4,62\n2026-11-25T14:50:00+0100,21.6,61\n", loggercsv.Options{}, "air", "°C"},
		{"German", "Datum/Zeit;Luft [°C];Feuchte [%]\n25.11.2026 14:40;21,4;62\n25.11.2026 14:50;21,6;61\n", berlin, "Luft", "°C"},
		{"American", "\"Date Time\",\"Temp, °C\",\"RH, %\"\n\"11/25/2026 07:40:00 AM\",21.4,62\n\"11/25/2026 07:50:00 AM\",21.6,61\n", chicago, "Temp", "°C"},
		{"zone in the heading", "#,\n\"Date Time, GMT-06:00\",\"Temp, °C\",\"RH, %\"\n11/25/26 07:40:00 AM,21.4,62\n11/25/26 07:50:00 AM,21.6,61\n", loggercsv.Options{}, "Temp", "°C"},
		{"date and time apart", "date\ttime\tair C\trh\n25/11/2026\t14:40\t21.4\t62\n25/11/2026\t14:50\t21.6\t61\n", berlin, "air C", ""},
		{"seconds since 1970", "t;v;h\n1795614000;21.4;62\n1795614600;21.6;61\n", loggercsv.Options{}, "v", ""},
		{"milliseconds", "t;v;h\n1795614000000;21.4;62\n1795614600000;21.6;61\n", loggercsv.Options{}, "v", ""},
		{"no heading", "2026-11-25T13:40:00Z,21.4,62\n2026-11-25T13:50:00Z,21.6,61\n", loggercsv.Options{}, "column 2", ""},
		{"words above and below", "Logger 12\nSerial;99\n\nZeit;Luft (°C);Feuchte\n2026-11-25 13:40:00Z;21,4;62\n2026-11-25 13:50:00Z;21,6;61\nEnd of file\n", loggercsv.Options{}, "Luft", "°C"},
		{"quotes and trailing cells", "\ufeff\"time\",\"the \"\"air\"\", dry (°C)\",\"rh\",\r\n\"2026-11-25 13:40Z\",\"21.4\",\"62\",\r\n\"2026-11-25 13:50Z\",\"21.6\",\"61\",\r\n", loggercsv.Options{}, `the "air", dry`, "°C"},
	} {
		l := read(t, c.text, c.opt)
		if len(l.Times) != 2 || !l.Times[0].Equal(want) || !l.Times[1].Equal(want.Add(10*time.Minute)) {
			t.Errorf("%s: %v", c.name, l.Times)
			continue
		}
		if len(l.Columns) != 2 || !slices.Equal(l.Columns[0].Values, []float64{21.4, 21.6}) || !slices.Equal(l.Columns[1].Values, []float64{62, 61}) || l.Columns[0].Name != c.column || l.Columns[0].Unit != c.unit {
			t.Errorf("%s: %+v", c.name, l.Columns)
		}
	}
}

func TestMissing(t *testing.T) {
	l := read(t, "time,air,door\n2026-11-25T13:40:00Z,,open\n2026-11-25T13:50:00Z,--,shut\n2026-11-25T14:00:00Z,err 7,shut\n2026-11-25T14:10:00Z,21,shut\n", loggercsv.Options{})
	if len(l.Columns) != 1 {
		t.Fatalf("%+v", l.Columns)
	}
	c := l.Columns[0]
	if !math.IsNaN(c.Values[0]) || !math.IsNaN(c.Values[1]) || !math.IsNaN(c.Values[2]) || c.Values[3] != 21 || c.Words != 1 || c.Line != 4 {
		t.Errorf("%+v", c)
	}
	if notes := strings.Join(l.Notes, " "); !strings.Contains(notes, `"door"`) || !strings.Contains(notes, "1 of 4 cells") {
		t.Errorf("notes %q", notes)
	}
}

// When summer time ends the clocks of Berlin show 02:00 to 03:00 twice: rows every
// twenty minutes are twenty minutes apart, whatever the clock shows. The instants of the
// change are those of the EU (directive 2000/84/EC): 01:00 UTC.
func TestHourTwice(t *testing.T) {
	opt := loggercsv.Options{Zone: zone(t, "Europe/Berlin")}
	var text strings.Builder
	text.WriteString("time;v\n")
	begin := time.Date(2026, 10, 24, 23, 0, 0, 0, time.UTC)
	var want []time.Time
	for i := range 15 {
		at := begin.Add(time.Duration(i) * 20 * time.Minute)
		want = append(want, at)
		text.WriteString(at.In(opt.Zone).Format("02.01.2006 15:04") + ";1,5\n")
	}
	l := read(t, text.String(), opt)
	if !slices.EqualFunc(l.Times, want, time.Time.Equal) {
		t.Errorf("%v, want %v", l.Times, want)
	}
	if !strings.Contains(strings.Join(l.Notes, " "), "comes twice") {
		t.Errorf("notes %v", l.Notes)
	}
}

// Rows in the hour that summer time leaves out betray a clock that keeps winter time.
func TestHourLeftOut(t *testing.T) {
	l := read(t, "time;v\n29.03.2026 01:30;1\n29.03.2026 02:30;1\n29.03.2026 03:30;1\n", loggercsv.Options{Zone: zone(t, "Europe/Berlin")})
	if !strings.Contains(strings.Join(l.Notes, " "), "winter time") {
		t.Errorf("notes %v", l.Notes)
	}
}

func TestDayOrMonth(t *testing.T) {
	utc := time.UTC
	yes, no := true, false
	rows := func(a, b string) string { return "time,v\n" + a + " 10:00,1\n" + b + " 10:00,2\n" }
	for _, c := range []struct {
		text  string
		opt   loggercsv.Options
		month time.Month
		day   int
	}{
		{rows("03/04/2026", "13/04/2026"), loggercsv.Options{Zone: utc}, 4, 3},
		{rows("03/04/2026", "03/14/2026"), loggercsv.Options{Zone: utc}, 3, 4},
		{rows("03/04/2026", "04/04/2026"), loggercsv.Options{Zone: utc}, 4, 3}, // the day goes on
		{rows("03/04/2026", "03/05/2026"), loggercsv.Options{Zone: utc}, 3, 4},
		{rows("03/04/2026", "03/04/2026"), loggercsv.Options{Zone: utc, DayFirst: &yes}, 4, 3},
		{rows("03/04/2026", "03/04/2026"), loggercsv.Options{Zone: utc, DayFirst: &no}, 3, 4},
	} {
		l := read(t, c.text, c.opt)
		if _, m, d := l.Times[0].Date(); m != c.month || d != c.day {
			t.Errorf("%s: %v", c.text, l.Times[0])
		}
	}
}

func TestRefused(t *testing.T) {
	utc := loggercsv.Options{Zone: time.UTC}
	for name, c := range map[string]struct {
		text string
		opt  loggercsv.Options
		line int
		want string
	}{
		"empty":               {" \n", utc, 0, "empty"},
		"no times":            {"a,b\n1,2\n", utc, 0, "no line begins with a time"},
		"bytes":               {"time,v\n2026-11-25 10:00,1\n\x00\x00", utc, 3, "not text"},
		"no zone":             {"time,v\n2026-11-25 10:00,1\n", loggercsv.Options{}, 2, "which zone"},
		"day or month":        {"time,v\n03/04/2026 10:00,1\n03/04/2026 11:00,1\n", utc, 2, "day or the month first"},
		"both orders":         {"time,v\n13/04/2026 10:00,1\n04/14/2026 11:00,1\n", utc, 3, "order that line 2 needs"},
		"31 June":             {"time,v\n2026-06-31 10:00,1\n", utc, 2, "no day of the calendar"},
		"25 o'clock":          {"time,v\n2026-06-30 25:00,1\n", utc, 2, "no time of a clock"},
		"a row too short":     {"time,v,w\n2026-06-30 10:00,1,2\n2026-06-30 10:10,1\n2026-06-30 10:20,1,2\n", utc, 3, "2 cells, the others have 3"},
		"words in the middle": {"time,v\n2026-06-30 10:00,1\nbattery changed\n2026-06-30 10:20,1\n", utc, 3, "1 cells"},
		"no values":           {"time,door\n2026-06-30 10:00,open\n", utc, 0, "no values"},
	} {
		l, err := loggercsv.Read(strings.NewReader(c.text), c.opt)
		e, ok := errors.AsType[*loggercsv.Error](err)
		if !ok || l != nil || e.Line != c.line || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want line %d, %q", name, err, c.line, c.want)
		}
	}
}

// Whatever comes is read whole, or refused with a sentence.
func FuzzRead(f *testing.F) {
	f.Add("time,air (°C)\n2026-11-25T13:40:00Z,21.4\n", true)
	f.Add("Datum;Zeit;v\n25.10.2026;02:30;1,5\n25.10.2026;02:00;1,5\n", true)
	f.Add("x\n\"03/04/2026 10:00:00 PM\"|1\n", false)
	f.Fuzz(func(t *testing.T, text string, dayFirst bool) {
		l, err := loggercsv.Read(strings.NewReader(text), loggercsv.Options{Zone: zone(t, "Europe/Berlin"), DayFirst: &dayFirst})
		if err != nil {
			if _, ok := errors.AsType[*loggercsv.Error](err); !ok || l != nil {
				t.Errorf("%T %v", err, err)
			}
			return
		}
		for _, c := range l.Columns {
			if len(c.Values) != len(l.Times) || c.Name == "" {
				t.Errorf("%+v of %d rows", c, len(l.Times))
			}
			for _, v := range c.Values {
				if math.IsInf(v, 0) {
					t.Error("an endless value")
				}
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	var text strings.Builder
	text.WriteString("time;air (°C);rh (%);PPFD\n")
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 50_000 {
		text.WriteString(at.Add(time.Duration(i) * time.Minute).Format("02.01.2006 15:04"))
		text.WriteString(";21,4;62;240\n")
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := loggercsv.Read(strings.NewReader(text.String()), loggercsv.Options{Zone: time.UTC}); err != nil {
			b.Fatal(err)
		}
	}
}
