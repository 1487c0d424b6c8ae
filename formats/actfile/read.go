package actfile

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Version is the version of both formats that this package reads and writes.
const Version = 1

const maxLamps = 500

var grammar = handwritten.Grammar{
	Package: "actfile",
	File:    "a description of how lamps are turned",
	Begin:   "a description that begins with underlamp act: 1",
	One:     "one bench in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp act", "bench", "zone", "acting", "lamps"}},
		{Name: "lamps[]", Keys: []string{"lamp", "topic", "payload", "on at", "limits", "safe", "safe wait"}},
		{Name: "lamps[].limits", Keys: []string{"dimming", "hours", "change"}},
	},
	Also: map[string]string{"name": "lamp", "on": "on at", "time zone": "zone", "timezone": "zone", "rate": "change", "live": "acting"},
}

var overrideGrammar = handwritten.Grammar{
	Package: "actfile",
	File:    "what a person wants of lamps",
	Begin:   "a text that begins with underlamp override: 1",
	One:     "one bench in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp override", "lamps"}},
		{Name: "lamps[]", Keys: []string{"lamp", "dimming", "until"}},
	},
}

// Keys lists every key of both formats.
func Keys() []string {
	var all []string
	for _, g := range []handwritten.Grammar{grammar, overrideGrammar} {
		for _, s := range g.Sections {
			all = append(all, s.Keys...)
		}
	}
	return all
}

// Read reads how lamps are turned. It is nil exactly when the problems hold an error. The
// error is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge]. Whether the bench has these lamps is for package act to say.
func Read(in io.Reader) (*underlamp.Acting, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, r.acting)
}

type reader struct{ *handwritten.Reader }

var share = handwritten.Span{Min: 0, Max: 1}

func (r *reader) acting(top handwritten.Value) *underlamp.Acting {
	f, ok := r.Mapping(top, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp act"), Version)
	a := &underlamp.Acting{}
	if a.Bench, _ = r.Words(f.Get("bench"), handwritten.MaxName); a.Bench == "" {
		r.Missing(f.Get("bench"), "bench: cellar-rack.yaml", "the bench whose plan is followed")
	}
	if a.Zone = r.Zone(f.Get("zone")); !f.Get("zone").Written() {
		r.Missing(f.Get("zone"), "zone: Europe/Berlin", "the time zone")
	}
	a.Live = r.Yes(f.Get("acting"))
	items, _ := r.List(f.Get("lamps"), "a list of lamps", maxLamps, "lamps")
	if len(items) == 0 && !r.Problems.HasErrors() {
		r.Missing(f.Get("lamps"), "lamps: with a lamp, its topic, payload, hour and limits", "the list of lamps")
	}
	lamps, topics := map[string]int{}, map[string]int{}
	for _, item := range items {
		l, ok := r.lamp(item)
		if !ok {
			continue
		}
		for _, x := range []struct {
			in         map[string]int
			what, word string
		}{{lamps, l.Lamp, "lamp"}, {topics, l.Topic, "topic"}} {
			if line, twice := x.in[x.what]; twice && x.what != "" {
				r.Errorf(item, "each lamp and each topic once", "the %s %q is in line %d already", x.word, handwritten.Shortened(x.what), line)
			}
			x.in[x.what] = item.At.Line
		}
		a.Lamps = append(a.Lamps, l)
	}
	return a
}

func (r *reader) lamp(item handwritten.Value) (underlamp.Actuator, bool) {
	var l underlamp.Actuator
	f, ok := r.Mapping(item, "lamps[]")
	if !ok {
		return l, false
	}
	if l.Lamp, _ = r.Words(f.Get("lamp"), handwritten.MaxName); l.Lamp == "" {
		r.Missing(f.Get("lamp"), "lamp: left bar", "the name of the lamp in the bench file")
	}
	v := f.Get("topic")
	if l.Topic, _ = r.Words(v, 200); l.Topic == "" {
		r.Missing(v, "topic: rack-dimmer/left/set", "the topic that the lamp listens to")
	} else if strings.ContainsAny(l.Topic, "+#\n\t") || strings.HasPrefix(l.Topic, "$") || strings.HasPrefix(l.Topic, "/") || strings.HasSuffix(l.Topic, "/") {
		r.Errorf(v, "one topic: rack-dimmer/left/set", "%q is no topic of one lamp", handwritten.Shortened(l.Topic))
	}
	if v = f.Get("payload"); !v.Written() {
		r.Missing(v, "payload: 0 to 100, 0 to 1, 0 to 255, or on/off", "how the dimming is written for the lamp")
	} else {
		i, _ := r.OneOf(v, []string{"0 to 100", "0 to 1", "0 to 255", "on/off"}, map[string]string{"0–100": "0 to 100", "0–1": "0 to 1", "0–255": "0 to 255"})
		l.Payload = underlamp.Payload(i)
	}
	l.On = r.clock(f.Get("on at"))
	limits, ok := r.Part(f.Get("limits"), "lamps[].limits", "limits: {dimming: 20 % to 90 %, hours: 18 h, change: 10 %}", "how far the lamp may be turned")
	if ok {
		r.limits(limits, &l)
	}
	v = f.Get("safe")
	r.Takes(v, handwritten.Form{Is: handwritten.WordForm, Words: []string{"off"}, Also: []string{"false"}})
	r.Takes(v, handwritten.Form{Is: handwritten.AmountForm, Kind: quantity.Share, Span: share})
	text, _ := r.Raw(v, "off, or a dimming such as 30 %")
	switch {
	case !v.Written():
		r.Missing(v, "safe: off, or a dimming such as 30 %", "what the lamp is set to when the program ends or dies")
	case handwritten.Normal(text) == "off" || handwritten.Normal(text) == "false": // YAML's other word
	default:
		x, _ := r.Amount(v, quantity.Share, share)
		l.Safe = quantity.Fraction(x)
	}
	if l.Safe > 0 && l.High > 0 && (l.Safe < l.Low || l.Safe > l.High) {
		r.Errorf(v, "off, or a dimming within the limits", "the safe dimming is outside of the limits of the lamp")
	}
	if v = f.Get("safe wait"); v.Written() {
		x, _ := r.Amount(v, quantity.Duration, handwritten.Span{Min: 0, Max: 1})
		l.Wait = time.Duration(x * float64(time.Hour)).Round(time.Second)
	}
	return l, true
}

// limits reads how far the lamp may be turned. Each must be written.
func (r *reader) limits(f handwritten.Fields, l *underlamp.Actuator) {
	if v := f.Get("dimming"); v.Written() {
		low, high, ok := r.RangeOf(v, quantity.Share, share)
		l.Low, l.High = quantity.Fraction(low), quantity.Fraction(high)
		if ok && high <= 0 {
			r.Errorf(v, "a range such as 20 % to 90 %", "a lamp that may not be lit cannot be turned")
		}
	} else {
		r.Missing(v, "dimming: 20 % to 90 %", "the least and the most dimming while it is lit")
	}
	hours, _ := r.Need(f.Get("hours"), quantity.Duration, handwritten.Span{Min: 0, Max: 24}, "the most hours of light on a day")
	l.MaxHours = quantity.Hours(hours)
	if v := f.Get("change"); !v.Written() {
		r.Missing(v, "change: 10 %, or change: any", "how much the dimming may change in a minute")
	} else if text, _ := r.Scalar(v, "10 %, or any"); handwritten.Normal(text) != "any" {
		x, ok := r.Amount(v, quantity.Share, share)
		if ok && x < 0.001 {
			r.Errorf(v, "at least 0.1 %, or any", "a lamp that may not change cannot be turned")
		}
		l.Change = quantity.Fraction(x)
	}
}

// clock reads a time of the clock: 06:00.
func (r *reader) clock(v handwritten.Value) time.Duration {
	const want = "a time of the clock such as 06:00"
	r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: want, Like: `^\s*\d{1,2}:\d{2}\s*$`})
	if !v.Written() {
		r.Missing(v, "on at: 06:00", "when the light begins")
		return 0
	}
	text, ok := r.Raw(v, want)
	if !ok {
		return 0
	}
	t, err := time.Parse("15:04", strings.TrimSpace(text))
	if err != nil {
		r.Errorf(v, want, "%q is no time of the clock", handwritten.Shortened(text))
		return 0
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
}

// ReadOverrides reads what a person wants of lamps. The result is nil exactly when the
// problems hold an error.
func ReadOverrides(in io.Reader) ([]underlamp.Override, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: overrideGrammar}}
	out, problems, err := handwritten.Read(r.Reader, in, r.overrides)
	if out == nil {
		return nil, problems, err
	}
	return *out, problems, err
}

func (r *reader) overrides(top handwritten.Value) *[]underlamp.Override {
	f, ok := r.Mapping(top, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp override"), Version)
	out := []underlamp.Override{}
	items, _ := r.List(f.Get("lamps"), "a list of lamps", maxLamps, "lamps")
	seen := map[string]int{}
	for _, item := range items {
		l, ok := r.Mapping(item, "lamps[]")
		if !ok {
			continue
		}
		var o underlamp.Override
		if o.Lamp, _ = r.Words(l.Get("lamp"), handwritten.MaxName); o.Lamp == "" {
			r.Missing(l.Get("lamp"), "lamp: left bar", "the name of the lamp")
		} else if line, twice := seen[o.Lamp]; twice {
			r.Errorf(item, "each lamp once", "the lamp %q is in line %d already", o.Lamp, line)
		}
		seen[o.Lamp] = item.At.Line
		x, _ := r.Need(l.Get("dimming"), quantity.Share, share, "the dimming; 0 % is off")
		o.Dimming = quantity.Fraction(x)
		if v := l.Get("until"); v.Written() {
			const want = "a time with its offset: 2026-11-26T18:00:00+01:00"
			text, _ := r.Scalar(v, want)
			t, err := time.Parse(time.RFC3339, strings.TrimSpace(text))
			if err != nil {
				r.Errorf(v, want, "%q is no time with its offset", handwritten.Shortened(text))
			}
			o.Until = t
		}
		out = append(out, o)
	}
	return &out
}

// WriteOverrides writes what a person wants so that [ReadOverrides] gives it back.
func WriteOverrides(out io.Writer, all []underlamp.Override) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# What a person wants of lamps, whatever the plan says. See docs/formats/act.md.\nunderlamp override: %d\n", Version)
	if len(all) > 0 {
		b.WriteString("lamps:\n")
	}
	for _, o := range all {
		until := ""
		if !o.Until.IsZero() {
			until = ", until: " + strconv.Quote(o.Until.Format(time.RFC3339))
		}
		fmt.Fprintf(&b, "  - {lamp: %s, dimming: %s %%%s}\n", strconv.Quote(o.Lamp), strconv.FormatFloat(100*float64(o.Dimming), 'g', 12, 64), until)
	}
	_, err := io.WriteString(out, b.String())
	return err
}
