package trial

import (
	"context"
	"fmt"

	"underlamp/working"
)

// Counted says what guards take from the promise of a proposal: the layouts are judged with
// all plants under a lamp (a.Plants), and guards are not weighed. l is the light of its units.
// It is empty where guards leave every unit at least as many as were counted on, or where the
// layout cannot be judged with fewer.
func (a Ask) Counted(ctx context.Context, p *Proposal, l *TrialLight) string {
	least := a.Plants
	for _, b := range l.Blocks {
		for i := range b.Units {
			least = min(least, len(b.Units[i].Plants)-len(b.Units[i].Guards()))
		}
	}
	if least >= a.Plants || least < 1 {
		return ""
	}
	all := a.Plants
	a.Plants = least
	fewer, _, err := ProposeContext(ctx, a, nil)
	if err != nil {
		return ""
	}
	for i := range fewer {
		if q := &fewer[i]; q.Name == p.Name && q.Power > 0 {
			return fmt.Sprintf("The chance of finding the difference above, %s, is for all %s under a lamp. With the guards left out, down to %d, it is %s.",
				working.Percent(p.Power), count(all, "plant", "plants"), least, working.Percent(q.Power))
		}
	}
	return ""
}
