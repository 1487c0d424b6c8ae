package aswire

import (
	"math"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/sensitivity"
	"underlamp/wire"
)

// Doubts of an outlook.
func Doubts(b *underlamp.Bench, d *outlook.Doubts) wire.Doubts {
	out := wire.Doubts{Bench: b.Name, Draws: d.Draws, Mass: band(d.Mass), Alone: band(d.Alone), Burn: wire.Number(d.Burn), Matters: []wire.Doubt{}}
	for _, x := range d.Items {
		out.Matters = append(out.Matters, wire.Doubt{Name: x.Name, Known: x.Known, Act: x.Act, Mass: share(x.Mass), Burn: share(x.Burn), MassGain: known(x.MassGain), BurnGain: known(x.BurnGain)})
	}
	return out
}

func share(s sensitivity.Share) wire.DoubtShare {
	return wire.DoubtShare{Share: known(s.Value), SE: known(s.SE)}
}

// known is nil for what is not.
func known(v float64) *wire.Number {
	if math.IsNaN(v) {
		return nil
	}
	n := wire.Number(v)
	return &n
}

func band(b outlook.Band) wire.Band {
	return wire.Band{Low: wire.Number(b.Low), Mid: wire.Number(b.Mid), High: wire.Number(b.High)}
}
