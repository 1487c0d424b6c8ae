package api

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"

	"underlamp/app/dataset"
	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
	"underlamp/wire"
)

var (
	zipKind      = []string{"application/zip"}
	workbookKind = []string{"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
)

// whose says whose names leave with data.
type whose struct {
	Names string `query:"names" enum:"all|authors|none" doc:"whose names leave; authors: those of the people in about.yaml alone, person 1 and so on stand for those who saw, entered and changed; all if it is not said"`
}

type trialData struct {
	trialPath
	whose
}

type benchData struct {
	benchPath
	whose
}

// dataOps hand data out: as open packages, and their tables as workbooks.
func (a *API) dataOps() []Operation {
	const streams = " It is sent as it is made; a file that breaks off is no whole one."
	trial := func(f dataset.Format) func(*Call, trialData, None) (stream, error) {
		return func(c *Call, p trialData, _ None) (stream, error) { return a.trialData(c, p, f) }
	}
	bench := func(f dataset.Format) func(*Call, benchData, None) (stream, error) {
		return func(c *Call, p benchData, _ None) (stream, error) { return a.benchData(c, p, f) }
	}
	return []Operation{
		op(Operation{ID: "getTrialPackage", Method: "GET", Path: "/trials/{trial}/package.zip", Tag: "Data", Summary: "Everything of a trial as an open data package", Scopes: reads, Gives: zipKind,
			Doc: "Plan, bench, table, findings, what rounds and sensors saw of it, with a description of every column." + streams}, trial(dataset.FormatPackage)),
		op(Operation{ID: "getTrialWorkbook", Method: "GET", Path: "/trials/{trial}/tables.xlsx", Tag: "Data", Summary: "The tables of a trial as a workbook", Scopes: reads, Gives: workbookKind, Doc: "One sheet a table." + streams}, trial(dataset.FormatXLSX)),
		op(Operation{ID: "getBenchPackage", Method: "GET", Path: "/benches/{bench}/package.zip", Tag: "Data", Summary: "Everything of a bench as an open data package", Scopes: reads, Gives: zipKind,
			Doc: "The bench, its versions, what rounds and sensors saw, with a description of every column." + streams}, bench(dataset.FormatPackage)),
		op(Operation{ID: "getBenchWorkbook", Method: "GET", Path: "/benches/{bench}/tables.xlsx", Tag: "Data", Summary: "The tables of a bench as a workbook", Scopes: reads, Gives: workbookKind, Doc: "One sheet a table." + streams}, bench(dataset.FormatXLSX)),
		op(Operation{ID: "getAbout", Method: "GET", Path: "/about", Tag: "Data", Summary: "What is said of the data that leave, as its file", Scopes: reads, Gives: []string{"application/yaml"},
			Doc: "Title, licence, people and place, which stand in about.yaml beside benches and trials and go with every package. Where nothing is said yet it is the first line of such a file. Its ETag is what If-Match takes."},
			func(c *Call, _ None, _ None) (Raw, error) {
				text, err := dataset.AboutText(a.o.Folder)
				if err != nil {
					return Raw{}, err
				}
				tag := c.Version(dataset.AboutStamp(text))
				if text == nil {
					text = []byte(aboutfile.Begin)
				}
				return Raw{Type: "application/yaml", Body: text, Name: aboutfile.Name}, tag
			}),
		op(Operation{ID: "putAbout", Method: "PUT", Path: "/about", Tag: "Data", Summary: "Say title, licence, people and place of the data that leave", Scopes: changes, Body: dataset.MostAbout, Takes: []string{"application/yaml"}, Match: true,
			Doc: "A text with mistakes is refused, with line and column, and nothing is written."},
			func(c *Call, _ None, body []byte) (wire.AboutSaved, error) {
				if a.o.Trials == nil {
					return wire.AboutSaved{}, readOnly()
				}
				was, err := dataset.AboutText(a.o.Folder)
				if err != nil {
					return wire.AboutSaved{}, err
				}
				if err := c.Expects(dataset.AboutStamp(was)); err != nil {
					return wire.AboutSaved{}, err
				}
				body = bytes.ReplaceAll(body, []byte("\r\n"), []byte("\n"))
				err = dataset.SaveAbout(a.o.Trials, body, was)
				var wrong *dataset.AboutError
				var changed *dataset.AboutChangedError
				switch {
				case errors.As(err, &wrong):
					return wire.AboutSaved{}, problem(http.StatusUnprocessableEntity, "about-broken", "This says nothing that can be used. "+wrong.Problems.Render(aboutfile.Name, body, false), "Mend it, and send it again.")
				case errors.As(err, &changed):
					return wire.AboutSaved{}, problem(http.StatusPreconditionFailed, "changed", "It has been changed since it was read. Nothing was written.", "Read it again, make the change in what is there now, and send it with the ETag that comes with it.")
				case err != nil:
					return wire.AboutSaved{}, err
				}
				return wire.AboutSaved{File: aboutfile.Name}, c.Version(dataset.AboutStamp(body))
			}),
	}
}

// ask is what is packed of anything here.
func (a *API) ask(w whose) (*dataset.Ask, error) {
	ask, err := a.o.Ask()
	if err != nil {
		return nil, unfit(err, "Correct "+aboutfile.Name+": read it at "+Prefix+"/about, and put it back.")
	}
	if ask.Names, err = dataset.ParseNames(w.Names); err != nil {
		return nil, unfit(err, "")
	}
	return ask, nil
}

func (a *API) trialData(c *Call, q trialData, f dataset.Format) (stream, error) {
	id := q.Trial
	t, err := a.trial(id)
	if err != nil {
		return nil, err
	}
	t.Bench = nil // what is set for those who look does not leave
	ask, err := a.ask(q.whose)
	if err != nil {
		return nil, err
	}
	if found, err := t.Findings(c.Context(), a.o.Folder, nil); c.Context().Err() != nil {
		return nil, c.Context().Err()
	} else if err != nil {
		ask.NoFindings = "There are none yet: " + err.Error() + "."
	} else if err := ask.Told(found); err != nil {
		return nil, err
	}
	if b := a.benchUnder(t); b != nil && ask.Records != nil && a.o.Keep != nil {
		if ask.Records.Book, _, err = a.photoBook(c, b); err != nil {
			return nil, err
		}
	}
	made, err := dataset.OfTrial(c.Context(), *ask, t)
	if err != nil {
		return nil, unfit(err, "The trial is as it was.")
	}
	return a.packed(id, made, f), nil
}

func (a *API) benchData(c *Call, q benchData, f dataset.Format) (stream, error) {
	id := q.Bench
	b, err := a.bench(c, id, nil)
	if err != nil {
		return nil, err
	}
	ask, err := a.ask(q.whose)
	if err != nil {
		return nil, err
	}
	book, rec, err := a.photoBook(c, b)
	if err != nil {
		return nil, err
	}
	if ask.Records != nil {
		ask.Records.Book = book
	}
	made, err := dataset.OfBench(c.Context(), *ask, a.benchFile(id), b.Bench(), rec)
	if err != nil {
		return nil, unfit(err, "The bench is as it was.")
	}
	return a.packed(id, made, f), nil
}

// packed streams a package: hours of years of sensors are not held in memory. What fails on the
// way ends the connection, so that nobody takes a part for the whole.
func (a *API) packed(name string, p *datapackage.Package, f dataset.Format) stream {
	return func(w http.ResponseWriter) {
		h := w.Header()
		h.Set("Content-Type", f.Media(false))
		h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name+f.Ending(false)))
		h.Set("Cache-Control", "no-store")
		if err := dataset.Write(w, p, f, ""); err != nil {
			a.o.Log.Error("download", "name", name, "err", err)
			panic(http.ErrAbortHandler)
		}
	}
}
