package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/kept"
	"underlamp/app/notes"
	"underlamp/app/trialbook"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
)

// A readingView is how a table is read, and what can be said of it.
type readingView struct {
	Open                           bool
	Sheets, Headings               []formOption
	Sheet, Heading, First, Decimal string
	Year                           string
}

type hiddenField struct{ Name, Value string }

// Hidden are the fields of a form that says the same again.
func (v readingView) Hidden() []hiddenField {
	var out []hiddenField
	for _, f := range []hiddenField{{"sheet", v.Sheet}, {"heading", v.Heading}, {"first", v.First}, {"decimal", v.Decimal}, {"year", v.Year}} {
		if f.Value != "" {
			out = append(out, f)
		}
	}
	return out
}

// readingOf is how a sheet is read by what a form says. sheets are those of its file.
func readingOf(s *sheet.Sheet, sheets []string, f url.Values) readingView {
	v := readingView{Sheet: f.Get("sheet"), Heading: f.Get("heading"), First: f.Get("first"), Decimal: f.Get("decimal"), Year: f.Get("year")}
	v.Open = v.Sheet+v.Heading+v.First+v.Decimal+v.Year != "" || len(sheets) > 1
	for _, name := range sheets {
		v.Sheets = append(v.Sheets, formOption{name, name})
	}
	v.Headings = []formOption{{"", "the likeliest row"}}
	for _, n := range s.HeadingRows() {
		o := formOption{"-1", "there is none"}
		if n > 0 {
			o = formOption{strconv.Itoa(n), s.Place(n, -1)}
			for _, r := range s.Rows {
				if r.N == n {
					var words []string
					for _, c := range r.Cells {
						if !c.Blank() && len(words) < 5 {
							words = append(words, c.String())
						}
					}
					o.Text += ": " + cut(strings.Join(words, ", "), 48)
				}
			}
		}
		v.Headings = append(v.Headings, o)
	}
	return v
}

func cut(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

type notesColumn struct {
	Heading, Name, Is, Why, Sample, Cells string
}

type notesConflict struct {
	Name                  string // of its field
	Place, Text, Has, Say string
	Take                  bool
}

type notesRecord struct {
	ID, When, File, Bench, What, By, State string
	Told                                   []string
	Back                                   bool // it can be taken back
}

type notesView struct {
	Title    string
	ReadOnly bool
	Said     string
	Wrong    string
	Into     string // bench or trial that is chosen
	Benches  []formOption
	Trials   []formOption
	Records  []notesRecord

	Token, File, Bench string
	Package            *notes.PackageDraft // nil: it is a sheet
	Kind               notes.Kind
	KindWhy            string
	Kinds              []formOption
	Columns            []notesColumn
	Meanings           []formOption
	Reading            readingView
	From               string
	Rows               int
	New                []notes.Item
	NewCount, Cut      int
	Same, Empty        int
	Conflicts          []notesConflict
	Faults             []notes.Fault
	FaultCount         int
	Left, Notes        []string
	Asked, Doubts      []string
	Skip, Ready, Shown bool
	NoStore            bool
	Day, By, Height    string
	Seedlings          string
	Was                string        // kind, sheet and heading that the columns are of
	Hidden             []hiddenField // all that was said, to be sent again
}

// Taken says how many conflicts the sheet wins.
func (v *notesView) Taken() int {
	n := 0
	for _, c := range v.Conflicts {
		if c.Take {
			n++
		}
	}
	return n
}

// office is where notes are taken in; nil if nothing can be written here.
func (s *Site) office() *notes.Office {
	place, ok := s.place.(notes.Place)
	if !ok {
		return nil
	}
	o := &notes.Office{Place: place, Zone: s.zone, Now: time.Now}
	if s.rounds != nil {
		o.Seen = s.rounds
	}
	if s.desk != nil {
		o.Add, o.Drop = s.desk.AddFiles, s.desk.RemoveFiles
		o.Save = func(ctx context.Context, bench string, text, base []byte, by, why string) error {
			return s.desk.Save(ctx, kept.Save{Bench: bench, Text: text, Base: base, By: by, Why: why})
		}
	}
	return o
}

func (s *Site) notesView(r *http.Request, into string) *notesView {
	v := &notesView{Title: "Take notes in", Into: into}
	o := s.office()
	v.ReadOnly = o == nil
	ids, err := s.benches.list()
	if err != nil {
		s.log.Error("list", "err", err)
	}
	names := map[string]string{}
	for _, id := range ids {
		if e, err := s.benches.get(id); err == nil && e != nil && !e.broken {
			v.Benches = append(v.Benches, formOption{id, e.bench.Name})
			names[id] = e.bench.Name
		}
	}
	for _, c := range s.trialList() {
		v.Trials = append(v.Trials, formOption{"trial:" + c.ID, c.Name})
	}
	if o == nil {
		return v
	}
	all, err := o.Records()
	if err != nil {
		s.log.Error("imports", "err", err)
		v.Wrong = asSentence(err.Error())
	}
	for i := len(all) - 1; i >= 0; i-- {
		x := all[i]
		what := fmt.Sprintf("%s, %d new", x.Said.Kind.Says(), x.New)
		if x.Said.Kind == notes.Package {
			if what = fmt.Sprintf("%s, %s new", x.Said.Kind.Says(), plural(x.New, "file")); x.Entries > 0 {
				what += fmt.Sprintf(", and %d seen on rounds", x.Entries)
			}
		}
		n := notesRecord{ID: x.ID, When: x.At.In(s.zone).Format("2 January 2006, 15:04"), File: x.File, Bench: names[x.Into], By: x.By, What: what, Back: x.Undone == nil}
		if n.Bench == "" {
			n.Bench = x.Into
		}
		if x.Over > 0 {
			n.What += fmt.Sprintf(", %d instead of others", x.Over)
		}
		switch {
		case x.Undone != nil:
			n.State, n.Told = "Taken back on "+x.Undone.At.In(s.zone).Format("2 January 2006")+".", x.Undone.Told
		case !x.Done:
			n.State = "It was stopped midway. Take it back, and in again."
		}
		v.Records = append(v.Records, n)
	}
	return v
}

// importPage is where notes are sent to, and where imports are taken back.
func (s *Site) importPage(w http.ResponseWriter, r *http.Request) {
	v := s.notesView(r, r.FormValue("into"))
	for _, x := range v.Records {
		switch x.ID {
		case r.FormValue("kept"):
			v.Said = "Kept: " + x.What + " of " + x.File + "."
		case r.FormValue("undone"):
			v.Said = x.File + " is taken back."
			if len(x.Told) > 0 {
				v.Said += " Some of it stays, see below."
			}
		}
	}
	if r.FormValue("kept") == "nothing" {
		v.Said = "Everything in the sheet was there already; nothing was written."
	}
	s.page(w, http.StatusOK, "import.tmpl", v)
}

// importUpload takes a sheet in to be looked at.
func (s *Site) importUpload(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostUpload+(64<<10))
	name, raw, fields, err := uploaded(r)
	into := fields.Get("into")
	refuse := func(status int, what string) {
		v := s.notesView(r, into)
		v.Wrong = what
		s.page(w, status, "import.tmpl", v)
	}
	var tooLarge *http.MaxBytesError
	switch {
	case s.office() == nil:
		refuse(http.StatusForbidden, "This server has no folder and no store to write into.")
	case errors.As(err, &tooLarge) || len(raw) > mostUpload:
		refuse(http.StatusRequestEntityTooLarge, fmt.Sprintf("The file is larger than %d MiB. Save the sheet alone, without pictures, or take it in with underlamp import.", mostUpload>>20))
	case err != nil || name == "" && len(raw) == 0:
		refuse(http.StatusUnprocessableEntity, "No file was sent. Choose a sheet: CSV, XLSX or ODS.")
	case len(raw) == 0:
		refuse(http.StatusUnprocessableEntity, "The file is empty.")
	case notes.IsPackage(raw):
		http.Redirect(w, r, "/import/"+s.uploads.Put("bench:"+ofPackage, name, raw)+"?into="+ofPackage, http.StatusSeeOther)
	default:
		if _, err := trialtable.Open(raw, "", 0, sheet.Conventions{}); err != nil {
			refuse(http.StatusUnprocessableEntity, noTable(err))
			return
		}
		if id, ok := strings.CutPrefix(into, "trial:"); ok {
			http.Redirect(w, r, "/trial/"+url.PathEscape(id)+"/import/"+s.uploads.Put(id, name, raw), http.StatusSeeOther)
			return
		}
		e, err := s.benches.get(into)
		if err != nil || e == nil || e.broken {
			refuse(http.StatusUnprocessableEntity, "Say which bench the notes are of.")
			return
		}
		http.Redirect(w, r, "/import/"+s.uploads.Put("bench:"+into, name, raw)+"?into="+url.QueryEscape(into), http.StatusSeeOther)
	}
}

// notesSaid is what a form says of a sheet. Of columns it says nothing any more once the
// sheet, its heading, or what its rows are was changed.
func notesSaid(f url.Values) notes.Said {
	c := conventionsOf(f)
	said := notes.Said{Kind: notes.Kind(f.Get("kind")), Sheet: f.Get("sheet"), Heading: atoi(f.Get("heading")), Columns: map[string]string{}, Day: f.Get("day"), By: strings.TrimSpace(f.Get("by")), Height: strings.TrimSpace(f.Get("height")),
		Seedlings: min(max(atoi(f.Get("seedlings")), 0), 200), DayFirst: c.DayFirst, Comma: c.Comma, Year: c.Year, Skip: f.Get("skip") != "", Choices: map[string]bool{}}
	for _, place := range f["counts"] {
		said.Choices[place] = true
	}
	for i := range 500 {
		if h, is := f.Get(fmt.Sprintf("h%d", i)), f.Get(fmt.Sprintf("c%d", i)); h != "" && is != "" && f.Get("was") == wasOf(f) {
			said.Columns[h] = is
		}
	}
	return said
}

func wasOf(f url.Values) string { return f.Get("kind") + "|" + f.Get("sheet") + "|" + f.Get("heading") }

// importOf is the sheet that a request is about and the bench it is for; it answers itself
// if one of them is gone.
func (s *Site) importOf(w http.ResponseWriter, r *http.Request) (*trialbook.Upload, *entry, *notes.Office) {
	into := r.FormValue("into")
	u := s.uploads.Get("bench:"+into, r.PathValue("token"))
	o := s.office()
	if u != nil && o != nil && into == ofPackage {
		return u, nil, o
	}
	e, err := s.benches.get(into)
	if u == nil || err != nil || e == nil || e.broken || o == nil {
		v := s.notesView(r, into)
		v.Wrong = "This sheet is here no more: it was kept for two hours, or until underlamp was started again. Send it once more."
		s.page(w, http.StatusGone, "import.tmpl", v)
		return nil, nil, nil
	}
	return u, e, o
}

// ofPackage stands for the bench of a data package, which may hold several.
const ofPackage = "a-data.package" // no bench: its name ends in no .yaml

// lookPackage shows what a data package would bring, with what is wrong.
func (s *Site) lookPackage(w http.ResponseWriter, r *http.Request, u *trialbook.Upload, o *notes.Office, status int, wrong string) {
	v := s.notesView(r, ofPackage)
	v.Token, v.File, v.Bench, v.Wrong = u.Token, u.Name, "", wrong
	d, err := o.LookPackage(r.Context(), u.Name, u.Raw)
	if err != nil {
		v.Wrong, status = asSentence(err.Error()), http.StatusUnprocessableEntity
	}
	v.Package = d
	s.page(w, status, "import.tmpl", v)
}

// importLook shows what an import would keep.
func (s *Site) importLook(w http.ResponseWriter, r *http.Request) {
	u, e, o := s.importOf(w, r)
	if u == nil {
		return
	}
	if e == nil {
		s.lookPackage(w, r, u, o, http.StatusOK, "")
		return
	}
	v, status := s.look(r, u, e, o, r.URL.Query())
	s.page(w, status, "import.tmpl", v)
}

func (s *Site) look(r *http.Request, u *trialbook.Upload, e *entry, o *notes.Office, f url.Values) (*notesView, int) {
	v := s.notesView(r, e.id)
	v.Token, v.File, v.Bench = u.Token, u.Name, e.bench.Name
	d, err := o.Look(r.Context(), u.Name, u.Raw, e.file, notesSaid(f))
	if err != nil {
		v.Wrong = asSentence(err.Error())
		// What was said of it made it unreadable: what it is by itself can be changed from.
		if d, err = o.Look(r.Context(), u.Name, u.Raw, e.file, notes.Said{}); err != nil {
			return v, http.StatusUnprocessableEntity
		}
		s.show(v, u, d, f)
		v.Ready, v.Shown = false, false
		return v, http.StatusUnprocessableEntity
	}
	s.show(v, u, d, f)
	return v, http.StatusOK
}

// show puts a draft into the view.
func (s *Site) show(v *notesView, u *trialbook.Upload, d *notes.Draft, f url.Values) {
	v.Shown = true
	v.Kind, v.KindWhy, v.From, v.Rows = d.Kind, d.KindWhy, d.From, d.Rows
	for _, k := range notes.Kinds() {
		v.Kinds = append(v.Kinds, formOption{string(k), k.Says()})
	}
	for _, m := range notes.Meanings(d.Kind) {
		v.Meanings = append(v.Meanings, formOption{m.Key, m.Says})
	}
	if b, err := sheet.Read(u.Raw, sheet.Options{MaxUnpacked: 256 << 20}); err == nil {
		if sh, err := b.Sheet(f.Get("sheet")); err == nil {
			v.Reading = readingOf(sh, d.Sheets, f)
			v.Reading.Sheet = d.Sheet
		}
	}
	kind := hiddenField{"kind", string(d.Kind)}
	v.Was = kind.Value + "|" + v.Reading.Sheet + "|" + v.Reading.Heading
	v.Hidden = append(v.Hidden, hiddenField{"into", v.Into}, kind, hiddenField{"was", v.Was})
	for i, c := range d.Columns {
		v.Columns = append(v.Columns, notesColumn{Heading: c.Heading, Name: strconv.Itoa(i), Is: c.Is, Why: c.Why, Sample: cut(strings.Join(c.Sample, ", "), 60), Cells: plural(c.Filled, "cell")})
		v.Hidden = append(v.Hidden, hiddenField{fmt.Sprintf("h%d", i), c.Heading}, hiddenField{fmt.Sprintf("c%d", i), c.Is})
	}
	v.Day, v.By, v.Height, v.Seedlings, v.Skip = f.Get("day"), f.Get("by"), f.Get("height"), f.Get("seedlings"), f.Get("skip") != ""
	for _, h := range []hiddenField{{"day", v.Day}, {"by", v.By}, {"height", v.Height}, {"seedlings", v.Seedlings}, {"skip", f.Get("skip")}} {
		if h.Value != "" {
			v.Hidden = append(v.Hidden, h)
		}
	}
	v.Hidden = append(v.Hidden, v.Reading.Hidden()...)
	v.NewCount, v.Same, v.Empty, v.FaultCount = len(d.New), d.Same, d.Empty, d.FaultCount()
	v.New = d.New[:min(mostShown, len(d.New))]
	v.Cut = len(d.New) - len(v.New)
	for i, c := range d.Conflicts[:min(mostShown, len(d.Conflicts))] {
		v.Conflicts = append(v.Conflicts, notesConflict{Name: fmt.Sprintf("counts-%d", i), Place: c.Place, Text: strings.TrimSpace(c.About + ", " + c.What + ", " + c.Day), Has: c.Has, Say: c.Says, Take: c.Take})
		if c.Take {
			v.Hidden = append(v.Hidden, hiddenField{"counts", c.Place})
		}
	}
	v.Faults = d.Faults[:min(50, len(d.Faults))]
	v.Left, v.Notes, v.Asked, v.Doubts = d.Left[:min(20, len(d.Left))], d.Notes, d.Asked, d.Doubts[:min(20, len(d.Doubts))]
	v.Ready = d.Ready() && !v.ReadOnly
	v.NoStore = d.Kind == notes.Plants && s.rounds == nil
}

// importTake keeps what the look showed.
func (s *Site) importTake(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostNotesForm)
	if err := r.ParseForm(); err != nil {
		s.fail(w, http.StatusRequestEntityTooLarge, "The form is too large.", "Go back and look at the sheet again.")
		return
	}
	u, e, o := s.importOf(w, r)
	if u == nil {
		return
	}
	if e == nil {
		_, rec, err := o.TakePackage(r.Context(), u.Name, u.Raw, cmp.Or(strings.TrimSpace(r.PostForm.Get("by")), access.From(r.Context()).Person))
		if err != nil {
			s.lookPackage(w, r, u, o, http.StatusUnprocessableEntity, asSentence(err.Error()))
			return
		}
		kept := "nothing"
		if rec != nil {
			kept = rec.ID
		}
		http.Redirect(w, r, "/import?kept="+kept, http.StatusSeeOther)
		return
	}
	said := notesSaid(r.PostForm)
	_, rec, err := o.Take(r.Context(), u.Name, u.Raw, e.file, said, cmp.Or(said.By, access.From(r.Context()).Person))
	if err != nil {
		v, status := s.look(r, u, e, o, r.PostForm)
		if !errors.Is(err, notes.ErrNotReady) {
			s.log.Error("import", "bench", e.id, "err", err)
			status = http.StatusServiceUnavailable
		} else if status == http.StatusOK {
			status = http.StatusUnprocessableEntity
		}
		v.Wrong = asSentence(err.Error())
		s.page(w, status, "import.tmpl", v)
		return
	}
	kept := "nothing"
	if rec != nil {
		kept = rec.ID
	}
	http.Redirect(w, r, "/import?into="+url.QueryEscape(e.id)+"&kept="+url.QueryEscape(kept), http.StatusSeeOther)
}

// importUndo takes an import back.
func (s *Site) importUndo(w http.ResponseWriter, r *http.Request) {
	o := s.office()
	if o == nil {
		s.fail(w, http.StatusForbidden, "This server has no folder and no store to write into.", "Start underlamp serve with a folder or a store.")
		return
	}
	id := r.PostFormValue("import")
	rec, err := o.Undo(r.Context(), id, cmp.Or(strings.TrimSpace(r.PostFormValue("by")), access.From(r.Context()).Person))
	if err != nil {
		v := s.notesView(r, "")
		v.Wrong = "It cannot be taken back: " + asSentence(err.Error())
		s.page(w, http.StatusUnprocessableEntity, "import.tmpl", v)
		return
	}
	http.Redirect(w, r, "/import?into="+url.QueryEscape(rec.Into)+"&undone="+url.QueryEscape(id), http.StatusSeeOther)
}

// mostNotesForm is room for what is said of a sheet: its headings, and the conflicts.
const mostNotesForm = 256 << 10
