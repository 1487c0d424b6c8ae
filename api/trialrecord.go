package api

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/access"
	"underlamp/app/aswire"
	"underlamp/app/round"
	"underlamp/app/trialbook"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
	"underlamp/wire"
)

type recordParams struct {
	trialPath
	Unit   string `query:"unit" maxlen:"80" doc:"of this unit alone"`
	Plant  string `query:"plant" maxlen:"80" doc:"of this plant alone"`
	What   string `query:"what" enum:"mass|height|leaves|burn|severity|clear|first|width|area" doc:"of this alone"`
	Counts bool   `query:"counts" doc:"those alone that count"`
	Paging
}

type dayParams struct {
	trialPath
	Unit  string `path:"unit" maxlen:"80" example:"C1-L1"`
	Plant string `path:"plant" maxlen:"80" example:"P1"`
	Day   string `path:"day" format:"date" example:"2026-04-28"`
}

func (a *API) recordOps() []Operation {
	return []Operation{
		op(Operation{ID: "listTrialRecords", Method: "GET", Path: "/trials/{trial}/records", Tag: "Trials", Summary: "What was seen in a trial, line by line", Scopes: readsRounds,
			Doc: "In the order of the table. Lines are never changed: a correction is a line of its own, and both stay."},
			func(c *Call, p recordParams, _ None) (wire.Page[wire.TrialRecord], error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return wire.Page[wire.TrialRecord]{}, err
				}
				all := slices.DeleteFunc(aswire.TrialRecords(t), func(r wire.TrialRecord) bool {
					return p.Unit != "" && r.Unit != p.Unit || p.Plant != "" && r.Plant != p.Plant || p.What != "" && r.What != p.What || p.Counts && !r.Counts
				})
				return pageInOrder(c, p.Paging, all, func(r wire.TrialRecord) string { return r.ID })
			}),
		op(Operation{ID: "recordTrial", Method: "POST", Path: "/trials/{trial}/records", Tag: "Trials", Summary: "Enter, correct or strike what was seen", Scopes: enters, Body: 512 << 10, Once: true, Errors: []int{http.StatusConflict},
			Doc: "All is kept, or nothing. A saying with a key is entered once, however often it is sent; another saying under its key is a conflict, and so is a correction of a line that somebody has corrected meanwhile. What can hardly be meant is asked about in doubts, and kept."},
			func(c *Call, p trialPath, b wire.TrialSayings) (wire.TrialKept, error) {
				t, said, err := a.sayings(c, p.Trial, b.Records)
				if err != nil {
					return wire.TrialKept{}, err
				}
				if a.o.Trials == nil {
					return wire.TrialKept{}, readOnly()
				}
				kept, err := trialbook.Record(a.o.Trials, t, said, a.today())
				return keptJSON(t, kept), recordFault(err)
			}),
		op(Operation{ID: "lookAtRecord", Method: "POST", Path: "/trials/{trial}/records/look", Tag: "Trials", Summary: "What would be made of sayings; nothing is kept", Scopes: enters, Body: 512 << 10, Errors: []int{http.StatusConflict}},
			func(c *Call, p trialPath, b wire.TrialSayings) (wire.TrialKept, error) {
				t, said, err := a.sayings(c, p.Trial, b.Records)
				if err != nil {
					return wire.TrialKept{}, err
				}
				var out []trialbook.Kept
				var faults trialbook.FieldErrors
				for i, s := range said {
					e, doubts, err := trialbook.Look(t, s, a.today())
					var wrong trialbook.FieldErrors
					if errors.As(err, &wrong) {
						for _, x := range wrong {
							x.Index = i
						}
						faults = append(faults, wrong...)
					} else if err != nil {
						return wire.TrialKept{}, err
					}
					out = append(out, trialbook.Kept{Entry: e, Again: slices.ContainsFunc(t.All, func(o underlamp.TrialEntry) bool { return o.ID == e.ID }), Doubts: doubts})
				}
				if len(faults) > 0 {
					return wire.TrialKept{}, recordFault(faults)
				}
				return keptJSON(t, out), nil
			}),
		op(Operation{ID: "putTrialDay", Method: "PUT", Path: "/trials/{trial}/records/{unit}/{plant}/{day}", Tag: "Trials", Summary: "What was seen of one plant on one day", Scopes: enters, Body: 32 << 10, Errors: []int{http.StatusConflict},
			Doc: "For programs that have their own notes and send them again: what is there already and says the same is left as it is; what says something else is a conflict, unless replace asks for corrections. What is not named stays."},
			func(c *Call, p dayParams, b wire.TrialDay) (wire.TrialKept, error) { return a.putDay(c, p, b) }),
		op(Operation{ID: "getTrialTaking", Method: "GET", Path: "/trials/{trial}/rounds", Tag: "Trials", Summary: "What of the rounds of its bench a trial does not have yet", Scopes: reads,
			Doc: "Values of days on which both say something else are clashes, which somebody decides."},
			func(c *Call, p trialPath, _ None) (wire.TrialTaking, error) {
				t, w, err := a.walked(c, p.Trial)
				if err != nil {
					return wire.TrialTaking{}, err
				}
				taking, err := trialbook.Take(t, *w, nil, "", a.today())
				if err != nil {
					return wire.TrialTaking{}, unfit(err, "")
				}
				return aswire.TrialTaking(taking), nil
			}),
		op(Operation{ID: "takeOverRounds", Method: "POST", Path: "/trials/{trial}/rounds", Tag: "Trials", Summary: "Take the rounds over into a trial, as they were shown", Scopes: changes, Body: 64 << 10, Once: true, Errors: []int{http.StatusConflict}},
			func(c *Call, p trialPath, b wire.TrialTakeOver) (wire.TrialTaken, error) {
				t, w, err := a.walked(c, p.Trial)
				if err != nil {
					return wire.TrialTaken{}, err
				}
				if a.o.Trials == nil {
					return wire.TrialTaken{}, readOnly()
				}
				decided := map[string]trialbook.Decision{}
				for key, d := range b.Decisions {
					if d := trialbook.Decision(d); d == trialbook.ByRounds || d == trialbook.ByTable {
						decided[key] = d
						continue
					}
					return wire.TrialTaken{}, wrongField("/decisions/"+key, "is neither rounds nor table")
				}
				by := c.By(b.By)
				if by == "" {
					return wire.TrialTaken{}, wrongField("/by", "say who takes them over")
				}
				done, err := trialbook.TakeOver(a.o.Trials, t, *w, b.Fingerprint, decided, by, a.today())
				if errors.Is(err, trialbook.ErrMoved) {
					return wire.TrialTaken{}, problem(http.StatusConflict, "changed", sentence(err), "Read it again, and take that over.")
				}
				if err != nil {
					return wire.TrialTaken{}, err
				}
				return wire.TrialTaken{Lines: len(done.Moves), Open: len(done.Clashes)}, nil
			}),
	}
}

// sayings are what was sent, with who says so.
func (a *API) sayings(c *Call, id string, all []wire.TrialSaid) (*trialbook.Page, []trialbook.Said, error) {
	t, err := a.trial(id)
	if err != nil {
		return nil, nil, err
	}
	var out []trialbook.Said
	for _, x := range all {
		out = append(out, trialbook.Said{Key: x.Key, Unit: x.Unit, Plant: x.Plant, What: underlamp.Response(x.What), Value: x.Value, Missing: x.Missing, Time: x.Time, By: c.By(x.By), With: x.With, Note: x.Note, Corrects: x.Corrects, Strike: x.Strike})
	}
	return t, out, nil
}

func recordFault(err error) error {
	if errors.Is(err, trialbook.ErrNoTable) {
		return unfit(err, "Mend the plan.")
	}
	return fieldFaults(err, func(x *trialbook.FieldError) string { return fmt.Sprintf("/records/%d/%s", x.Index, x.Field) })
}

func keptJSON(t *trialbook.Page, kept []trialbook.Kept) wire.TrialKept {
	counts := map[string]bool{}
	for _, e := range t.Standing() {
		counts[e.ID] = true
	}
	out := wire.TrialKept{Kept: []wire.TrialKeptOne{}}
	for _, k := range kept {
		out.Kept = append(out.Kept, wire.TrialKeptOne{Record: aswire.TrialRecord(k.Entry, counts[k.Entry.ID]), Again: k.Again, Doubts: append([]string{}, k.Doubts...)})
	}
	return out
}

// putDay makes the table say of a plant on a day what was put.
func (a *API) putDay(c *Call, p dayParams, b wire.TrialDay) (wire.TrialKept, error) {
	t, err := a.trial(p.Trial)
	if err != nil {
		return wire.TrialKept{}, err
	}
	if a.o.Trials == nil {
		return wire.TrialKept{}, readOnly()
	}
	if len(b.Values)+len(b.Missing) == 0 {
		return wire.TrialKept{}, wrongField("/values", "name what was seen, or under missing why nothing could be")
	}
	standing := t.Standing()
	var said []trialbook.Said
	var same []trialbook.Kept
	for _, what := range underlamp.Responses() {
		value, there := b.Values[string(what)]
		why, gone := b.Missing[string(what)]
		if !there && !gone {
			continue
		}
		s := trialbook.Said{Unit: p.Unit, Plant: p.Plant, What: what, Value: value, Missing: why, Time: p.Day, By: c.By(b.By), With: b.With, Note: b.Note}
		old := slices.IndexFunc(standing, func(e underlamp.TrialEntry) bool {
			return e.TrialUnit == p.Unit && e.Plant == p.Plant && e.What == what && strings.HasPrefix(e.Time, p.Day)
		})
		if old >= 0 {
			is := standing[old]
			v, err := trialtable.Value(what, strings.TrimSpace(value))
			if gone && is.Missing == strings.TrimSpace(why) || !gone && err == nil && is.Missing == "" && v == is.Value {
				same = append(same, trialbook.Kept{Entry: is, Again: true, Doubts: t.DoubtsOf(is)})
				continue
			}
			if !b.Replace {
				return wire.TrialKept{}, problem(http.StatusConflict, "conflict", fmt.Sprintf("The table has %s of that plant and day: %s. Nothing was kept.", what, trialbook.SaidOf(is)), "Send replace to correct it, or leave it out.").at(fault("/values/"+string(what), "differs from line "+is.ID))
			}
			s.Corrects = is.ID
		}
		h := sha256.Sum256(fmt.Appendf(nil, "%q %q %q %q %q %q %q %q", p.Trial, p.Unit, p.Plant, p.Day, what, value, why, s.Corrects))
		s.Key = "d" + hex.EncodeToString(h[:10])
		said = append(said, s)
	}
	for name := range b.Values {
		if !slices.Contains(underlamp.Responses(), underlamp.Response(name)) {
			return wire.TrialKept{}, wrongField("/values/"+name, "is nothing that is looked at in trials")
		}
	}
	for name := range b.Missing {
		if !slices.Contains(underlamp.Responses(), underlamp.Response(name)) {
			return wire.TrialKept{}, wrongField("/missing/"+name, "is nothing that is looked at in trials")
		}
	}
	var kept []trialbook.Kept
	if len(said) > 0 {
		if kept, err = trialbook.Record(a.o.Trials, t, said, a.today()); err != nil {
			return wire.TrialKept{}, fieldFaults(err, func(x *trialbook.FieldError) string {
				if x.Field == "value" {
					return "/values/" + string(said[x.Index].What)
				}
				return "/" + x.Field
			})
		}
	}
	return keptJSON(t, append(same, kept...)), nil
}

// walked is what was seen on the rounds of the bench of a trial.
func (a *API) walked(c *Call, id string) (*trialbook.Page, *trialbook.Walked, error) {
	t, err := a.trial(id)
	if err != nil {
		return nil, nil, err
	}
	if a.o.Keep == nil {
		return nil, nil, noStore()
	}
	b := a.benchUnder(t)
	var plots []trialbook.Plot
	if b != nil {
		plots = a.plots(t, b)
	}
	if plots == nil {
		return nil, nil, problem(http.StatusUnprocessableEntity, "unfit", "The rounds of no bench belong to this trial: its plan names no bench here whose lamps are its units.", "Write the bench into the plan.")
	}
	rec, err := a.roundRecord(c, b.ID())
	if err != nil {
		return nil, nil, err
	}
	return t, &trialbook.Walked{Record: rec, Bench: b.Bench(), Plots: plots}, nil
}

// roundRecord is what was seen on a bench.
func (a *API) roundRecord(c *Call, bench string) (*round.Record, error) {
	if a.o.Keep == nil {
		return nil, noStore()
	}
	rec, faults, err := round.Load(c.Context(), a.o.Keep, bench, a.o.Zone())
	for _, f := range faults {
		a.o.Log.Warn("an observation cannot be read", "bench", bench, "err", f)
	}
	return rec, err
}

// mostPreview is how many values a preview shows.
const mostPreview = 200

var tableKinds = []string{"text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}

type uploadPath struct {
	trialPath
	Upload string   `path:"upload" maxlen:"64"`
	Column []string `query:"column" doc:"what a heading is: Lamp code=unit; may be said several times" example:"Weight=mass"`
}

type importPath struct {
	trialPath
	Import int    `path:"number" min:"1"`
	By     string `query:"by" maxlen:"80" doc:"who undoes it; the name of the token if it is not said"`
}

func (a *API) importOps() []Operation {
	return []Operation{
		op(Operation{ID: "sendTrialTable", Method: "POST", Path: "/trials/{trial}/uploads", Tag: "Trials", Summary: "Send a table of another make, to look at what its import would keep", Scopes: changes, Body: trialbook.MostUpload, Takes: tableKinds, Once: true, Status: http.StatusCreated,
			Doc: "CSV or XLSX, one plant a row. Nothing is kept in the trial: the answer says what each column is taken for and what would be kept. The table waits for two hours."},
			func(c *Call, p struct {
				trialPath
				Name string `query:"file" maxlen:"200" doc:"what the table is called"`
			}, raw []byte) (wire.TrialPreview, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return wire.TrialPreview{}, err
				}
				if _, err := trialtable.Open(raw, "", 0, sheet.Conventions{}); err != nil {
					return wire.TrialPreview{}, unfit(fmt.Errorf("this is no table that can be read: %w", err), "CSV and XLSX can; from an older workbook, save as one of these.")
				}
				token := a.uploads.Put(p.Trial, p.Name, raw)
				c.Created("/trials/" + p.Trial + "/uploads/" + token)
				return a.previewTable(t, a.uploads.Get(p.Trial, token), nil)
			}),
		op(Operation{ID: "previewTrialImport", Method: "GET", Path: "/trials/{trial}/uploads/{upload}", Tag: "Trials", Summary: "What the import of a table would keep", Scopes: changes, Errors: []int{http.StatusGone}},
			func(c *Call, p uploadPath, _ None) (wire.TrialPreview, error) {
				t, u, err := a.waitingTable(p.Trial, p.Upload)
				if err != nil {
					return wire.TrialPreview{}, err
				}
				columns := map[string]string{}
				for _, x := range p.Column {
					h, is, ok := strings.Cut(x, "=")
					if !ok {
						return wire.TrialPreview{}, wrongField("#column", "write HEADING=MEANING")
					}
					columns[h] = is
				}
				return a.previewTable(t, u, columns)
			}),
		op(Operation{ID: "importTrialTable", Method: "POST", Path: "/trials/{trial}/imports", Tag: "Trials", Summary: "Keep what the preview of a table showed, all or nothing", Scopes: changes, Body: 64 << 10, Once: true, Status: http.StatusCreated, Errors: []int{http.StatusGone},
			Doc: "What columns are is remembered in the plan. Values that the table of the trial holds already are not entered twice."},
			func(c *Call, p trialPath, b wire.TrialCommit) (wire.TrialImported, error) {
				t, u, err := a.waitingTable(p.Trial, b.Upload)
				if err != nil {
					return wire.TrialImported{}, err
				}
				if a.o.Trials == nil {
					return wire.TrialImported{}, readOnly()
				}
				table, err := trialtable.Open(u.Raw, "", 0, sheet.Conventions{})
				if err != nil {
					return wire.TrialImported{}, unfit(err, "Send another table.")
				}
				saying := trialbook.Saying{Columns: b.Columns, Take: b.Take}
				if _, err := trialbook.Prepare(t, table, saying, a.today()); err != nil {
					return wire.TrialImported{}, unfit(columnsSay(err), "Say under columns what it is; the preview lists what there is.")
				}
				d, err := trialbook.Import(a.o.Trials, t, table, saying, a.today())
				if err != nil {
					return wire.TrialImported{}, err
				}
				c.Created("/trials/" + p.Trial + "/imports")
				return wire.TrialImported{Import: d.Number, New: len(d.New), Same: d.Duplicates}, nil
			}),
		op(Operation{ID: "listTrialImports", Method: "GET", Path: "/trials/{trial}/imports", Tag: "Trials", Summary: "List the imports of a trial, the newest first", Scopes: changesOrReads},
			func(c *Call, p trialPath, _ None) (wire.Page[wire.TrialImport], error) {
				t, err := a.trial(p.Trial)
				out := wire.Page[wire.TrialImport]{Items: []wire.TrialImport{}}
				if err != nil {
					return out, err
				}
				for _, x := range t.Imports() {
					out.Items = append(out.Items, wire.TrialImport(x))
				}
				return out, nil
			}),
		op(Operation{ID: "undoTrialImport", Method: "DELETE", Path: "/trials/{trial}/imports/{number}", Tag: "Trials", Summary: "Undo an import", Scopes: changes,
			Doc: "What it brought is struck, as far as nobody has changed it since; the lines stay in the table. To undo it again strikes nothing."},
			func(c *Call, p importPath, _ None) (wire.TrialUndone, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return wire.TrialUndone{}, err
				}
				if a.o.Trials == nil {
					return wire.TrialUndone{}, readOnly()
				}
				if !slices.ContainsFunc(t.Imports(), func(i trialbook.Imported) bool { return i.Number == p.Import }) {
					return wire.TrialUndone{}, missing("The table has no import "+strconv.Itoa(p.Import)+".", Prefix+"/trials/"+p.Trial+"/imports lists them.")
				}
				n, err := trialbook.Undo(a.o.Trials, t, p.Import, c.By(p.By), a.today())
				return wire.TrialUndone{Import: p.Import, Struck: n}, err
			}),
	}
}

var changesOrReads = []access.Scope{access.ScopeRead, access.ScopeWrite}

// columnsSay is what is wrong with columns, without flags of the command line.
func columnsSay(err error) error {
	return errors.New(strings.NewReplacer(": say which with --column HEADING=unit", "", ": say which with --column HEADING=plant", "").Replace(err.Error()))
}

func (a *API) waitingTable(id, token string) (*trialbook.Page, *trialbook.Upload, error) {
	t, err := a.trial(id)
	if err != nil {
		return nil, nil, err
	}
	u := a.uploads.Get(id, token)
	if u == nil {
		return nil, nil, problem(http.StatusGone, "gone", "This table is here no more: it was kept for two hours, or until underlamp was started again.", "Send it once more.")
	}
	return t, u, nil
}

// previewTable is what an import would keep.
func (a *API) previewTable(t *trialbook.Page, u *trialbook.Upload, columns map[string]string) (wire.TrialPreview, error) {
	out := wire.TrialPreview{Upload: u.Token, Name: u.Name, Columns: []wire.TrialImportColumn{}, Meanings: slices.Clone(trialtable.Meanings), Ignored: []string{}, Doubts: []string{}, Records: []wire.TrialRecord{}}
	for _, r := range underlamp.Responses() {
		out.Meanings = append(out.Meanings, string(r))
	}
	table, err := trialtable.Open(u.Raw, "", 0, sheet.Conventions{})
	if err != nil {
		return out, unfit(err, "Send another table.")
	}
	for _, col := range table.Columns {
		h := col.Heading
		x := wire.TrialImportColumn{Heading: h, Is: columns[h], Sample: strings.Join(col.Sample[:min(1, len(col.Sample))], "")}
		if x.Is == "" {
			x.Is = t.Trial.Columns[h]
		}
		if x.Is == "" {
			x.Is = trialtable.Guess(h)
		}
		out.Columns = append(out.Columns, x)
	}
	d, err := trialbook.Prepare(t, table, trialbook.Saying{Columns: columns}, a.today())
	if err != nil {
		out.Wrong = sentence(columnsSay(err))
		return out, nil
	}
	out.New, out.Same, out.Empty, out.NextCount = len(d.New), d.Duplicates, d.Missing, d.Number
	out.Ignored, out.Doubts = append(out.Ignored, d.Ignored...), append(out.Doubts, d.Doubts...)
	for _, e := range d.New[:min(mostPreview, len(d.New))] {
		out.Records = append(out.Records, aswire.TrialRecord(e, true))
	}
	return out, nil
}
