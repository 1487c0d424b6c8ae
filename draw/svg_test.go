package draw

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
)

var update = flag.Bool("update", false, "write the golden pictures anew; read the diff before believing it")

// samples are all pictures of the invented bench.
func samples() map[string]func(Frame) Picture {
	return map[string]func(Frame) Picture{
		"plan":      func(f Frame) Picture { return samplePlan(f).Draw() },
		"side":      func(f Frame) Picture { return sampleSide(f).Draw() },
		"lines":     func(f Frame) Picture { return sampleLines(f).Draw() },
		"settings":  func(f Frame) Picture { return sampleSettings(f).Draw() },
		"bars":      func(f Frame) Picture { return sampleBars(f).Draw() },
		"spectrum":  func(f Frame) Picture { return sampleSpectrum(f).Draw() },
		"polar":     func(f Frame) Picture { return samplePolar(f).Draw() },
		"densities": func(f Frame) Picture { return sampleDensities(f).Draw() },
		"learned":   func(f Frame) Picture { return sampleLearned(f).Draw() },
		"trialplan": func(f Frame) Picture { return sampleTrialPlan(f).Draw() },
		"polardown": func(f Frame) Picture { return samplePolarDown(f).Draw() },
	}
}

// failer is what testing.T and rapid.T have in common here.
type failer interface {
	Helper()
	Fatalf(string, ...any)
}

var (
	numberRun = regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?`)
	reference = regexp.MustCompile(`url\(#([^)]*)\)`)
)

// checkSVG reads the SVG as XML and holds it against what a page with a strict
// Content-Security-Policy and a screen reader need.
func checkSVG(t failer, f Frame, p Picture) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(p.SVG))
	ids, wanted := map[string]bool{}, map[string]bool{}
	var path []string
	var title, desc string
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			path = append(path, e.Name.Local)
			switch e.Name.Local {
			case "style", "script", "image", "foreignObject":
				t.Fatalf("element %s", e.Name.Local)
			}
			attrs := map[string]string{}
			for _, a := range e.Attr {
				attrs[a.Name.Local] = a.Value
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "href" {
					t.Fatalf("attribute %s", a.Name.Local)
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") || strings.Contains(a.Value, "e+") {
					t.Fatalf("%s %s=%q is no number", e.Name.Local, a.Name.Local, a.Value)
				}
				for _, m := range reference.FindAllStringSubmatch(a.Value, -1) {
					wanted[m[1]] = true
				}
				switch a.Name.Local {
				case "id":
					if ids[a.Value] || !strings.HasPrefix(a.Value, f.ID+"-") {
						t.Fatalf("id %q is taken or does not begin with the frame's", a.Value)
					}
					ids[a.Value] = true
				case "d", "x", "y", "cx", "cy", "r", "width", "height":
					for _, n := range numberRun.FindAllStringSubmatch(a.Value, -1) {
						if len(n[1]) > 2 {
							t.Fatalf("%s=%q is not rounded to 0.1 px", a.Name.Local, a.Value)
						}
					}
				}
			}
			if len(path) == 1 {
				if attrs["role"] != "img" || attrs["viewBox"] == "" || attrs["width"] != "100%" {
					t.Fatalf("svg lacks role, viewBox or width: %v", attrs)
				}
				for id := range strings.FieldsSeq(attrs["aria-labelledby"]) {
					wanted[id] = true
				}
			}
		case xml.EndElement:
			path = path[:len(path)-1]
		case xml.CharData:
			switch path[len(path)-1] {
			case "title":
				title += string(e)
			case "desc":
				desc += string(e)
			}
		}
	}
	for id := range wanted {
		if !ids[id] {
			t.Fatalf("nothing has the id %q", id)
		}
	}
	if title == "" || desc == "" {
		t.Fatalf("title %q or description %q is empty", title, desc)
	}
	checkTable(t, p.Table)
}

// checkTable reads the table as XML and compares its cells with the table's.
func checkTable(t failer, table Table) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(table.HTML()))
	var cells int
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("table is not XML: %v", err)
		}
		if e, ok := tok.(xml.StartElement); ok {
			switch e.Name.Local {
			case "td":
				cells++
			case "th":
				cells++
				if len(e.Attr) == 0 || e.Attr[0].Name.Local != "scope" {
					t.Fatalf("a th without scope")
				}
			}
		}
	}
	if want := len(table.Head) * (1 + len(table.Rows)); cells != want {
		t.Fatalf("table has %d cells, want %d", cells, want)
	}
}

func TestPicturesAreValid(t *testing.T) {
	for name, draw := range samples() {
		for _, width := range []float64{0, 300, 360, 520, 760, 1200} {
			for _, sys := range []quantity.System{quantity.Metric, quantity.US} {
				t.Run(fmt.Sprintf("%s/%.0f/%d", name, width, sys), func(t *testing.T) {
					f := Frame{ID: "p1", Width: width, Units: sys}
					p := draw(f)
					checkSVG(t, f, p)
					// The limit of the brief for a page on a phone; 60 kB.
					if len(p.SVG) > 60_000 {
						t.Errorf("SVG has %d bytes", len(p.SVG))
					}
				})
			}
		}
	}
}

// TestPicturesGolden holds the pictures against files that a person has looked
// at. It finds changes; it does not prove that a picture is right.
func TestPicturesGolden(t *testing.T) {
	for name, draw := range samples() {
		for _, v := range []struct {
			suffix string
			frame  Frame
		}{{"wide", Frame{ID: "g"}}, {"narrow-us", Frame{ID: "g", Width: NarrowWidth, Units: quantity.US}}} {
			p := draw(v.frame)
			// One element a line makes diffs readable.
			got := strings.ReplaceAll(p.SVG, "><", ">\n<") + "\n" + strings.ReplaceAll(p.Table.HTML(), "<tr>", "\n<tr>") + "\n"
			file := filepath.Join("testdata", name+"-"+v.suffix+".golden")
			if *update {
				if err := os.MkdirAll("testdata", 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s differs; run go test ./draw -update and read the diff", file)
			}
		}
	}
}

// TestHostileData draws numbers and words that no honest bench has.
func TestHostileData(t *testing.T) {
	number := rapid.OneOf(
		rapid.Float64Range(-1, 500),
		rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324, 1e-9, 250}),
	)
	word := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "<script>", `"x" & 'y'`, "\x00\x07", "a\xffb", strings.Repeat("long ", 60)}))
	length := rapid.Map(rapid.Float64Range(0.01, 20), func(v float64) quantity.Metre { return quantity.Metre(v) })
	place := rapid.Map(number, func(v float64) quantity.Metre { return quantity.Metre(v) })
	rapid.Check(t, func(t *rapid.T) {
		f := Frame{ID: "h", Width: rapid.Float64Range(-10, 2000).Draw(t, "width"), Units: quantity.System(rapid.IntRange(0, 1).Draw(t, "system")),
			Title: rapid.SampledFrom([]string{"", "<b>"}).Draw(t, "title")}
		nx, ny := rapid.IntRange(2, 5).Draw(t, "nx"), rapid.IntRange(2, 5).Draw(t, "ny")
		g := Grid{Values: rapid.SliceOfN(number, nx*ny, nx*ny).Draw(t, "values")}
		for i := range nx {
			g.X = append(g.X, float64(i)*0.3)
		}
		for j := range ny {
			g.Y = append(g.Y, float64(j)*0.2)
		}
		wall := Wall{Open: rapid.Bool().Draw(t, "open"), Label: word.Draw(t, "wall")}
		lamp := Lamp{Name: word.Draw(t, "lamp"), X: place.Draw(t, "x"), Y: place.Draw(t, "y"), Height: place.Draw(t, "h"), Width: place.Draw(t, "w"),
			Depth: place.Draw(t, "d"), Round: rapid.Bool().Draw(t, "round"), Beam: quantity.Degree(number.Draw(t, "beam"))}
		plan := Plan{Frame: f, Width: length.Draw(t, "W"), Depth: length.Draw(t, "D"), Walls: [4]Wall{wall, wall, wall, wall}, Light: g,
			Quantity: word.Draw(t, "quantity"), Unit: word.Draw(t, "unit"), Scale: Scale(rapid.IntRange(0, 2).Draw(t, "scale")),
			Contours: []Contour{{Level: number.Draw(t, "level"), Name: word.Draw(t, "contour"), Kind: ContourKind(rapid.IntRange(0, 2).Draw(t, "kind"))}},
			Lamps:    []Lamp{lamp},
			Plants:   []Plant{{Name: word.Draw(t, "plant"), X: place.Draw(t, "px"), Y: place.Draw(t, "py"), Crown: place.Draw(t, "crown"), Value: number.Draw(t, "value")}},
			Readings: []Reading{{X: place.Draw(t, "rx"), Y: place.Draw(t, "ry"), Value: number.Draw(t, "rv"), Model: number.Draw(t, "rm"), Far: true}},
		}
		checkSVG(t, f, plan.Draw())
		series := rapid.SliceOfN(number, nx, nx)
		checkSVG(t, f, Side{Frame: f, Width: plan.Width, Height: plan.Depth, Left: wall, Right: wall, Above: wall, Lamps: plan.Lamps,
			Canopies: []Canopy{{Name: word.Draw(t, "canopy"), Height: place.Draw(t, "ch")}}, Heights: series.Draw(t, "heights"), Light: series.Draw(t, "light")}.Draw())
		checkSVG(t, f, Lines{Frame: f, X: g.X, XName: word.Draw(t, "xname"), Markers: []Marker{{X: number.Draw(t, "mx"), Label: word.Draw(t, "marker")}},
			Panels: []Panel{{Name: word.Draw(t, "panel"), Series: []Series{{Name: word.Draw(t, "series"), Y: series.Draw(t, "Y"), Low: series.Draw(t, "low"), High: series.Draw(t, "high")}},
				Limits: []Limit{{number.Draw(t, "limit"), word.Draw(t, "limit name")}}, Zero: rapid.Bool().Draw(t, "zero")}}}.Draw())
		at := &Setting{quantity.PPFD(number.Draw(t, "e")), quantity.Hours(number.Draw(t, "hours")), word.Draw(t, "label")}
		checkSVG(t, f, SettingsMap{Frame: f, Yield: g, Burn: rapid.SliceOfN(number, nx*ny, nx*ny).Draw(t, "burn"), BurnLevels: []float64{number.Draw(t, "bl")},
			Limit: number.Draw(t, "accepted"), DLIs: []quantity.DLI{quantity.DLI(number.Draw(t, "dli"))}, Now: at, Best: at}.Draw())
		checkSVG(t, f, Spectrum{Frame: f, Name: word.Draw(t, "lamp name"), NM: g.X, Photons: series.Draw(t, "photons"), Unit: word.Draw(t, "photon unit"),
			Bands: []SpectrumBand{{word.Draw(t, "band"), number.Draw(t, "from"), number.Draw(t, "to"), number.Draw(t, "share")}}}.Draw())
		checkSVG(t, f, Polar{Frame: f, Name: word.Draw(t, "polar"), Unit: word.Draw(t, "polar unit"), Angles: []float64{0, 30, 120, 180}[:nx-1],
			Curves: []PolarCurve{{word.Draw(t, "curve"), word.Draw(t, "right"), word.Draw(t, "left"), series.Draw(t, "rv")[:nx-1], series.Draw(t, "lv")[:nx-1]}}}.Draw())
		checkSVG(t, f, Bars{Frame: f, Name: word.Draw(t, "bars"), Items: []Bar{{word.Draw(t, "bar"), number.Draw(t, "v"), number.Draw(t, "l"), number.Draw(t, "u")}}}.Draw())
	})
}

// TestEmptyPictures: nothing known is no mistake.
func TestEmptyPictures(t *testing.T) {
	f := Frame{ID: "e"}
	for name, p := range map[string]Picture{
		"plan": Plan{Frame: f, Width: 1, Depth: 1}.Draw(), "side": Side{Frame: f, Width: 1, Height: 1}.Draw(),
		"lines": Lines{Frame: f, XName: "day", Panels: []Panel{{Name: "a"}}}.Draw(), "settings": SettingsMap{Frame: f}.Draw(), "bars": Bars{Frame: f}.Draw(),
		"spectrum": Spectrum{Frame: f}.Draw(),
		"polar":    Polar{Frame: f}.Draw(), "polar of nothing": Polar{Frame: f, Angles: []float64{0}, Curves: []PolarCurve{{Right: []float64{0}, Left: []float64{0}}}}.Draw(),
	} {
		t.Run(name, func(t *testing.T) { checkSVG(t, f, p) })
	}
}

func TestMistakesPanic(t *testing.T) {
	f := Frame{ID: "m"}
	for name, draw := range map[string]func(){
		"no id":           func() { Bars{}.Draw() },
		"id with a blank": func() { Bars{Frame: Frame{ID: "a b"}}.Draw() },
		"id with a quote": func() { Bars{Frame: Frame{ID: `a"`}}.Draw() },
		"no width":        func() { Plan{Frame: f, Depth: 1}.Draw() },
		"grid too short": func() {
			Plan{Frame: f, Width: 1, Depth: 1, Light: Grid{X: []float64{0, 1}, Y: []float64{0, 1}, Values: []float64{1}}}.Draw()
		},
		"grid descends": func() {
			SettingsMap{Frame: f, Yield: Grid{[]float64{1, 0}, []float64{0, 1}, make([]float64, 4)}, Burn: make([]float64, 4)}.Draw()
		},
		"burn too short": func() {
			SettingsMap{Frame: f, Yield: Grid{[]float64{0, 1}, []float64{0, 1}, make([]float64, 4)}}.Draw()
		},
		"heights and light": func() { Side{Frame: f, Width: 1, Height: 1, Heights: []float64{0}}.Draw() },
		"series too short": func() {
			Lines{Frame: f, X: []float64{1, 2}, Panels: []Panel{{Series: []Series{{Y: []float64{1}}}}}}.Draw()
		},
		"low without high": func() {
			Lines{Frame: f, X: []float64{1}, Panels: []Panel{{Series: []Series{{Y: []float64{1}, Low: []float64{1}}}}}}.Draw()
		},
		"spectrum too short":    func() { Spectrum{Frame: f, NM: []float64{1, 2}}.Draw() },
		"spectrum descends":     func() { Spectrum{Frame: f, NM: []float64{2, 1}, Photons: []float64{1, 1}}.Draw() },
		"ragged table":          func() { _ = Table{Head: []string{"a"}, Rows: [][]string{{"a", "b"}}}.HTML() },
		"angles descend":        func() { Polar{Frame: f, Angles: []float64{90, 0}}.Draw() },
		"polar curve too short": func() { Polar{Frame: f, Angles: []float64{0}, Curves: []PolarCurve{{Right: []float64{1}}}}.Draw() },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "draw: ") {
					t.Errorf("panicked with %q", s)
				}
			}()
			draw()
			t.Error("did not panic")
		})
	}
}

// TestPlanToScale: 10 cm of the scale bar are a twelfth of a bench of 120 cm, and
// depth has the scale of width.
func TestPlanToScale(t *testing.T) {
	p := Plan{Frame: Frame{ID: "s"}, Width: 1.2, Depth: 0.6, Plants: []Plant{
		{X: 0.1, Y: 0.1, Crown: 0.05, Value: math.NaN()}, {X: 1.1, Y: 0.5, Crown: 0.05, Value: math.NaN()}}}
	svg := p.Draw().SVG
	circles := regexp.MustCompile(`<circle cx="([0-9.]+)" cy="([0-9.]+)" r="([0-9.]+)" fill="#ffffff" stroke="#000000" stroke-width="1.2"`).FindAllStringSubmatch(svg, -1)
	bar := regexp.MustCompile(`<path d="M([0-9.]+) [0-9.]+ [0-9.]+ [0-9.]+ ([0-9.]+) [0-9.]+ [0-9.]+ [0-9.]+" class="d-ink-line"`).FindStringSubmatch(svg)
	if len(circles) != 2 || bar == nil {
		t.Fatalf("found %d plants and bar %v", len(circles), bar)
	}
	num := func(s string) (v float64) {
		if _, err := fmt.Sscan(s, &v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	ten := num(bar[2]) - num(bar[1])
	// Each figure is rounded to 0.1 px, so a difference is good to 0.1, ten times
	// the bar to 1.
	for what, got := range map[string]float64{
		"across": (num(circles[1][1]) - num(circles[0][1])) / 10, "deep": (num(circles[0][2]) - num(circles[1][2])) / 4,
		"diameter": 2 * num(circles[0][3]),
	} {
		if math.Abs(got-ten) > 0.2 {
			t.Errorf("%s: 10 cm are %g px, the scale bar is %g", what, got, ten)
		}
	}
}

// TestFit: both pictures in one page, no id twice, one table.
func TestFit(t *testing.T) {
	html := Fit(Frame{ID: "f"}, func(f Frame) Picture { return samplePlan(f).Draw() })
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(html, -1) {
		if seen[m[1]] {
			t.Errorf("id %s twice", m[1])
		}
		seen[m[1]] = true
	}
	if strings.Count(html, "<svg") != 2 || strings.Count(html, "<table") != 1 {
		t.Error("wants two pictures and one table")
	}
}

func TestTableEscapes(t *testing.T) {
	got := Table{Caption: "a < b & c", Head: []string{"<i>", "n"}, Rows: [][]string{{`"q"`, "−3"}, {"x", "1\x00"}}}.HTML()
	want := `<table class="d-table"><caption>a &lt; b &amp; c</caption><thead><tr><th scope="col">&lt;i&gt;</th><th scope="col" class="d-num">n</th></tr></thead>` +
		`<tbody><tr><th scope="row">&#34;q&#34;</th><td class="d-num">−3</td></tr><tr><th scope="row">x</th><td class="d-num">1` + "\ufffd" + `</td></tr></tbody></table>`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
