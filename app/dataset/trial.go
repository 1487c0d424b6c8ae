package dataset

import (
	"cmp"
	"context"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/aboutfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
	"underlamp/formats/trialtable"
	"underlamp/working"
)

// A Program is what makes a package.
type Program struct{ Name, Version string }

// An Ask is what to pack.
type Ask struct {
	Folder  fs.FS            // where the files lie
	About   *aboutfile.About // what is said of the data; nil: nothing
	Records *Records         // of a store; nil: none
	Program Program
	Created time.Time
	Names   Names // whose leave; empty: all

	NoFindings string // why there are none; see [Ask.Told]

	tells     *trial.Findings // nil: none can be told
	tellsJSON []byte          // the same, as the program prints them
	hidden    []aboutfile.Person
}

// OfTrial is everything of a trial. It fails where the table names units that the plan does
// not have: a package holds to its own references.
func OfTrial(ctx context.Context, a Ask, p *trialbook.Page) (*datapackage.Package, error) {
	t := p.Trial
	for _, e := range p.All {
		if err := trialbook.KnownUnit(t, e.TrialUnit); err != nil {
			return nil, fmt.Errorf("%s, line %d: %w; correct it first", t.Table, e.Line, err)
		}
	}
	a.ofAuthors()
	out := a.begin(KindTrial, cmp.Or(t.Name, p.File), p.File)
	out.Made.Seed = strconv.FormatUint(t.Seed, 10)
	files := newFiles(a.Folder)
	files.add(p.File, "Plan of the trial", "The plan as it was written; underlamp reads it again.")
	if t.Table != "" {
		files.add(path.Join(path.Dir(p.File), t.Table), "Table of observations", "The table as it was kept. The same stands in data/observations.csv, from which findings are read.")
	}
	add := func(s schema, rows [][]any) {
		if len(rows) > 0 {
			out.Tables = append(out.Tables, s.table(rows))
		}
	}
	missing := &out.Missing
	add(treatments, treatmentRows(t))
	add(factors, factorRows(t))
	add(units, unitRows(t))
	var bench *underlamp.Bench
	if t.Bench == "" {
		*missing = append(*missing, datapackage.Missing{What: "The bench: lamps, walls, air, and the computed light of the units.", How: "Write bench: with the name of a bench file into the plan."})
	} else if b, err := benchfolder.Bench(a.Folder, t.Bench); err != nil {
		*missing = append(*missing, datapackage.Missing{What: "The bench " + t.Bench + ".", How: fmt.Sprintf("It cannot be read: %v.", err)})
	} else {
		bench = b
		files.bench(t.Bench, b)
		lit, places, why := lightRows(b, t)
		add(lightSchema, lit)
		add(plots, places)
		if why != "" {
			*missing = append(*missing, datapackage.Missing{What: "The computed light of the units.", How: why})
		}
	}
	if len(p.All) > 0 {
		add(observations, observationRows(p.All))
		s := plantDays
		rows, dated := plantDayRows(t, p.Standing())
		if !dated { // a key has no empty cells
			s.key = nil
		}
		add(s, rows)
	} else {
		*missing = append(*missing, datapackage.Missing{What: "What was seen of the plants.", How: "Enter it: underlamp trial record, or the page Record of the trial."})
	}
	if a.tells != nil {
		add(figures, figureRows(a.tells))
		files.put(datapackage.File{Path: "findings.json", Title: "Findings", About: "What the trial tells, as the program prints it: summary, units, variance, parts with figures, intervals, workings, notes.", Media: "application/json", Data: a.findings(t)})
	} else if a.NoFindings != "" {
		*missing = append(*missing, datapackage.Missing{What: "Findings.", How: a.NoFindings})
	}
	if bench != nil {
		add(readings, readingRows(bench))
	}
	from, until := spanOf(t, p.Standing())
	changed, err := a.records(ctx, out, bench, t.Bench, from, until)
	if err != nil {
		return nil, err
	}
	addChanges(out, append(eventRows(t), changed...))
	out.Files = files.all
	if err := a.miappe(out, t, bench, p); err != nil {
		return nil, err
	}
	table := t.Table
	if table != "" {
		table = path.Join(path.Dir(p.File), table)
	}
	if err := a.leaveOut(out, table); err != nil {
		return nil, err
	}
	a.describe(out, t)
	return out, nil
}

func treatmentRows(t *underlamp.Trial) (rows [][]any) {
	for _, x := range t.Treatments {
		rows = append(rows, []any{x.Name, x.Control, tables.Above0(x.DLI), tables.TextOf(x.Note)})
	}
	return rows
}

func factorRows(t *underlamp.Trial) (rows [][]any) {
	for _, x := range t.Treatments {
		for i, l := range x.Levels {
			if i < len(t.Factors) {
				rows = append(rows, []any{x.Name, t.Factors[i].Name, l, tables.TextOf(t.Factors[i].Unit)})
			}
		}
	}
	return rows
}

func aimOf(t *underlamp.Trial, treatment string) any {
	for _, x := range t.Treatments {
		if x.Name == treatment {
			return tables.Above0(x.DLI)
		}
	}
	return nil
}

func unitRows(t *underlamp.Trial) (rows [][]any) {
	for _, u := range t.Places {
		row := []any{u.Name, u.Treatment, tables.TextOf(u.Block), tables.TextOf(u.Place), tables.TextOf(u.Whole), tables.TextOf(u.Part), tables.TextOf(u.Lamp), aimOf(t, u.Treatment), tables.Above0(u.DLI), nil, nil, nil, nil, nil}
		if u.Plants > 0 {
			row[9] = int64(u.Plants)
		}
		if c := t.Cycle(u.Block); c != nil {
			row[10], row[11] = tables.DateOf(c.Transplanted), tables.DateOf(c.Harvested)
			if c.StartMass != nil {
				row[12], row[13] = tables.Above0(c.StartMass.Value), c.StartMass.Origin.String()
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// lightRows are the computed light of units and the places of plants; why says why there
// are none.
func lightRows(b *underlamp.Bench, t *underlamp.Trial) (lit, places [][]any, why string) {
	m, err := light.NewModel(b)
	if err != nil {
		return nil, nil, fmt.Sprintf("The light of the bench cannot be worked out: %v.", err)
	}
	l, err := trial.CheckLight(m, t, trial.LightOptions{KeepPlaces: true})
	if err != nil {
		return nil, nil, fmt.Sprintf("The units cannot be found on the bench: %v.", err)
	}
	seen, known, at := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, u := range t.Places {
		known[u.Name] = true
	}
	for _, block := range l.Blocks {
		for _, u := range block.Units {
			if seen[u.Unit] {
				continue
			}
			seen[u.Unit] = true
			lit = append(lit, []any{u.Unit, tables.TextOf(u.Block), tables.TextOf(u.Lamp), tables.Above0(u.Aim), tables.NumberOf(u.Now), tables.NumberOf(u.Got), tables.NumberOf(u.GotPPFD), tables.NumberOf(u.Hours), tables.NumberOf(u.Dimming), tables.NumberOf(u.Power), tables.NumberOf(u.SpreadBefore), tables.NumberOf(u.Spread), tables.NumberOf(min(1, max(0, u.FromOthers))), tables.NumberOf(u.AtEdge)})
			for _, p := range u.Plants {
				if key := p.Unit + "\x00" + p.Plant; known[p.Unit] && !at[key] {
					at[key] = true
					places = append(places, []any{p.Unit, p.Plant, tables.TextOf(u.Block), tables.TextOf(p.Name), tables.TextOf(p.Code), tables.NumberOf(p.X), tables.NumberOf(p.Y), tables.NumberOf(p.PPFD), tables.NumberOf(p.DLI), p.AtEdge, tables.TextOf(p.Guard)})
				}
			}
		}
	}
	return lit, places, ""
}

func observationRows(all []underlamp.TrialEntry) (rows [][]any) {
	counts := map[string]bool{}
	for _, e := range trialtable.Standing(all) {
		counts[e.ID] = true
	}
	for _, e := range all {
		var value any
		if e.Missing == "" && !e.Struck {
			value = tables.NumberOf(e.Value)
		}
		rows = append(rows, []any{e.ID, tables.TextOf(e.Time), tables.DateOf(e.Time), e.TrialUnit, e.Plant, string(e.What), value, tables.TextOf(e.What.Unit()), tables.TextOf(e.Missing), tables.TextOf(e.By), tables.TextOf(e.With), tables.TextOf(e.Note), tables.TextOf(e.Corrects), e.Struck, counts[e.ID]})
	}
	return rows
}

// EntriesOf reads the entries of a trial back from the table of observations.
func EntriesOf(t *tables.Table) ([]underlamp.TrialEntry, error) {
	at := map[string]int{}
	for _, c := range observations.columns {
		i := t.At(c.Name)
		if i < 0 || t.Columns[i].Kind != c.Kind {
			return nil, fmt.Errorf("the table %s has no column %q of the type %s", t.Name, c.Name, c.Kind)
		}
		at[c.Name] = i
	}
	var out []underlamp.TrialEntry
	n := 1
	err := t.Each(func(row []any) error {
		n++
		word := func(name string) string { return tables.Print(row[at[name]]) }
		e := underlamp.TrialEntry{ID: word("id"), Time: word("time"), TrialUnit: word("unit"), Plant: word("plant"), What: underlamp.Response(word("what")), Missing: word("missing"), By: word("by"), With: word("with"), Note: word("note"), Corrects: word("corrects"), Line: n}
		e.Struck, _ = row[at["struck"]].(bool)
		if e.Missing == "" && !e.Struck {
			v, ok := row[at["value"]].(float64)
			if !ok {
				return fmt.Errorf("row %d of the table %s: neither a value nor why it is missing", n-1, t.Name)
			}
			e.Value = v
		}
		out = append(out, e)
		return nil
	})
	return out, err
}

// plantDayRows are plants by day; dated says that every one has a day.
func plantDayRows(t *underlamp.Trial, standing []underlamp.TrialEntry) (rows [][]any, dated bool) {
	unitOf := map[string]underlamp.TrialUnit{}
	for _, u := range t.Places {
		unitOf[u.Name] = u
	}
	const before = 11 // columns before the responses
	at := map[string]int{}
	dated = true
	for _, e := range standing {
		u := unitOf[e.TrialUnit]
		day := tables.DateOf(e.Time)
		key := e.TrialUnit + "\x00" + e.Plant + "\x00" + tables.Print(day)
		i, ok := at[key]
		if !ok {
			i = len(rows)
			at[key] = i
			row := make([]any, before+len(underlamp.Responses()))
			dli := tables.Above0(u.DLI)
			if dli == nil {
				dli = aimOf(t, u.Treatment)
			}
			copy(row, []any{e.TrialUnit, e.Plant, day, nil, u.Treatment, tables.TextOf(u.Block), tables.TextOf(u.Place), tables.TextOf(u.Whole), tables.TextOf(u.Part), tables.TextOf(u.Lamp), dli})
			if day == nil {
				dated = false
			} else if c := t.Cycle(u.Block); c != nil {
				if start, ok := tables.DayOf(c.Transplanted); ok {
					row[3] = int64(day.(tables.Day).Midnight().Sub(start.Midnight()).Hours() / 24)
				}
			}
			rows = append(rows, row)
		}
		k := before + slices.Index(underlamp.Responses(), e.What)
		if e.Missing != "" || k < before {
			continue
		}
		if e.What == underlamp.ResponseBurn && rows[i][k] != nil { // does not heal
			rows[i][k] = max(rows[i][k].(float64), e.Value)
			continue
		}
		rows[i][k] = tables.NumberOf(e.Value)
	}
	slices.SortStableFunc(rows, func(a, b []any) int { return cmp.Compare(tables.Print(a[2]), tables.Print(b[2])) })
	return rows, dated
}

func figureRows(f *trial.Findings) (rows [][]any) {
	for _, p := range f.Parts {
		for _, x := range p.Figures {
			rows = append(rows, figureRow(p.Title, x))
		}
	}
	return rows
}

func figureRow(part string, x working.Figure) []any {
	row := []any{part, x.Name, tables.NumberOf(x.Value), tables.TextOf(x.Word), tables.TextOf(x.Unit), nil, nil, nil, nil, tables.TextOf(x.Working.Formula), tables.TextOf(joined(x.Working.Sources))}
	if b := x.Band; b != nil {
		row[5], row[6], row[8] = tables.NumberOf(b.Low), tables.NumberOf(b.High), tables.TextOf(b.Over)
		if b.Level > 0 && b.Level <= 1 {
			row[7] = b.Level
		}
	}
	return row
}

func readingRows(b *underlamp.Bench) (rows [][]any) {
	for _, r := range b.Readings {
		var dim any
		if r.Dimming.Value > 0 {
			dim = tables.NumberOf(r.Dimming.Value)
		}
		rows = append(rows, []any{tables.TextOf(r.Name), tables.NumberOf(r.X), tables.NumberOf(r.Y), tables.NumberOf(r.Height), tables.NumberOf(r.PPFD), tables.TextOf(joined(r.Lamps)), dim, tables.TextOf(r.When)})
	}
	return rows
}

// eventRows are what the plan says of its blocks.
func eventRows(t *underlamp.Trial) (rows [][]any) {
	for _, c := range t.Cycles {
		for _, x := range []struct{ day, event, what string }{{c.Transplanted, "transplanting", "Plants were set under the lamps."}, {c.Harvested, "harvest", "Plants were cut."}} {
			if d := tables.DateOf(x.day); d != nil {
				rows = append(rows, []any{d, nil, x.event, tables.TextOf(c.Block), x.what, nil, nil, nil})
			}
		}
	}
	return rows
}

func addChanges(out *datapackage.Package, rows [][]any) {
	if len(rows) == 0 {
		return
	}
	out.Tables = append(out.Tables, changes.table(rows))
	slices.SortStableFunc(rows, func(a, b []any) int {
		return cmp.Or(cmp.Compare(tables.Print(a[0]), tables.Print(b[0])), cmp.Compare(tables.Print(a[1]), tables.Print(b[1])))
	})
}

// spanOf is from when to when a trial was grown, as far as it says; zero where it does not.
func spanOf(t *underlamp.Trial, standing []underlamp.TrialEntry) (from, until time.Time) {
	look := func(s string) {
		d, ok := tables.DayOf(s)
		if !ok {
			return
		}
		at := d.Midnight()
		if from.IsZero() || at.Before(from) {
			from = at
		}
		if at.After(until) {
			until = at
		}
	}
	for _, c := range t.Cycles {
		look(c.Transplanted)
		look(c.Harvested)
	}
	for _, e := range standing {
		look(e.Time)
	}
	return from, until
}

// files are what goes as it is, under files/.
type files struct {
	folder fs.FS
	all    []datapackage.File
	seen   map[string]bool
}

func newFiles(folder fs.FS) *files { return &files{folder: folder, seen: map[string]bool{}} }

func (f *files) put(x datapackage.File) {
	if !f.seen[x.Path] {
		f.seen[x.Path] = true
		f.all = append(f.all, x)
	}
}

// add takes a file of the folder; one that is not there is left out.
func (f *files) add(name, title, about string) {
	data, err := fs.ReadFile(f.folder, name)
	if err == nil {
		f.put(datapackage.File{Path: under + name, Title: title, About: about, Media: mediaOf(name), Data: data})
	}
}

// bench takes a bench file and what it names.
func (f *files) bench(name string, b *underlamp.Bench) {
	f.add(name, "Bench", "The bench file as it is now; underlamp reads it again.")
	for _, n := range benchfolder.Named(b) {
		f.add(path.Join(path.Dir(name), n), path.Base(n), "A file that the bench file names.")
	}
}

// under is where files lie that go as they are.
const under = "files/"

func mediaOf(name string) string {
	switch path.Ext(name) {
	case ".yaml", ".yml":
		return "application/yaml"
	case ".csv":
		return "text/csv"
	case ".json":
		return "application/json"
	}
	return "text/plain"
}
