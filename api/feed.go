package api

import (
	"bytes"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/feed"
	"underlamp/app/feedbook"
	"underlamp/formats/feedfile"
	"underlamp/science/quantity"
	"underlamp/wire"
)

type feedPath struct {
	benchPath
	File string `query:"file" maxlen:"110" doc:"which of the feed files of the bench; the first if it is not said"`
}

// feedOf finds bench and feed file of a request.
func (a *API) feedOf(p feedPath) (Bench, string, error) {
	b, err := a.bench(nil, p.Bench, nil)
	if err != nil {
		return nil, "", err
	}
	files, err := feedbook.Files(a.o.Folder, b.ID(), a.benchFile(b.ID()), b.Bench())
	switch {
	case err != nil:
		return nil, "", err
	case p.File != "" && !slices.Contains(files, p.File):
		return nil, "", missing("The bench has no feed file of this name.", Prefix+"/benches/"+p.Bench+"/feed/files lists them.")
	case p.File != "":
		return b, p.File, nil
	case len(files) == 0:
		return nil, "", missing("The bench has no feed yet.", "Begin one by POST to "+Prefix+"/benches/"+p.Bench+"/feed.")
	}
	return b, files[0], nil
}

// feedPlan is the feed of a request.
func (a *API) feedPlan(p feedPath) (Bench, string, *underlamp.FeedPlan, error) {
	b, file, err := a.feedOf(p)
	if err != nil {
		return nil, "", nil, err
	}
	plan, _, err := feedbook.Open(a.o.Folder, file)
	var broken *feedbook.BrokenError
	if errors.As(err, &broken) {
		return nil, "", nil, problem(http.StatusUnprocessableEntity, "feed-broken", "The feed file has mistakes. "+broken.Error(), "Read the file, mend it, and put it back.")
	}
	if err != nil {
		return nil, "", nil, err
	}
	if plan.Units == quantity.Metric {
		plan.Units = b.Bench().Units
	}
	return b, file, plan, nil
}

type mixParams struct {
	feedPath
	Recipe   string   `query:"recipe" maxlen:"100" doc:"another recipe, by name"`
	Strength *float64 `query:"strength" min:"5" max:"300" unit:"%" doc:"of the recipe"`
	Volume   *float64 `query:"volume_l" above:"0" max:"1000000" unit:"L" doc:"another volume of the tank"`
	Mix      string   `query:"mix" enum:"nearest|cheapest" doc:"as the file has it if it is not said; cheapest needs a price for every product"`
	Stock    *bool    `query:"stock" doc:"false: salts go straight into the tank"`
}

type tankParams struct {
	feedPath
	Volume *float64 `query:"volume_l" min:"0" max:"1000000" unit:"L" doc:"that is in the tank"`
	EC     *float64 `query:"ec_ms_cm" min:"0" max:"20" unit:"mS/cm" doc:"at 25 °C"`
	PH     *float64 `query:"ph" min:"3" max:"9"`
	Ions   string   `query:"ions" maxlen:"400" doc:"an analysis, in one line" example:"ca 130 mg/L, k 90 mg/L"`
}

func amountText(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

func (a *API) feedOps() []Operation {
	return []Operation{
		op(Operation{ID: "listRecipes", Method: "GET", Path: "/feed/recipes", Tag: "Feed", Summary: "Published targets of feeds", Scopes: reads},
			func(*Call, None, None) (wire.Page[wire.FeedRecipe], error) {
				return wire.Page[wire.FeedRecipe]{Items: aswire.FeedRecipes()}, nil
			}),
		op(Operation{ID: "listSubstances", Method: "GET", Path: "/feed/substances", Tag: "Feed", Summary: "Salts, acids and bases that products are made of", Scopes: reads},
			func(*Call, None, None) (wire.Page[wire.FeedSubstance], error) {
				return wire.Page[wire.FeedSubstance]{Items: aswire.FeedSubstances()}, nil
			}),
		op(Operation{ID: "listFeedFiles", Method: "GET", Path: "/benches/{bench}/feed/files", Tag: "Feed", Summary: "Which feeds a bench has, and what its outlook rests on", Scopes: reads},
			func(c *Call, p benchPath, _ None) (wire.Feed, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.Feed{}, err
				}
				files, err := feedbook.Files(a.o.Folder, b.ID(), a.benchFile(b.ID()), b.Bench())
				f := b.Bench().Feed
				return wire.Feed{Files: append([]string{}, files...), From: f.From, Calcium: wire.FeedGiven{Value: wire.Number(f.Calcium.Value), Origin: f.Calcium.Origin.String()}, EC: wire.FeedGiven{Value: wire.Number(f.EC.Value), Origin: f.EC.Origin.String()}}, err
			}),
		op(Operation{ID: "getFeed", Method: "GET", Path: "/benches/{bench}/feed", Tag: "Feed", Summary: "What to weigh for the feed of a bench, and what it then is", Scopes: reads,
			Doc: "With parameters it tells what another recipe, strength or volume would make of it; the file stays as it is."},
			func(c *Call, p mixParams, _ None) (wire.FeedMix, error) {
				_, file, plan, err := a.feedPlan(p.feedPath)
				if err != nil {
					return wire.FeedMix{}, err
				}
				w := feedbook.WhatIf{Recipe: p.Recipe, Strength: amountText(p.Strength), Mix: p.Mix, NoStock: p.Stock != nil && !*p.Stock}
				if p.Volume != nil {
					w.Volume = amountText(p.Volume) + " L"
				}
				changed, err := w.Apply(plan)
				if err != nil {
					return wire.FeedMix{}, unfit(err, "")
				}
				return aswire.FeedMix(file, changed, plan), nil
			}),
		op(Operation{ID: "beginFeed", Method: "POST", Path: "/benches/{bench}/feed", Tag: "Feed", Summary: "Write a first feed of a bench", Scopes: changes, Body: 16 << 10, Once: true, Status: http.StatusCreated, Errors: []int{http.StatusConflict}},
			func(c *Call, p benchPath, f wire.FeedAnswers) (wire.FeedSaved, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.FeedSaved{}, err
				}
				if a.o.Trials == nil {
					return wire.FeedSaved{}, readOnly()
				}
				file := p.Bench + ".feed.yaml"
				err = feedbook.Begin(a.o.Trials, file, feedfile.Answers{Name: "Feed of " + b.Bench().Name, Benches: []string{a.benchFile(p.Bench)}, Recipe: f.Recipe, Litres: f.Volume, Water: f.Water, Products: f.Products, Metal: f.Metal, Strength: f.Strength})
				if errors.Is(err, feedbook.ErrThere) {
					return wire.FeedSaved{}, problem(http.StatusConflict, "taken", sentence(err), "Change that file, or take it away.")
				}
				if err != nil {
					return wire.FeedSaved{}, unfit(errors.New(feedbook.Plain(err)), "")
				}
				c.Created("/benches/" + p.Bench + "/feed")
				return wire.FeedSaved{File: file}, nil
			}),
		op(Operation{ID: "getFeedFile", Method: "GET", Path: "/benches/{bench}/feed/file", Tag: "Feed", Summary: "A feed as its file", Scopes: reads, Gives: []string{"application/yaml"}},
			func(c *Call, p feedPath, _ None) (Raw, error) {
				_, file, err := a.feedOf(p)
				if err != nil {
					return Raw{}, err
				}
				text, err := feedbook.Text(a.o.Folder, file)
				if err != nil {
					return Raw{}, err
				}
				return Raw{Type: "application/yaml", Body: text, Name: file}, c.Version(feedbook.Stamp(text))
			}),
		op(Operation{ID: "putFeedFile", Method: "PUT", Path: "/benches/{bench}/feed/file", Tag: "Feed", Summary: "Replace a feed file", Scopes: changes, Body: feedbook.MostBytes, Takes: []string{"application/yaml"}, Match: true,
			Doc: "A text that is no feed is refused, with line and column, and nothing is written."},
			func(c *Call, p feedPath, body []byte) (wire.FeedSaved, error) {
				_, file, err := a.feedOf(p)
				if err != nil {
					return wire.FeedSaved{}, err
				}
				if a.o.Trials == nil {
					return wire.FeedSaved{}, readOnly()
				}
				was, err := feedbook.Text(a.o.Folder, file)
				if err != nil {
					return wire.FeedSaved{}, err
				}
				stamp := feedbook.Stamp(was)
				if err := c.Expects(stamp); err != nil {
					return wire.FeedSaved{}, err
				}
				body = bytes.ReplaceAll(body, []byte("\r\n"), []byte("\n"))
				err = feedbook.Save(a.o.Trials, file, body, stamp)
				var broken *feedbook.BrokenError
				switch {
				case errors.As(err, &broken):
					return wire.FeedSaved{}, problem(http.StatusUnprocessableEntity, "feed-broken", "This is no feed that can be used. "+broken.Error(), "Mend it, and send it again.")
				case errors.Is(err, feedbook.ErrChanged):
					return wire.FeedSaved{}, problem(http.StatusPreconditionFailed, "changed", "It has been changed since it was read. Nothing was written.", "Read it again, make the change in what is there now, and send it with the ETag that comes with it.")
				case err != nil:
					return wire.FeedSaved{}, err
				}
				return wire.FeedSaved{File: file}, c.Version(feedbook.Stamp(body))
			}),
		op(Operation{ID: "getFeedCorrection", Method: "GET", Path: "/benches/{bench}/feed/correction", Tag: "Feed", Summary: "What brings a running tank back", Scopes: reads,
			Doc: "Of what was read just now, as it is said; else of the last entry of the log."},
			func(c *Call, p tankParams, _ None) (wire.FeedCorrection, error) {
				_, file, plan, err := a.feedPlan(p.feedPath)
				if err != nil {
					return wire.FeedCorrection{}, err
				}
				r := feedbook.Read{Volume: amountText(p.Volume), EC: amountText(p.EC), PH: amountText(p.PH), Ions: p.Ions}
				ask, ok, err := r.Ask(plan)
				if err != nil {
					return wire.FeedCorrection{}, unfit(err, "")
				}
				if !ok {
					return wire.FeedCorrection{}, unfit(errors.New("nothing of the tank is known: the log is empty"), "Say what was read, such as ec_ms_cm and ph.")
				}
				return aswire.FeedCorrection(file, feed.Correct(plan, ask)), nil
			}),
		op(Operation{ID: "getFeedLog", Method: "GET", Path: "/benches/{bench}/feed/log", Tag: "Feed", Summary: "What was read of the tank, and what that tells", Scopes: reads},
			func(c *Call, p feedPath, _ None) (wire.FeedLog, error) {
				_, _, plan, err := a.feedPlan(p)
				if err != nil {
					return wire.FeedLog{}, err
				}
				return aswire.FeedLog(plan), nil
			}),
		op(Operation{ID: "addFeedLog", Method: "POST", Path: "/benches/{bench}/feed/log", Tag: "Feed", Summary: "Add what was read of the tank, and what was added to it", Scopes: enters, Body: 16 << 10, Once: true, Status: http.StatusCreated},
			func(c *Call, p feedPath, l wire.FeedLooked) (wire.FeedLog, error) {
				_, file, _, err := a.feedPlan(p)
				if err != nil {
					return wire.FeedLog{}, err
				}
				if a.o.Trials == nil {
					return wire.FeedLog{}, readOnly()
				}
				entry := feedbook.Logged{Date: l.Date, New: l.New, Volume: amountText(l.Volume), EC: amountText(l.EC), PH: amountText(l.PH), Temperature: amountText(l.C), Water: amountText(l.Water), Ions: l.Ions, By: c.By(l.By), Note: l.Note}
				if entry.Date == "" {
					entry.Date = a.today().Format(time.DateOnly)
				}
				var added []string
				for _, x := range l.Added {
					added = append(added, x.Product+" "+strconv.FormatFloat(x.Amount, 'f', -1, 64)+" "+x.Unit)
				}
				entry.Added = strings.Join(added, ", ")
				if err := feedbook.Log(a.o.Trials, file, entry); err != nil {
					return wire.FeedLog{}, unfit(errors.New(feedbook.Plain(err)), "")
				}
				_, _, plan, err := a.feedPlan(p)
				if err != nil {
					return wire.FeedLog{}, err
				}
				c.Created("/benches/" + p.Bench + "/feed/log")
				return aswire.FeedLog(plan), nil
			}),
	}
}
