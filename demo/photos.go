package demo

import (
	"embed"
	"io/fs"
)

//go:embed photos/*.jpg
var photos embed.FS

// PhotosFolder is what the folder of the photos is called beside the other files.
const PhotosFolder = "photos"

// Photos holds invented photos of plants of the middle tier beside their labels, drawn and
// not taken: three plants on the days on which they were weighed, one of them also between,
// with spots that may be burn, and one photo that is blurred.
func Photos() fs.FS {
	f, err := fs.Sub(photos, "photos")
	if err != nil {
		panic("demo: " + err.Error())
	}
	return f
}
