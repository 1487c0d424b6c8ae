package benchfile

import (
	"underlamp"
	"underlamp/formats/handwritten"
)

// maxInstruments is far above what anybody has.
const maxInstruments = 40

// method reads what others must know and no figure needs.
func (r *reader) method(v handwritten.Value) underlamp.Method {
	f, _ := r.Mapping(v, "method")
	text := func(key string) string {
		s, _ := r.Words(f.Get(key), handwritten.MaxNote)
		return s
	}
	m := underlamp.Method{
		Room: text("room"), AirFlow: text("air flow"), Seedlings: text("seedlings"), Container: text("container"), Substrate: text("substrate"),
		Watering: text("watering"), Solution: text("solution"), PH: text("ph"), Oxygen: text("oxygen"),
	}
	items, ok := r.List(f.Get("instruments"), "a list of instruments, each with reads and make", maxInstruments, "instruments")
	if !ok {
		return m
	}
	for _, item := range items {
		g, ok := r.Mapping(item, "method.instruments[]")
		if !ok {
			continue
		}
		reads := g.Get("reads")
		if !reads.Written() {
			r.Missing(reads, "reads: light", "what the instrument reads")
			continue
		}
		x := underlamp.Instrument{Reads: handwritten.Choice(r.Reader, reads, underlamp.AllObserved(), observedAlso, underlamp.ObservedLight), Calibrated: r.Date(g.Get("calibrated"))}
		x.Make, _ = r.Words(g.Get("make"), handwritten.MaxName)
		x.Place, _ = r.Words(g.Get("place"), handwritten.MaxName)
		x.Often, _ = r.Words(g.Get("often"), handwritten.MaxName)
		m.Instruments = append(m.Instruments, x)
	}
	return m
}

// observedAlso are other words for what instruments read.
var observedAlso = map[string]string{
	"ppfd": "light", "par": "light", "quantum": "light", "temperature": "air temperature", "air": "air temperature", "rh": "humidity", "relative humidity": "humidity",
	"carbon dioxide": "co2", "wind": "air speed", "speed": "air speed", "solution temperature": "root temperature", "conductivity": "ec", "acidity": "ph",
	"power": "electricity", "energy": "electricity", "weight": "mass", "scale": "mass", "colour": "spectrum", "dissolved oxygen": "oxygen",
}
