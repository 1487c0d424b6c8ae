package trialbook

import (
	"fmt"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
)

// A Plot is where a plant of a trial stands on its bench.
type Plot struct {
	Block, Unit, Plant string
	Name               string // of the plant on the bench
	Guard              string // why it does not count; empty if it counts
}

// Plots are the plants of a trial by their places on its bench, as the sheet has them. It
// fails where no unit stands under a lamp of the bench.
func Plots(m *light.Model, t *underlamp.Trial) ([]Plot, error) {
	l, err := trial.CheckLight(m, t, trial.LightOptions{KeepPlaces: true})
	if err != nil {
		return nil, fmt.Errorf("where the plants of the trial stand cannot be told: %w", err)
	}
	var out []Plot
	for _, b := range l.Blocks {
		for _, u := range b.Units {
			for _, p := range u.Plants {
				out = append(out, Plot{Block: b.Block, Unit: p.Unit, Plant: p.Plant, Name: p.Name, Guard: p.Guard})
			}
		}
	}
	return out, nil
}

// Stand tells the page where its plants stand, so that guards are not waited for.
func (p *Page) Stand(plots []Plot) {
	p.guards = map[plantOf]string{}
	for _, x := range plots {
		if x.Guard != "" {
			p.guards[plantOf{x.Unit, x.Plant}] = x.Guard
		}
	}
}
