package draw

import (
	"testing"

	"underlamp/science/quantity"
)

// A pin hides neither the value of the plant under it nor another pin: in large
// crowns the value moves, in small ones the pin does, and a line leads to its
// place.
func TestPinsHideNoValue(t *testing.T) {
	for _, c := range []struct {
		crown quantity.Metre
		moved bool
	}{{0.1, false}, {0.055, false}, {0.022, true}} {
		p := samplePlan(Frame{ID: "pins"})
		p.Readings = nil
		for i := range p.Plants {
			p.Plants[i].Crown = c.crown
			if i%3 == 0 {
				p.Readings = append(p.Readings, Reading{X: p.Plants[i].X, Y: p.Plants[i].Y, Value: 200, Model: 210})
			}
		}
		p.Readings = append(p.Readings, Reading{X: 0.6, Y: 0.2, Value: 200, Model: 210}, Reading{X: 0.6, Y: 0.2, Value: 100, Model: 210, Far: true})
		area := box{60, 30, 900, 450} // 7 px for each cm
		m := mapper{linear(0, 1.2, area.x0, area.x1), linear(0, 0.6, area.y1, area.y0)}
		canvas := newCanvas(p.Frame)
		room := &placer{within: area}
		crowns, pins := p.crowns(m, 700, newTint(p.Scale, p.Light.Values, 10)), p.pins(m)
		p.values(canvas, crowns, pins, nil, room)
		p.readings(canvas, crowns, pins, area, func(point) (rgb, bool) { return rgb{}, false }, room)

		moved := false
		for i, r := range pins {
			moved = moved || i < len(pins)-2 && r.shown != r.at
			for _, k := range crowns {
				if k.label == (box{}) {
					t.Errorf("crown %v: the plant at %v has no value in it", c.crown, k.point)
				} else if r.box().overlaps(k.label) {
					t.Errorf("crown %v: the pin at %v hides the value at %v", c.crown, r.shown, k.point)
				}
			}
			for _, o := range pins[:i] {
				if r.box().overlaps(o.box()) {
					t.Errorf("crown %v: the pins at %v and %v lie on each other", c.crown, r.shown, o.shown)
				}
			}
		}
		if moved != c.moved {
			t.Errorf("crown %v: pins on plants moved: %v", c.crown, moved)
		}
	}
}
