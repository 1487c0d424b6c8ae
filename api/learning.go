package api

import (
	"bytes"
	"context"
	"errors"
	"path"
	"time"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/learn"
	"underlamp/app/tasks"
	"underlamp/formats/benchfolder"
	"underlamp/formats/profilefile"
	"underlamp/report"
	"underlamp/wire"
)

func (a *API) learnOps() []Operation {
	return []Operation{
		op(Operation{ID: "listCycles", Method: "GET", Path: "/benches/{bench}/cycles", Tag: "Learning", Summary: "The records of crops beside a bench, from which is learned", Scopes: reads},
			func(c *Call, p benchPath, _ None) (wire.Page[wire.CycleCard], error) {
				out := wire.Page[wire.CycleCard]{Items: []wire.CycleCard{}}
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return out, err
				}
				found, err := benchfolder.Cycles(a.o.Folder, a.benchFile(p.Bench), b.Bench())
				if err != nil {
					return out, err
				}
				for _, f := range found {
					x := wire.CycleCard{File: f.Name, Problems: f.Problems, Used: f.Cycle != nil}
					if f.Cycle != nil {
						x.Name = learn.Name(f.Cycle)
					}
					out.Items = append(out.Items, x)
				}
				return out, nil
			}),
		op(Operation{ID: "beginLesson", Method: "POST", Path: "/benches/{bench}/lesson", Tag: "Learning", Summary: "Learn the cultivar in that room from the records beside the bench", Scopes: asks, Once: true, Task: result[wire.Lesson](),
			Doc: "It takes all processors for a minute or so. The result holds the profile as a file: put beside the bench file, and named under crop, the outlook of the bench rests on it."},
			func(c *Call, p benchPath, _ None) (wire.Task, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.Task{}, err
				}
				if _, err := b.Outlook(false); err != nil {
					return wire.Task{}, noOutlook(err)
				}
				found, err := benchfolder.Cycles(a.o.Folder, a.benchFile(p.Bench), b.Bench())
				if err != nil {
					return wire.Task{}, err
				}
				key := b.Stamp()
				var cycles []*underlamp.Cycle
				for _, f := range found {
					key += "; " + f.Name + " " + benchfolder.Stamp(a.o.Folder, f.Name)
					if f.Cycle != nil {
						cycles = append(cycles, f.Cycle)
					}
				}
				if len(cycles) == 0 {
					return wire.Task{}, unfit(errors.New("there is nothing to learn from"), "Put the record of a cycle beside the bench file; "+Prefix+"/benches/"+p.Bench+"/rounds/cycle makes one of what was seen on rounds.")
				}
				return c.begin(a.lesson(b, key, cycles))
			}),
	}
}

func (a *API) lesson(b Bench, key string, cycles []*underlamp.Cycle) tasks.Work {
	page := "/bench/" + b.ID()
	day := a.today().Format(time.DateOnly)
	return tasks.Work{Kind: "learning", Key: key, Title: "Learning from the cycles of " + b.Bench().Name, Page: page + "#learn", Again: page + "/learn", Long: true,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			l, err := learn.Teach(ctx, b.Model(), cycles, learn.Options{Progress: t.Progress})
			if err != nil {
				return nil, err
			}
			out := aswire.Lesson(l, report.OddTexts(l.Odd))
			p, err := l.Profile("", day)
			if err != nil {
				out.NoFile = err.Error()
				return give(out, nil)
			}
			var text bytes.Buffer
			if err := profilefile.Write(&text, p); err != nil {
				return nil, err
			}
			out.Profile, out.File = text.String(), path.Base(profilefile.FileName(p))
			return give(out, nil)
		}}
}
