package demo

import (
	"embed"
	"io/fs"
)

//go:embed rack
var files embed.FS

// Names lists the bench files from the top tier down.
func Names() []string { return []string{"tier-1-top.yaml", "tier-2-middle.yaml", "tier-3-bottom.yaml"} }

// The files of the lamps of the top tier: how they spread their light, and its
// colour. Their names are paths in [Folder].
const (
	LampFile     = "lamps/hollin-bar-42.ies"
	LampSpectrum = "lamps/hollin-bar-42.csv"
)

// RoundsFile is what was seen on four invented walks past the middle tier: six plants are
// weighed, all looked at for burn. A slip is corrected, and on the last walk two people
// read different numbers off the scale.
const RoundsFile = SensorBench + ".seen.json"

// Folder holds all files of the demo, bench files and what they name.
func Folder() fs.FS {
	rack, err := fs.Sub(files, "rack")
	if err != nil {
		panic("demo: " + err.Error())
	}
	return rack
}

// File is the content of a file of the demo. A name that it does not have
// panics.
func File(name string) []byte {
	b, err := fs.ReadFile(Folder(), name)
	if err != nil {
		panic("demo: " + err.Error())
	}
	return b
}
