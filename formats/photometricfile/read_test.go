package photometricfile_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf16"

	"underlamp/formats/photometricfile"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
)

func read(t *testing.T, text string) *photometry.File {
	t.Helper()
	f, err := photometricfile.Read(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return f
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6*math.Max(1, math.Abs(want))) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The plain lamp: every number by hand. 100 cosγ cd: 100 π lm.
func TestPlainLamp(t *testing.T) {
	f := read(t, cosineLamp().text())
	near(t, "flux", f.Web.Flux(), 100*math.Pi)
	near(t, "toward 60°", f.Web.At(123, 60), 50)
	near(t, "efficacy", f.Efficacy(), 50*math.Pi)
	if f.Format != "LM-63-2002" || !f.Absolute || f.Lamps != 1 || f.Symmetry != photometry.Axial || f.Keyword("manufac") != "Hollin Lamp Works" || len(f.Notes) != 0 {
		t.Errorf("%+v", f)
	}
	e := read(t, cosineTube().text())
	near(t, "flux of EULUMDAT", e.Web.Flux(), 100*math.Pi)
	near(t, "output ratio", e.Difference(), math.Pi/10-1)
	if e.Format != "EULUMDAT" || e.Absolute || e.Lamps != 1 || e.Watts != 20 || e.StatedLumens != 1000 || e.Keyword("LUMINAIRE") != "Bar" || e.Keyword("LAMP") != "tube" {
		t.Errorf("%+v", e)
	}
	if e.Opening != (photometry.Opening{Shape: photometry.RectangleShape, AlongC0: 0.04, AlongC90: 1.1}) {
		t.Errorf("opening %+v", e.Opening)
	}
}

// Multiplier, ballast factor and second factor: the rules by year, LM63 as read
// in an open program that reads all five. 2 · 0.5 · 0.9 = 0.9 in 1986 and 1991,
// 2 · 0.5 later.
func TestFactorsByYear(t *testing.T) {
	for tag, want := range map[string]float64{
		"": 0.9, "IESNA86": 0.9, "IESNA91": 0.9, "IESNA:LM-63-1995": 1, "iesna:lm-63-2002": 1, "IES:LM-63-2019": 1,
	} {
		l := cosineLamp()
		l.tag, l.mult, l.ballast = tag, 2, "0.5 0.9 10"
		f := read(t, l.text())
		near(t, tag, f.Web.Flux(), want*100*math.Pi)
		near(t, "watts", f.Watts, 10)
	}
	l := cosineLamp()
	l.lamps, l.lumens = "2", 250
	f := read(t, l.text())
	near(t, "stated", f.StatedLumens, 500)
	near(t, "flux is not scaled by lumens", f.Web.Flux(), 100*math.Pi)
	near(t, "difference", f.Difference(), math.Pi/5-1)
	if f.Absolute {
		t.Error("it is not absolute")
	}
	l = cosineLamp()
	l.tag, l.ballast = "IES:LM-63-2019", "1 1.101 10"
	if got := notes(read(t, l.text())); !strings.Contains(got, "accredited laboratory, then scaled") {
		t.Error(got)
	}
}

// Luminous shapes: rows of the table of LM63 by year, feet and metres.
func TestOpenings(t *testing.T) {
	const (
		y86 = "IESNA91"
		y95 = "IESNA:LM-63-1995"
		y02 = "IESNA:LM-63-2002"
	)
	for _, tt := range []struct {
		tag     string
		w, l, h float64
		shape   photometry.Shape
		c0, c90 float64 // along C0, along C90
		height  float64
		outline photometry.Outline
	}{
		{y02, 0, 0, 0, photometry.PointShape, 0, 0, 0, photometry.PointOutline},
		{y86, 0.1, 1.2, 0, photometry.RectangleShape, 1.2, 0.1, 0, photometry.RectangleOutline},
		{y95, 0.1, 1.2, 0.05, photometry.BoxShape, 1.2, 0.1, 0.05, photometry.RectangleOutline},
		{y02, 0, 1.2, 0.05, photometry.BoxShape, 1.2, 0, 0.05, photometry.RectangleOutline},
		{y86, -0.3, 0, 0, photometry.DiscShape, 0.3, 0.3, 0, photometry.RoundOutline},
		{y95, -0.3, 0, 0, photometry.DiscShape, 0.3, 0.3, 0, photometry.RoundOutline},
		{y02, -0.3, -0.3, 0, photometry.DiscShape, 0.3, 0.3, 0, photometry.RoundOutline},
		{y86, -0.3, 0.5, 0, photometry.EllipseShape, 0.5, 0.3, 0, photometry.RoundOutline},
		{y02, -0.3, -0.5, 0, photometry.EllipseShape, 0.5, 0.3, 0, photometry.RoundOutline},
		{y86, -0.3, 0, 0.2, photometry.CylinderShape, 0.3, 0.3, 0.2, photometry.RoundOutline},
		{y02, -0.3, -0.3, 0.2, photometry.CylinderShape, 0.3, 0.3, 0.2, photometry.RoundOutline},
		{y95, -0.3, 0, -0.3, photometry.SphereShape, 0.3, 0.3, 0.3, photometry.RoundOutline},
		{y02, -0.3, -0.3, -0.3, photometry.SphereShape, 0.3, 0.3, 0.3, photometry.RoundOutline},
		{y86, -0.3, 0.5, 0.4, photometry.EllipsoidShape, 0.5, 0.3, 0.4, photometry.RoundOutline},
		{y95, -0.3, 0.5, 0.4, photometry.EllipticCylinderShape, 0.5, 0.3, 0.4, photometry.RoundOutline},
		{y95, -0.3, 0.5, -0.4, photometry.EllipsoidShape, 0.5, 0.3, 0.4, photometry.RoundOutline},
		{y02, -0.3, -0.5, -0.4, photometry.EllipsoidShape, 0.5, 0.3, 0.4, photometry.RoundOutline},
		{y95, 0, 1.2, -0.04, photometry.LyingCylinderShape, 1.2, 0.04, 0.04, photometry.RectangleOutline},
		{y95, 1.2, 0, -0.04, photometry.LyingCylinderShape, 0.04, 1.2, 0.04, photometry.RectangleOutline},
		{y02, -0.04, 1.2, -0.04, photometry.LyingCylinderShape, 1.2, 0.04, 0.04, photometry.RectangleOutline},
		{y02, 1.2, -0.04, -0.04, photometry.LyingCylinderShape, 0.04, 1.2, 0.04, photometry.RectangleOutline},
		{y02, -0.3, 0, -0.3, photometry.UprightDiscShape, 0, 0.3, 0.3, photometry.RectangleOutline},
	} {
		for _, unit := range []int{1, 2} {
			scale := map[int]float64{1: 0.3048, 2: 1}[unit]
			l := cosineLamp()
			l.tag, l.w, l.l, l.h, l.unit = tt.tag, tt.w, tt.l, tt.h, unit
			o := read(t, l.text()).Opening
			name := fmt.Sprintf("%s %v %v %v", tt.tag, tt.w, tt.l, tt.h)
			if o.Shape != tt.shape || o.Outline() != tt.outline {
				t.Errorf("%s is a %v", name, o.Shape)
			}
			near(t, name+" along C0", float64(o.AlongC0), tt.c0*scale)
			near(t, name+" along C90", float64(o.AlongC90), tt.c90*scale)
			near(t, name+" height", float64(o.Height), tt.height*scale)
		}
	}
}

// What is odd and can be read in one way only: read, and said.
func TestCommonSins(t *testing.T) {
	plain := cosineLamp()
	change := func(f func(*lm63)) string {
		l := plain
		f(&l)
		return l.text()
	}
	for _, tt := range []struct {
		what, text string
		lumens     float64
		note       string // must be in a note; empty if nothing needs saying
	}{
		{"one value a line, no final newline", strings.TrimSpace(strings.ReplaceAll(plain.text(), " ", "\n")), 314.159265, ""},
		{"commas and tabs", strings.NewReplacer("0 60 90", "0,60,\t90", "100 50 0", "100, 50, 0").Replace(plain.text()), 314.159265, ""},
		{"bare carriage returns", strings.ReplaceAll(plain.text(), "\n", "\r"), 314.159265, ""},
		{"byte-order mark", "\xef\xbb\xbf" + plain.text(), 314.159265, ""},
		{"Latin-1", strings.Replace(plain.text(), "Hollin", "H\xf6llin", 1), 314.159265, "Latin-1"},
		{"blank lines and an end-of-file mark", "\n\n" + strings.ReplaceAll(plain.text(), "\n", "\n\n") + "\x1a", 314.159265, ""},
		{"24 lamps of -1 lm", change(func(l *lm63) { l.lamps = "24" }), 314.159265, ""},
		{"0 lamps", change(func(l *lm63) { l.lamps = "0" }), 314.159265, "number of lamps"},
		{"watts 0", change(func(l *lm63) { l.ballast = "1 1 0" }), 314.159265, "input power"},
		{"second record missing", change(func(l *lm63) { l.ballast = "-" }), 314.159265, "is missing"},
		{"multiplier 0", change(func(l *lm63) { l.mult = 0 }), 314.159265, "multiplier is 0"},
		{"ballast factor 0", change(func(l *lm63) { l.ballast = "0 1 5" }), 314.159265, "ballast factor is 0"},
		{"second number used later", change(func(l *lm63) { l.ballast = "1 0.8 5" }), 314.159265, "nothing was multiplied"},
		{"unknown version", change(func(l *lm63) { l.tag = "IESNA:LM-63-2042" }), 314.159265, "not known"},
		{"no version but keywords", change(func(l *lm63) { l.tag = "" }), 314.159265, "version line is missing"},
		{"text after TILT=NONE", strings.Replace(plain.text(), "TILT=NONE", "tilt = none  (fixed)", 1), 314.159265, "after TILT=NONE"},
		{"words after TILT", strings.Replace(plain.text(), "TILT=NONE", "TILT=NONE\nas tested", 1), 314.159265, "left out"},
		{"words at the end", plain.text() + "END OF DATA 7\n", 314.159265, "after the last intensity"},
		{"noise below 0", change(func(l *lm63) { l.cd = []float64{100, 50, -0.2} }), 314.159265, "a little below 0"},
		{"ends at 60: 100 π sin² 60°", change(func(l *lm63) { l.vertical, l.cd = []float64{0, 60}, []float64{100, 50} }), 235.619449, "end at 60°"},
		{"type 0", change(func(l *lm63) { l.kind = 0 }), 314.159265, "type C"},
		{"unit 0", change(func(l *lm63) { l.unit, l.w, l.l = 0, 0.1, 0.1 }), 314.159265, "metres were taken"},
		{"one plane at 45°", change(func(l *lm63) { l.planes = []float64{45} }), 314.159265, "all round"},
		{"decimal commas", "IESNA:LM-63-2002\nTILT=NONE\n1 -1 1,5 3 1 1 2 0,1 1,2 0\n1,0 1,0 2,5\n0 60 90\n0\n100,0 50,0 0,0\n", 471.238898, "decimal commas"},
		{"upside down", change(func(l *lm63) { l.vertical, l.cd = []float64{90, 120, 180}, []float64{0, 50, 100} }), 314.159265, "100 % of the light goes up"},
		{"strange shape", change(func(l *lm63) { l.w, l.l, l.h = 0.1, 0.2, -0.3 }), 314.159265, "stand for no shape"},
		{"lumens below -1", change(func(l *lm63) { l.lumens = -500 }), 314.159265, "as it is"},
		{"lumens 0", change(func(l *lm63) { l.lumens = 0 }), 314.159265, "not known"},
		{"feet for metres", change(func(l *lm63) { l.w, l.l = 60, 1200 }), 314.159265, "unit may be wrong"},
		{"too good", change(func(l *lm63) { l.ballast = "1 1 1" }), 314.159265, "lm/W"},
		{"more than the bare lamps", change(func(l *lm63) { l.lumens = 200 }), 314.159265, "more than the 200 lm"},
		{"1995: 0 to 345", change(func(l *lm63) {
			l.tag, l.planes, l.cd = "IESNA:LM-63-1995", []float64{0, 115, 230, 345}, []float64{100, 50, 0, 100, 50, 0, 100, 50, 0, 100, 50, 0}
		}), 314.159265, "end at 345°"},
		{"0 and 360 differ", change(func(l *lm63) {
			l.planes, l.cd = []float64{0, 180, 360}, []float64{100, 60, 0, 100, 50, 0, 100, 40, 0}
		}), 314.159265, "their mean was taken"},
		{"planes differ at nadir", change(func(l *lm63) {
			l.planes, l.cd = []float64{0, 90}, []float64{100, 50, 0, 80, 50, 0}
		}), 298.451302, "disagree by 22 %"}, // mean 90 at nadir: 100 π − π (1−½) 10
	} {
		f := read(t, tt.text)
		near(t, tt.what, f.Web.Flux(), tt.lumens)
		switch got := notes(f); {
		case tt.note == "" && got != "":
			t.Errorf("%s: notes %s", tt.what, got)
		case !strings.Contains(got, tt.note):
			t.Errorf("%s: no note says %q: %s", tt.what, tt.note, got)
		}
	}
	units := utf16.Encode([]rune(plain.text()))
	wide := []byte{0xff, 0xfe}
	for _, u := range units {
		wide = append(wide, byte(u), byte(u>>8))
	}
	near(t, "UTF-16", read(t, string(wide)).Web.Flux(), 314.159265)
}

// What could mean two things, or nothing: refused with a line and a reason.
func TestRefused(t *testing.T) {
	plain := cosineLamp()
	change := func(f func(*lm63)) string {
		l := plain
		f(&l)
		return l.text()
	}
	tube := func(f func(*eulumdat)) string {
		e := cosineTube()
		f(&e)
		return e.text()
	}
	for _, tt := range []struct {
		what, text string
		line       int
		reason     string
	}{
		{"empty", " \n", 0, "empty"},
		{"other text", "Dear grower,\nthe lamp is bright.\n", 0, "no photometric file"},
		{"binary", "IESNA91\nTILT=NONE\n\x00", 3, "zero byte"},
		{"no TILT", "IESNA91\n1 1 1\n", 2, "TILT="},
		{"counts beyond the file", change(func(l *lm63) { l.lamps = "1 -1 1 37 72 1 2 0 0 0\n1 1 1" }), 10, "ends too soon"},
		{"absurd counts", strings.Replace(plain.text(), "1 -1 1 3 1", "1 -1 1 900000 900000", 1), 5, "more than any file"},
		{"count not whole", strings.Replace(plain.text(), "1 -1 1 3 1", "1 -1 1 3.5 1", 1), 5, "vertical angles is 3.5"},
		{"a value too few", strings.Replace(plain.text(), "100 50 0", "100 50", 1), 9, "ends too soon"},
		{"a value too many", strings.Replace(plain.text(), "100 50 0", "100 50 25 0", 1), 9, "left over"},
		{"a word among numbers", strings.Replace(plain.text(), "100 50 0", "100 fifty 0", 1), 9, "fifty"},
		{"NaN", strings.Replace(plain.text(), "100 50 0", "100 NaN 0", 1), 9, "NaN"},
		{"infinity", strings.Replace(plain.text(), "100 50 0", "100 1e999 0", 1), 9, "1e999"},
		{"hexadecimal", strings.Replace(plain.text(), "100 50 0", "100 0x10 0", 1), 9, "0x10"},
		{"below 0", change(func(l *lm63) { l.cd = []float64{100, -50, 0} }), 9, "below 0"},
		{"dark", change(func(l *lm63) { l.cd = []float64{0, 0, 0} }), 9, "every intensity is 0"},
		{"gammas descend", change(func(l *lm63) { l.vertical = []float64{0, 90, 60} }), 7, "after 90°"},
		{"gamma beyond", change(func(l *lm63) { l.vertical = []float64{0, 90, 190} }), 7, "190°"},
		{"planes end oddly", change(func(l *lm63) { l.planes, l.cd = []float64{0, 100}, []float64{1, 1, 1, 1, 1, 1} }), 8, "0° to 100°"},
		{"negative multiplier", change(func(l *lm63) { l.mult = -1 }), 5, "multiplier"},
		{"negative ballast", change(func(l *lm63) { l.ballast = "-1 1 1" }), 6, "ballast factor"},
		{"type 7 with negative angles", change(func(l *lm63) { l.kind, l.vertical = 7, []float64{-90, 0, 90} }), 5, "type is 7"},
		{"type B beyond", change(func(l *lm63) { l.kind, l.planes, l.cd = 2, []float64{0, 100}, []float64{1, 1, 1, 1, 1, 1} }), 8, "100°"},
		{"type B of one plane", change(func(l *lm63) { l.kind = 2 }), 8, "one horizontal angle"},
		{"beyond any lamp", change(func(l *lm63) { l.mult = 1e15 }), 9, "beyond any lamp"},
		{"TILT data bad", change(func(l *lm63) { l.tilt = "INCLUDE\n9\n2\n0 90\n1 1" }), 5, "geometry"},
		{"TILT dark", change(func(l *lm63) { l.tilt = "INCLUDE\n1\n2\n0 90\n0 1" }), 5, "dark"},
		{"symmetry 7", tube(func(e *eulumdat) { e.symmetry = 7 }), 3, "symmetry is 7"},
		{"planes do not fit", tube(func(e *eulumdat) { e.symmetry, e.planes = 4, []float64{0, 120, 240} }), 4, "multiple of 4"},
		{"too few values", tube(func(e *eulumdat) { e.values = []float64{1, 1} }), 48, "ends too soon"},
		{"too many values", tube(func(e *eulumdat) { e.values = []float64{1, 1, 1, 1} }), 50, "left over"},
		{"no set", tube(func(e *eulumdat) { e.sets = nil }), 26, "lamp sets"},
		{"negative factor", tube(func(e *eulumdat) { e.factor = -1 }), 24, "conversion factor"},
		{"negative size", tube(func(e *eulumdat) { e.size[3] = -1 }), 16, "mm"},
		{"word for a number", strings.Replace(cosineTube().text(), "1000\n4000 K", "many\n4000 K", 1), 29, "many"},
	} {
		_, err := photometricfile.Read(strings.NewReader(tt.text))
		var e *photometricfile.Error
		if !errors.As(err, &e) {
			t.Errorf("%s: %v, want an Error", tt.what, err)
			continue
		}
		if e.Line != tt.line || !strings.Contains(e.Error(), tt.reason) {
			t.Errorf("%s: %v, want line %d and %q", tt.what, e, tt.line, tt.reason)
		}
	}
	big := io.MultiReader(strings.NewReader(plain.text()), strings.NewReader(strings.Repeat(" ", 5<<20)))
	if _, err := photometricfile.Read(big); err == nil || !strings.Contains(err.Error(), "MiB") {
		t.Errorf("a file of 5 MiB: %v", err)
	}
}

func TestTilt(t *testing.T) {
	l := cosineLamp()
	l.tilt = "INCLUDE\n1\n3\n-30 30 90\n0.8 1.0 0.5"
	f := read(t, l.text())
	near(t, "factor between −30° and 30°", f.Tilt.FactorAt0, 0.9)
	near(t, "flux", f.Web.Flux(), 90*math.Pi)
	l.tilt = `C:\lab\T7.TLT`
	f = read(t, l.text())
	near(t, "flux without the file", f.Web.Flux(), 100*math.Pi)
	if !f.Tilt.NotAtHand || !strings.Contains(notes(f), "not at hand") {
		t.Errorf("%+v, %s", f.Tilt, notes(f))
	}
	beside := fstest.MapFS{"T7.TLT": {Data: []byte("1\n2\n0 90\n0.5 1\n")}, "BAD.TLT": {Data: []byte("1\n2\n0")}}
	f, err := photometricfile.ReadBeside(strings.NewReader(l.text()), beside)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "flux with the file", f.Web.Flux(), 50*math.Pi)
	l.tilt = "BAD.TLT"
	if _, err := photometricfile.ReadBeside(strings.NewReader(l.text()), beside); err == nil || !strings.Contains(err.Error(), "BAD.TLT") {
		t.Errorf("a bad TILT file: %v", err)
	}
}

// One lamp, I = 1000 cos γ (1 + 0.4 (across² − up²)), as type A, B and C.
func TestTypesAgree(t *testing.T) {
	lamp := func(across, up, along float64) float64 { return 1000 * along * (1 + 0.4*(across*across-up*up)) }
	var webs []*photometry.Web
	for kind := 1; kind <= 3; kind++ {
		l := cosineLamp()
		l.kind, l.cd, l.vertical, l.planes = kind, nil, nil, nil
		for a := -90.0; a <= 90; a += 5 {
			l.vertical, l.planes = append(l.vertical, a), append(l.planes, a)
		}
		if kind == 1 {
			l.vertical, l.planes = nil, nil
			for a := 0.0; a <= 90; a += 5 {
				l.vertical, l.planes = append(l.vertical, a), append(l.planes, a)
			}
		}
		for _, h := range l.planes {
			for _, v := range l.vertical {
				sh, ch := math.Sincos(h * math.Pi / 180)
				sv, cv := math.Sincos(v * math.Pi / 180)
				x := map[int]float64{1: lamp(sv*sh, sv*ch, cv), 2: lamp(sh, ch*sv, ch*cv), 3: lamp(sh*cv, sv, ch*cv)}[kind]
				l.cd = append(l.cd, math.Max(0, math.Round(x*1e6)/1e6))
			}
		}
		f := read(t, l.text())
		if want := []photometry.Coordinates{photometry.TypeC, photometry.TypeB, photometry.TypeA}[kind-1]; f.Coordinates != want {
			t.Errorf("code %d is type %v", kind, f.Coordinates)
		}
		webs = append(webs, f.Web)
	}
	for i, w := range webs {
		for c := quantity.Degree(0); c < 360; c += 15 {
			for g := quantity.Degree(0); g < 90; g += 4 {
				// 5° of linear interpolation: h²/8 of 1000 cd, 0.1 %, and of the factor.
				if got, want := w.At(c, g), webs[0].At(c, g); math.Abs(got-want) > 5 {
					t.Errorf("code %d toward %v, %v: %v cd, type C %v", i+1, c, g, got, want)
				}
			}
		}
	}
}

// EULUMDAT stores planes by symmetry: the same quadrant lamp five ways.
func TestEulumdatSymmetries(t *testing.T) {
	f := func(c, g float64) float64 {
		return math.Round(1e6*(100+20*math.Cos(c*math.Pi/90))*math.Cos(g*math.Pi/180)) / 1e6
	}
	var all, gammas []float64
	for c := 0.0; c < 360; c += 15 {
		all = append(all, c)
	}
	for g := 0.0; g <= 90; g += 5 {
		gammas = append(gammas, g)
	}
	for _, tt := range []struct{ symmetry, from, to int }{{0, 0, 345}, {2, 0, 180}, {3, 90, 270}, {4, 0, 90}} {
		e := cosineTube()
		e.symmetry, e.planes, e.gammas, e.values = tt.symmetry, all, gammas, nil
		for c := tt.from; c <= tt.to; c += 15 {
			for _, g := range gammas {
				e.values = append(e.values, f(float64(c), g))
			}
		}
		w := read(t, e.text()).Web
		for _, c := range all {
			near(t, fmt.Sprintf("symmetry %d toward %v", tt.symmetry, c), w.At(quantity.Degree(c), 30), f(c, 30))
		}
	}
}

func TestEulumdatSins(t *testing.T) {
	for _, tt := range []struct {
		what   string
		change func(*eulumdat)
		lumens float64
		note   string
	}{
		{"decimal commas and blank ratios", func(e *eulumdat) { e.directRatios = "blank"; e.sets = []string{"1\ntube\n1000,0\n4000\n1B\n20,5"} }, 314.159265, ""},
		{"two sets", func(e *eulumdat) { e.sets = append(e.sets, "2\ntube\n5000\n4000\n1B\n20") }, 314.159265, "first was taken"},
		{"absolute", func(e *eulumdat) { e.sets = []string{"-1\nLED\n3000\n4000\n80\n20"}; e.ratio = 0 }, 942.477796, "are stated"},
		{"no lumens", func(e *eulumdat) { e.sets = []string{"1\ntube\n\n4000\n1B\n20"} }, 314.159265, "only the shape"},
		{"factor", func(e *eulumdat) { e.factor = 2; e.ratio = 62.8 }, 628.318531, ""},
		{"factor 0", func(e *eulumdat) { e.factor = 0 }, 314.159265, "conversion factor is 0"},
		{"ratio does not fit", func(e *eulumdat) { e.ratio = 60 }, 314.159265, "output ratio of 60"},
		{"downward does not fit", func(e *eulumdat) { e.down = 60 }, 314.159265, "downward"},
		{"no luminous area", func(e *eulumdat) { e.size[3], e.size[4] = 0, 0 }, 314.159265, "size of the fixture"},
	} {
		e := cosineTube()
		tt.change(&e)
		f := read(t, e.text())
		near(t, tt.what, f.Web.Flux(), tt.lumens)
		if got := notes(f); !strings.Contains(got, tt.note) {
			t.Errorf("%s: no note says %q: %s", tt.what, tt.note, got)
		}
	}
	e := cosineTube()
	e.size = [9]float64{300, 0, 90, 250, 0, 30, 30, 30, 30}
	if o := read(t, e.text()).Opening; o != (photometry.Opening{Shape: photometry.CylinderShape, AlongC0: 0.25, AlongC90: 0.25, Height: 0.03}) {
		t.Errorf("a round lamp is %+v", o)
	}
}

func TestKeywords(t *testing.T) {
	l := cosineLamp()
	l.labels = []string{"[TEST]7", "[manufac]  Hollin Lamp Works  ", "[LUMINAIRE] Bar of extruded", "[MORE] aluminium", "[_COLOUR] 4000 K", "[OTHER]", "free\x1b[31m words"}
	f := read(t, l.text())
	if f.Keyword("LUMINAIRE") != "Bar of extruded aluminium" || f.Keyword("MANUFAC") != "Hollin Lamp Works" || f.Keyword("_colour") != "4000 K" || f.Keyword("TEST") != "7" {
		t.Errorf("%+v", f.Keywords)
	}
	if last := f.Keywords[len(f.Keywords)-1]; last.Name != "" || strings.ContainsRune(last.Value, 0x1b) || last.Line != 8 {
		t.Errorf("%+v", last)
	}
}

// What is in this file that the maker sent?
func ExampleRead() {
	const text = `IESNA:LM-63-2002
[TEST] 1
[MANUFAC] Hollin Lamp Works
[LUMINAIRE] Bar 42
TILT=NONE
1 -1 1 4 1 1 2 0.04 1.1 0
1 1 4
0 30 60 90
0
100 86.6 50 0
`
	f, err := photometricfile.Read(strings.NewReader(text))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, %s: %.0f lm from %.0f W, a %v of %.0f by %.0f cm\n", f.Format, f.Keyword("LUMINAIRE"), f.Web.Flux(), f.Watts,
		f.Opening.Shape, 100*f.Opening.AlongC0, 100*f.Opening.AlongC90)
	// Output: LM-63-2002, Bar 42: 314 lm from 4 W, a rectangle of 110 by 4 cm
}
