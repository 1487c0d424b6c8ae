package watchfile

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/quantity"
)

// Write writes what to watch so that [Read] gives the same.
func Write(out io.Writer, w *underlamp.Watch) error {
	var b strings.Builder
	b.WriteString("underlamp watch: 1\n")
	if w.Units == quantity.US {
		b.WriteString("units: us\n")
	} else {
		b.WriteString("units: metric\n")
	}
	if w.Zone != "" {
		fmt.Fprintf(&b, "zone: %s\n", strconv.Quote(w.Zone))
	}
	for _, x := range []struct {
		key string
		w   *underlamp.Window
	}{{"lights", w.Lights}, {"quiet", w.Quiet}} {
		if x.w != nil {
			fmt.Fprintf(&b, "%s: %s-%s\n", x.key, clockText(x.w.From), clockText(x.w.To))
		}
	}
	if w.Base != nil {
		fmt.Fprintf(&b, "base: %s\n", given(float64(w.Base.Value), w.Base.Origin, w.Base.Note, "°C"))
	}
	for _, r := range w.Rules {
		var x rule
		for _, y := range rules {
			if y.key == r.Key {
				x = y
			}
		}
		if r.Off {
			fmt.Fprintf(&b, "%s: off\n", x.name())
			continue
		}
		var parts []string
		unit := x.kind.Unit()
		for _, side := range []struct {
			key string
			g   *underlamp.Given[float64]
		}{{"low", r.Low}, {"high", r.High}} {
			if side.g != nil {
				parts = append(parts, side.key+": "+given(side.g.Value, side.g.Origin, side.g.Note, unit))
			}
		}
		if r.Delay != nil {
			parts = append(parts, "delay: "+number(r.Delay.Hours())+" h")
		}
		if r.Hysteresis != nil {
			parts = append(parts, "hysteresis: "+amount(*r.Hysteresis, unit))
		}
		if r.Urgent {
			parts = append(parts, "urgent: yes")
		}
		if len(parts) > 0 {
			fmt.Fprintf(&b, "%s: {%s}\n", x.name(), strings.Join(parts, ", "))
		}
	}
	_, err := io.WriteString(out, b.String())
	return err
}

func clockText(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func amount(v float64, unit string) string { return strings.TrimSpace(number(v) + " " + unit) }

func given(v float64, origin underlamp.Origin, note, unit string) string {
	if origin == underlamp.Stated && note == "" {
		return amount(v, unit)
	}
	out := "{value: " + amount(v, unit) + ", from: " + origin.String()
	if note != "" {
		out += ", note: " + strconv.Quote(note)
	}
	return out + "}"
}
