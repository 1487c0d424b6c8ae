package watchfile

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads.
const Version = 1

// A rule is what a key may say.
type rule struct {
	key       underlamp.WatchKey
	kind      quantity.Kind
	span      handwritten.Span
	low, high bool // which sides it has
	margin    bool // its limit is a difference
}

// Parse reads the text of a watch file of a bench; its first error is the error.
func Parse(text []byte, units quantity.System) (*underlamp.Watch, error) {
	w, problems, err := Read(bytes.NewReader(text), units)
	for _, p := range problems {
		if err == nil && p.Severity == handwritten.Error {
			err = errors.New(p.String())
		}
	}
	return w, err
}

// rules are the keys, with ranges that catch slips of the pen.
var rules = []rule{
	{underlamp.WatchDLI, quantity.DailyIntegral, handwritten.Span{Min: 0.1, Max: 100}, true, true, false},
	{underlamp.WatchDark, quantity.Duration, handwritten.Span{Min: 0.25, Max: 23}, true, false, false},
	{underlamp.WatchLamp, quantity.Duration, handwritten.Span{}, false, false, false},
	{underlamp.WatchVPD, quantity.Pressure, handwritten.Span{Min: 0.01, Max: 5}, true, true, false},
	{underlamp.WatchAir, quantity.Temperature, handwritten.Span{Min: -5, Max: 50}, true, true, false},
	{underlamp.WatchLeaf, quantity.Temperature, handwritten.Span{Min: -5, Max: 50}, true, true, false},
	{underlamp.WatchHumidity, quantity.Share, handwritten.Span{Min: 0.01, Max: 1}, true, true, false},
	{underlamp.WatchCO2, quantity.GasShare, handwritten.Span{Min: 150, Max: 5000}, true, true, false}, // the exposure limit of OSHATableZ1
	{underlamp.WatchSolution, quantity.Temperature, handwritten.Span{Min: 1, Max: 40}, true, true, false},
	{underlamp.WatchEC, quantity.Conductivity, handwritten.Span{Min: 0.1, Max: 10}, true, true, false},
	{underlamp.WatchPH, quantity.Acidity, handwritten.Span{Min: 3, Max: 10}, true, true, false},
	{underlamp.WatchDew, quantity.Temperature, handwritten.Span{Min: 0, Max: 10}, true, false, true},
	{underlamp.WatchBurn, quantity.Share, handwritten.Span{Min: 0.01, Max: 1}, false, true, false},
	{underlamp.WatchSilent, quantity.Duration, handwritten.Span{Min: 1.0 / 60, Max: 30}, false, true, false},
	{underlamp.WatchSensor, quantity.Duration, handwritten.Span{}, false, false, false},
}

// name is the key as it is written.
func (r rule) name() string { return strings.ToLower(string(r.key)) }

var grammar = func() handwritten.Grammar {
	g := handwritten.Grammar{
		Package: "watchfile",
		File:    "what to watch",
		Begin:   "what to watch, beginning with underlamp watch: 1",
		One:     "one bench in a file",
		Sections: []handwritten.Section{
			{Name: "", Keys: []string{"underlamp watch", "units", "zone", "lights", "quiet", "base"}},
			{Name: "rule", Keys: []string{"low", "high", "delay", "hysteresis", "urgent"}},
			{Name: "origin", Keys: []string{"value", "from", "note"}},
		},
		Also: map[string]string{
			"underlamp": "underlamp watch", "version": "underlamp watch", "time zone": "zone", "timezone": "zone", "lamps": "lights", "light": "lights", "hours": "lights", "quiet hours": "quiet", "night": "quiet",
			"temperature": "air temperature", "rh": "humidity", "vapour pressure deficit": "vpd", "root temperature": "solution temperature", "conductivity": "ec", "acidity": "ph", "silence": "silent", "dark period": "dark",
			"min": "low", "max": "high", "least": "low", "most": "high", "target": "low", "ceiling": "high", "after": "delay", "for": "delay", "margin": "hysteresis", "base temperature": "base",
		},
		Home: map[string]bool{"origin": true},
	}
	for _, r := range rules {
		g.Sections[0].Keys = append(g.Sections[0].Keys, r.name())
	}
	return g
}()

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

var (
	baseSpan  = handwritten.Span{Min: -5, Max: 20}
	delaySpan = handwritten.Span{Min: 0, Max: 24}
)

type reader struct{ *handwritten.Reader }

// Read reads what to watch. The watch is nil exactly when the problems hold an error. The
// error is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge].
func Read(in io.Reader, units quantity.System) (*underlamp.Watch, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, func(v handwritten.Value) *underlamp.Watch { return r.watch(v, units) })
}

func (r *reader) watch(v handwritten.Value, units quantity.System) *underlamp.Watch {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	w := &underlamp.Watch{}
	r.Version(f.Get("underlamp watch"), Version)
	w.Units = r.System(f.Get("units"), units)
	if z := r.Zone(f.Get("zone")); z != nil {
		w.Zone = z.String()
	}
	w.Lights = r.window(f.Get("lights"), "when the lamps burn by the clock, such as 06:00-22:00")
	w.Quiet = r.window(f.Get("quiet"), "hours such as 22:00-06:30")
	if b := f.Get("base"); b.Written() {
		g := handwritten.Given(r.Reader, b, quantity.Temperature, baseSpan, underlamp.Given[quantity.Celsius]{})
		w.Base = &g
	}
	for _, x := range rules {
		if v := f.Get(x.name()); v.Written() {
			w.Rules = append(w.Rules, r.rule(v, x))
		}
	}
	return w
}

// window reads "06:00-22:00".
func (r *reader) window(v handwritten.Value, want string) *underlamp.Window {
	r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: want, Like: `^\s*\d{1,2}:\d{2}\s*[-–—]\s*\d{1,2}:\d{2}\s*$`})
	if !v.Written() {
		return nil
	}
	text, ok := r.Raw(v, want)
	if !ok {
		return nil
	}
	w, ok := underlamp.ParseWindow(text)
	if !ok {
		r.Errorf(v, want, "%q is no part of a day", handwritten.Shortened(text))
		return nil
	}
	return &w
}

func (r *reader) rule(v handwritten.Value, x rule) underlamp.WatchRule {
	out := underlamp.WatchRule{Key: x.key}
	if !v.IsMapping() {
		if _, ok := r.OneOf(v, []string{"off"}, map[string]string{"no": "off", "false": "off"}); ok {
			out.Off = true
		}
		return out
	}
	f, ok := r.Mapping(v, "rule")
	if !ok {
		return out
	}
	side := func(key string, has bool) *underlamp.Given[float64] {
		v := f.Get(key)
		if !v.Written() {
			return nil
		}
		if !has {
			r.Takes(v, handwritten.Form{Is: handwritten.NeverForm})
			r.Errorf(v, "a key that it has: "+strings.Join(x.sides(), ", "), "%s has no %s limit", x.key, key)
			return nil
		}
		inner, origin, note, ok := r.Said(v)
		if !ok {
			return nil
		}
		amount, ok := r.amount(inner, x, x.margin)
		if !ok {
			return nil
		}
		return &underlamp.Given[float64]{Value: amount, Origin: origin, Note: note}
	}
	out.Low, out.High = side("low", x.low), side("high", x.high)
	if out.Low != nil && out.High != nil && out.Low.Value >= out.High.Value {
		r.Errorf(f.Get("high"), "more than "+r.Show(x.kind, out.Low.Value), "the high limit is not above the low one")
	}
	if h, ok := r.Amount(f.Get("delay"), quantity.Duration, delaySpan); ok {
		d := time.Duration(h * float64(time.Hour)).Round(time.Second)
		out.Delay = &d
	}
	if v := f.Get("hysteresis"); v.Written() {
		if !x.low && !x.high {
			r.Takes(v, handwritten.Form{Is: handwritten.NeverForm})
			r.Errorf(v, "a key that it has: "+strings.Join(x.sides(), ", "), "%s has no limit that it could come back from", x.key)
		} else if h, ok := r.amount(v, rule{kind: x.kind, span: handwritten.Span{Min: 0, Max: (x.span.Max - x.span.Min) / 2}}, true); ok {
			out.Hysteresis = &h
		}
	}
	out.Urgent = r.Yes(f.Get("urgent"))
	return out
}

func (x rule) sides() []string {
	var out []string
	if x.low {
		out = append(out, "low")
	}
	if x.high {
		out = append(out, "high")
	}
	return append(out, "delay", "urgent")
}

// amount reads an amount, or a difference of two: 1 °C is 1.8 °F then, and not 33.8.
func (r *reader) amount(v handwritten.Value, x rule, difference bool) (float64, bool) {
	if !difference {
		return r.Amount(v, x.kind, x.span)
	}
	r.Takes(v, handwritten.Form{Is: handwritten.DifferenceForm, Kind: x.kind, Span: x.span})
	text, ok := r.Raw(v, "for example "+x.kind.Example())
	if !ok {
		return 0, false
	}
	d, err := x.kind.ParseDifference(text)
	if err != nil {
		r.Unparsed(v, x.kind, err)
		return 0, false
	}
	if !x.span.Holds(d) {
		r.Errorf(v, x.kind.Difference(x.span.Min, r.Units, 3)+" to "+x.kind.Difference(x.span.Max, r.Units, 3), "%s does not fit", handwritten.Shortened(text))
		return 0, false
	}
	return x.span.Clamp(d), true
}
