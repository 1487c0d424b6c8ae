package api_test

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"underlamp/web"
)

// Everything that the pages do can be done by a program: each address of the pages names the
// operations that do the same, or why there are none. The table in docs/api.md is that list.
func TestEverythingThatPagesDo(t *testing.T) {
	w := newWorld(t)
	ids := map[string]bool{}
	for _, o := range w.site.API().Operations() {
		ids[o.ID] = false
	}
	covers := web.Covers()
	var known []string
	for _, c := range covers {
		known = append(known, c.Pattern)
		if (len(c.Ops) == 0) == (c.Why == "") {
			t.Errorf("%s names operations or says why there are none, one of both", c.Pattern)
		}
		for _, id := range c.Ops {
			if _, ok := ids[id]; !ok {
				t.Errorf("%s: there is no operation %q", c.Pattern, id)
			}
			ids[id] = true
		}
	}
	var routes []string
	for _, r := range w.site.Routes() {
		routes = append(routes, r.Pattern)
		if !slices.Contains(known, r.Pattern) {
			t.Errorf("%s: what of the API does the same? Say so in web/covers.go", r.Pattern)
		}
	}
	for _, p := range known {
		if !slices.Contains(routes, p) {
			t.Errorf("web/covers.go tells of %s, which is no address", p)
		}
	}
	table := coverTable(covers, ids)
	const file, begin, end = "../docs/api.md", "<!-- pages: begin -->\n", "<!-- pages: end -->\n"
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	from, to := bytes.Index(text, []byte(begin)), bytes.Index(text, []byte(end))
	if from < 0 || to < from {
		t.Fatalf("%s has no lines %q and %q", file, begin, end)
	}
	from += len(begin)
	if *update {
		if err := os.WriteFile(file, slices.Concat(text[:from], table, text[to:]), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if !bytes.Equal(text[from:to], table) {
		t.Errorf("the table of pages in docs/api.md is not that of web/covers.go; go test ./api -run Everything -update writes it")
	}
}

// coverTable is the list as a table, with the operations that no page has.
func coverTable(covers []web.Cover, used map[string]bool) []byte {
	var b bytes.Buffer
	b.WriteString("\n| page | operations of the API |\n|---|---|\n")
	for _, c := range covers {
		does := c.Why
		if len(c.Ops) > 0 {
			does = "`" + strings.Join(c.Ops, "`, `") + "`"
		}
		fmt.Fprintf(&b, "| `%s` | %s |\n", c.Pattern, does)
	}
	var more []string
	for id, yes := range used {
		if !yes {
			more = append(more, id)
		}
	}
	slices.Sort(more)
	fmt.Fprintf(&b, "\nWithout a page: `%s`.\n\n", strings.Join(more, "`, `"))
	return b.Bytes()
}
