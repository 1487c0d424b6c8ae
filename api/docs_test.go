package api_test

import (
	"bytes"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"underlamp/access"
	"underlamp/api"
)

// docs is the guide; its tables of scopes and operations come from the table in Go. Its examples
// are run by docs/blocks_test.go.
const docs = "../docs/api.md"

var tables = map[string]*regexp.Regexp{
	"scopes":     regexp.MustCompile(`(?s)\| scope \| may \|\n\|---\|---\|\n(<!-- scopes -->\n|(?:\|[^\n]*\n)+)`),
	"operations": regexp.MustCompile(`(?s)## Operations\n\n.*$`),
}

// The tables of the guide are those of the program.
//
//	go test ./api -run Reading/GuideTable -update
func guideHasTheTable(t *testing.T, w *world) {
	text, err := os.ReadFile(docs)
	if err != nil {
		t.Fatal(err)
	}
	scopes := "| scope | may |\n|---|---|\n"
	for _, s := range access.Scopes {
		scopes += fmt.Sprintf("| `%s` | %s |\n", s, s.Says())
	}
	want := tables["scopes"].ReplaceAllLiteral(text, []byte(scopes))
	want = tables["operations"].ReplaceAllLiteral(want, []byte("## Operations\n\n"+operationsTable(w.site.API().Operations())))
	if *update {
		if err := os.WriteFile(docs, want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(text, want) {
		t.Error("docs/api.md has other tables than the program; the comment here says how to write them")
	}
}

func operationsTable(ops []api.Operation) string {
	var order []string
	rows := map[string]string{}
	for _, o := range ops {
		if rows[o.Tag] == "" {
			order = append(order, o.Tag)
		}
		var need []string
		for _, s := range o.Scopes {
			need = append(need, "`"+string(s)+"`")
		}
		rows[o.Tag] += fmt.Sprintf("| %s `%s` | %s | %s |\n", o.Method, o.Path, strings.Join(need, " or "), o.Summary)
	}
	var b strings.Builder
	for i, tag := range order {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "### %s\n\n| | scope | |\n|---|---|---|\n%s", tag, rows[tag])
	}
	return b.String()
}
