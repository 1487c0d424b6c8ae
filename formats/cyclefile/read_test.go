package cyclefile_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"underlamp"
	"underlamp/formats/cyclefile"
	"underlamp/internal/marked"
	"underlamp/science/quantity"
)

// document lays the format down.
const document = "../../docs/formats/cycle.md"

func TestKeysAreDocumented(t *testing.T) { marked.Documented(t, document, cyclefile.Keys()) }

// bench has eighteen plants and a ceiling at 50 cm.
func bench() *underlamp.Bench {
	b := &underlamp.Bench{Space: underlamp.Space{Width: 1.2, Depth: 0.6, Height: 0.5}}
	for i := range 18 {
		b.Plants = append(b.Plants, underlamp.Plant{Name: fmt.Sprintf("P%d", i+1)})
	}
	return b
}

// The documented example says what the documentation says it does.
func TestDocumentedExample(t *testing.T) {
	c, problems, err := cyclefile.Read(strings.NewReader(marked.Example(t, document)), bench())
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if c.Days != 35 || c.Bench != "tier-1-top.yaml" || c.StartMass.Value != 1.6 || c.StartMass.Origin != underlamp.Measured {
		t.Errorf("%+v", c)
	}
	if len(c.Changes) != 3 || c.Changes[0].Day != 10 || !near(float64(c.Changes[0].Dimming.Value), 0.85) || c.Changes[0].Hours != nil ||
		*c.Changes[1].Fan != underlamp.Said(underlamp.Across) || !near(float64(c.Changes[2].NightHumidity.Value), 0.82) || c.Changes[2].Calcium.Value != 120 {
		t.Errorf("changes %+v", c.Changes)
	}
	if len(c.Observations) != 5 || len(c.Withdrawn) != 2 {
		t.Fatalf("%d count, %d do not", len(c.Observations), len(c.Withdrawn))
	}
	o := c.Observations
	if o[0].Day != 14 || *o[0].Mass != 24 || o[0].MassError != 1 || *o[0].Leaves != 14 || o[0].By != "Ines" || !near(float64(*o[0].Height), 0.07) {
		t.Errorf("first %+v", o[0])
	}
	if *o[1].Mass != 79 || o[1].Burn.Seen() || *o[2].Count != (underlamp.BurnCount{Burnt: 3, Of: 18}) {
		t.Errorf("then %+v, %+v", o[1], o[2])
	}
	if oz := float64(*o[3].Mass); oz < 175.76 || oz > 175.77 || o[3].Burn.Leaves != 2 || !o[3].Cut || *o[4].Burn != (underlamp.Burn{Severity: 3, Scored: true}) {
		t.Errorf("last %+v, %+v", o[3], o[4]) // 6.2 oz of 28.349523125 g
	}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-12 }

const head = "underlamp cycle: 1\nbench: b.yaml\ntransplanted: 2026-08-10\nharvested: 2026-09-14\n"

// The mark « stands where the problem must be reported.
func TestProblems(t *testing.T) {
	obs := func(s string) string { return head + "observations:\n  - " + s + "\n" }
	change := func(s string) string { return head + "changes:\n  - " + s + "\n" }
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"empty file":            {"«", []string{"nothing is written"}},
		"no YAML":               {head + "observations: «{", []string{"is not closed"}},
		"no version":            {"«bench: b.yaml\ntransplanted: 2026-08-10\n", []string{"version of the format is missing"}},
		"a bench file":          {"««underlamp: 1\nbench: b.yaml\ntransplanted: 2026-08-10\n", []string{`did you mean "underlamp cycle"`, "version of the format is missing"}},
		"later version":         {strings.Replace(head, ": 1", ": «2", 1), []string{"version 2"}},
		"no bench":              {"«underlamp cycle: 1\ntransplanted: 2026-08-10\n", []string{"the bench file is missing"}},
		"bench upwards":         {strings.Replace(head, "b.yaml", "«../b.yaml", 1), []string{"no name of a file beside"}},
		"absolute":              {strings.Replace(head, "b.yaml", "«/etc/b.yaml", 1), []string{"no name of a file beside"}},
		"no transplanting":      {"«underlamp cycle: 1\nbench: b.yaml\n", []string{"day of transplanting is missing"}},
		"impossible day":        {strings.Replace(head, "2026-09-14", "«2026-02-30", 1), []string{"no day of the calendar"}},
		"harvest first":         {strings.Replace(head, "2026-09-14", "«2026-08-10", 1), []string{"does not come after"}},
		"half a year":           {strings.Replace(head, "2026-09-14", "«2027-09-14", 1), []string{"lasts 400 days"}},
		"mass at the start":     {head + "start mass: «0 g\n", []string{"less than the least"}},
		"unknown key":           {obs("{date: 2026-08-20, plant: P1, «wieght: 20 g, mass: 20 g}"), []string{`"wieght" is not known`}},
		"word for a key":        {obs("{date: 2026-08-20, plant: P1, «weight: 20 g, mass: 20 g}"), []string{`did you mean "mass"`}},
		"no day":                {obs("«{plant: P1, mass: 20 g}"), []string{"day of the observation is missing"}},
		"before transplanting":  {obs("{date: «2026-08-09, plant: P1, mass: 20 g}"), []string{"before the crop stood"}},
		"after harvest":         {obs("{date: «2026-09-15, plant: P1, mass: 20 g}"), []string{"after harvest"}},
		"no unit":               {obs("{date: 2026-08-20, plant: P1, mass: «20}"), []string{"the unit is missing"}},
		"another unit":          {obs("{date: 2026-08-20, plant: P1, mass: «20 cm}"), []string{"length"}},
		"negative":              {obs("{date: 2026-08-20, plant: P1, mass: «-20 g}"), []string{"less than the least"}},
		"NaN":                   {obs("{date: 2026-08-20, plant: P1, mass: «.nan}"), []string{"is not a mass"}},
		"no such plant":         {obs("{date: 2026-08-20, plant: «Q1, mass: 20 g}"), []string{`no plant "Q1"|did you mean "P1"`}},
		"no plant":              {obs("«{date: 2026-08-20, mass: 20 g}"), []string{"the plant is missing"}},
		"nothing seen":          {obs("«{date: 2026-08-20, plant: P1}"), []string{"says nothing that was seen"}},
		"burn in words":         {obs("{date: 2026-08-20, plant: P1, burn: «a bit}"), []string{"does not say how much"}},
		"severity 6":            {obs("{date: 2026-08-20, plant: P1, burn: «severity 6}"), []string{"does not say how much"}},
		"more burnt than there": {obs("{date: 2026-08-20, plant: P1, leaves: 3, burn: «4 leaves}"), []string{"4 burnt leaves of 3"}},
		"count of more":         {obs("{date: 2026-08-20, burnt: «19 of 20}"), []string{"the bench has 18 plants"}},
		"more than all":         {obs("{date: 2026-08-20, burnt: «9 of 8}"), []string{"more heads burnt"}},
		"none looked at":        {obs("{date: 2026-08-20, burnt: «0 of 0}"), []string{"no head"}},
		"no count":              {obs("{date: 2026-08-20, burnt: «three}"), []string{"is no count"}},
		"count of a plant":      {obs("{date: 2026-08-20, plant: P1, burnt: «1 of 1}"), []string{"is not of one plant"}},
		"corrects nothing":      {obs("{date: 2026-08-20, plant: P1, mass: 20 g, corrects: «first}"), []string{`no observation is called "first"`}},
		"corrects itself":       {obs("{date: 2026-08-20, plant: P1, mass: 20 g, corrects: «O1}"), []string{"one that stands before it"}},
		"twice named":           {obs("{name: a, date: 2026-08-20, plant: P1, mass: 20 g}\n  - {name: «a, date: 2026-08-20, plant: P2, mass: 20 g}"), []string{`is called "a" too`}},
		"seen after cutting":    {obs("{date: 2026-08-20, plant: P1, mass: 20 g, cut: yes}\n  - {date: «2026-08-21, plant: P1, mass: 20 g}"), []string{"was cut on 2026-08-20"}},
		"cut perhaps":           {obs("{date: 2026-08-20, plant: P1, mass: 20 g, cut: «perhaps}"), []string{`"perhaps" is not known`}},
		"change of nothing":     {change("«{date: 2026-08-20}"), []string{"says nothing that was set"}},
		"change after harvest":  {change("{date: «2026-09-20, hours: 12 h}"), []string{"after harvest"}},
		"25 hours":              {change("{date: 2026-08-20, hours: «25 h}"), []string{"more than the most"}},
		"above the ceiling":     {change("{date: 2026-08-20, lamp height: «60 cm}"), []string{"above the ceiling"}},
		"dim without %":         {change("{date: 2026-08-20, dimming: «80}"), []string{"looks like per cent: write 80 %"}},
		"fan upwards":           {change("{date: 2026-08-20, fan: «up}"), []string{`"up" is not known`}},
		"too much CO2":          {change("{date: 2026-08-20, co2: «9000 ppm}"), []string{"more than the most"}},
		"unknown instrument":    {head + "instruments:\n  - «{name: scale}\n", []string{"nothing is said of how far"}},
		"nameless instrument":   {head + "instruments:\n  - «{mass error: 1 g}\n", []string{"name of the instrument is missing"}},
		"all at once":           {head + "instruments: «1\nchanges: «2\nobservations: «3\n", []string{"belongs", "belongs", "belongs"}},
	} {
		t.Run(name, func(t *testing.T) {
			text, places := marked.Unmark(c.text)
			cycle, problems, err := cyclefile.Read(strings.NewReader(text), bench())
			if err != nil || cycle != nil {
				t.Fatalf("read %+v, %v", cycle, err)
			}
			marked.Problems(t, problems, places, c.want)
		})
	}
}

// What is odd but possible is read, with a warning.
func TestWarnings(t *testing.T) {
	for want, text := range map[string]string{
		"heads do not shrink": "{date: 2026-08-20, plant: P1, mass: 50 g}\n  - {date: 2026-08-21, plant: P1, mass: 30 g}",
		"burn does not heal":  "{date: 2026-08-20, plant: P1, burn: 1 leaf}\n  - {date: 2026-08-21, plant: P1, burn: none}",
		"of another plant":    "{date: 2026-08-20, plant: P1, mass: 50 g}\n  - {date: 2026-08-20, plant: P2, mass: 30 g, corrects: O1}",
	} {
		c, problems, err := cyclefile.Read(strings.NewReader(head+"observations:\n  - "+text+"\n"), bench())
		if err != nil || c == nil || len(problems) != 1 || !strings.Contains(problems[0].String(), want) {
			t.Errorf("%s: %v, %v", want, problems, err)
		}
	}
}

func TestSizes(t *testing.T) {
	if _, _, err := cyclefile.Read(strings.NewReader(strings.Repeat("#", 2<<20)), nil); err == nil || !strings.Contains(err.Error(), "1 MiB") {
		t.Errorf("two MiB give %v", err)
	}
	many := head + "observations:\n" + strings.Repeat("  - {date: 2026-08-20, plant: P1, mass: 50 g}\n", 5001)
	if _, problems, _ := cyclefile.Read(strings.NewReader(many), nil); len(problems) != 1 || !strings.Contains(problems[0].Message, "5001") {
		t.Errorf("5001 observations give %v", problems)
	}
}

// A change turns what it names and leaves the rest, its origin too.
func TestAfterAChange(t *testing.T) {
	b := bench()
	b.Air.Speed, b.Air.Fan = underlamp.UsualSpeed(underlamp.NoFan), underlamp.Said(underlamp.NoFan)
	for _, d := range []quantity.Fraction{0.5, 0.9} {
		b.Lamps = append(b.Lamps, underlamp.Lamp{Height: 0.3, Flux: underlamp.Said[quantity.PPF](100), Dimming: underlamp.Said(d), Hours: underlamp.Assumed[quantity.Hours](16, "usual")})
	}
	fan, high := underlamp.Said(underlamp.Down), underlamp.Said[quantity.Metre](0.4)
	c := b.After(underlamp.Change{Fan: &fan, Height: &high})
	if c.Air.Speed.Value != 0.3 || !c.Air.Speed.IsDefault() || c.Lamps[0].Height != 0.4 || c.Lamps[0].Dimming.Value != 0.5 || c.Lamps[1].Dimming.Value != 0.9 || !c.Lamps[0].Hours.IsDefault() {
		t.Errorf("%+v, %+v", c.Air, c.Lamps)
	}
	if b.Lamps[0].Height != 0.3 || b.Air.Fan.Value != underlamp.NoFan {
		t.Error("the bench itself was changed")
	}
}

// What is read is written back the same, and no text ends the program or is
// reported outside itself.
func FuzzRead(f *testing.F) {
	f.Add(marked.Example(f, document))
	f.Add(head + "observations:\n  - {date: 2026-08-20, burnt: none of 18}\n  - {date: 2026-08-20, plant: a, burn: seen}\n")
	f.Add(head + "changes:\n  - {date: 2026-08-20, hours: {value: 12 h, from: measured}}\n")
	f.Add("underlamp cycle: 1\r\nbench: \"a\\nb\"\r\ntransplanted: 2026-08-10")
	f.Add("\xef\xbb\xbf" + head)
	f.Fuzz(func(t *testing.T, text string) {
		c, problems, err := cyclefile.Read(strings.NewReader(text), nil)
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), c != nil, problems)
		if c == nil {
			return
		}
		var b bytes.Buffer
		if err := cyclefile.Write(&b, c); err != nil {
			t.Fatal(err)
		}
		again, problems, err := cyclefile.Read(&b, nil)
		if err != nil || again == nil {
			t.Fatalf("written back: %v %v\n%s", err, problems, b.String())
		}
		if d := cmp.Diff(c, again, cmpopts.EquateApprox(1e-12, 0), cmpopts.EquateEmpty(), cmpopts.IgnoreFields(underlamp.Observation{}, "Line", "MassError", "HeightError"),
			cmpopts.IgnoreFields(underlamp.Change{}, "Line")); d != "" {
			t.Fatalf("read and written back:\n%s", d)
		}
	})
}

func BenchmarkRead(b *testing.B) {
	text := head + "observations:\n" + strings.Repeat("  - {date: 2026-08-20, plant: P1, mass: 50 g, height: 12 cm, burn: none}\n", 1000)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := cyclefile.Read(strings.NewReader(text), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// A grower weighs a head in ounces; the record has grams.
func Example() {
	c, problems, err := cyclefile.Read(strings.NewReader(head+"observations:\n  - {date: 2026-09-14, plant: P3, mass: 6 oz, burn: none}\n"), nil)
	if err != nil || len(problems) > 0 {
		fmt.Println(err, problems)
		return
	}
	o := c.Observations[0]
	fmt.Printf("day %d, plant %s: %.0f g\n", o.Day, o.Plant, float64(*o.Mass))
	// Output: day 35, plant P3: 170 g
}
