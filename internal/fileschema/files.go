package fileschema

import (
	"strings"
	"sync"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/science/photometry"
	"underlamp/science/spectrum"
)

// files opens what bench files name as those of the demo, whatever the name, so that examples
// can name what they like.
var files = func() benchfile.Files {
	own := benchfolder.Files(demo.Folder())
	feed := sync.OnceValues(func() (*underlamp.FeedMade, error) { return own.Feed("rack.feed.yaml") })
	lamp := sync.OnceValues(func() (*photometry.File, error) { return own.Photometry("lamps/hollin-bar-42.ies") })
	colour := sync.OnceValues(func() (spectrum.Spectrum, error) { return own.Spectrum("lamps/hollin-bar-42.csv") })
	return benchfile.Files{
		Photometry: func(name string) (*photometry.File, error) {
			if strings.HasSuffix(name, ".ies") {
				return lamp()
			}
			return own.Photometry(name)
		},
		Spectrum: func(string) (spectrum.Spectrum, error) { return colour() },
		Profile:  func(string) (*underlamp.Profile, error) { return &underlamp.Profile{Species: "lettuce"}, nil },
		Feed:     func(string) (*underlamp.FeedMade, error) { return feed() },
	}
}()
