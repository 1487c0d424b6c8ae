package air

import (
	"bytes"
	"os"
	"testing"

	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
)

// demoBench is a tier of the demo with its outlook.
func demoBench(t testing.TB, name string, draws int) (*light.Model, *outlook.Outlook) {
	t.Helper()
	folder := os.DirFS("../../demo/rack")
	src, err := os.ReadFile("../../demo/rack/" + name)
	if err != nil {
		t.Fatal(err)
	}
	b, problems, err := benchfile.ReadWith(bytes.NewReader(src), benchfolder.Files(folder))
	if err != nil || b == nil {
		t.Fatal(err, problems)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	o, err := outlook.New(m, draws)
	if err != nil {
		t.Fatal(err)
	}
	return m, o
}

// One redraw of the page while somebody turns a control: budget 100 ms.
func BenchmarkRedraw(b *testing.B) {
	m, o := demoBench(b, "tier-2-middle.yaml", 100)
	if _, err := o.Under(m.Bench(), WhatIfDraws); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		f, err := o.Under(m.Bench(), WhatIfDraws)
		if err != nil {
			b.Fatal(err)
		}
		Of(m.Bench(), f, nil, f.AtSurface, 0)
	}
}
