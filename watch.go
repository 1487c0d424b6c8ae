package underlamp

import (
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
	WatchSilent   WatchKey = "silent" // high: longest time without a reading, h
	WatchSensor   WatchKey = "sensor" // stuck, drifting, jumping, or beyond what can be
)

// WatchKeys are all of them, in the order in which they are shown.
func WatchKeys() []WatchKey {
	return []WatchKey{WatchDLI, WatchDark, WatchLamp, WatchVPD, WatchAir, WatchLeaf, WatchHumidity, WatchCO2, WatchSolution, WatchEC, WatchPH, WatchDew, WatchSilent, WatchSensor}
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
