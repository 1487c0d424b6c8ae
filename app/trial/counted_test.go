package trial_test

import (
	"context"
	"strings"
	"testing"

	"underlamp/app/trial"
)

// A chance that counts plants which the sheet leaves out is told beside the true one.
func TestCountedWithoutGuards(t *testing.T) {
	a := ask()
	a.Plant = 40
	all, _, err := trial.Propose(a)
	if err != nil {
		t.Fatal(err)
	}
	unit := func(guards int) trial.LitUnit {
		u := trial.LitUnit{Plants: make([]trial.UnitPlant, 8)}
		for i := range guards {
			u.Plants[i].Guard = "at the edge"
		}
		return u
	}
	lit := &trial.TrialLight{Blocks: []trial.BlockLight{{Units: []trial.LitUnit{unit(0), unit(5)}}}}
	says := a.Counted(context.Background(), &all[0], lit)
	b := a
	b.Plants = 3
	fewer, _, err := trial.Propose(b)
	if err != nil {
		t.Fatal(err)
	}
	if fewer[0].Power >= all[0].Power || !strings.Contains(says, "8 plants") || !strings.Contains(says, "down to 3") {
		t.Errorf("%q, chance %v of 8, %v of 3", says, all[0].Power, fewer[0].Power)
	}
	lit.Blocks[0].Units[1] = unit(0)
	if says := a.Counted(context.Background(), &all[0], lit); says != "" {
		t.Errorf("nothing is left out: %q", says)
	}
}
