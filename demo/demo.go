package demo

import (
	"embed"
	"io/fs"
)

//go:embed rack/*.yaml
var files embed.FS

// Names lists the bench files from the top tier down.
func Names() []string { return []string{"tier-1-top.yaml", "tier-2-middle.yaml", "tier-3-bottom.yaml"} }

// File is the content of a bench file. A name that the demo does not have
// panics.
func File(name string) []byte {
	b, err := fs.ReadFile(files, "rack/"+name)
	if err != nil {
		panic("demo: File: " + err.Error())
	}
	return b
}
