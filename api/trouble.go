package api

import (
	"context"
	"errors"
	"strings"
	"time"

	"underlamp/app/aswire"
	"underlamp/app/outlook"
	"underlamp/app/trouble"
	"underlamp/science/diagnosis"
	"underlamp/store"
	"underlamp/wire"
)

// inOneLine says that a text is one line.
func inOneLine(s string) bool { return !strings.ContainsAny(s, "\r\n\x00") }

func askedOf(symptoms []string, answers []wire.TroubleAnswer) trouble.Asked {
	out := trouble.Asked{Symptoms: symptoms}
	for _, x := range answers {
		out.Answers = append(out.Answers, trouble.Answer(x))
	}
	return out
}

// examine ranks the causes by the records of a bench, and finds the first change.
func (a *API) examine(c *Call, b Bench, asked trouble.Asked) (*trouble.Examination, string, error) {
	model, problems, err := a.evidence.Model(a.o.Folder)
	if err != nil {
		return nil, "", err
	}
	x := &trouble.Bench{Bench: b.Bench(), Light: b.Model(), Now: a.today()}
	fast, none := b.Outlook(false)
	if none == nil {
		x.Outlook = fast
	}
	if a.o.Keep != nil {
		if x.Sensed, err = trouble.Sense(c.Context(), a.o.Keep, b.ID(), x.Now); err != nil {
			return nil, "", err
		}
		rec, err := a.roundRecord(c, b.ID())
		if err != nil {
			return nil, "", err
		}
		x.Weighed = trouble.Weighings(rec, b.Bench(), x.Now)
		var not *outlook.NotSupported
		if len(x.Weighed) > 0 && !errors.As(none, &not) { // nothing else is set beside it
			if x.Forecast, err = b.Forecast(nil); err != nil {
				return nil, "", err
			}
		}
	}
	out, err := trouble.Examine(model, x, asked)
	if err != nil {
		return nil, "", unfit(err, Prefix+"/trouble/symptoms lists the symptoms; questions come in next.")
	}
	return out, problems, out.Advise(x)
}

type casePath struct {
	benchPath
	Case string `path:"case" maxlen:"64"`
}

func (a *API) troubleOps() []Operation {
	return []Operation{
		op(Operation{ID: "listSymptoms", Method: "GET", Path: "/trouble/symptoms", Tag: "Trouble", Summary: "What can be seen of a plant that is not well", Scopes: reads},
			func(*Call, None, None) (wire.Page[wire.Symptom], error) {
				out := wire.Page[wire.Symptom]{Items: []wire.Symptom{}}
				model, _, err := a.evidence.Model(a.o.Folder)
				if err != nil {
					return out, err
				}
				for _, f := range trouble.Symptoms(model.Table()) {
					out.Items = append(out.Items, wire.Symptom{Key: f.Key, Name: f.Name})
				}
				return out, nil
			}),
		op(Operation{ID: "assessTrouble", Method: "POST", Path: "/benches/{bench}/trouble/assess", Tag: "Trouble", Summary: "Likely causes of what is seen, by the records of the bench; nothing is kept", Scopes: reads, Body: 16 << 10,
			Doc: "Answer what next asks, and send it again with the answer: at most four questions are asked."},
			func(c *Call, p benchPath, t wire.TroubleAsked) (wire.TroubleThought, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.TroubleThought{}, err
				}
				x, problems, err := a.examine(c, b, askedOf(t.Symptoms, t.Answers))
				if err != nil {
					return wire.TroubleThought{}, err
				}
				return aswire.Trouble(x, problems), nil
			}),
		op(Operation{ID: "listCases", Method: "GET", Path: "/benches/{bench}/trouble/cases", Tag: "Trouble", Summary: "List the cases of a bench, the newest first", Scopes: reads},
			func(c *Call, p struct {
				benchPath
				Open bool `query:"open" doc:"those alone of which nobody has said what became of them"`
				Paging
			}, _ None) (wire.Page[wire.TroubleCase], error) {
				var all []wire.TroubleCase
				if _, err := a.bench(c, p.Bench, nil); err != nil {
					return wire.Page[wire.TroubleCase]{}, err
				}
				if a.o.Keep == nil {
					return wire.Page[wire.TroubleCase]{}, noStore()
				}
				cases, faults, err := trouble.Cases(c.Context(), a.o.Keep, p.Bench)
				if err != nil {
					return wire.Page[wire.TroubleCase]{}, err
				}
				for _, f := range faults {
					a.o.Log.Warn("a case of trouble cannot be read", "bench", p.Bench, "err", f)
				}
				for _, x := range cases {
					if !p.Open || x.Outcome() == nil {
						all = append(all, aswire.TroubleCase(x))
					}
				}
				return pageInOrder(c, p.Paging, all, func(x wire.TroubleCase) string { return x.ID })
			}),
		op(Operation{ID: "openCase", Method: "POST", Path: "/benches/{bench}/trouble/cases", Tag: "Trouble", Summary: "Keep a trouble as a case, with what is thought of it now", Scopes: enters, Body: 16 << 10, Once: true, Status: 201},
			func(c *Call, p benchPath, t wire.TroubleNew) (wire.TroubleCase, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.TroubleCase{}, err
				}
				if a.o.Keep == nil {
					return wire.TroubleCase{}, noStore()
				}
				if !inOneLine(t.By + t.Note) {
					return wire.TroubleCase{}, wrongField("/note", "who and note are one line each")
				}
				x, _, err := a.examine(c, b, askedOf(t.Symptoms, t.Answers))
				if err != nil {
					return wire.TroubleCase{}, err
				}
				k := trouble.NewCase(b.ID(), x, c.By(t.By), t.Note)
				if err := trouble.Save(c.Context(), a.o.Keep, k, a.o.Now()); err != nil {
					return wire.TroubleCase{}, err
				}
				c.Created("/benches/" + p.Bench + "/trouble/cases/" + k.ID)
				return aswire.TroubleCase(k), nil
			}),
		op(Operation{ID: "getCase", Method: "GET", Path: "/benches/{bench}/trouble/cases/{case}", Tag: "Trouble", Summary: "A case, with what became of it", Scopes: reads},
			func(c *Call, p casePath, _ None) (wire.TroubleCase, error) {
				k, err := a.caseOf(c.Context(), p)
				if err != nil {
					return wire.TroubleCase{}, err
				}
				return aswire.TroubleCase(k), nil
			}),
		op(Operation{ID: "concludeCase", Method: "POST", Path: "/benches/{bench}/trouble/cases/{case}/outcomes", Tag: "Trouble", Summary: "Say what became of a case", Scopes: enters, Body: 4 << 10, Once: true, Status: 201,
			Doc: "Earlier outcomes stay; the last counts."},
			func(c *Call, p casePath, o wire.TroubleConcluded) (wire.TroubleCase, error) {
				if _, err := a.caseOf(c.Context(), p); err != nil {
					return wire.TroubleCase{}, err
				}
				if !inOneLine(o.By + o.Note + o.Cause) {
					return wire.TroubleCase{}, wrongField("/note", "who and note are one line each")
				}
				model, _, err := a.evidence.Model(a.o.Folder)
				if err != nil {
					return wire.TroubleCase{}, err
				}
				if o.Cause != "" && o.Cause != diagnosis.Else && model.Table().Cause(o.Cause) == nil {
					return wire.TroubleCase{}, wrongField("/cause", "is no cause of the table")
				}
				now := a.o.Now()
				err = trouble.Conclude(c.Context(), a.o.Keep, model.Table(), p.Bench, p.Case, trouble.Outcome{At: now.UTC().Truncate(time.Second), By: c.By(o.By), Cause: o.Cause, Help: o.Help, Note: o.Note}, now)
				if err != nil {
					return wire.TroubleCase{}, err
				}
				k, err := a.caseOf(c.Context(), p)
				if err != nil {
					return wire.TroubleCase{}, err
				}
				c.Created("/benches/" + p.Bench + "/trouble/cases/" + p.Case)
				return aswire.TroubleCase(k), nil
			}),
	}
}

func (a *API) caseOf(ctx context.Context, p casePath) (*trouble.Case, error) {
	if a.o.Keep == nil {
		return nil, noStore()
	}
	d, err := a.o.Keep.Document(ctx, trouble.KindCase, p.Bench+"/"+p.Case)
	if errors.Is(err, store.ErrNotFound) {
		return nil, missing("There is no such case of this bench.", Prefix+"/benches/"+p.Bench+"/trouble/cases lists them.")
	}
	if err != nil {
		return nil, err
	}
	return trouble.ReadCase(d.Text)
}
