package report

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"image"
	_ "image/jpeg" // for the size of a strip
)

// A Strip is pictures of plants side by side, as a JPEG.
type Strip struct {
	Title string
	Says  string // what it shows, for those who do not see it
	JPEG  []byte
}

// StripsSection shows strips; they are part of the page, which needs nothing else.
func StripsSection(all []Strip) template.HTML {
	if len(all) == 0 {
		return ""
	}
	type shown struct {
		Title, Says   string
		Width, Height int
		URL           template.URL
	}
	var out []shown
	for _, s := range all {
		c, _, err := image.DecodeConfig(bytes.NewReader(s.JPEG))
		if err != nil {
			continue
		}
		out = append(out, shown{s.Title, s.Says, c.Width, c.Height, template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(s.JPEG))})
	}
	return render("strips.tmpl", out)
}
