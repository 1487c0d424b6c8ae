package round_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/round"
	"underlamp/science/quantity"
	"underlamp/store"
)

var noon = time.Date(2026, 11, 20, 12, 0, 0, 0, time.UTC)

func bench() *underlamp.Bench {
	b := &underlamp.Bench{Space: underlamp.Space{Width: 1.2, Depth: 0.6, Height: 0.45}}
	for i := range 18 {
		b.Plants = append(b.Plants, underlamp.Plant{Name: fmt.Sprintf("P%d", i+1)})
	}
	b.Crop.Transplanted = "2026-10-12"
	b.Crop.StartMass.Value = 1.2
	return b
}

// packet is one of a phone that sent it at noon, by its own clock off ms behind.
func packet(off int64, entries ...round.Sent) *round.Packet {
	return &round.Packet{Version: 1, Phone: "phone-aaaa", Now: noon.UnixMilli() - off, Entries: entries}
}

func mass(id, plant, typed string) round.Sent {
	return round.Sent{ID: id, Plant: plant, What: underlamp.ResponseMass, Typed: typed, At: noon.UnixMilli() - 60_000}
}

func enter(t testing.TB, p *round.Packet) []round.Entry {
	t.Helper()
	var out []round.Entry
	for i := range p.Entries {
		e, err := p.Enter(i, "rack", bench(), noon)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, e)
	}
	return out
}

// Values keep the unit in which they were typed beside that in which they count. 1 oz is
// 28.349 523 125 g (ThompsonTaylor2008, appendix B: exact by the pound), 1 in 2.54 cm.
func TestValuesAsTyped(t *testing.T) {
	for _, c := range []struct {
		what  underlamp.Response
		typed string
		value float64
		unit  string
		wrong string
	}{
		{underlamp.ResponseMass, "141", 141, "g", ""},
		{underlamp.ResponseMass, "5 oz", 5 * 28.349523125, "g", ""},
		{underlamp.ResponseMass, "0,5 kg", 500, "g", ""},
		{underlamp.ResponseMass, "-3", 0, "", "outside"},
		{underlamp.ResponseMass, "NaN", 0, "", "outside"},
		{underlamp.ResponseMass, "heavy", 0, "", "no mass"},
		{underlamp.ResponseHeight, "4 in", 10.16, "cm", ""},
		{underlamp.ResponseWidth, "21,5", 21.5, "cm", ""},
		{underlamp.ResponseWidth, "30 g", 0, "", "no width"},
		{underlamp.ResponseLeaves, "14", 14, "", ""},
		{underlamp.ResponseLeaves, "14.5", 0, "", "whole"},
		{underlamp.ResponseSeverity, "3", 3, "", ""},
		{underlamp.ResponseSeverity, "6", 0, "", "outside"},
		{underlamp.ResponseBurn, "none", 0, "", ""},
		{underlamp.ResponseFirst, "2026-11-12", 31, "d", ""},
		{underlamp.ResponseFirst, "31", 31, "d", ""},
		{underlamp.ResponseFirst, "2026-10-01", 0, "", "days after transplanting"},
	} {
		p := packet(0, round.Sent{ID: "entry-0001", Plant: "P1", What: c.what, Typed: c.typed, At: noon.UnixMilli()})
		e, err := p.Enter(0, "rack", bench(), noon)
		switch {
		case c.wrong != "":
			if err == nil || !strings.Contains(err.Error(), c.wrong) {
				t.Errorf("%s %q: %v, want %q", c.what, c.typed, err, c.wrong)
			}
		case err != nil:
			t.Errorf("%s %q: %v", c.what, c.typed, err)
		case e.Value < c.value*(1-1e-7) || e.Value > c.value*(1+1e-7) || e.Unit != c.unit || e.Typed != c.typed:
			t.Errorf("%s %q: %g %s, want %g %s", c.what, c.typed, e.Value, e.Unit, c.value, c.unit)
		}
	}
}

// A phone whose clock is wrong enters the right time; one whose clock was changed on the
// way is marked.
func TestClocks(t *testing.T) {
	const hour = 3_600_000
	real := noon.Add(-30 * time.Minute) // when it was typed
	at := func(v int64) *int64 { return &v }
	for name, c := range map[string]struct {
		offset int64 // of the server's clock from the phone's, at sending
		typed  int64 // the phone's clock at typing
		before *int64
		jump   int64
		state  string
	}{
		"right":                            {0, real.UnixMilli(), at(0), 0, round.ClockRight},
		"never met before":                 {0, real.UnixMilli(), nil, 0, round.ClockRight},
		"an hour slow":                     {hour, real.UnixMilli() - hour, at(hour), 0, round.ClockCorrected},
		"a day fast":                       {-24 * hour, real.UnixMilli() + 24*hour, at(-24*hour + 30), 0, round.ClockCorrected},
		"put right after typing":           {0, real.UnixMilli() - hour, at(hour), 0, round.ClockChanged},
		"made wrong after typing":          {2 * hour, real.UnixMilli(), at(0), 0, round.ClockChanged},
		"turned back before typing, seen":  {hour, real.UnixMilli() - hour, at(0), -hour, round.ClockCorrected},
		"turned on before typing, seen":    {-hour, real.UnixMilli() + hour, at(0), hour, round.ClockCorrected},
		"slept between contact and typing": {0, real.UnixMilli(), at(0), 8 * hour, round.ClockRight},
		"turned back, then right again":    {0, real.UnixMilli() - hour, at(0), -hour, round.ClockChanged},
	} {
		s := round.Sent{ID: "entry-0001", Plant: "P1", What: underlamp.ResponseMass, Typed: "1", At: c.typed, Before: c.before, Jump: c.jump}
		p := packet(c.offset, s)
		e, err := p.Enter(0, "rack", bench(), noon)
		if err != nil {
			t.Fatal(err)
		}
		if d := e.At.Sub(real); d.Abs() > 2*time.Minute {
			t.Errorf("%s: the time is %v off", name, d)
		}
		if e.Clock.State != c.state {
			t.Errorf("%s: %s, want %s", name, e.Clock.State, c.state)
		}
	}
}

// What a document keeps comes back, whatever was seen.
func TestDocumentsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~äöµ°–]{0,40}`)
		e := round.Entry{ID: rapid.StringMatching(`[A-Za-z0-9_-]{8,64}`).Draw(t, "id"), Bench: "rack", At: noon.Add(time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "at")) * time.Microsecond), Recorded: noon,
			Seen: round.Seen{Plant: "P1", What: rapid.SampledFrom(underlamp.Responses()).Draw(t, "what"), Typed: text.Draw(t, "typed"), Value: rapid.Float64Range(-1e9, 1e9).Draw(t, "value"),
				By: text.Draw(t, "by"), With: text.Draw(t, "with"), Note: text.Draw(t, "note")}}
		o, err := e.Observation()
		if err != nil {
			t.Fatal(err)
		}
		again, err := round.Read(o)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(e, again) {
			t.Fatalf("%+v\n%+v", e, again)
		}
	})
}

// Two phones that see the same plant on one day are both kept, and a person decides.
func TestConflicts(t *testing.T) {
	all := enter(t, packet(0, mass("ada-000001", "P3", "141 g"), mass("ida-000001", "P3", "114 g"), mass("ada-000002", "P4", "90 g"), mass("ida-000002", "P4", "90 g")))
	r := round.NewRecord(all, time.UTC)
	c := r.Conflicts()
	if len(c) != 1 || c[0].Plant != "P3" || len(c[0].Entries) != 2 {
		t.Fatalf("%+v", c)
	}
	if _, _, err := r.Cycle(bench(), "rack.yaml", time.Time{}); err == nil {
		t.Error("a cycle chose for a person")
	}
	// One of them is kept: the other is struck, and stays.
	strike, err := round.Strike("person-0001", all[1], noon, "Ada", "swapped digits")
	if err != nil {
		t.Fatal(err)
	}
	kept := round.NewRecord(append(slices.Clone(all), strike), time.UTC)
	if len(kept.Conflicts()) != 0 || len(kept.Standing()) != 3 || len(kept.All) != 5 {
		t.Errorf("after a decision: %+v", kept.Standing())
	}
	// It is brought back by correcting the strike.
	back, err := round.New("person-0002", "rack", all[1].At, noon.Add(time.Minute), all[1].Seen, strike.ID, bench())
	if err != nil {
		t.Fatal(err)
	}
	if n := len(round.NewRecord(append(slices.Clone(kept.All), back), time.UTC).Conflicts()); n != 1 {
		t.Errorf("%d conflicts after it was brought back", n)
	}
	// Both may be right.
	s := all[1].Seen
	s.Beside = []string{all[0].ID}
	both, err := round.New("person-0003", "rack", all[1].At, noon, s, all[1].ID, bench())
	if err != nil {
		t.Fatal(err)
	}
	let := round.NewRecord(append(slices.Clone(all), both), time.UTC)
	if len(let.Conflicts()) != 0 || len(let.Standing()) != 4 {
		t.Errorf("both are right, yet %+v", let.Conflicts())
	}
	cycle, _, err := let.Cycle(bench(), "rack.yaml", time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	if len(cycle.Observations) != 2 || float64(*cycle.Observations[0].Mass) != (141+114)/2.0 {
		t.Errorf("%+v", cycle.Observations)
	}
}

// Whatever is corrected, struck and corrected again, in whatever order it arrives: every
// entry stays, and what counts does not depend on the order.
func TestCorrectionsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []round.Entry
		for i := range rapid.IntRange(1, 30).Draw(t, "n") {
			e := round.Entry{ID: fmt.Sprintf("entry-%04d", i), Bench: "rack", At: noon.Add(time.Duration(i) * time.Hour), Recorded: noon.Add(time.Duration(i) * time.Hour),
				Seen: round.Seen{Plant: "P1", What: underlamp.ResponseMass, Typed: "1", Value: float64(i)}}
			if i > 0 && rapid.Bool().Draw(t, "corrects") {
				e.Corrects = all[rapid.IntRange(0, i-1).Draw(t, "which")].ID
				e.Struck = rapid.Bool().Draw(t, "struck")
			}
			all = append(all, e)
		}
		r := round.NewRecord(all, time.UTC)
		mixed := rapid.Permutation(all).Draw(t, "order")
		m := round.NewRecord(mixed, time.UTC)
		if !reflect.DeepEqual(r.Standing(), m.Standing()) || len(m.All) != len(all) {
			t.Fatal("what counts depends on the order of arrival")
		}
		var obs []store.Observation
		for _, e := range all {
			o, err := e.Observation()
			if err != nil {
				t.Fatal(err)
			}
			obs = append(obs, o)
		}
		if n := len(store.Counting(obs)); n != len(r.Standing()) {
			t.Fatalf("%d count here, %d in the store", len(r.Standing()), n)
		}
	})
}

// Circles of corrections, which only a foreign export can hold, end.
func TestCirclesEnd(t *testing.T) {
	a := round.Entry{ID: "entry-000a", Corrects: "entry-000b", At: noon, Seen: round.Seen{Plant: "P1", What: underlamp.ResponseMass}}
	b := round.Entry{ID: "entry-000b", Corrects: "entry-000a", At: noon, Seen: round.Seen{Plant: "P1", What: underlamp.ResponseMass}}
	r := round.NewRecord([]round.Entry{a, b}, time.UTC)
	r.When(&a)
	if len(r.Conflicts()) != 0 {
		t.Error("a circle is in conflict")
	}
}

// What can hardly be meant is asked about, and kept.
func TestDoubts(t *testing.T) {
	day := func(n int) int64 { return time.Date(2026, 10, 12+n, 9, 0, 0, 0, time.UTC).UnixMilli() }
	sent := func(id, plant string, what underlamp.Response, typed string, n int) round.Sent {
		return round.Sent{ID: "entry-" + id, Plant: plant, What: what, Typed: typed, At: day(n)}
	}
	all := enter(t, packet(0,
		sent("fine", "P1", underlamp.ResponseMass, "80", 20), sent("half", "P1", underlamp.ResponseMass, "39", 25), sent("huge", "P2", underlamp.ResponseMass, "1.6 kg", 25),
		sent("tiny", "P3", underlamp.ResponseMass, "0.4", 5), sent("soon", "P4", underlamp.ResponseHeight, "8", -3), sent("tall", "P4", underlamp.ResponseHeight, "60", 20),
		sent("wide", "P4", underlamp.ResponseWidth, "150", 20), sent("seen", "P5", underlamp.ResponseSeverity, "2", 20), sent("heal", "P5", underlamp.ResponseSeverity, "0", 25),
		sent("none", "P99", underlamp.ResponseLeaves, "9", 20), sent("lost", "P6", underlamp.ResponseLeaves, "20", 20), sent("less", "P6", underlamp.ResponseLeaves, "9", 25),
		sent("gone", "P7", round.Cut, "", 20), sent("dead", "P7", underlamp.ResponseMass, "120", 25), sent("late", "P8", underlamp.ResponseMass, "120", 45)))
	got := map[string]string{}
	for _, d := range round.NewRecord(all, time.UTC).Doubts(bench(), noon) {
		got[strings.TrimPrefix(d.ID, "entry-")] += d.Text
	}
	for id, want := range map[string]string{"half": "after 80 g on 2026-11-01; the mass fell by more than half", "huge": "more than leafy greens weigh", "tiny": "less than half of what a plant weighed", "soon": "before the crop was transplanted",
		"tall": "higher than the bench (45 cm)", "wide": "wider than the bench", "heal": "burn does not heal", "none": "no plant", "less": "fell by more than half", "dead": "was cut", "late": "not come yet"} {
		if !strings.Contains(got[id], want) {
			t.Errorf("%s: %q, want %q", id, got[id], want)
		}
		delete(got, id)
	}
	if len(got) > 0 {
		t.Errorf("asked without need: %v", got)
	}
}

// Burn is known to have begun between the last clear look and the first that saw some.
func TestBurnOf(t *testing.T) {
	day := func(n int) int64 { return time.Date(2026, 10, 12+n, 9, 0, 0, 0, time.UTC).UnixMilli() }
	look := func(id, typed string, what underlamp.Response, n int) round.Sent {
		return round.Sent{ID: "entry-" + id, Plant: "P1", What: what, Typed: typed, At: day(n)}
	}
	all := enter(t, packet(0, look("0001", "0", underlamp.ResponseSeverity, 14), look("0002", "0", underlamp.ResponseSeverity, 20), look("0003", "2", underlamp.ResponseSeverity, 26), look("0004", "0", underlamp.ResponseSeverity, 30)))
	b := round.NewRecord(all, time.UTC).BurnOf("P1", bench())
	if b.Clear.Format(time.DateOnly) != "2026-11-01" || b.First.Format(time.DateOnly) != "2026-11-07" {
		t.Errorf("%+v", b)
	}
	all = append(all, enter(t, packet(0, look("0005", "2026-11-05", underlamp.ResponseFirst, 31)))...)
	if b := round.NewRecord(all, time.UTC).BurnOf("P1", bench()); b.First.Format(time.DateOnly) != "2026-11-05" {
		t.Errorf("said to be seen before: %+v", b)
	}
}

// Nothing is learned from twice.
func TestCycleWithoutOthers(t *testing.T) {
	all := enter(t, packet(0, mass("ada-000001", "P3", "141 g"), mass("ada-000002", "P4", "90 g")))
	g := quantity.Gram(141)
	hand := &underlamp.Cycle{Transplanted: "2026-10-12", Observations: []underlamp.Observation{{Name: "O1", Plant: "P3", Date: "2026-11-20", Mass: &g}}}
	last := &underlamp.Cycle{Transplanted: "2026-08-31", Observations: []underlamp.Observation{{Name: "ada-000002", Plant: "P4", Date: "2026-11-20", Mass: &g}}}
	c, _, err := round.NewRecord(all, time.UTC).Cycle(bench(), "rack.yaml", time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	if n := round.Without(c, hand, last); n != 1 || len(c.Observations) != 1 || c.Observations[0].Plant != "P4" {
		t.Errorf("%d, %+v", n, c.Observations)
	}
	if n := round.Without(c, c); n != 1 || len(c.Observations) != 0 {
		t.Errorf("a cycle without itself: %d, %+v", n, c.Observations)
	}
}

// An export gives back what there is.
func TestExport(t *testing.T) {
	all := enter(t, packet(3000, mass("ada-000001", "P3", "4.97 oz"), mass("ada-000002", "P4", "90"),
		round.Sent{ID: "ada-000003", Plant: "P4", What: round.Note, Note: "pale\nedges", At: noon.UnixMilli()},
		round.Sent{ID: "ada-000004", Plant: "P4", What: underlamp.ResponseFirst, Typed: "2026-11-12", At: noon.UnixMilli()}))
	strike, err := round.Strike("person-0001", all[1], noon, "Ada", "")
	if err != nil {
		t.Fatal(err)
	}
	r := round.NewRecord(append(all, strike), time.UTC)
	var b bytes.Buffer
	if err := r.WriteJSON(&b, "rack"); err != nil {
		t.Fatal(err)
	}
	name, again, err := round.ReadJSON(b.Bytes())
	if err != nil || name != "rack" || !reflect.DeepEqual(again, r.All) {
		t.Fatalf("%v\n%+v\n%+v", err, again, r.All)
	}
	if _, _, err := round.ReadJSON(bytes.Replace(b.Bytes(), []byte(`"typed": "90"`), []byte(`"typed": "91"`), 1)); err == nil || !strings.Contains(err.Error(), "entry 2") {
		t.Errorf("a value that was not typed: %v", err)
	}
	b.Reset()
	if err := r.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	if lines := strings.Split(b.String(), "\n"); !strings.HasPrefix(lines[0], "id,time,unit,plant,what,value,missing,by,with,note,corrects,struck,typed") || !strings.Contains(b.String(), ",P4,mass,90,") {
		t.Errorf("%s", b.String())
	}
}

// The grades have the bounds that docs/formats/cycle.md prints.
func TestGrades(t *testing.T) {
	g := round.Grades()
	if len(g) != underlamp.MaxSeverity+1 {
		t.Fatal(len(g))
	}
	for i, want := range []string{"none:", "under 5 %", "5 to 15 %", "15 to 30 %", "30 to 50 %", "50 % of the leaves and more"} {
		if !strings.HasPrefix(g[i].Says, want) {
			t.Errorf("%d: %s", i, g[i].Says)
		}
	}
}

// The schema in the documentation names the keys that a document has, and no others.
func TestSchema(t *testing.T) {
	raw, err := os.ReadFile("../../docs/formats/rounds.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	var schema struct {
		Properties map[string]struct {
			Properties map[string]any `json:"properties"`
			Enum       []string       `json:"enum"`
		} `json:"properties"`
	}
	if err := json.Unmarshal(raw, &schema); err != nil {
		t.Fatal(err)
	}
	keys := func(v any) []string {
		out := []string{}
		for f := range reflect.TypeOf(v).Fields() {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			out = append(out, name)
		}
		slices.Sort(out)
		return out
	}
	var has, clock []string
	for k := range schema.Properties {
		if k != "underlamp seen" {
			has = append(has, k)
		}
	}
	for k := range schema.Properties["clock"].Properties {
		clock = append(clock, k)
	}
	slices.Sort(has)
	slices.Sort(clock)
	if !slices.Equal(has, keys(round.Seen{})) || !slices.Equal(clock, keys(round.Clock{})) {
		t.Errorf("schema %v, %v", has, clock)
	}
	var kinds []string
	for _, k := range round.Kinds() {
		kinds = append(kinds, string(k))
	}
	if !slices.Equal(schema.Properties["what"].Enum, kinds) {
		t.Errorf("kinds %v, schema %v", kinds, schema.Properties["what"].Enum)
	}
}

func FuzzReadPacket(f *testing.F) {
	f.Add([]byte(`{"underlamp rounds":1,"phone":"phone-aaaa","now_ms":1795176000000,"entries":[{"id":"entry-0001","plant":"P1","what":"mass","typed":"141 g","typed_ms":1795176000000,"before_ms":0}]}`))
	f.Add([]byte(`{"underlamp rounds":1,"phone":"phone-aaaa","now_ms":0,"entries":[{"id":"entry-0001","plant":"P1","what":"note","note":"x","typed_ms":9223372036854775807,"before_ms":-9223372036854775808}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		p, err := round.ReadPacket(raw)
		if err != nil {
			return
		}
		for i := range p.Entries {
			e, err := p.Enter(i, "rack", bench(), noon)
			if err != nil {
				continue
			}
			o, err := e.Observation()
			if err != nil {
				t.Fatal(err)
			}
			again, err := round.Read(o)
			if err != nil {
				t.Fatalf("what was entered cannot be read: %v", err)
			}
			if !again.SameAs(&e) {
				t.Fatalf("what was entered reads otherwise: %+v, %+v", e, again)
			}
			r := round.NewRecord([]round.Entry{again}, time.UTC)
			r.Conflicts()
			r.Doubts(bench(), noon)
		}
	})
}

func FuzzReadJSON(f *testing.F) {
	f.Add([]byte(`{"underlamp rounds export":1,"bench":"rack","entries":[{"id":"entry-0001","at":"2026-11-20T12:00:00Z","recorded":"2026-11-20T12:00:00Z","plant":"P1","what":"mass","typed":"141 g","value":141,"unit":"g"}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		bench, all, err := round.ReadJSON(raw)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := round.NewRecord(all, time.UTC).WriteJSON(&b, bench); err != nil {
			t.Fatal(err)
		}
		if _, again, err := round.ReadJSON(b.Bytes()); err != nil || len(again) != len(all) {
			t.Fatalf("%v, %d of %d", err, len(again), len(all))
		}
	})
}

// A year of a bench: 18 plants, four measures, a walk a week.
func BenchmarkRecord(b *testing.B) {
	var obs []store.Observation
	for week := range 52 {
		for p := range 18 {
			for _, what := range []underlamp.Response{underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseLeaves, underlamp.ResponseSeverity} {
				s := round.Sent{ID: fmt.Sprintf("entry-%d-%d-%s", week, p, what), Plant: fmt.Sprintf("P%d", p+1), What: what, Typed: "3", At: noon.AddDate(0, 0, 7*week).UnixMilli()}
				e, err := packet(0, s).Enter(0, "rack", bench(), noon)
				if err != nil {
					b.Fatal(err)
				}
				o, err := e.Observation()
				if err != nil {
					b.Fatal(err)
				}
				obs = append(obs, o)
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		all, faults := round.ReadAll(obs)
		if len(faults) > 0 {
			b.Fatal(faults)
		}
		r := round.NewRecord(all, time.UTC)
		r.Conflicts()
		r.Doubts(bench(), noon)
	}
}
