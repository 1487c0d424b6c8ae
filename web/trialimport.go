package web

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/app/trialbook"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
)

const (
	mostUpload = trialbook.MostUpload
	mostShown  = 200 // lines of the preview
)

type columnView struct {
	Heading, Name string
	Is            string
	Sample        string
}

type importView struct {
	trialHead
	Wrong     string
	Imports   []trialbook.Imported
	Said      string
	Token     string
	File      string
	Columns   []columnView
	Meanings  []formOption
	New       int
	Rows      [][]string
	Cut       int // rows not shown
	Same      int
	Empty     int
	Ignored   []string
	Notes     []string
	Conflicts []string
	Take      bool // where both differ the table counts
	Doubts    []string
	MoreDoubt int
	Ready     bool
	Reading   readingView
}

func (s *Site) importView(r *http.Request, id string, p *trialbook.Page) *importView {
	return &importView{trialHead: s.headOf(r, id, p, "import"), Imports: p.Imports()}
}

// trialImport is where a table is sent to, and where imports are undone.
func (s *Site) trialImport(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	v := s.importView(r, id, p)
	if n, err := strconv.Atoi(r.FormValue("kept")); err == nil {
		v.Said = fmt.Sprintf("Kept as import %d.", n)
		if r.FormValue("new") == "0" {
			v.Said = "Everything in the table was there already; nothing was written."
		}
	}
	if n, err := strconv.Atoi(r.FormValue("undone")); err == nil {
		v.Said = fmt.Sprintf("Import %d is undone: %s struck out. The lines stay in the table.", n, plural(atoi(r.FormValue("values")), "value"))
	}
	s.page(w, http.StatusOK, "trialimport.tmpl", v)
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

// trialUpload takes a table in to be looked at.
func (s *Site) trialUpload(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostUpload+(64<<10))
	id, p := s.trialOf(w, r)
	if p == nil || !s.writes(w) {
		return
	}
	refuse := func(status int, what string) {
		v := s.importView(r, id, p)
		v.Wrong = what
		s.page(w, status, "trialimport.tmpl", v)
	}
	name, raw, _, err := uploaded(r)
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge) || len(raw) > mostUpload:
		refuse(http.StatusRequestEntityTooLarge, fmt.Sprintf("The file is larger than %d MiB. A table of a trial is far smaller; save the sheet alone, without pictures.", mostUpload>>20))
	case err != nil || name == "" && len(raw) == 0:
		refuse(http.StatusUnprocessableEntity, "No file was sent. Choose a table, CSV, XLSX or ODS.")
	case len(raw) == 0:
		refuse(http.StatusUnprocessableEntity, "The file is empty.")
	default:
		if _, err := trialtable.Open(raw, "", 0, sheet.Conventions{}); err != nil {
			refuse(http.StatusUnprocessableEntity, noTable(err))
			return
		}
		http.Redirect(w, r, "/trial/"+id+"/import/"+s.uploads.Put(id, name, raw), http.StatusSeeOther)
	}
}

// noTable says that what was sent cannot be read.
func noTable(err error) string {
	return "This is no table that can be read: " + asSentence(err.Error()) + " CSV, XLSX and ODS can; from an older workbook, save as one of these."
}

// uploaded is the file of a form, read to a bound, and the fields before it; nothing is
// written to the disk.
func uploaded(r *http.Request) (name string, raw []byte, fields url.Values, err error) {
	fields = url.Values{}
	parts, err := r.MultipartReader()
	if err != nil {
		return "", nil, fields, err
	}
	for range 20 {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return name, raw, fields, err
		}
		if part.FormName() != "table" || name != "" {
			text, err := io.ReadAll(io.LimitReader(part, 1024))
			if err != nil {
				return name, raw, fields, err
			}
			fields.Set(part.FormName(), string(text))
			continue
		}
		name = path.Base(strings.ReplaceAll(part.FileName(), "\\", "/"))
		if raw, err = io.ReadAll(io.LimitReader(part, mostUpload+1)); err != nil {
			return name, nil, fields, err
		}
	}
	if name == "." || name == "/" {
		name = ""
	}
	return name, raw, fields, nil
}

// tableIn reads the table of what was sent, as a form says.
func tableIn(raw []byte, f url.Values) (*sheet.Table, error) {
	return trialtable.Open(raw, f.Get("sheet"), atoi(f.Get("heading")), conventionsOf(f))
}

// conventionsOf is what a form says of numbers and days of text.
func conventionsOf(f url.Values) sheet.Conventions {
	c := sheet.Conventions{Year: atoi(f.Get("year"))}
	if v := f.Get("first"); v == "day" || v == "month" {
		day := v == "day"
		c.DayFirst = &day
	}
	if v := f.Get("decimal"); v == "comma" || v == "point" {
		comma := v == "comma"
		c.Comma = &comma
	}
	return c
}

// columnsOf is what a form says of the headings of a table.
func columnsOf(f url.Values, headings []string) map[string]string {
	out := map[string]string{}
	for i, h := range headings {
		if is := f.Get(fmt.Sprintf("c%d", i)); is != "" && h != "" {
			out[h] = is
		}
	}
	return out
}

// waiting is the table that a request is about; it answers itself if it is gone.
func (s *Site) waiting(w http.ResponseWriter, r *http.Request, id string, p *trialbook.Page) *trialbook.Upload {
	u := s.uploads.Get(id, r.PathValue("token"))
	if u == nil {
		v := s.importView(r, id, p)
		v.Wrong = "This table is here no more: it was kept for two hours, or until underlamp was started again. Send it once more."
		s.page(w, http.StatusGone, "trialimport.tmpl", v)
	}
	return u
}

// trialPreview shows what an import would keep.
func (s *Site) trialPreview(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	u := s.waiting(w, r, id, p)
	if u == nil {
		return
	}
	v, status := s.preview(r, id, p, u, r.URL.Query())
	s.page(w, status, "trialimport.tmpl", v)
}

func (s *Site) preview(r *http.Request, id string, p *trialbook.Page, u *trialbook.Upload, f url.Values) (*importView, int) {
	v := s.importView(r, id, p)
	v.Token, v.File = u.Token, u.Name
	table, err := tableIn(u.Raw, f)
	if err != nil {
		v.Wrong = asSentence(err.Error())
		return v, http.StatusUnprocessableEntity
	}
	v.Reading = readingOf(table.Sheet, nil, f)
	v.Meanings = []formOption{{"", "not said"}}
	for _, m := range trialtable.Meanings {
		v.Meanings = append(v.Meanings, formOption{m, map[string]string{"unit": "the unit", "plant": "the plant", "time": "the day", "by": "who", "with": "the instrument", "note": "a note", "nothing": "nothing: leave it out"}[m]})
	}
	for _, x := range underlamp.Responses() {
		v.Meanings = append(v.Meanings, formOption{string(x), strings.ToLower(labelOf(x))})
	}
	names := trialtable.Headings(table)
	said := columnsOf(f, names)
	d, err := trialbook.Prepare(p, table, trialbook.Saying{Columns: said, Take: f.Get("take") != ""}, s.today())
	for i, col := range table.Columns {
		h := col.Heading
		c := columnView{Heading: h, Name: fmt.Sprintf("c%d", i), Is: said[h], Sample: strings.Join(col.Sample[:min(1, len(col.Sample))], "")}
		if c.Is == "" {
			c.Is = p.Trial.Columns[h]
		}
		if c.Is == "" {
			c.Is = trialtable.Guess(col.Name)
		}
		v.Columns = append(v.Columns, c)
	}
	if err != nil {
		v.Wrong = asSentence(strings.NewReplacer(": say which with --column HEADING=unit", ": say below which it is", ": say which with --column HEADING=plant", ": say below which it is").Replace(err.Error()))
		return v, http.StatusUnprocessableEntity
	}
	v.New, v.Same, v.Empty, v.Ignored, v.Notes, v.Ready, v.Take = len(d.New), d.Duplicates, d.Missing, d.Ignored, d.Notes, len(d.New) > 0, f.Get("take") != ""
	for _, e := range d.New[:min(mostShown, len(d.New))] {
		v.Rows = append(v.Rows, []string{e.TrialUnit, e.Plant, labelOf(e.What), trialbook.SaidOf(e), e.Time, e.By, e.Note})
	}
	for _, x := range d.Conflicts[:min(mostShown, len(d.Conflicts))] {
		v.Conflicts = append(v.Conflicts, fmt.Sprintf("%s: %s of %s, plant %s, is %s in the trial (%s) and %s in the table.", x.Place, strings.ToLower(labelOf(x.Says.What)), x.Says.TrialUnit, x.Says.Plant, trialbook.SaidOf(x.Has), x.Has.ID, trialbook.SaidOf(x.Says)))
	}
	v.Cut = len(d.New) - len(v.Rows)
	v.Doubts = d.Doubts[:min(20, len(d.Doubts))]
	v.MoreDoubt = len(d.Doubts) - len(v.Doubts)
	return v, http.StatusOK
}

// trialImportDo keeps what the preview showed.
func (s *Site) trialImportDo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostRecord)
	id, p := s.trialOf(w, r)
	if p == nil || !s.writes(w) {
		return
	}
	u := s.waiting(w, r, id, p)
	if u == nil {
		return
	}
	err := r.ParseForm()
	var table *sheet.Table
	if err == nil {
		table, err = tableIn(u.Raw, r.PostForm)
	}
	var d *trialbook.Draft
	if err == nil {
		d, err = trialbook.Import(s.place, p, table, trialbook.Saying{Columns: columnsOf(r.PostForm, trialtable.Headings(table)), Take: r.PostForm.Get("take") != ""}, s.today())
	}
	if err != nil {
		v, status := s.preview(r, id, p, u, r.PostForm)
		if status == http.StatusOK {
			s.log.Error("import", "trial", id, "err", err)
			v.Wrong, status = "Nothing was kept: "+asSentence(err.Error()), http.StatusServiceUnavailable
		}
		s.page(w, status, "trialimport.tmpl", v)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/trial/%s/import?kept=%d&new=%d", id, d.Number, len(d.New)), http.StatusSeeOther)
}

// trialUndo takes an import back.
func (s *Site) trialUndo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4096)
	id, p := s.trialOf(w, r)
	if p == nil || !s.writes(w) {
		return
	}
	number, err := strconv.Atoi(r.PostFormValue("number"))
	n := 0
	if err == nil {
		n, err = trialbook.Undo(s.place, p, number, r.PostFormValue("by"), s.today())
	}
	if err != nil || !slices.ContainsFunc(p.Imports(), func(i trialbook.Imported) bool { return i.Number == number }) {
		v := s.importView(r, id, p)
		v.Wrong = "This import cannot be undone: it is not in the table, or the table cannot be written."
		if err != nil {
			v.Wrong = "This import cannot be undone: " + asSentence(err.Error())
		}
		s.page(w, http.StatusUnprocessableEntity, "trialimport.tmpl", v)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/trial/%s/import?undone=%d&values=%d", id, number, n), http.StatusSeeOther)
}
