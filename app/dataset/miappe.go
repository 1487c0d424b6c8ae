package dataset

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/trialbook"
	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
	"underlamp/formats/workbook"
	"underlamp/science/crops"
	"underlamp/science/quantity"
)

// A miappeField is a line of the checklist (MIAPPE11).
type miappeField struct {
	Line string // of the checklist: DM-3
	Name string
	Must bool   // its cardinality begins with 1
	How  string // how to give it; empty: underlamp fills it, or nothing to give it with is known
}

// A miappeSection is a section of the checklist.
type miappeSection struct {
	Name   string
	Fields []miappeField
}

const (
	inSite  = "site: in about.yaml"
	inAbout = "in about.yaml"
)

// The checklist, version 1.1, as far as it can be filled for plants on a bench. Of each
// section the fields that ask for coordinates of seed and of wild plants are left out.
var miappeSections = []miappeSection{
	{"Investigation", []miappeField{{"DM-2", "Investigation unique ID", false, ""}, {"DM-3", "Investigation title", true, "title: " + inAbout}, {"DM-4", "Investigation description", false, "description: " + inAbout}, {"DM-5", "Submission date", false, ""}, {"DM-6", "Public release date", false, "released: " + inAbout}, {"DM-7", "License", false, "licence: " + inAbout}, {"DM-8", "MIAPPE version", true, ""}, {"DM-9", "Associated publication", false, "publication: " + inAbout}}},
	{"Study", []miappeField{{"DM-11", "Study unique ID", false, ""}, {"DM-12", "Study title", true, "name: in the plan"}, {"DM-13", "Study description", false, "note: in the plan"}, {"DM-14", "Start date of study", true, "cycles: transplanted: in the plan"}, {"DM-15", "End date of study", false, "cycles: harvested: in the plan"}, {"DM-16", "Contact institution", true, "institution, " + inSite}, {"DM-17", "Geographic location (country)", true, "country, " + inSite}, {"DM-18", "Experimental site name", true, "name, " + inSite}, {"DM-19", "Geographic location (latitude)", false, "latitude, " + inSite}, {"DM-20", "Geographic location (longitude)", false, "longitude, " + inSite}, {"DM-21", "Geographic location (altitude)", false, "altitude, " + inSite}, {"DM-22", "Description of the experimental design", true, ""}, {"DM-24", "Observation unit level hierarchy", false, ""}, {"DM-25", "Observation unit description", true, ""}, {"DM-26", "Description of growth facility", true, "facility, " + inSite}, {"DM-28", "Cultural practices", false, "cultivation: " + inAbout}, {"DM-29", "Map of experimental design", false, "bench: in the plan"}}},
	{"Person", []miappeField{{"DM-31", "Person name", true, "people: name: " + inAbout}, {"DM-32", "Person email", false, "people: email: " + inAbout}, {"DM-33", "Person ID", false, "people: id: " + inAbout}, {"DM-34", "Person role", true, "people: role: " + inAbout}, {"DM-35", "Person affiliation", true, "people: affiliation: " + inAbout}}},
	{"Data File", []miappeField{{"DM-37", "Data file link", true, ""}, {"DM-38", "Data file description", true, ""}, {"DM-39", "Data file version", true, "version: " + inAbout}}},
	{"Biological Material", []miappeField{{"DM-41", "Biological material ID", true, "cultivar: in the bench file, and bench: in the plan"}, {"DM-42", "Organism", true, "species: in the bench file, and bench: in the plan"}, {"DM-43", "Genus", false, ""}, {"DM-44", "Species", false, ""}, {"DM-44'", "Infraspecific name", false, "cultivar: in the bench file"}, {"DM-49", "Biological material preprocessing", false, "cultivation: " + inAbout}, {"DM-50", "Material source ID (Holding institute/stock centre, accession)", false, ""}, {"DM-56", "Material source description", false, "seed: " + inAbout}}},
	{"Environment", []miappeField{{"DM-58", "Environment parameter", true, ""}, {"DM-59", "Environment parameter value", true, ""}}},
	{"Experimental Factor", []miappeField{{"DM-61", "Experimental Factor type", true, ""}, {"DM-62", "Experimental Factor description", false, ""}, {"DM-63", "Experimental Factor values", true, ""}}},
	{"Event", []miappeField{{"DM-65", "Event type", true, ""}, {"DM-67", "Event description", false, ""}, {"DM-68", "Event date", true, ""}}},
	{"Observation Unit", []miappeField{{"DM-70", "Observation unit ID", true, ""}, {"DM-71", "Observation unit type", true, ""}, {"DM-73", "Spatial distribution", false, ""}, {"DM-74", "Observation Unit factor value", false, ""}}},
	{"Sample", []miappeField{{"DM-76", "Sample ID", true, ""}, {"DM-78", "Plant anatomical entity", true, ""}, {"DM-79", "Sample description", false, ""}, {"DM-80", "Collection date", true, ""}}},
	{"Observed Variable", []miappeField{{"DM-83", "Variable ID", true, ""}, {"DM-84", "Variable name", false, ""}, {"DM-86", "Trait", true, ""}, {"DM-88", "Method", true, ""}, {"DM-90", "Method description", false, ""}, {"DM-92", "Scale", true, ""}, {"DM-94", "Time scale", false, ""}}},
}

// miappe adds the sections of the standard as a workbook, and what of its mandatory fields is
// missing to what is not given.
func (a *Ask) miappe(out *datapackage.Package, t *underlamp.Trial, b *underlamp.Bench, p *trialbook.Page) error {
	rows := a.miappeRows(out, t, b, p)
	var book workbook.Book
	book.Title, book.Created, book.Headings = out.Title, a.Created, true
	var lacks [][]any
	for _, s := range miappeSections {
		tab := &tables.Table{Name: datapackage.Name(s.Name), Title: s.Name, About: "Section of MIAPPE 1.1.", Rows: tables.Of(rows[s.Name])}
		for i, f := range s.Fields {
			tab.Columns = append(tab.Columns, tables.Column{Name: fmt.Sprintf("f%d", i+1), Title: f.Name, Kind: tables.Text, About: f.Line})
			if !f.Must || s.Name == "Sample" { // nothing was taken for a sample
				continue
			}
			empty := len(rows[s.Name]) == 0
			for _, r := range rows[s.Name] {
				empty = empty || r[i] == nil
			}
			if empty {
				lacks = append(lacks, []any{s.Name, f.Name, f.Line, tables.TextOf(f.How)})
			}
		}
		book.Tables = append(book.Tables, tab)
	}
	book.Tables = append(book.Tables, &tables.Table{Name: "missing", Title: "Missing", About: "Mandatory fields that are empty.", Rows: tables.Of(lacks), Columns: []tables.Column{
		{Name: "section", Title: "Section", Kind: tables.Text, About: "Of the standard."}, {Name: "field", Title: "Field", Kind: tables.Text, About: "Of the standard."}, {Name: "line", Title: "Line", Kind: tables.Text, About: "Of the checklist."}, {Name: "how", Title: "How to give it", Kind: tables.Text, About: "Where to write it."}}})
	book.About = [][2]string{{"standard", "Minimum Information About a Plant Phenotyping Experiment (MIAPPE), version 1.1. One sheet a section, headings as in its checklist; fields that nothing is known for are empty. Terms of ontologies are given for the organism alone."},
		{"sample", "A sheet of the standard for tissue that is kept. A trial here takes none."}, {"missing", "The last sheet lists mandatory fields that are empty, and where to write them."}}
	var raw bytes.Buffer
	if err := workbook.Write(&raw, book); err != nil {
		return err
	}
	out.Files = append(out.Files, datapackage.File{Path: "miappe.xlsx", Title: "MIAPPE 1.1", About: "The trial in the sections of the standard for experiments with plants, with a list of mandatory fields that are missing.", Media: FormatXLSX.Media(false), Data: raw.Bytes()})
	if len(lacks) > 0 {
		var names []string
		for _, l := range lacks {
			names = append(names, fmt.Sprint(l[1]))
		}
		out.Missing = append(out.Missing, datapackage.Missing{What: "For MIAPPE 1.1: " + strings.Join(names, ", ") + ".", How: "The sheet Missing of miappe.xlsx says where each is written."})
	}
	return nil
}

func (a *Ask) miappeRows(out *datapackage.Package, t *underlamp.Trial, b *underlamp.Bench, p *trialbook.Page) map[string][][]any {
	about := a.About
	if about == nil {
		about = &aboutfile.About{}
	}
	txt := func(s string) any { return tables.TextOf(strings.TrimSpace(s)) }
	rows := map[string][][]any{}
	licence := about.Licence
	rows["Investigation"] = [][]any{{nil, txt(out.Title), txt(about.Description), nil, txt(about.Released), txt(licence), "1.1", txt(about.Publication)}}
	from, until := spanOf(t, p.Standing())
	day := func(at time.Time) any {
		if at.IsZero() {
			return nil
		}
		return at.Format(time.DateOnly)
	}
	begin := any(nil)
	for _, c := range t.Cycles {
		if c.Transplanted != "" && (begin == nil || c.Transplanted < begin.(string)) {
			begin = c.Transplanted
		}
	}
	if begin == nil {
		begin = day(from)
	}
	degrees := func(x *float64, unit string) any {
		if x == nil {
			return nil
		}
		return strings.TrimSpace(tables.Print(*x) + " " + unit)
	}
	site := about.Site
	levels := "unit>plant"
	if len(t.Places) > 0 && t.Places[0].Block != "" {
		levels = "block>unit>plant"
	}
	drawn := "treatments given to units at random, seed " + layoutSeed(t)
	if t.Layout == underlamp.SystematicLayout {
		drawn = "treatments placed by hand"
	}
	plan := any(nil)
	if out.Table("plots") != nil {
		plan = "data/plots.csv"
	}
	rows["Study"] = [][]any{{nil, txt(t.Name), txt(strings.TrimSpace(t.Question + " " + t.Note)), begin, day(until), txt(site.Institution), txt(site.Country), txt(site.Name), degrees(site.Latitude, ""), degrees(site.Longitude, ""), degrees(site.Altitude, "m"),
		txt(fmt.Sprintf("%s, %d treatments, %d units; %s", t.Layout, len(t.Treatments), len(t.Places), drawn)), levels, "A unit is what a treatment was given to, mostly a lamp in one cycle; the plants under it are observed one by one.", txt(site.Facility), txt(about.Cultivation), plan}}
	for _, x := range about.People {
		rows["Person"] = append(rows["Person"], []any{x.Name, txt(x.Email), txt(x.ID), txt(x.Role), txt(x.Affiliated)})
	}
	for _, tab := range out.Tables {
		rows["Data File"] = append(rows["Data File"], []any{"data/" + tab.Name + ".csv", "CSV, comma-separated, UTF-8; columns are described in datapackage.json. " + tab.About, txt(about.Version)})
	}
	rows["Biological Material"] = materialRows(t, b, about)
	rows["Environment"] = environmentParameters(t, b)
	rows["Experimental Factor"] = factorSections(t)
	if tab := out.Table("changes"); tab != nil {
		_ = tab.Rows(func(row []any) error {
			what := tables.Print(row[4])
			if block := tables.Print(row[3]); block != "" {
				what = block + ": " + what
			}
			when := tables.Print(row[0])
			if row[1] != nil {
				when = tables.Print(row[1])
			}
			rows["Event"] = append(rows["Event"], []any{tables.Print(row[2]), what, when})
			return nil
		})
	}
	rows["Observation Unit"] = unitSections(out, t, p)
	rows["Observed Variable"] = variableRows(p)
	return rows
}

// organisms are the species that underlamp knows, with their numbers in the taxonomy of
// NCBI as far as they are certain; from memory.
var organisms = map[string]struct{ genus, species, taxon string }{
	crops.Lettuce: {"Lactuca", "sativa", "NCBI:4236"},
}

func materialRows(t *underlamp.Trial, b *underlamp.Bench, about *aboutfile.About) (rows [][]any) {
	var names []string
	for _, u := range t.Places {
		if u.Part != "" && !slices.Contains(names, u.Part) {
			names = append(names, u.Part)
		}
	}
	for _, f := range t.Factors {
		if w := strings.ToLower(f.Name); strings.Contains(w, "cultivar") || strings.Contains(w, "variety") {
			names = append(names, f.Levels...)
		}
	}
	if len(names) == 0 && b != nil && b.Crop.Cultivar != "" {
		names = []string{b.Crop.Cultivar}
	}
	var genus, species, taxon string
	if b != nil && !b.Crop.Species.IsDefault() {
		o, known := organisms[strings.ToLower(b.Crop.Species.Value)]
		if genus, species, taxon = o.genus, o.species, o.taxon; !known {
			taxon = b.Crop.Species.Value
		}
	}
	for _, n := range names {
		rows = append(rows, []any{n, tables.TextOf(taxon), tables.TextOf(genus), tables.TextOf(species), "cultivar:" + n, tables.TextOf(about.Cultivation), nil, tables.TextOf(about.Seed)})
	}
	return rows
}

// environmentParameters are what did not change, by the names of the appendix of the
// standard; defaults of the program are left out.
func environmentParameters(t *underlamp.Trial, b *underlamp.Bench) (rows [][]any) {
	if b == nil {
		return nil
	}
	add := func(name, value string) { rows = append(rows, []any{name, value}) }
	if s := b.Setting(); s.Hours > 0 && !varies(t, "hour") {
		add("Average length of the light period", quantity.Number(float64(s.Hours), 3)+" h")
	}
	var kinds []string
	for _, l := range b.Lamps {
		if l.Kind != "" && !slices.Contains(kinds, l.Kind) {
			kinds = append(kinds, l.Kind)
		}
	}
	if len(kinds) > 0 {
		add("Type of lamps used", strings.Join(kinds, "; "))
	}
	said(&rows, "Air temperature", b.Air.Day.Temperature, quantity.Temperature, "light period: ")
	said(&rows, "Air temperature", b.Air.Night.Temperature, quantity.Temperature, "dark period: ")
	said(&rows, "Average relative humidity during the light period", b.Air.Day.Humidity, quantity.Share, "")
	said(&rows, "Average relative humidity during the dark period", b.Air.Night.Humidity, quantity.Share, "")
	if !b.Air.CO2.IsDefault() {
		add("Average CO2 during the light and dark periods", quantity.Number(float64(b.Air.CO2.Value), 3)+" µmol/mol ("+b.Air.CO2.Origin.String()+")")
	}
	if !b.Feed.EC.IsDefault() {
		add("Electrical conductivity", quantity.Number(float64(b.Feed.EC.Value), 3)+" dS/m ("+b.Feed.EC.Origin.String()+")") // 1 mS/cm is 1 dS/m
	}
	if !b.Feed.Calcium.IsDefault() {
		add("Composition of nutrient solutions used for irrigation", "Ca: "+quantity.Number(float64(b.Feed.Calcium.Value), 3)+" mg/L ("+b.Feed.Calcium.Origin.String()+")")
	}
	if !b.Feed.RootTemp.IsDefault() {
		add("Medium temperature", quantity.Number(float64(b.Feed.RootTemp.Value), 3)+" °C ("+b.Feed.RootTemp.Origin.String()+")")
	}
	return rows
}

func said[T ~float64](rows *[][]any, name string, g underlamp.Given[T], k quantity.Kind, lead string) {
	if !g.IsDefault() {
		*rows = append(*rows, []any{name, lead + k.Format(float64(g.Value), quantity.Metric, 3) + " (" + g.Origin.String() + ")"})
	}
}

// varies says that a factor of the trial is called so.
func varies(t *underlamp.Trial, word string) bool {
	return slices.ContainsFunc(t.Factors, func(f underlamp.TrialFactor) bool { return strings.Contains(strings.ToLower(f.Name), word) })
}

func factorSections(t *underlamp.Trial) (rows [][]any) {
	for _, f := range t.Factors {
		values := slices.Clone(f.Levels)
		for i := range values {
			values[i] = strings.TrimSpace(values[i] + " " + f.Unit)
		}
		rows = append(rows, []any{f.Name, tables.TextOf(t.Question), strings.Join(values, "; ")})
	}
	if len(rows) > 0 {
		return rows
	}
	name, values := "treatment", []string{}
	light := true
	for _, x := range t.Treatments {
		values = append(values, x.Name)
		light = light && x.DLI > 0
	}
	if light {
		name = "light: daily light integral"
		for i, x := range t.Treatments {
			values[i] = tables.Print(float64(x.DLI)) + " mol/m²/d"
		}
	}
	rows = append(rows, []any{name, tables.TextOf(t.Question), strings.Join(values, "; ")})
	if parts := partsOf(t); len(parts) > 1 {
		rows = append(rows, []any{"cultivar", "Grown side by side within each whole unit.", strings.Join(parts, "; ")})
	}
	return rows
}

func partsOf(t *underlamp.Trial) (out []string) {
	for _, u := range t.Places {
		if u.Part != "" && !slices.Contains(out, u.Part) {
			out = append(out, u.Part)
		}
	}
	return out
}

// unitSections are units and their plants: those that the plan of the bench places, else
// those that were seen.
func unitSections(out *datapackage.Package, t *underlamp.Trial, p *trialbook.Page) (rows [][]any) {
	treat := map[string]string{}
	for _, u := range t.Places {
		treat[u.Name] = u.Treatment
		var at []string
		for _, x := range [][2]string{{"block", u.Block}, {"lamp", u.Lamp}, {"place", u.Place}, {"whole unit", u.Whole}} {
			if x[1] != "" {
				at = append(at, x[0]+":"+x[1])
			}
		}
		factor := u.Treatment
		if u.Part != "" {
			factor += "; " + u.Part
		}
		rows = append(rows, []any{u.Name, "unit", tables.TextOf(strings.Join(at, "; ")), factor})
	}
	if tab := out.Table("plots"); tab != nil {
		_ = tab.Rows(func(row []any) error {
			u := tables.Print(row[0])
			rows = append(rows, []any{u + "/" + tables.Print(row[1]), "plant", fmt.Sprintf("unit:%s; Xm:%s; Ym:%s", u, tables.Print(row[5]), tables.Print(row[6])), tables.TextOf(treat[u])})
			return nil
		})
		return rows
	}
	seen := map[string]bool{}
	for _, e := range p.Standing() {
		key := e.TrialUnit + "/" + e.Plant
		if !seen[key] {
			seen[key] = true
			rows = append(rows, []any{key, "plant", "unit:" + e.TrialUnit, tables.TextOf(treat[e.TrialUnit])})
		}
	}
	return rows
}

// variables are what is observed, in the words of the standard. No term of the Crop Ontology
// is given: none was found for lettuce that is certain.
var variables = map[underlamp.Response][4]string{
	underlamp.ResponseMass: {"Shoot fresh mass", "Weighing", "Fresh shoot on a scale.", "g"}, underlamp.ResponseHeight: {"Plant height", "Measuring", "From the planting surface to the top.", "cm"},
	underlamp.ResponseWidth: {"Plant width", "Measuring", "Across the widest leaves.", "cm"}, underlamp.ResponseArea: {"Projected leaf area", "Photo", "Leaves as seen from above, by a label of known size.", "cm²"},
	underlamp.ResponseLeaves: {"Leaf number", "Counting", "Leaves of the shoot.", "count"}, underlamp.ResponseBurn: {"Inner tipburn", "Visual look", "Burnt margins of the youngest leaves: 0 none seen, 1 seen.", "0 to 1"},
	underlamp.ResponseSeverity: {"Severity of inner tipburn", "Visual grading", "By the share of burnt leaves: 0 none, 1 under 5 %, 2 from 5 %, 3 from 15 %, 4 from 30 %, 5 from 50 %.", "0 to 5"},
	underlamp.ResponseClear:    {"Last day without tipburn", "Visual look at rounds", "Days after transplanting.", "d"}, underlamp.ResponseFirst: {"First day with tipburn", "Visual look at rounds", "Days after transplanting.", "d"},
}

func variableRows(p *trialbook.Page) (rows [][]any) {
	used := map[underlamp.Response][]string{}
	for _, e := range p.Standing() {
		if _, ok := used[e.What]; !ok {
			used[e.What] = []string{}
		}
		if e.With != "" && !slices.Contains(used[e.What], e.With) {
			used[e.What] = append(used[e.What], e.With)
		}
	}
	for _, r := range underlamp.Responses() {
		with, ok := used[r]
		if !ok {
			continue
		}
		v := variables[r]
		how := v[2]
		if len(with) > 0 {
			how += " Instruments: " + strings.Join(with, "; ") + "."
		}
		rows = append(rows, []any{string(r), v[0], v[0], v[1], how, v[3], "Date/Time"})
	}
	return rows
}

// MIAPPEMarkdown is the table of the standard's fields and where underlamp takes them from,
// for the documents.
func MIAPPEMarkdown() string {
	var b strings.Builder
	b.WriteString("| section | field | line | mandatory | how to give it |\n|---|---|---|---|---|\n")
	for _, s := range miappeSections {
		for _, f := range s.Fields {
			must, how := "", f.How
			if f.Must {
				must = "yes"
			}
			switch {
			case s.Name == "Sample":
				how = "no tissue is kept"
			case how == "" && strings.Contains(f.Name, "ID") && !f.Must || f.Name == "Submission date":
				how = "given by the archive"
			case how == "":
				how = "filled from the trial"
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", s.Name, f.Name, f.Line, must, how)
		}
	}
	return b.String()
}
