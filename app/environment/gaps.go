package environment

import (
	"fmt"
	"strings"

	"underlamp"
)

// lacks says what a row does not tell, and how it is to be had.
func (w *writer) lacks(r *Row) {
	gap := func(what, how string, at Page, field string) {
		r.Gaps = append(r.Gaps, Gap{r.Key, r.Name, what, how, at, field})
	}
	line := func(key, example string) string {
		return fmt.Sprintf("write it under method in the bench file: %s: %s", key, example)
	}
	switch r.Key {
	case PPFD:
		if r.State == Computed || r.State == Missing {
			gap("no reading of light holds the computed map", "read a quantum meter at the planting surface at five places or more and write the readings into the bench file; underlamp light FILE says which place tells most", EditPage, "readings")
		}
	case OverTime:
		if r.State == Missing {
			gap("readings of more than one day", "read the same places again at the end of the crop and add the readings with their date, or leave a light sensor on the bench", EditPage, "readings")
		}
		return
	case Spectrum:
		if r.State == Missing {
			gap("the spectrum of the lamps", "ask the maker for it, or read a spectrometer, and name the file at the lamp in the bench file: spectrum: lamp.csv", EditPage, "")
		}
		return
	case Photoperiod:
		if r.State == Assumed {
			gap("the hours of light are assumed", "write hours at the lamps in the bench file", EditPage, "lamps[0].hours")
		}
		return
	case AirFlow:
		if r.State == Missing {
			gap("which way the air goes", line("air flow", "a fan across, fresh air by the door"), EditPage, "method.air flow")
		}
		return
	case Watering:
		if r.State == Missing {
			gap("how the plants are watered", line("watering", "deep water, topped up twice a week"), EditPage, "method.watering")
		}
		return
	case Substrate:
		if r.State == Missing {
			gap("what the roots stand in", line("substrate", "rockwool plugs of 36 mm"), EditPage, "method.substrate")
		}
		return
	case Container:
		if r.State == Missing {
			gap("container and its size", line("container", "net pots of 5 cm in a raft"), EditPage, "method.container")
		}
		return
	case Composition:
		if r.State == Missing || r.State == SetOnly {
			gap("the whole composition of the feed", "describe the feed (underlamp feed new, or the page Feed) and name it in the bench file, or "+line("solution", "recipe and water"), FeedPage, "method.solution")
		}
		return
	case Oxygen:
		if r.State == Missing {
			gap("how the solution is aerated", line("oxygen", "air stone, 8 mg/L"), EditPage, "method.oxygen")
		}
		return
	case Room:
		if r.State == Missing {
			gap("what the bench stands in, and whether something lies between lamps and plants", line("room", "cellar without windows, no barrier"), EditPage, "method.room")
		}
		return
	case Seedlings:
		if r.State == Missing {
			gap("how the plants were raised", line("seedlings", "sown 2026-09-28, 14 d at 150 µmol/m²/s"), EditPage, "method.seedlings")
		}
		return
	case VPDDay, VPDNight, DLI, Evenness, Lamps, Space:
		return // they follow from others, whose gaps are told there
	case Leaf:
		return // asked for where the temperature of leaves is what the work is about
	}
	if r.State != Measured && r.State != Fitted && r.State != Told && r.Key != PPFD {
		how, what := toMeasure[r.Reads], string(r.State)
		switch {
		case r.State == Missing:
			what = "no value is told"
		case r.Key == AirNight || r.Key == HumidityNight:
			how.how = "the instrument that reads by day reads by night too"
		}
		gap(what, how.how, how.at, how.field)
		return // what it was read with is asked once it is read
	}
	if r.Reads == "" || r.Key == PPFD && r.State != Fitted {
		return
	}
	// What a sensor is asked for stands in the register; what another instrument is, in the bench file.
	sensor := strings.HasPrefix(r.Instrument, "sensor ")
	at, field := EditPage, func(key string) string { return w.instrument(r.Reads, key) }
	where := func(_, line string) string {
		return "write it beside the instrument under method in the bench file: " + line
	}
	if sensor {
		at, where = LivePage, func(command, _ string) string { return command }
		field = func(string) string { return "" }
	}
	if r.Instrument == "" {
		gap("the instrument, and when it was calibrated", fmt.Sprintf("write it under method, instruments in the bench file: {reads: %s, make: …, calibrated: 2026-05-04}", r.Reads), EditPage, field("make"))
	} else if !strings.Contains(r.Instrument, "calibrated") {
		gap("when the instrument was calibrated", where("enter it with underlamp sensor calibrate", "calibrated: 2026-05-04"), at, field("calibrated"))
	}
	if r.Where == "" {
		gap("where it was read", where("say it with underlamp sensor set --position --height", "place: at the tops of the heads"), at, field("place"))
	}
	if r.Often == "" {
		gap("how often it was read", where("say it with underlamp sensor set --every", "often: twice a week"), at, field("often"))
	}
	if r.Over && r.Spread == "" && r.State != Told { // what is told in words may hold its range
		gap("how far it moved over the crop", "leave a sensor on the bench and send its readings to underlamp serve, or read a logger's table with underlamp logged", LivePage, "")
	}
}

// instrument is where the bench file says something of the instrument that reads a quantity; it is
// the list of them where none is named.
func (w *writer) instrument(reads underlamp.Observed, key string) string {
	for i, x := range w.Bench.Method.Instruments {
		if x.Reads == reads {
			return fmt.Sprintf("method.instruments[%d].%s", i, key)
		}
	}
	return "method.instruments"
}

const toStore = "and send what it reads to underlamp serve (underlamp sensor set says where it stands)"

// toMeasure is how each quantity is measured.
var toMeasure = map[underlamp.Observed]struct {
	how   string
	at    Page
	field string
}{
	underlamp.ObservedLight:    {"read a quantum meter at the planting surface", EditPage, "readings"},
	underlamp.ObservedAir:      {"hang a thermometer at the top of the plants, shaded from the lamps, in moving air, " + toStore + "; or read a logger with underlamp logged", LivePage, ""},
	underlamp.ObservedHumidity: {"hang a hygrometer beside the thermometer, " + toStore + "; or read a logger with underlamp logged", LivePage, ""},
	underlamp.ObservedRoot:     {"hang a thermometer in the solution or in the middle of a container, " + toStore, LivePage, ""},
	underlamp.ObservedCO2:      {"hang a CO2 meter at the top of the plants, away from breath, " + toStore, LivePage, ""},
	underlamp.ObservedSpeed:    {"hold a hot-wire anemometer over ten heads or more and write the mean into the bench file as air: speed: {value: …, from: measured}; underlamp air reads a table of them", AirPage, ""},
	underlamp.ObservedEC:       {"read EC at each look at the tank and enter it in the log of the feed file, or on the page Feed", FeedPage, ""},
	underlamp.ObservedPH:       {"read pH at each look at the tank and enter it in the log of the feed file, or on the page Feed", FeedPage, "method.ph"},
}
