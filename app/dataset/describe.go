package dataset

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
)

func layoutSeed(t *underlamp.Trial) string { return fmt.Sprint(t.Seed) }

// describe writes the words that go with a package: its description, README.md and, where
// there are authors, CITATION.cff.
// The trial is nil for a bench.
func (a *Ask) describe(p *datapackage.Package, t *underlamp.Trial) {
	said := ""
	if a.About != nil {
		said = a.About.Description
	}
	kind := "A trial with leafy greens under lamps"
	if p.Made.Kind == KindBench {
		kind = "A bench of leafy greens under lamps"
	}
	p.Description = kind + ", written by " + p.Made.Program + " " + p.Made.Version + "."
	if t != nil && t.Question != "" {
		p.Description = "Question: " + t.Question + " " + p.Description
	}
	if said != "" {
		p.Description = said + " " + p.Description
	}
	p.About = a.readme(p, t, said)
	p.Citation = a.citation(p)
}

func (a *Ask) readme(p *datapackage.Package, t *underlamp.Trial, said string) string {
	var b strings.Builder
	line := func(format string, x ...any) { fmt.Fprintf(&b, format+"\n", x...) }
	line("# %s\n", p.Title)
	if said != "" {
		line("%s\n", said)
	}
	if t != nil && t.Question != "" {
		line("**Question**: %s\n", t.Question)
	}
	line("This is a data package: tables as CSV, and `datapackage.json`, which says of every column what it is, in which unit, and what can stand in it. It was written by %s %s on %s.\n", p.Made.Program, p.Made.Version, a.Created.UTC().Format(time.DateOnly))
	if p.Licence != nil {
		line("**Licence**: %s\n", strings.TrimSpace(p.Licence.Name+" "+p.Licence.Path))
	} else {
		line("**Licence**: none is given. Nobody else may use the data without asking.\n")
	}
	if len(p.People) > 0 {
		line("## Who\n")
		for _, x := range p.People {
			line("- %s", strings.Join(filled(x.Title, x.Role, x.Organization, x.Path), ", "))
		}
		line("")
	}
	line("## Tables\n")
	line("UTF-8, commas, a line of names first; an empty cell is a missing value; days are YYYY-MM-DD, instants are in UTC.")
	if a.Records != nil && a.Records.Zone != nil {
		line("Days of sensors, rounds and photos are those of the zone %s.", a.Records.Zone)
	}
	line("")
	for _, t := range p.Tables {
		line("- `data/%s.csv`: %s", t.Name, t.About)
	}
	line("")
	if len(p.Files) > 0 {
		line("## Files\n")
		for _, f := range p.Files {
			line("- `%s`: %s", f.Path, f.About)
		}
		line("")
	}
	if t != nil {
		line("## To repeat the analysis\n")
		line("```sh\nunderlamp trial findings .\n```\n")
		line("in this folder, or with the name of the zip file, reads `data/observations.csv` and the files under `files/`, and prints the findings with the same figures. In R, by the means of units:\n")
		line("```r\n%s```\n", RLines(t))
		line("Plants of one unit are not repeats; the unit is.\n")
	}
	if len(p.Missing) > 0 {
		line("## What is not given\n")
		for _, m := range p.Missing {
			line("- %s %s", m.What, m.How)
		}
		line("")
	}
	line("Findings are about these plants, lamps and rooms. Local codes and licensed practice govern whatever is built after them.")
	return b.String()
}

// RLines read plants by day in R and compare treatments by the means of units, on the last
// day of each.
func RLines(t *underlamp.Trial) string {
	what, block, model := string(t.Response), "", "treatment"
	if slices.ContainsFunc(t.Places, func(u underlamp.TrialUnit) bool { return u.Block != "" }) {
		block, model = " + block", "factor(block) + treatment"
	}
	return strings.NewReplacer("{what}", what, "{block}", block, "{model}", model).Replace(`d <- read.csv("data/plant_days.csv")
d <- d[!is.na(d${what}), ]
last <- d[d$date == ave(d$date, d$unit, FUN = max), ]
u <- aggregate({what} ~ unit + treatment{block}, last, mean)
summary(aov({what} ~ {model}, u))
`)
}

func filled(all ...string) (out []string) {
	for _, s := range all {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// citation is CITATION.cff, by version 1.2.0 of the form: it asks for an author, so that
// there is none without one.
func (a *Ask) citation(p *datapackage.Package) string {
	if len(p.People) == 0 {
		return ""
	}
	quote := func(s string) string {
		return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", " ").Replace(s) + `"`
	}
	var b bytes.Buffer
	line := func(format string, x ...any) { fmt.Fprintf(&b, format+"\n", x...) }
	line("cff-version: 1.2.0")
	line("message: %s", quote("If you use these data, please cite them as below."))
	line("type: dataset")
	line("title: %s", quote(p.Title))
	line("authors:")
	authors := p.People
	if only := authorsOf(p.People); len(only) > 0 {
		authors = only
	}
	for _, x := range authors {
		line("  - name: %s", quote(x.Title))
		if x.Organization != "" {
			line("    affiliation: %s", quote(x.Organization))
		}
		if strings.HasPrefix(x.Path, "https://orcid.org/") {
			line("    orcid: %s", quote(x.Path))
		}
	}
	if p.Version != "" {
		line("version: %s", quote(p.Version))
	}
	if a.About != nil && a.About.Released != "" {
		line("date-released: %s", quote(a.About.Released))
	}
	if p.Licence != nil {
		line("license: %s", quote(p.Licence.Name))
	}
	if a.About != nil && strings.HasPrefix(a.About.Publication, "doi:") {
		line("doi: %s", quote(strings.TrimPrefix(a.About.Publication, "doi:")))
	}
	return b.String()
}

func authorsOf(all []datapackage.Person) (out []datapackage.Person) {
	for _, x := range all {
		if x.Role == "author" {
			out = append(out, x)
		}
	}
	return out
}

// Markdown is the list of all tables with their columns, for the documents.
func Markdown(kind string) string {
	var b strings.Builder
	for _, t := range Schemas(kind) {
		fmt.Fprintf(&b, "### `%s`\n%s", t.Name, t.About)
		if len(t.Key) > 0 {
			fmt.Fprintf(&b, " Key: %s.", "`"+strings.Join(t.Key, "`, `")+"`")
		}
		for _, r := range t.Refs {
			fmt.Fprintf(&b, " `%s` refers to `%s`.", r.Columns[0], r.Table)
		}
		b.WriteString("\n\n| column | type | unit | what it is |\n|---|---|---|---|\n")
		for _, c := range t.Columns {
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", c.Name, kindWord(c), c.Unit, c.About)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func kindWord(c tables.Column) string {
	s := string(c.Kind)
	if c.Required {
		s += ", never missing"
	}
	return s
}
