package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/CycloneDX/cyclonedx-go"
	"golang.org/x/mod/module"
)

// A part is something that a binary holds and that others wrote.
type part struct {
	name, version string
	sum           string // h1: of the module, as go.sum has it; empty for what is no module
	licence       string // expression of SPDX
	texts         []file // of the licences
}

// embedded are parts that are no Go modules: files of others that are in the repository and
// in the binary. [TestEmbedded] looks for ones that are missing here.
var embedded = []struct{ name, version, licence, text string }{
	{"Noto Sans, Noto Sans Math, Noto Sans Symbols 2 (subsets)", "20201225", "OFL-1.1", "draw/typeface/fonts/OFL.txt"},
	{"uPlot", "1.6.32", "MIT", "web/static/uplot.LICENSE"},
}

// isLicence are the names of files with terms.
var isLicence = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents|authors|edl-v10|epl-v20)([-._].*)?$`)

// partsOf tells what is in a binary: modules as the linker recorded them, the standard
// library, and embedded files.
func partsOf(ctx context.Context, root, binary string) ([]part, error) {
	info, err := buildinfo.ReadFile(binary)
	if err != nil {
		return nil, err
	}
	cache, err := output(ctx, root, nil, "go", "env", "GOMODCACHE")
	if err != nil {
		return nil, err
	}
	goroot, err := output(ctx, root, nil, "go", "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	var out []part
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		escaped, err := module.EscapePath(m.Path)
		if err != nil {
			return nil, err
		}
		p := part{name: m.Path, version: m.Version, sum: m.Sum}
		if p.texts, err = textsIn(filepath.Join(strings.TrimSpace(string(cache)), filepath.FromSlash(escaped)+"@"+m.Version)); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	std := part{name: "std", version: strings.Fields(info.GoVersion)[0]}
	if std.texts, err = textsIn(strings.TrimSpace(string(goroot))); err != nil {
		return nil, err
	}
	out = append(out, std)
	for _, e := range embedded {
		body, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(e.text)))
		if err != nil {
			return nil, err
		}
		out = append(out, part{name: e.name, version: e.version, licence: e.licence, texts: []file{{e.text, 0, body}}})
	}
	slices.SortFunc(out, func(a, b part) int { return strings.Compare(a.name, b.name) })
	for i := range out {
		p := &out[i]
		if p.licence == "" {
			p.licence = licenceOf(p.texts)
		}
		if p.licence == "" {
			return nil, fmt.Errorf("the licence of %s %s is not recognised; read its terms and add them to licenceOf", p.name, p.version)
		}
		if !slices.Contains(allowed, p.licence) {
			return nil, fmt.Errorf("%s %s is under %s, which is not among the licences that may be handed out", p.name, p.version, p.licence)
		}
	}
	return out, nil
}

// textsIn reads the terms at the top of a folder.
func textsIn(dir string) ([]file, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the source of a part is not there, run go mod download: %w", err)
	}
	var out []file
	for _, e := range entries {
		if !e.Type().IsRegular() || !isLicence.MatchString(e.Name()) {
			continue
		}
		body, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		out = append(out, file{e.Name(), 0, body})
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s holds no licence", dir)
	}
	return out, nil
}

// allowed are the licences under which parts may be handed out with the program, as
// expressions of SPDX.
var allowed = []string{"MIT", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "ISC", "MPL-2.0", "EPL-2.0 OR BSD-3-Clause", "OFL-1.1", "Unlicense", "MIT AND Apache-2.0"}

// licenceOf tells the licence by sentences that only it has. What lies beside the first
// text concerns parts of the part, and is handed out with it.
func licenceOf(texts []file) string {
	has := func(body []byte, words string) bool {
		return bytes.Contains(bytes.Join(bytes.Fields(body), []byte(" ")), []byte(words))
	}
	for _, f := range texts {
		if !strings.HasPrefix(strings.ToLower(f.name), "licen") && !strings.HasPrefix(strings.ToLower(f.name), "copying") {
			continue
		}
		switch b := f.body; {
		case has(b, "Eclipse Public License v2.0 and Eclipse Distribution License v1.0"):
			return "EPL-2.0 OR BSD-3-Clause" // the second of them is the 3-clause BSD licence
		case has(b, "Apache License Version 2.0") && has(b, "Permission is hereby granted, free of charge"):
			return "MIT AND Apache-2.0"
		case has(b, "Apache License Version 2.0"):
			return "Apache-2.0"
		case has(b, "Mozilla Public License Version 2.0"):
			return "MPL-2.0"
		case has(b, "SIL OPEN FONT LICENSE Version 1.1"):
			return "OFL-1.1"
		case has(b, "Permission is hereby granted, free of charge"):
			return "MIT"
		case has(b, "Permission to use, copy, modify, and/or distribute"), has(b, "Permission to use, copy, modify, and distribute"):
			return "ISC"
		case has(b, "Redistribution and use in source and binary forms") && (has(b, "Neither the name") || has(b, "may be used to endorse or promote")):
			return "BSD-3-Clause"
		case has(b, "Redistribution and use in source and binary forms"):
			return "BSD-2-Clause"
		case has(b, "This is free and unencumbered software released into the public domain"):
			return "Unlicense"
		}
	}
	return ""
}

// licenceTexts are the terms of all parts, which have to go along with the binary.
func licenceTexts(parts []part) []byte {
	var b bytes.Buffer
	b.WriteString("underlamp holds the work of others. Their terms follow, part by part.\n")
	for _, p := range parts {
		fmt.Fprintf(&b, "\n%s\n%s %s: %s\n", strings.Repeat("=", 78), p.name, p.version, p.licence)
		for _, t := range p.texts {
			fmt.Fprintf(&b, "\n---- %s\n\n%s\n", t.name, bytes.TrimSpace(bytes.ReplaceAll(t.body, []byte("\r\n"), []byte("\n"))))
		}
	}
	return b.Bytes()
}

// billOfMaterials is what a binary is made of, as CycloneDX 1.6.
func billOfMaterials(version string, t target, binary []byte, parts []part, when time.Time) ([]byte, error) {
	sum := sha256.Sum256(binary)
	ref := "pkg:golang/underlamp@" + version
	bom := cyclonedx.NewBOM()
	bom.Metadata = &cyclonedx.Metadata{
		Timestamp: when.Format(time.RFC3339),
		Component: &cyclonedx.Component{
			BOMRef: ref, Type: cyclonedx.ComponentTypeApplication, Name: "underlamp", Version: version, PackageURL: ref,
			Licenses:   &cyclonedx.Licenses{{License: &cyclonedx.License{ID: "Apache-2.0"}}},
			Hashes:     &[]cyclonedx.Hash{{Algorithm: cyclonedx.HashAlgoSHA256, Value: hex.EncodeToString(sum[:])}},
			Properties: &[]cyclonedx.Property{{Name: "machine", Value: t.String()}},
		},
	}
	var components []cyclonedx.Component
	depends := cyclonedx.Dependency{Ref: ref, Dependencies: &[]string{}}
	for _, p := range parts {
		c := cyclonedx.Component{Type: cyclonedx.ComponentTypeLibrary, Name: p.name, Version: p.version, Licenses: &cyclonedx.Licenses{{Expression: p.licence}}}
		switch {
		case p.sum != "":
			c.PackageURL = "pkg:golang/" + p.name + "@" + p.version
			c.Properties = &[]cyclonedx.Property{{Name: "go.sum", Value: p.sum}}
		case p.name == "std":
			c.PackageURL = "pkg:golang/std@" + strings.TrimPrefix(p.version, "go")
		default:
			c.PackageURL = "pkg:generic/" + strings.ReplaceAll(p.name, " ", "-") + "@" + p.version
		}
		c.BOMRef = c.PackageURL
		components = append(components, c)
		*depends.Dependencies = append(*depends.Dependencies, c.BOMRef)
	}
	bom.Components, bom.Dependencies = &components, &[]cyclonedx.Dependency{depends}
	var b bytes.Buffer
	e := cyclonedx.NewBOMEncoder(&b, cyclonedx.BOMFileFormatJSON)
	e.SetPretty(true)
	err := e.EncodeVersion(bom, cyclonedx.SpecVersion1_6)
	return b.Bytes(), err
}

// writeList writes the licences of what a binary for this machine holds as a document.
func writeList(ctx context.Context, root, name string) error {
	dir, err := os.MkdirTemp("", "licences-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	binary := filepath.Join(dir, "underlamp")
	if err := build(ctx, root, binary, "0.0.0", targets[0]); err != nil {
		return err
	}
	parts, err := partsOf(ctx, root, binary)
	if err != nil {
		return err
	}
	return os.WriteFile(name, list(parts), 0o644)
}

// list is the document of licences.
func list(parts []part) []byte {
	var b bytes.Buffer
	b.WriteString(`# What underlamp is made of

Made by ` + "`go run ./release -licences ../docs/licences.md`" + ` in the folder tools, from the binary for Linux on amd64 and the terms that lie in each
part. The terms themselves go along with every release (LICENCES-OF-PARTS.txt). underlamp itself is under Apache-2.0 ([LICENSE](../LICENSE)).

| part | version | licence |
|---|---|---|
`)
	for _, p := range parts {
		version := p.version
		if p.name == "std" {
			version = "of the Go that builds" // the list is the same with every Go
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", p.name, version, p.licence)
	}
	return b.Bytes()
}
