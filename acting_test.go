package underlamp_test

import (
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

func TestPayload(t *testing.T) {
	for _, c := range []struct {
		payload underlamp.Payload
		dimming quantity.Fraction
		want    string
	}{
		{underlamp.Percent, 0, "0"}, {underlamp.Percent, 0.604, "60"}, {underlamp.Percent, 1, "100"}, {underlamp.Percent, 0.001, "1"}, {underlamp.Percent, 7, "100"}, {underlamp.Percent, -1, "0"},
		{underlamp.Unit, 0, "0"}, {underlamp.Unit, 0.6, "0.6"}, {underlamp.Unit, 1, "1"}, {underlamp.Unit, 1e-9, "0.001"}, {underlamp.Unit, 1.0 / 3, "0.333"},
		{underlamp.Byte, 0, "0"}, {underlamp.Byte, 0.5, "128"}, {underlamp.Byte, 1, "255"}, {underlamp.Byte, 0.001, "1"},
		{underlamp.Switch, 0, "OFF"}, {underlamp.Switch, 0.01, "ON"}, {underlamp.Switch, 1, "ON"},
	} {
		if got := c.payload.Text(c.dimming); got != c.want {
			t.Errorf("%v of %g: %s, want %s", c.payload, float64(c.dimming), got, c.want)
		}
	}
}
