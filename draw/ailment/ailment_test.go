package ailment_test

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"underlamp/draw/ailment"
)

// Every picture is well-formed, small, has words, and no text or script in it.
func TestPictures(t *testing.T) {
	var page strings.Builder
	seen := map[string]bool{}
	for _, p := range ailment.All() {
		if seen[p.Key] || len(p.Alt) < 20 {
			t.Errorf("%s: twice, or without words", p.Key)
		}
		seen[p.Key] = true
		svg := p.SVG(true)
		if len(svg) > 8<<10 {
			t.Errorf("%s has %d bytes", p.Key, len(svg))
		}
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", p.Key, err)
			}
			if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "text" || e.Name.Local == "script" || e.Name.Local == "style") {
				t.Errorf("%s holds %s", p.Key, e.Name.Local)
			}
		}
		page.WriteString("<figure style='display:inline-block;width:150px;margin:8px;font:12px sans-serif'>" + svg + "<figcaption>" + p.Key + "</figcaption></figure>")
	}
	if page.Len() > 75<<10 {
		t.Errorf("all pictures have %d bytes: a page of them is to stay under 100 kB", page.Len())
	}
	if name := os.Getenv("AILMENT_SHEET"); name != "" {
		for _, theme := range []string{"background:#fff;color:#1b2430", "background:#14181d;color:#e6eaef"} {
			page := "<div style='padding:10px;" + theme + "'>" + page.String() + "</div>"
			f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
			if err != nil {
				t.Fatal(err)
			}
			io.WriteString(f, page)
			f.Close()
		}
	}
}
