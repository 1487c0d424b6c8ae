package benchfolder_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
)

// A lamp of 1000 lm: I0 cos γ with I0 = 1000/π cd sends π I0 lm in all. Type C,
// one plane, an opening of 60 by 4 cm, 20 W.
func cosineFile() string {
	var b strings.Builder
	b.WriteString("IESNA:LM-63-2002\n[TEST] 1\n[TESTLAB] none\n[ISSUEDATE] 2026-01-01\n[MANUFAC] Hollin\nTILT=NONE\n")
	const n = 19
	b.WriteString("1 -1 1 19 1 1 2 0.04 0.60 0\n1 1 20\n")
	for i := range n {
		fmt.Fprintf(&b, "%d ", 5*i)
	}
	b.WriteString("\n0\n")
	for i := range n {
		fmt.Fprintf(&b, "%.6f ", 1000/math.Pi*math.Max(math.Cos(float64(5*i)*math.Pi/180), 0))
	}
	return b.String() + "\n"
}

const bench = `underlamp: 1
space: {width: 120 cm, depth: 60 cm, height: 45 cm}
lamps:
  - at: [60 cm, 30 cm]
    height: 34 cm
    photometry: lamps/bar.ies
%s
plants: {grid: {columns: 6, rows: 3}}
`

func read(t *testing.T, lamp string, folder fstest.MapFS) (*underlamp.Bench, benchfile.Problems) {
	t.Helper()
	b, problems, err := benchfile.ReadWith(strings.NewReader(fmt.Sprintf(bench, lamp)), benchfolder.Files(folder))
	if err != nil {
		t.Fatal(err)
	}
	return b, problems
}

func folder() fstest.MapFS {
	return fstest.MapFS{
		"lamps/bar.ies": {Data: []byte(cosineFile())},
		// Light of one wavelength, 555 nm, nearly: 683.002 lm/W there, 4.6394 µmol/J, so 147.2 lm for each µmol/s.
		"green.csv": {Data: []byte("nm,photons µmol/s/nm\n554.8,0\n554.9,0.5\n555,1\n555.1,0.5\n555.2,0\n")},
		"bare.csv":  {Data: []byte("nm,relative\n500,1\n520,1\n540,1\n560,1\n580,1\n600,1\n")},
	}
}

// The file gives flux (by what its lumens are worth), watts, opening and beam.
func TestLampFromFiles(t *testing.T) {
	for _, tt := range []struct {
		lamp string
		flux float64
	}{
		{"    lux per ppfd: 68", 1000.0 / 68},
		{"    spectrum: green.csv", 1000 / (683.002 / 4.63943)}, // 119.6265658/555 J/µmol; BIPM2019
		{"    flux: 33 µmol/s", 33},
		{"    efficacy: 2.5 µmol/J\n    watts: 22 W", 55},
	} {
		b, problems := read(t, tt.lamp, folder())
		if b == nil {
			t.Errorf("%s: %v", tt.lamp, problems)
			continue
		}
		l := b.Lamps[0]
		if got := float64(l.Flux.Value); math.Abs(got-tt.flux) > 0.002*tt.flux {
			t.Errorf("%s: %.4g µmol/s, want %.4g", strings.TrimSpace(tt.lamp), got, tt.flux)
		}
		if !strings.Contains(tt.lamp, "watts") && l.Power.Value != 20 {
			t.Errorf("%v W, the file says 20", l.Power.Value)
		}
		if w, d := float64(l.Opening.Width.Value), float64(l.Opening.Depth.Value); w != 0.60 || d != 0.04 || l.Opening.Origin != underlamp.Label {
			t.Errorf("opening %v by %v, the file says 0.60 by 0.04", w, d)
		}
		if a := float64(l.Beam.Value); math.Abs(a-120) > 0.5 {
			t.Errorf("beam %v°, a cosine lamp has 120°", a)
		}
	}
}

func TestFilesThatCannotServe(t *testing.T) {
	tilting := folder()
	tilting["lamps/bar.ies"] = &fstest.MapFile{Data: []byte(strings.Replace(cosineFile(), "TILT=NONE", "TILT=INCLUDE\n1\n2\n0 90\n1 0.8", 1))}
	broken := folder()
	broken["lamps/bar.ies"] = &fstest.MapFile{Data: []byte("IESNA:LM-63-2002\nTILT=NONE\n1 2 3\n")}
	for _, tt := range []struct {
		name, lamp string
		folder     fstest.MapFS
		want       string
	}{
		{"no such file", "    flux: 30 µmol/s", fstest.MapFS{}, "there is no such file beside the bench file"},
		{"broken file", "    flux: 30 µmol/s", broken, "lamps/bar.ies:"},
		{"lumens alone", "", folder(), "what the lumens of the file are worth in photons is missing"},
		{"unknown kind", "    lux per ppfd: whit led", folder(), "white LED"},
		{"red and blue", "    lux per ppfd: red and blue LED", folder(), ""},
		{"factor", "    lux per ppfd: 1", folder(), "is no factor that light of lamps has"},
		{"no basis", "    spectrum: bare.csv", folder(), "photons or energy"},
		{"changes with tilt", "    flux: 30 µmol/s\n    tilt: 10°\n    towards: 90°", tilting, "only its value at 0° is used"},
		{"beam too", "    flux: 30 µmol/s\n    beam: 90°", folder(), "the beam comes from lamps/bar.ies"},
	} {
		_, problems := read(t, tt.lamp, tt.folder)
		text := problems.Render("bench.yaml", nil, false)
		if len(problems) == 0 || !strings.Contains(text, tt.want) {
			t.Errorf("%s: %v\ndoes not say %q", tt.name, text, tt.want)
		}
		t.Logf("%s: %s", tt.name, text)
	}
}

// A bench is found by its name, with the ending or without, and no path leads out.
func TestBench(t *testing.T) {
	f := folder()
	f["rack.yaml"] = &fstest.MapFile{Data: []byte("underlamp: 1\nspace: {width: 1 m, depth: 1 m, height: 1 m}\nlamps: [{name: bar, at: [50 cm, 50 cm], height: 40 cm, flux: 100 µmol/s, opening: {width: 1 m, depth: 5 cm}}]\nplants: {at: [[50 cm, 50 cm]]}\ncrop: {species: lettuce}\n")}
	f["bad.yml"] = &fstest.MapFile{Data: []byte("underlamp: 1\n")}
	for _, name := range []string{"rack", "rack.yaml"} {
		if _, err := benchfolder.Bench(f, name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, says := range map[string]string{"bad": "bad.yml", "none": "no bench called", "../rack": "no name", "a/rack": "no name", "": "no"} {
		if _, err := benchfolder.Bench(f, name); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q", name, err, says)
		}
	}
}
