// Command weaknesses looks for published weaknesses of the parts of a binary: with
// govulncheck, against the Go vulnerability database as its module carries it, so that
// nothing else has to be reached. It fails if the binary holds a function of a module in
// which one is known. Weaknesses of the standard library are told: they are mended by
// building with a newer Go, as releases are.
//
//	go run ./weaknesses ../underlamp
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/vuln/scan"
)

// database is the version of golang.org/x/vulndb that is asked. A newer one knows more:
// raise it now and then (go list -m golang.org/x/vulndb@latest).
const database = "v0.0.0-20261105234957-e22db6528018"

func main() {
	if err := run(context.Background(), os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "weaknesses:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out io.Writer) error {
	if len(args) != 1 {
		return errors.New("give one binary that was built with its symbols: go run ./weaknesses ../underlamp")
	}
	source, err := fetch(ctx)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "weaknesses-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := index(filepath.Join(source, "data", "osv"), dir); err != nil {
		return err
	}
	var told bytes.Buffer
	cmd := scan.Command(ctx, "-mode", "binary", "-format", "json", "-db", "file://"+filepath.ToSlash(dir), args[0])
	cmd.Stdout, cmd.Stderr = &told, os.Stderr
	if err := cmd.Start(); err != nil {
		return err
	}
	if err := cmd.Wait(); err != nil {
		return err
	}
	all, err := found(&told)
	if err != nil {
		return err
	}
	return report(out, all)
}

// fetch has the module of the database, and says where it lies.
func fetch(ctx context.Context) (string, error) {
	cmd := exec.CommandContext(ctx, "go", "mod", "download", "-json", "golang.org/x/vulndb@"+database)
	text, err := cmd.Output()
	var m struct{ Dir, Error string }
	if jsonErr := json.Unmarshal(text, &m); jsonErr != nil || m.Dir == "" {
		return "", fmt.Errorf("the database golang.org/x/vulndb@%s could not be fetched: %w", database, errors.Join(err, errors.New(m.Error)))
	}
	return m.Dir, nil
}

// An entry is what the index needs of an entry of the database, as the Open Source
// Vulnerability format has it.
type entry struct {
	ID        string     `json:"id"`
	Modified  time.Time  `json:"modified"`
	Withdrawn *time.Time `json:"withdrawn"`
	Affected  []struct {
		Package struct {
			Name string `json:"name"`
		} `json:"package"`
		Ranges []struct {
			Events []struct {
				Fixed string `json:"fixed"`
			} `json:"events"`
		} `json:"ranges"`
	} `json:"affected"`
}

// index lays a folder of entries out as govulncheck reads a database (Go vulnerability
// database, API v1).
func index(from, to string) error {
	type vuln struct {
		ID       string    `json:"id"`
		Modified time.Time `json:"modified"`
		Fixed    string    `json:"fixed,omitempty"`
	}
	type module struct {
		Path  string `json:"path"`
		Vulns []vuln `json:"vulns"`
	}
	files, err := filepath.Glob(filepath.Join(from, "GO-*.json"))
	if err != nil {
		return err
	}
	if len(files) < 1000 {
		return fmt.Errorf("%s holds %d entries only; the database lies elsewhere now", from, len(files))
	}
	for _, d := range []string{"ID", "index"} {
		if err := os.MkdirAll(filepath.Join(to, d), 0o755); err != nil {
			return err
		}
	}
	byPath := map[string]map[string]vuln{}
	var newest time.Time
	for _, name := range files {
		body, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		var e entry
		if err := json.Unmarshal(body, &e); err != nil {
			return fmt.Errorf("%s: %w", filepath.Base(name), err)
		}
		if e.Withdrawn != nil {
			continue
		}
		if e.Modified.After(newest) {
			newest = e.Modified
		}
		for _, a := range e.Affected {
			v := vuln{ID: e.ID, Modified: e.Modified}
			for _, r := range a.Ranges {
				for _, ev := range r.Events {
					if ev.Fixed != "" {
						v.Fixed = ev.Fixed
					}
				}
			}
			if byPath[a.Package.Name] == nil {
				byPath[a.Package.Name] = map[string]vuln{}
			}
			byPath[a.Package.Name][e.ID] = v
		}
		if err := os.WriteFile(filepath.Join(to, "ID", e.ID+".json"), body, 0o644); err != nil {
			return err
		}
	}
	var modules []module
	for _, path := range slices.Sorted(maps.Keys(byPath)) {
		m := module{Path: path}
		for _, id := range slices.Sorted(maps.Keys(byPath[path])) {
			m.Vulns = append(m.Vulns, byPath[path][id])
		}
		modules = append(modules, m)
	}
	for name, v := range map[string]any{"modules.json": modules, "db.json": map[string]time.Time{"modified": newest}} {
		body, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(to, "index", name), body, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// A weakness is one that the binary holds: a function of a module in which one is known.
type weakness struct{ id, module, version, fixed, summary string }

// found reads what govulncheck says: findings come several times, of the module, of the
// package, and of the function, which alone counts.
func found(r io.Reader) ([]weakness, error) {
	summaries, seen := map[string]string{}, map[string]weakness{}
	for d := json.NewDecoder(r); ; {
		var m struct {
			OSV *struct {
				ID      string `json:"id"`
				Summary string `json:"summary"`
			} `json:"osv"`
			Finding *struct {
				OSV   string `json:"osv"`
				Fixed string `json:"fixed_version"`
				Trace []struct {
					Module   string `json:"module"`
					Version  string `json:"version"`
					Function string `json:"function"`
				} `json:"trace"`
			} `json:"finding"`
		}
		if err := d.Decode(&m); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, fmt.Errorf("what govulncheck says cannot be read: %w", err)
		}
		if m.OSV != nil {
			summaries[m.OSV.ID] = m.OSV.Summary
		}
		if f := m.Finding; f != nil && len(f.Trace) > 0 && f.Trace[0].Function != "" {
			seen[f.OSV+f.Trace[0].Module] = weakness{id: f.OSV, module: f.Trace[0].Module, version: f.Trace[0].Version, fixed: f.Fixed}
		}
	}
	var out []weakness
	for _, key := range slices.Sorted(maps.Keys(seen)) {
		w := seen[key]
		w.summary = summaries[w.id]
		out = append(out, w)
	}
	return out, nil
}

// report tells them. Those of modules are an error.
func report(out io.Writer, all []weakness) error {
	var ours []string
	std := 0
	for _, w := range all {
		fmt.Fprintf(out, "%s  %s %s, mended in %s: %s\n", w.id, w.module, w.version, w.fixed, w.summary)
		if w.module == "stdlib" {
			std++
		} else {
			ours = append(ours, w.id+" of "+w.module)
		}
	}
	fmt.Fprintf(out, "database %s: %d of modules, %d of Go's own library (mended by building with the Go that go.mod names as toolchain)\n", database, len(ours), std)
	if len(ours) > 0 {
		return fmt.Errorf("the binary holds functions with published weaknesses: %s; take the versions in which they are mended", strings.Join(ours, ", "))
	}
	return nil
}
