package api

import (
	"context"
	"errors"
	"net/http"

	"underlamp/app/aswire"
	"underlamp/app/outlook"
	"underlamp/app/tasks"
	"underlamp/science/crops"
	"underlamp/wire"
)

type outlookParams struct {
	benchThen
	Turned
}

type planParams struct {
	benchThen
	Goal     string `query:"for" enum:"electricity|day|area|money" doc:"what the plan makes the most of: saleable mass per kWh (if it is not said), per day, per m² and day, or margin per m² and day"`
	Frontier bool   `query:"frontier" doc:"also the most by chance of burn"`
	Ramps    bool   `query:"ramps" doc:"also light that changes over the cycle"`
}

// title names a bench in the title of work.
func title(what string, b Bench) string { return what + " of " + b.Bench().Name }

func (a *API) outlookOps() []Operation {
	return []Operation{
		op(Operation{ID: "getOutlook", Method: "GET", Path: "/benches/{bench}/outlook", Tag: "Outlook", Summary: "The crop to harvest: mass, calcium, chance of burn, electricity", Scopes: reads, Errors: []int{422},
			Doc: "As the bench is set, with all draws; with few draws at another height, dimming or hours. As CSV it is the course, a row a day. There is none for other species than lettuce."},
			func(c *Call, p outlookParams, _ None) (wire.Outlook, error) {
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return wire.Outlook{}, err
				}
				if err := c.Tag(b.Stamp()); err != nil {
					return wire.Outlook{}, err
				}
				change, err := p.change(b.Bench())
				if err != nil {
					return wire.Outlook{}, err
				}
				o, err := b.Outlook(change == nil)
				if err != nil {
					return wire.Outlook{}, noOutlook(err)
				}
				f, err := b.Forecast(change)
				if err != nil {
					return wire.Outlook{}, unfit(err, "Choose another setting.")
				}
				return aswire.Outlook(b.Bench(), f, o.Figures(f)), nil
			}),
		op(Operation{ID: "beginSettingsMap", Method: "POST", Path: "/benches/{bench}/settings-map", Tag: "Outlook", Summary: "Chance of burn and mass per kWh by light and hours", Scopes: plans, Once: true, Task: result[wire.SettingsMap](),
			Doc: "A coarse map comes first, as the result so far."},
			func(c *Call, p benchThen, _ None) (wire.Task, error) {
				return a.outlookTask(c, p, "settings map", title, "", false, func(ctx context.Context, t *tasks.Task, b Bench, o *outlook.Outlook) (any, error) {
					t.Progress("a first settings map", 0)
					fast, err := b.Outlook(false)
					if err != nil {
						return nil, err
					}
					draft, err := fast.Draft(ctx)
					if err != nil {
						return nil, err
					}
					first, err := give(aswire.Map(b.Bench(), draft), nil)
					if err != nil {
						return nil, err
					}
					t.Show(first)
					t.Progress("the settings map", 0.1)
					m, err := o.Map(ctx, 0, 0)
					if err != nil {
						return nil, err
					}
					return aswire.Map(b.Bench(), m), nil
				})
			}),
		op(Operation{ID: "beginBest", Method: "POST", Path: "/benches/{bench}/best", Tag: "Outlook", Summary: "The best height, dimming and hours within the limits, and what else would help", Scopes: plans, Once: true, Task: result[wire.Best]()},
			func(c *Call, p benchThen, _ None) (wire.Task, error) {
				return a.outlookTask(c, p, "best setting", title, "", false, func(ctx context.Context, t *tasks.Task, b Bench, o *outlook.Outlook) (any, error) {
					r, err := o.Best(ctx, func(done, of int) {
						t.Progress("searching lamp heights, dimming and hours", float64(done)/float64(of))
					})
					if err != nil {
						return nil, err
					}
					return aswire.Best(b.Bench(), r), nil
				})
			}),
		op(Operation{ID: "beginPlan", Method: "POST", Path: "/benches/{bench}/plan", Tag: "Outlook", Summary: "The best of everything that can be turned, and what binds", Scopes: plans, Once: true, Task: result[wire.Plan](),
			Doc: "Takes minutes."},
			func(c *Call, p planParams, _ None) (wire.Task, error) {
				goal, _ := outlook.GoalOf(p.Goal)
				key := goal.Key()
				if p.Frontier {
					key += " frontier"
				}
				if p.Ramps {
					key += " ramps"
				}
				return a.outlookTask(c, p.benchThen, "plan", func(_ string, b Bench) string { return "The most " + goal.Name() + " on " + b.Bench().Name }, key, true, func(ctx context.Context, t *tasks.Task, b Bench, o *outlook.Outlook) (any, error) {
					x, err := o.Wider(ctx, outlook.WiderOptions{Goal: goal, Frontier: p.Frontier, Ramps: p.Ramps, Progress: func(what string, share float64) { t.Progress("searching "+what, share) }})
					if err != nil {
						return nil, err
					}
					return aswire.Plan(b.Bench(), x), nil
				})
			}),
		op(Operation{ID: "beginDoubts", Method: "POST", Path: "/benches/{bench}/doubts", Tag: "Outlook", Summary: "Which uncertain input makes how much of the spread of the outlook", Scopes: plans, Once: true, Task: result[wire.Doubts]()},
			func(c *Call, p benchThen, _ None) (wire.Task, error) {
				return a.outlookTask(c, p, "doubts", title, "", false, func(ctx context.Context, t *tasks.Task, b Bench, _ *outlook.Outlook) (any, error) {
					t.Progress("drawing what is uncertain", 0)
					d, err := b.Doubts(ctx)
					if err != nil {
						return nil, err
					}
					return aswire.Doubts(b.Bench(), d), nil
				})
			}),
		op(Operation{ID: "listCrops", Method: "GET", Path: "/crops", Tag: "Crops", Summary: "What is published of head types and species, and what no data support", Scopes: reads},
			func(*Call, None, None) (wire.Page[wire.Crop], error) {
				out := wire.Page[wire.Crop]{Items: []wire.Crop{}}
				all := crops.All()
				for i := range all {
					out.Items = append(out.Items, aswire.Crop(&all[i]))
				}
				return out, nil
			}),
		op(Operation{ID: "getCrop", Method: "GET", Path: "/crops/{crop}", Tag: "Crops", Summary: "What is published of one", Scopes: reads},
			func(_ *Call, p struct {
				Crop string `path:"crop" maxlen:"60" example:"romaine" doc:"a head type of lettuce, or a species"`
			}, _ None) (wire.Crop, error) {
				x, ok := crops.Find(p.Crop)
				if !ok {
					return wire.Crop{}, missing("Nothing published of this crop is known here.", Prefix+"/crops lists those that are.")
				}
				return aswire.Crop(x), nil
			}),
	}
}

// outlookTask begins work on the outlook of a bench. Key tells its question from others of the
// kind.
func (a *API) outlookTask(c *Call, p benchThen, kind string, title func(string, Bench) string, key string, long bool, do func(ctx context.Context, t *tasks.Task, b Bench, o *outlook.Outlook) (any, error)) (wire.Task, error) {
	b, err := a.bench(c, p.Bench, p.At)
	if err != nil {
		return wire.Task{}, err
	}
	o, err := b.Outlook(true)
	if err != nil {
		return wire.Task{}, noOutlook(err)
	}
	name := map[string]string{"settings map": "Settings map", "best setting": "Best setting", "doubts": "Doubts of the outlook"}[kind]
	return c.begin(tasks.Work{Kind: kind, Key: key + " " + b.Stamp(), Title: title(name, b), Page: "/bench/" + b.ID(), Long: long,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) { return give(do(ctx, t, b, o)) }})
}

// noOutlook tells why a species has none.
func noOutlook(err error) error {
	var not *outlook.NotSupported
	if errors.As(err, &not) {
		return problem(http.StatusUnprocessableEntity, "no-outlook", sentence(err), Prefix+"/crops says which data support what. The light of the bench is computed all the same.")
	}
	return unfit(err, "Look at the bench file.")
}
