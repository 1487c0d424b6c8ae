package report

import (
	"fmt"
	"html/template"
	"slices"
	"time"

	"underlamp"
	"underlamp/draw"
)

// TrialLayout is the layout as a table, cycles by lamps; units without a block stand in
// one row.
func TrialLayout(t *underlamp.Trial) (head []string, rows [][]string) {
	head = []string{"block"}
	var blocks []string
	for _, u := range t.Places {
		if !slices.Contains(head, u.Lamp) {
			head = append(head, u.Lamp)
		}
		if !slices.Contains(blocks, u.Block) {
			blocks = append(blocks, u.Block)
		}
	}
	for _, b := range blocks {
		row := make([]string, len(head))
		row[0] = b
		for _, u := range t.Places {
			if u.Block != b {
				continue
			}
			cell := u.Treatment
			if u.Part != "" {
				cell += " " + u.Part
			}
			j := slices.Index(head, u.Lamp)
			if row[j] != "" {
				cell = row[j] + ", " + cell
			}
			row[j] = cell
		}
		rows = append(rows, row)
	}
	return head, rows
}

const mostSheetPlants = 5000

// TrialSheet is a trial as one HTML file to print, see [TrialSheetSection].
func TrialSheet(t *underlamp.Trial, start string, days int) ([]byte, error) {
	section, err := TrialSheetSection(t, start, days)
	if err != nil {
		return nil, err
	}
	return []byte(render("sectionpage.tmpl", sectionPage{t.Name, "Sheet of the trial", "", template.CSS(CSS() + "@media print{table{page-break-inside:auto}tr{page-break-inside:avoid}}"), section, Cautions()})), nil
}

// TrialSheetSection is what one needs to run a trial: layout, jobs by day, a line for each
// plant with its code. start is the first day of the first block, as YYYY-MM-DD, or
// empty; days is the length of a cycle.
func TrialSheetSection(t *underlamp.Trial, start string, days int) (template.HTML, error) {
	if days < 1 || days > 400 {
		return "", fmt.Errorf("a cycle lasts 1 to 400 days, not %d", days)
	}
	var first time.Time
	if start != "" {
		var err error
		if first, err = time.Parse(time.DateOnly, start); err != nil {
			return "", fmt.Errorf("%q is no day such as 2026-10-01", start)
		}
	}
	head, rows := TrialLayout(t)
	lay := draw.Table{Caption: fmt.Sprintf("What each lamp gets; %s, seed %d", t.Layout, t.Seed), Head: head, Rows: rows}
	day := func(n int) string {
		if first.IsZero() {
			return fmt.Sprintf("day %d", n)
		}
		return first.AddDate(0, 0, n).Format(time.DateOnly)
	}
	jobs := draw.Table{Caption: "Jobs", Head: []string{"day", "block", "job"}}
	for i, r := range rows {
		at := i * (days + 1)
		jobs.Rows = append(jobs.Rows,
			[]string{day(at), r[0], "Set the lamps as the layout says; read the light at every unit and write it down. Transplant."},
			[]string{day(at + days/3), r[0], "Look at every plant for burn. Read the light again at canopy height."},
			[]string{day(at + 2*days/3), r[0], "Look at every plant for burn."},
			[]string{day(at + days), r[0], "Look for burn, then cut and weigh every plant that counts, in a drawn order; guards apart."})
	}
	lines := draw.Table{Caption: "What is seen: write a reason where nothing can be read", Head: []string{"code", "treatment", string(t.Response), "burn", "note"}}
	n := 0
	for _, u := range t.Places {
		for p := range max(u.Plants, 1) {
			if n++; n > mostSheetPlants {
				return "", fmt.Errorf("the trial has more than %d plants; that is no sheet to print", mostSheetPlants)
			}
			lines.Rows = append(lines.Rows, []string{fmt.Sprintf("%s-P%d", u.Name, p+1), u.Treatment, "", "", ""})
		}
	}
	scroll := func(label string, tab draw.Table) template.HTML {
		return template.HTML(`<div class="d-scroll" role="region" tabindex="0" aria-label="`+label+`">`) + template.HTML(tab.HTML()) + "</div>"
	}
	return template.HTML("<p>") + template.HTML(template.HTMLEscapeString(t.Question)) + "</p>" + scroll("Layout", lay) + scroll("Jobs", jobs) + scroll("What is seen", lines), nil
}
