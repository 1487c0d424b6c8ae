package headlearn

import (
	"context"
	"math/rand/v2"
	"testing"

	"underlamp/science/headcycle"
)

func learn(t testing.TB, ev Evidence, opt Options) *Posterior {
	t.Helper()
	p, err := Learn(context.Background(), ev, LettucePrior(headcycle.Lettuce()), opt)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func show(t *testing.T, p *Posterior, truth []float64) {
	t.Helper()
	for k, a := range p.Parameters {
		tr := 0.0
		if k < len(truth) {
			tr = truth[k]
		}
		t.Logf("%-18s prior sd %.3f  post %+.3f ± %.3f  truth %+.3f  shrink %.2f learned %v rhat %.3f bulk %.0f tail %.0f", a.Key, a.PriorLogSD, a.LogMean, a.LogSD, tr, a.Shrinkage, a.Learned, a.RHat, a.BulkESS, a.TailESS)
	}
	t.Logf("%+v", p.Sampling)
	for _, w := range p.Warnings {
		t.Log(w)
	}
	for _, c := range p.Cycles {
		t.Logf("%s mass %.3f z %.2f heart %.2f±%.2f z %.2f", c.Name, c.MassFactor.Q50, c.MassZ, c.HeartTendency.Mean, c.HeartTendency.SD, c.HeartZ)
	}
}

func TestOne(t *testing.T) {
	m := simulate(rand.New(rand.NewPCG(1, 1)), plan{3, 20, 180, true})
	mm, _ := compile(m.evidence, LettucePrior(headcycle.Lettuce()))
	for _, c := range mm.cycles {
		t.Logf("nodes %d spread %v effect %v sway %.2f toward %.3f", len(c.nodes), c.spread, c.effect, c.sway, c.toward)
	}
	p := learn(t, m.evidence, Options{Seed: 1})
	show(t, p, append(m.logs, m.spread))
}

func BenchmarkLikelihood(b *testing.B) {
	m := simulate(rand.New(rand.NewPCG(1, 1)), plan{3, 20, 180, true})
	mm, _ := compile(m.evidence, LettucePrior(headcycle.Lettuce()))
	w := mm.worker()
	p := point{logs: make([]float64, len(mm.axes))}
	b.ReportAllocs()
	for b.Loop() {
		w.logLikelihood(p)
	}
}
