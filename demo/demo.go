package demo

import (
	"embed"
	"io/fs"
)

//go:embed rack/*.yaml lamps/*.csv lamps/*.ies
var files embed.FS

// Names lists the bench files from the top tier down.
func Names() []string { return []string{"tier-1-top.yaml", "tier-2-middle.yaml", "tier-3-bottom.yaml"} }

// File is the content of a bench file. A name that the demo does not have
// panics.
func File(name string) []byte { return content("rack/" + name) }

// Lamps lists the photometric files of the lamps of the demo.
func Lamps() []string { return []string{"hollin-bar-42.ies"} }

// LampFile is the content of a photometric file. A name that the demo does not
// have panics.
func LampFile(name string) []byte { return content("lamps/" + name) }

func content(path string) []byte {
	b, err := fs.ReadFile(files, path)
	if err != nil {
		panic("demo: " + err.Error())
	}
	return b
}

// Lamp is the name and the content of the file with the spectrum of the rack's
// lamps.
func Lamp() (name string, content []byte) {
	const lamp = "hollin-bar-42.csv"
	b, err := fs.ReadFile(files, "lamps/"+lamp)
	if err != nil {
		panic("demo: Lamp: " + err.Error())
	}
	return lamp, b
}
