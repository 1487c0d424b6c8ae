package api

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"underlamp/app/notes"
	"underlamp/app/trialbook"
	"underlamp/wire"
)

var sheetKinds = []string{"text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "application/vnd.oasis.opendocument.spreadsheet"}

// forBench and forPackages are what waiting files are filed under; names of trials have no colon.
const (
	forBench    = "bench:"
	forPackages = "package:"
)

type fileName struct {
	Name string `query:"file" maxlen:"200" doc:"what the file is called"`
}

type notesLook struct {
	benchPath
	Upload    string   `path:"upload" maxlen:"64"`
	Kind      string   `query:"kind" enum:"plants|cycles|readings" doc:"what rows are; found out if it is not said"`
	Sheet     string   `query:"sheet" maxlen:"200" doc:"the likeliest if it is not said"`
	Heading   int      `query:"heading" min:"-1" doc:"row of the heading; -1: there is none; found out if it is not said"`
	Column    []string `query:"column" doc:"what a heading is: Head=plant; may be said several times" example:"Weight=mass"`
	Day       string   `query:"day" maxlen:"10" doc:"of rows without one" example:"2026-10-01"`
	By        string   `query:"by" maxlen:"80" doc:"who saw it, of rows that do not say"`
	Height    string   `query:"height" maxlen:"40" doc:"of the sensor, of readings without one" example:"5 cm"`
	Seedlings int      `query:"seedling_days" min:"0" max:"200" unit:"d" doc:"from sowing to transplanting, of crops without that day"`
	DayFirst  *bool    `query:"day_first" doc:"3/4 is the third of April; found out if it is not said"`
	Comma     *bool    `query:"decimal_comma" doc:"found out if it is not said"`
	Year      int      `query:"year" min:"1970" max:"9999" doc:"of days without one"`
	Skip      bool     `query:"skip" doc:"leave out what cannot be read"`
	Counts    []string `query:"counts" doc:"places of conflicts in which the sheet counts"`
	Take      bool     `query:"take" doc:"the sheet counts in all conflicts"`
}

// noteOps take notes and data packages in, and back.
func (a *API) noteOps() []Operation {
	gone := []int{http.StatusGone}
	return []Operation{
		op(Operation{ID: "sendNotes", Method: "POST", Path: "/benches/{bench}/uploads", Tag: "Notes", Summary: "Send a sheet of notes, to look at what taking it in would do", Scopes: writes, Body: trialbook.MostUpload, Takes: sheetKinds, Once: true, Status: http.StatusCreated,
			Doc: "CSV, XLSX or ODS: what was seen of plants, finished crops, or readings of light, one a row. Nothing is kept of it: the answer says what each column is taken for, what is new, what is there already, and what is in the way. The sheet waits for two hours."},
			func(c *Call, p struct {
				benchPath
				fileName
			}, raw []byte) (wire.NotesPreview, error) {
				o, err := a.office()
				if err != nil {
					return wire.NotesPreview{}, err
				}
				if _, err := a.bench(c, p.Bench, nil); err != nil {
					return wire.NotesPreview{}, err
				}
				d, err := o.Look(c.Context(), p.Name, raw, a.benchFile(p.Bench), notes.Said{})
				if err != nil {
					return wire.NotesPreview{}, unfit(err, "CSV, XLSX and ODS can be read; from an older workbook, save as one of these.")
				}
				token := a.uploads.Put(forBench+p.Bench, p.Name, raw)
				c.Created("/benches/" + p.Bench + "/uploads/" + token)
				return notesJSON(token, d), nil
			}),
		op(Operation{ID: "previewNotes", Method: "GET", Path: "/benches/{bench}/uploads/{upload}", Tag: "Notes", Summary: "What taking a sheet in would do, by what is said of it", Scopes: writes, Errors: gone},
			func(c *Call, p notesLook, _ None) (wire.NotesPreview, error) {
				o, u, err := a.waiting(forBench+p.Bench, p.Upload)
				if err != nil {
					return wire.NotesPreview{}, err
				}
				said := notes.Said{Kind: notes.Kind(p.Kind), Sheet: p.Sheet, Heading: p.Heading, Columns: map[string]string{}, Day: p.Day, By: p.By, Height: p.Height, Seedlings: p.Seedlings, DayFirst: p.DayFirst, Comma: p.Comma, Year: p.Year, Skip: p.Skip, Choices: map[string]bool{}, Take: p.Take}
				for _, x := range p.Column {
					i := strings.LastIndexByte(x, '=') // headings may have one, meanings have none
					if i < 0 {
						return wire.NotesPreview{}, wrongField("#column", "write HEADING=MEANING")
					}
					said.Columns[x[:i]] = x[i+1:]
				}
				for _, place := range p.Counts {
					said.Choices[place] = true
				}
				d, err := o.Look(c.Context(), u.Name, u.Raw, a.benchFile(p.Bench), said)
				if err == nil {
					return notesJSON(u.Token, d), nil
				}
				wrong := sentence(err)
				if d, err = o.Look(c.Context(), u.Name, u.Raw, a.benchFile(p.Bench), notes.Said{}); err != nil {
					return wire.NotesPreview{}, unfit(err, "Send another sheet.")
				}
				out := notesJSON(u.Token, d)
				out.Wrong, out.Ready = wrong, false
				return out, nil
			}),
		op(Operation{ID: "takeNotes", Method: "POST", Path: "/benches/{bench}/imports", Tag: "Notes", Summary: "Keep what the preview of a sheet showed, all or nothing", Scopes: writes, Body: 256 << 10, Once: true, Status: http.StatusCreated, Also: []int{http.StatusOK}, Errors: gone,
			Doc: "What columns are is remembered for the next sheet with these headings. What is there already is not kept twice: if all is, the answer is 200, and nothing was written."},
			func(c *Call, p benchPath, b wire.NotesTake) (wire.NotesTaken, error) {
				o, u, err := a.waiting(forBench+p.Bench, b.Upload)
				if err != nil {
					return wire.NotesTaken{}, err
				}
				said := notes.Said{Kind: notes.Kind(b.Kind), Sheet: b.Sheet, Heading: b.Heading, Columns: b.Columns, Day: b.Day, By: strings.TrimSpace(b.By), Height: b.Height, Seedlings: b.Seedlings, DayFirst: b.DayFirst, Comma: b.Comma, Year: b.Year, Skip: b.Skip, Choices: b.Choices, Take: b.Take}
				const look = "The preview says what is in the way."
				if _, err := o.Look(c.Context(), u.Name, u.Raw, a.benchFile(p.Bench), said); err != nil {
					return wire.NotesTaken{}, unfit(err, look)
				}
				d, rec, err := o.Take(c.Context(), u.Name, u.Raw, a.benchFile(p.Bench), said, c.By(b.By))
				if errors.Is(err, notes.ErrNotReady) {
					return wire.NotesTaken{}, unfit(err, look)
				}
				if err != nil {
					return wire.NotesTaken{}, err
				}
				return taken(c, rec, d.Same), nil
			}),
		op(Operation{ID: "sendPackage", Method: "POST", Path: "/packages/uploads", Tag: "Notes", Summary: "Send a data package, to look at what taking it in would do", Scopes: writes, Body: trialbook.MostUpload, Takes: zipKind, Once: true, Status: http.StatusCreated,
			Doc: "One that is not as its own description says is refused, with the place of each fault. Nothing is kept of it. The package waits for two hours."},
			func(c *Call, p fileName, raw []byte) (wire.PackagePreview, error) {
				o, err := a.office()
				if err != nil {
					return wire.PackagePreview{}, err
				}
				d, err := o.LookPackage(c.Context(), p.Name, raw)
				if err != nil {
					return wire.PackagePreview{}, unfit(err, "Send a data package that is as it was made.")
				}
				token := a.uploads.Put(forPackages, p.Name, raw)
				c.Created("/packages/uploads/" + token)
				return packageJSON(token, d), nil
			}),
		op(Operation{ID: "previewPackage", Method: "GET", Path: "/packages/uploads/{upload}", Tag: "Notes", Summary: "What taking a data package in would do", Scopes: writes, Errors: gone},
			func(c *Call, p struct {
				Upload string `path:"upload" maxlen:"64"`
			}, _ None) (wire.PackagePreview, error) {
				o, u, err := a.waiting(forPackages, p.Upload)
				if err != nil {
					return wire.PackagePreview{}, err
				}
				d, err := o.LookPackage(c.Context(), u.Name, u.Raw)
				if err != nil {
					return wire.PackagePreview{}, unfit(err, "Send it once more.")
				}
				return packageJSON(u.Token, d), nil
			}),
		op(Operation{ID: "takePackage", Method: "POST", Path: "/packages", Tag: "Notes", Summary: "Keep the files of a data package, all or nothing", Scopes: writes, Body: 4 << 10, Once: true, Status: http.StatusCreated, Also: []int{http.StatusOK}, Errors: gone,
			Doc: "A file that is there with another content is in the way of all. If all are there already, the answer is 200, and nothing was written."},
			func(c *Call, _ None, b wire.PackageTake) (wire.NotesTaken, error) {
				o, u, err := a.waiting(forPackages, b.Upload)
				if err != nil {
					return wire.NotesTaken{}, err
				}
				d, rec, err := o.TakePackage(c.Context(), u.Name, u.Raw, c.By(b.By))
				if errors.Is(err, notes.ErrNotReady) {
					return wire.NotesTaken{}, unfit(err, "The preview says what is in the way.")
				}
				if err != nil {
					return wire.NotesTaken{}, err
				}
				return taken(c, rec, len(d.Same)+d.SameEntries), nil
			}),
		op(Operation{ID: "listImports", Method: "GET", Path: "/imports", Tag: "Notes", Summary: "List the imports of notes and data packages, the newest first", Scopes: changesOrReads},
			func(c *Call, _ None, _ None) (wire.Page[wire.NotesImport], error) {
				out := wire.Page[wire.NotesImport]{Items: []wire.NotesImport{}}
				o, err := a.office()
				if err != nil {
					return out, err
				}
				all, err := o.Records()
				for _, r := range slices.Backward(all) {
					out.Items = append(out.Items, importJSON(&r))
				}
				return out, err
			}),
		op(Operation{ID: "undoImport", Method: "DELETE", Path: "/imports/{import}", Tag: "Notes", Summary: "Take an import of notes or of a data package back", Scopes: writes, Errors: []int{http.StatusConflict},
			Doc: "What somebody has changed since stays; the answer says what does. What it stood in place of counts again."},
			func(c *Call, p struct {
				Import string `path:"import" maxlen:"40"`
				By     string `query:"by" maxlen:"80" doc:"who takes it back; the name of the token if it is not said"`
			}, _ None) (wire.NotesImport, error) {
				o, err := a.office()
				if err != nil {
					return wire.NotesImport{}, err
				}
				all, err := o.Records()
				if err != nil {
					return wire.NotesImport{}, err
				}
				i := slices.IndexFunc(all, func(r notes.Record) bool { return r.ID == p.Import })
				if i < 0 {
					return wire.NotesImport{}, missing("There is no such import.", Prefix+"/imports lists them.")
				}
				if all[i].Undone != nil {
					return wire.NotesImport{}, problem(http.StatusConflict, "conflict", "This import was taken back already.", Prefix+"/imports says when, and what stays.")
				}
				r, err := o.Undo(c.Context(), p.Import, c.By(p.By))
				if err != nil {
					return wire.NotesImport{}, err
				}
				return importJSON(r), nil
			}),
	}
}

// office takes notes in.
func (a *API) office() (*notes.Office, error) {
	if a.o.Office != nil {
		if o := a.o.Office(); o != nil {
			return o, nil
		}
	}
	return nil, readOnly()
}

// waiting is a file that was sent before.
func (a *API) waiting(of, token string) (*notes.Office, *trialbook.Upload, error) {
	o, err := a.office()
	if err != nil {
		return nil, nil, err
	}
	u := a.uploads.Get(of, token)
	if u == nil {
		return nil, nil, problem(http.StatusGone, "gone", "This file is here no more: it was kept for two hours, or until underlamp was started again.", "Send it once more.")
	}
	return o, u, nil
}

// taken says what was kept; rec is nil if nothing was written.
func taken(c *Call, rec *notes.Record, same int) wire.NotesTaken {
	if rec == nil {
		c.Status = http.StatusOK
		return wire.NotesTaken{Same: same}
	}
	c.Created("/imports/" + rec.ID)
	return wire.NotesTaken{Import: rec.ID, New: rec.New, Over: rec.Over, Same: same}
}

// listed is a list for JSON, of its first.
func listed[T any](all []T) []T { return append([]T{}, all[:min(mostPreview, len(all))]...) }

func notesJSON(token string, d *notes.Draft) wire.NotesPreview {
	out := wire.NotesPreview{Upload: token, File: d.File, SHA256: d.Hash, Bench: d.Into, Kind: string(d.Kind), KindWhy: d.KindWhy, Sheet: d.Sheet, Sheets: listed(d.Sheets), Heading: d.Heading, Headings: listed(d.Headings), Columns: []wire.NotesColumn{}, Meanings: []wire.NotesMeaning{}, From: d.From,
		Rows: d.Rows, New: len(d.New), Items: []wire.NotesItem{}, Same: d.Same, Empty: d.Empty, ConflictCount: len(d.Conflicts), Conflicts: []wire.NotesConflict{}, FaultCount: d.FaultCount(), Faults: []wire.NotesFault{}, Left: listed(d.Left), Asked: listed(d.Asked), Notes: listed(d.Notes), Doubts: listed(d.Doubts), Ready: d.Ready()}
	for _, x := range d.Columns {
		col := wire.NotesColumn{Heading: x.Heading, Is: x.Is, Why: x.Why, Unit: x.Unit, Sample: listed(x.Sample), Filled: x.Filled}
		if !x.Day.IsZero() {
			col.Day = x.Day.Format(time.DateOnly)
		}
		out.Columns = append(out.Columns, col)
	}
	for _, x := range notes.Meanings(d.Kind) {
		out.Meanings = append(out.Meanings, wire.NotesMeaning{Is: x.Key, Says: x.Says})
	}
	for _, x := range listed(d.New) {
		out.Items = append(out.Items, wire.NotesItem(x))
	}
	for _, x := range listed(d.Conflicts) {
		out.Conflicts = append(out.Conflicts, wire.NotesConflict(x))
	}
	for _, x := range listed(d.Faults) {
		out.Faults = append(out.Faults, wire.NotesFault(x))
	}
	return out
}

func packageJSON(token string, d *notes.PackageDraft) wire.PackagePreview {
	return wire.PackagePreview{Upload: token, File: d.File, SHA256: d.Hash, Title: d.Title, Kind: d.Kind, Begin: d.Begin, New: append([]string{}, d.New...), Same: append([]string{}, d.Same...), Conflicts: append([]string{}, d.Conflicts...), Entries: d.Entries, SameEntries: d.SameEntries, Notes: append([]string{}, d.Notes...), Ready: d.Ready()}
}

func importJSON(r *notes.Record) wire.NotesImport {
	out := wire.NotesImport{ID: r.ID, At: r.At, By: r.By, File: r.File, SHA256: r.Hash, Bench: r.Into, Kind: string(r.Said.Kind), Sheet: r.Sheet, Rows: r.Rows, New: r.New, Over: r.Over, Done: r.Done, Stays: []string{}}
	if u := r.Undone; u != nil {
		out.Undone, out.UndoneBy, out.Stays = &u.At, u.By, append(out.Stays, u.Told...)
	}
	return out
}
