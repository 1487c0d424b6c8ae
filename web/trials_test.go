package web_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A trial is listed and told; one that cannot be told says why.
func TestTrials(t *testing.T) {
	dir := folder(t)
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// Two lamps each, plants that all burn, none, or are of one mass; and one lamp each.
	plan := func(response string, units int) string {
		var b strings.Builder
		fmt.Fprintf(&b, "underlamp trial: 1\nname: odd %s %d\ntable: odd-%s-%d.csv\nresponse: %s\nlayout: complete\nseed: 1\ntreatments:\n  - {name: low, dli: 10 mol/m²/d}\n  - {name: high, dli: 20 mol/m²/d}\nunits:\n", response, units, response, units, response)
		for i, treatment := range []string{"low", "high"} {
			for k := range units {
				fmt.Fprintf(&b, "  - {name: U%d%d, treatment: %s, lamp: lamp %d%d}\n", i, k, treatment, i, k)
			}
		}
		return b.String()
	}
	for _, response := range []string{"mass", "burn", "severity"} {
		for _, units := range []int{1, 2, 3} {
			id := fmt.Sprintf("odd-%s-%d", response, units)
			write(id+".yaml", plan(response, units))
			var table strings.Builder
			table.WriteString("id,time,unit,plant,what,value,missing,by,with,note,corrects,struck\n")
			n := 0
			for i := range 2 {
				for k := range units {
					for p := range 3 {
						n++
						value := map[string]int{"mass": 150, "burn": 1, "severity": i * 2}[response]
						fmt.Fprintf(&table, "r%d,2026-10-01,U%d%d,%d,%s,%d,,,,,,\n", n, i, k, p+1, response, value)
					}
				}
			}
			write(id+".csv", table.String())
		}
	}
	write("no-table.yaml", plan("mass", 4))
	write("wrong.yaml", "underlamp trial: 1\nnonsense: 1\n")
	s := site(t, dir)
	_, _, list := get(t, s.URL+"/")
	for _, want := range []string{`href="/trial/light-levels.trial"`, "Does more light pay", `href="/trial/odd-burn-2"`} {
		if !strings.Contains(list, want) {
			t.Errorf("the first page has no %q", want)
		}
	}
	status, _, page := get(t, s.URL+"/trial/light-levels.trial")
	for _, want := range []string{"The units are the repeats", "Stay at or below", "<svg", "units (the repeats)", "How each was reached", "Table of variance", "stay below"} {
		if status != 200 || !strings.Contains(page, want) {
			t.Errorf("%d, no %q", status, want)
		}
	}
	status, _, page = get(t, s.URL+"/trial/lamp-colours.trial")
	for _, want := range []string{"Growth: fresh mass", "on day", "after Holm", "Relative growth rate", "Growth by unit as a table"} {
		if status != 200 || !strings.Contains(page, want) {
			t.Errorf("%d, no %q on the page of a trial with several weighings", status, want)
		}
	}
	for _, response := range []string{"mass", "burn", "severity"} {
		for _, units := range []int{1, 2, 3} {
			status, _, page := get(t, fmt.Sprintf("%s/trial/odd-%s-%d", s.URL, response, units))
			if status != 200 && status != 422 || strings.Contains(page, "NaN") || strings.Contains(page, "Inf") {
				t.Errorf("%s, %d units: %d\n%s", response, units, status, page)
			}
			t.Logf("%s, %d units: %d, %d bytes", response, units, status, len(page))
		}
	}
	for id, want := range map[string]int{"no-table": 422, "wrong": 422, "nobody": 404, "tier-1-top": 404, "..%2fx": 404} {
		if status, _, page := get(t, s.URL+"/trial/"+id); status != want || len(page) < 100 {
			t.Errorf("%s answers %d, want %d", id, status, want)
		}
	}
}
