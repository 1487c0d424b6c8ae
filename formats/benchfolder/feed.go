package benchfolder

import (
	"bytes"
	"io/fs"
	"path"
	"slices"

	"underlamp"
	"underlamp/formats/feedfile"
)

// FeedOf is the feed plan of a bench file: the one that it takes its feed from, else one beside it
// that names it. It is nil where there is none that can be read.
func FeedOf(folder fs.FS, file string, b *underlamp.Bench) *underlamp.FeedPlan {
	read := func(name string) *underlamp.FeedPlan {
		raw, err := fs.ReadFile(folder, name)
		if err != nil {
			return nil
		}
		p, _, err := feedfile.Read(bytes.NewReader(raw))
		if err != nil {
			return nil
		}
		return p
	}
	if b.Feed.From != "" {
		return read(path.Join(path.Dir(file), b.Feed.From))
	}
	entries, err := fs.ReadDir(folder, path.Dir(file))
	if err != nil {
		return nil
	}
	own := path.Base(file)
	for _, e := range entries {
		name := path.Join(path.Dir(file), e.Name())
		if e.IsDir() || !IsYAML(e.Name()) || KindOf(folder, name) != FeedFile {
			continue
		}
		if p := read(name); p != nil && (slices.Contains(p.Benches, own) || slices.Contains(p.Benches, own[:len(own)-len(path.Ext(own))])) {
			return p
		}
	}
	return nil
}
