package api

import (
	"errors"
	"net/http"

	"underlamp"
	"underlamp/app/aim"
	"underlamp/app/aswire"
	"underlamp/app/lamp"
	"underlamp/app/light"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/wire"
)

// Turned are the controls that a person turns, for what would be.
type Turned struct {
	Height  *float64 `query:"height_m" unit:"m" above:"0" max:"20" doc:"lamps hung at this height; as the bench has it if it is not said" example:"0.36"`
	Dimming *float64 `query:"dimming" min:"0.01" max:"1" doc:"mean dimming, a share of full power" example:"0.7"`
	Hours   *float64 `query:"hours" unit:"h" min:"0.5" max:"24" doc:"of light a day" example:"14"`
}

// change is the setting that is asked for; nil if it is that of the bench.
func (t Turned) change(b *underlamp.Bench) (*underlamp.Setting, error) {
	if t.Height == nil && t.Dimming == nil && t.Hours == nil {
		return nil, nil
	}
	s := b.Setting()
	if t.Height != nil {
		if *t.Height >= float64(b.Space.Height) {
			return nil, problem(http.StatusUnprocessableEntity, "unfit", "The lamps would hang above what is above.", "Choose another height.").at(fault("#height_m", "the space is "+quantity.Length.Format(float64(b.Space.Height), b.Units, 3)+" high"))
		}
		s.Height = quantity.Metre(*t.Height)
	}
	if t.Dimming != nil {
		s.Dimming = quantity.Fraction(*t.Dimming)
	}
	if t.Hours != nil {
		s.Hours = quantity.Hours(*t.Hours)
	}
	return &s, nil
}

type lightParams struct {
	benchThen
	Turned
	Field   string   `query:"field" enum:"auto|on|off" doc:"residual field of the readings; auto if it is not said"`
	Columns int      `query:"columns" min:"2" max:"200" doc:"of the map; 49 if it is not said"`
	Target  *float64 `query:"target_umol_m2_s" unit:"µmol m⁻² s⁻¹" above:"0" max:"5000" doc:"PPFD that the bench should have; its mean if it is not said"`
	Ceiling *float64 `query:"ceiling_umol_m2_s" unit:"µmol m⁻² s⁻¹" above:"0" max:"5000" doc:"PPFD that no plant should exceed"`
}

// unfitAsk tells a question that makes no sense from a fault.
func unfitAsk(err error) error {
	var ask *aim.AskError
	if errors.As(err, &ask) {
		return unfit(err, "Change the question.")
	}
	return err
}

func (a *API) lightOps() []Operation {
	return []Operation{
		op(Operation{ID: "getLight", Method: "GET", Path: "/benches/{bench}/light", Tag: "Light", Summary: "Light at every plant, over the bench, and beside the readings of a meter", Scopes: reads, Errors: []int{422},
			Doc: "As the bench is set, or as it would be at another height, dimming or hours. As CSV it is the plants alone."},
			func(c *Call, p lightParams, _ None) (wire.Light, error) { return a.light(c, p) }),
		op(Operation{ID: "getLamps", Method: "GET", Path: "/benches/{bench}/lamps", Tag: "Lamps", Summary: "The lamps of a bench by kind: photons, beam, colour, and what is published of such light", Scopes: reads, Errors: []int{422}},
			func(c *Call, p benchThen, _ None) (wire.Page[wire.LampKind], error) {
				out := wire.Page[wire.LampKind]{}
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return out, err
				}
				if err := c.Tag(b.Stamp()); err != nil {
					return out, err
				}
				lit, err := b.Lit(b.Bench().Setting())
				if err != nil {
					return out, unfit(err, "Look at the bench file.")
				}
				out.Items = aswire.Lamps(lamp.Kinds(b.Model(), quantity.PPFD(lit.Answer(nil, 5).Mean.Value)))
				return out, nil
			}),
		op(Operation{ID: "aim", Method: "POST", Path: "/benches/{bench}/aim", Tag: "Light", Summary: "Heights, dimmings and hours that bring a target of light", Scopes: plans, Body: 16 << 10,
			Doc: "Nothing is written to the bench."},
			func(c *Call, p benchThen, q wire.AimAsk) (wire.Aim, error) {
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return wire.Aim{}, err
				}
				ask, err := aimAsk(q)
				if err != nil {
					return wire.Aim{}, err
				}
				r, err := aim.Reach(c.Context(), b.Model(), ask, nil)
				if err != nil {
					return wire.Aim{}, unfitAsk(err)
				}
				return aswire.Aim(r, report.Wanted(r.Bench, &r.Ask)), nil
			}),
		op(Operation{ID: "match", Method: "POST", Path: "/benches/{bench}/match", Tag: "Light", Summary: "Two groups of plants, of one bench or of two, in one light", Scopes: plans, Body: 16 << 10},
			func(c *Call, p benchThen, q wire.MatchAsk) (wire.Match, error) { return a.match(c, p, q) }),
		op(Operation{ID: "raise", Method: "POST", Path: "/benches/{bench}/raise", Tag: "Light", Summary: "A calendar that raises the lamps with the plants", Scopes: plans, Body: 16 << 10},
			func(c *Call, p benchThen, q wire.RaiseAsk) (wire.Raise, error) {
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return wire.Raise{}, err
				}
				if _, err := b.Outlook(true); err != nil {
					return wire.Raise{}, noOutlook(err)
				}
				r, err := aim.Raise(c.Context(), b.Model(), aim.RaiseAsk{PPFD: quantity.PPFD(q.Target), Tolerance: quantity.Fraction(q.Within), Step: quantity.Metre(q.Step), Clearance: quantity.Metre(q.Clearance)})
				if err != nil {
					return wire.Raise{}, unfitAsk(err)
				}
				return aswire.Raise(r), nil
			}),
	}
}

func (a *API) light(c *Call, p lightParams) (wire.Light, error) {
	b, err := a.bench(c, p.Bench, p.At)
	if err != nil {
		return wire.Light{}, err
	}
	if err := c.Tag(b.Stamp()); err != nil {
		return wire.Light{}, err
	}
	change, err := p.change(b.Bench())
	if err != nil {
		return wire.Light{}, err
	}
	s := b.Bench().Setting()
	if change != nil {
		s = *change
	}
	columns := p.Columns
	if columns == 0 {
		columns = 49
	}
	var lit *light.Lit
	if p.Field == "" && p.Target == nil && p.Ceiling == nil || p.Field == "auto" && p.Target == nil && p.Ceiling == nil {
		lit, err = b.Lit(s)
	} else {
		opt := light.Options{}
		switch p.Field {
		case "on":
			opt.Field = light.FieldOn
		case "off":
			opt.Field = light.FieldOff
		}
		if p.Target != nil {
			opt.Target = quantity.PPFD(*p.Target)
		}
		if p.Ceiling != nil {
			opt.Ceiling = quantity.PPFD(*p.Ceiling)
		}
		var m *light.Model
		if m, err = light.NewModelWith(b.Bench(), opt); err == nil {
			lit, err = m.At(s.Height)
		}
	}
	if err != nil {
		return wire.Light{}, unfit(err, "Choose another height, or look at the bench file.")
	}
	return aswire.Light(b.Bench(), lit.Answer(change, columns), b.NextReading()), nil
}

// aimAsk is the question of a target.
func aimAsk(q wire.AimAsk) (aim.Ask, error) {
	ask := aim.Ask{PPFD: quantity.PPFD(q.PPFD), DLI: quantity.DLI(q.DLI), AtMost: quantity.PPFD(q.AtMost), Tolerance: quantity.Fraction(q.Within), Sure: quantity.Fraction(q.Sure),
		Canopy: quantity.Metre(q.Canopy), Clearance: quantity.Metre(q.Clearance), Hours: quantity.Hours(q.Hours), FreeHours: q.FreeHours, KeepHeight: q.KeepHeight, OneDimmer: q.OneDimmer, MayBeOff: q.MayBeOff,
		Mean: q.Mean, Share: quantity.Fraction(q.Share), Step: quantity.Fraction(q.Step), Stepless: q.Stepless}
	switch {
	case (q.PPFD > 0) == (q.DLI > 0):
		return ask, wrongField("/ppfd_umol_m2_s", "say a level of PPFD or of DLI, one of them")
	case q.Goal != "" && q.Goal != "electricity" && (q.Mean || q.Share > 0):
		return ask, wrongField("/goal", "mean and share say who shall have the target at least electricity")
	}
	switch q.Goal {
	case "even":
		ask.Goal = aim.MostEven
	case "within":
		ask.Goal = aim.MostWithin
	}
	return ask, nil
}

func (a *API) match(c *Call, p benchThen, q wire.MatchAsk) (wire.Match, error) {
	b, err := a.bench(c, p.Bench, p.At)
	if err != nil {
		return wire.Match{}, err
	}
	other := b
	if q.With != "" && q.With != p.Bench {
		if other, err = a.bench(c, q.With, nil); err != nil {
			var miss *Problem
			if errors.As(err, &miss) && miss.Status == http.StatusNotFound {
				return wire.Match{}, wrongField("/with", "there is no bench of this name")
			}
			return wire.Match{}, err
		}
	} else if len(q.First) == 0 || len(q.Second) == 0 {
		return wire.Match{}, wrongField("/first", "one bench needs two groups of plants, first and second; or say with which bench")
	}
	ask := aim.MatchAsk{A: aim.Side{Model: b.Model(), Plants: q.First}, B: aim.Side{Model: other.Model(), Plants: q.Second}, DLI: q.By == "dli", Level: q.Level, Highest: q.Highest, Heights: q.Heights,
		Canopy: quantity.Metre(q.Canopy), Step: quantity.Fraction(q.Step), Stepless: q.Stepless, Tolerance: quantity.Fraction(q.Within), TwoMeters: q.TwoMeters}
	r, err := aim.Match(c.Context(), ask)
	if err != nil {
		return wire.Match{}, unfitAsk(err)
	}
	return aswire.Match(r), nil
}
