package underlamp

import (
	"strings"
	"time"

	"underlamp/science/quantity"
)

// A Watch is what a person wants to be told of a bench, and what they say of its day.
// What is not said is derived from the bench, and shown as derived.
type Watch struct {
	Units  quantity.System
	Zone   string                   // of its days, as in the IANA database; empty: that of who asks
	Lights *Window                  // when the lamps burn by the clock; nil: not said
	Quiet  *Window                  // when messages wait that are not urgent; nil: never
	Base   *Given[quantity.Celsius] // over which degree hours count; nil: the usual one
	Rules  []WatchRule
}

// A Window is a part of the day by the clock, from midnight; over midnight if From is
// later than To.
type Window struct{ From, To time.Duration }

// ParseWindow reads a window as people write it: "06:00-22:00"; 24:00 is the end of the
// day. False if it is none, or begins when it ends.
func ParseWindow(text string) (Window, bool) {
	from, to, ok := strings.Cut(strings.NewReplacer("–", "-", " to ", "-").Replace(text), "-")
	a, okA := clock(from)
	b, okB := clock(to)
	return Window{a, b}, ok && okA && okB && a != b
}

func clock(text string) (time.Duration, bool) {
	if text = strings.TrimSpace(text); text == "24:00" {
		return 0, true
	}
	t, err := time.Parse("15:04", text)
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, err == nil
}

// Holds says whether a time of the clock is in the window.
func (w Window) Holds(clock time.Duration) bool {
	if w.From < w.To {
		return clock >= w.From && clock < w.To
	}
	return clock >= w.From || clock < w.To
}

// Length is how long the window is on a day without a change of clocks.
func (w Window) Length() time.Duration {
	if w.From < w.To {
		return w.To - w.From
	}
	return 24*time.Hour - w.From + w.To
}

// A WatchKey names a thing to watch.
type WatchKey string

// What can be watched.
const (
	WatchDLI      WatchKey = "DLI"                  // low: target, high: ceiling; mol m⁻² d⁻¹
	WatchDark     WatchKey = "dark"                 // low: least time without light in a day, h
	WatchLamp     WatchKey = "lamp"                 // off when it should be on, and on when off
	WatchVPD      WatchKey = "VPD"                  // kPa, while the lamps are on
	WatchAir      WatchKey = "air temperature"      // °C
	WatchLeaf     WatchKey = "leaf temperature"     // °C
	WatchHumidity WatchKey = "humidity"             // share
	WatchCO2      WatchKey = "CO2"                  // ppm
	WatchSolution WatchKey = "solution temperature" // °C
	WatchEC       WatchKey = "EC"                   // mS/cm
	WatchPH       WatchKey = "pH"
	WatchDew      WatchKey = "dew"    // low: least difference to the dew point, °C
	WatchBurn     WatchKey = "burn"   // high: chance of inner burn by the outlook with what sensors read lately; share
	WatchSilent   WatchKey = "silent" // high: longest time without a reading, h
	WatchSensor   WatchKey = "sensor" // stuck, drifting, jumping, or beyond what can be
)

// WatchKeys are all of them, in the order in which they are shown.
func WatchKeys() []WatchKey {
	return []WatchKey{WatchDLI, WatchDark, WatchLamp, WatchVPD, WatchAir, WatchLeaf, WatchHumidity, WatchCO2, WatchSolution, WatchEC, WatchPH, WatchDew, WatchBurn, WatchSilent, WatchSensor}
}

// A WatchRule is what a person says of one of them; nil is what is usual.
type WatchRule struct {
	Key        WatchKey
	Low, High  *Given[float64] // in the unit of the key
	Delay      *time.Duration  // how long it must be so before it is told
	Hysteresis *float64        // how far it must come back before it is over, in the unit of the key
	Off        bool            // not watched
	Urgent     bool            // told in quiet hours too
}
