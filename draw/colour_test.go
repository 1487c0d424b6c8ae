package draw

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
)

// W3C (2024), CSS Color Module Level 4, gives the sRGB primaries and grey in OKLCH
// to five digits; back in 8 bits they must be what they were.
func TestOKLCHPrimaries(t *testing.T) {
	for _, c := range []struct {
		in   lch
		want rgb
	}{
		{lch{0.62796, 0.25768, 29.234}, rgb{255, 0, 0}}, {lch{0.86644, 0.29483, 142.495}, rgb{0, 255, 0}},
		{lch{0.45201, 0.31321, 264.052}, rgb{0, 0, 255}}, {lch{0.59987, 0, 0}, rgb{128, 128, 128}}, {lch{1, 0, 0}, rgb{255, 255, 255}}, {lch{0, 0, 0}, rgb{0, 0, 0}},
	} {
		lin, _ := c.in.linear()
		for i, v := range lin {
			// Half a unit of 8 bits: what rounds to the same colour.
			if got := 255 * encode(math.Min(math.Max(v, 0), 1)); math.Abs(got-float64(c.want[i])) > 0.5 {
				t.Errorf("%v: channel %d is %.2f, want %d", c.in, i, got, c.want[i])
			}
		}
	}
}

// WCAG22 defines black on white as 21; #767676 is the well-known lightest grey
// that reaches 4.5 on white, #777777 the first that does not (4.48).
func TestContrast(t *testing.T) {
	white := rgb{255, 255, 255}
	if got := contrast(rgb{}, white); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %g, want 21", got)
	}
	if a, b := contrast(rgb{0x76, 0x76, 0x76}, white), contrast(rgb{0x77, 0x77, 0x77}, white); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676 has %g, #777777 %g; want the one above and the other below 4.5", a, b)
	}
}

// deficiencies are full protanopia, deuteranopia and tritanopia in linear sRGB:
// G. M. Machado, M. M. Oliveira, L. A. F. Fernandes (2009), A physiologically-based
// model for simulation of color vision deficiency, IEEE Transactions on
// Visualization and Computer Graphics 15(6):1291-1298, matrices of severity 1.0.
var deficiencies = map[string][3][3]float64{
	"none":         {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"no colour":    {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

// TestScalesForEveryEye: along every scale lightness L* (CIE 15: 116·Y^⅓ − 16)
// goes one way for every kind of eye. Ten bands must lie at least 3 apart: a
// difference of 2.3 is just noticeable (M. Mahy et al. 1994, Color Research and
// Application 19:105-121).
func TestScalesForEveryEye(t *testing.T) {
	for _, s := range []Scale{ScaleLight, ScaleBurn, ScaleYield} {
		for name, m := range deficiencies {
			last := math.NaN()
			for i := range 10 {
				c := s.at(float64(i) / 9)
				var y float64
				for row, weight := range []float64{0.2126, 0.7152, 0.0722} {
					var v float64
					for k := range 3 {
						v += m[row][k] * decode(float64(c[k])/255)
					}
					y += weight * math.Min(math.Max(v, 0), 1)
				}
				l := 116*math.Cbrt(y) - 16
				step := l - last
				if s != ScaleLight {
					step = -step
				}
				if i > 0 && step < 3 {
					t.Errorf("scale %d, %s: band %d is %.1f from the one before", s, name, i, step)
				}
				last = l
			}
		}
	}
}

// Ink on any band is readable: WCAG22 asks for 4.5.
func TestInkOnScales(t *testing.T) {
	for _, s := range []Scale{ScaleLight, ScaleBurn, ScaleYield} {
		for i := 0; i <= 100; i++ {
			c := s.at(float64(i) / 100)
			if got := contrast(c, inkOn(c)); got < 4.5 {
				t.Errorf("scale %d at %d %%: contrast %.2f", s, i, got)
			}
		}
	}
	if ScaleLight.At(math.NaN()) != "#808080" || ScaleLight.At(-1) != ScaleLight.At(0) || ScaleLight.At(2) != ScaleLight.At(1) {
		t.Error("the ends do not hold")
	}
}

// theme reads custom properties.
func theme(t *testing.T, vars string) map[string]rgb {
	t.Helper()
	out := map[string]rgb{}
	for _, m := range regexp.MustCompile(`--d-(\w+):#(\w{6});`).FindAllStringSubmatch(vars, -1) {
		var c rgb
		if _, err := fmt.Sscanf(m[2], "%02x%02x%02x", &c[0], &c[1], &c[2]); err != nil {
			t.Fatal(err)
		}
		out[m[1]] = c
	}
	if len(out) != 9 {
		t.Fatalf("%d properties, want 9", len(out))
	}
	return out
}

// WCAG22: text 4.5, and so lines of series too, because their names have their
// colour.
func TestThemeContrast(t *testing.T) {
	for name, vars := range map[string]string{"light": lightVars, "dark": darkVars} {
		c := theme(t, vars)
		for _, k := range []string{"ink", "soft", "s0", "s1", "s2", "s3", "s4"} {
			if got := contrast(c[k], c["paper"]); got < 4.5 {
				t.Errorf("%s: --d-%s on paper has %.2f", name, k, got)
			}
		}
	}
}

// A picture that stands alone has the colours of the light theme, and every class
// in a picture is known to the stylesheet.
func TestLooksMatchCSS(t *testing.T) {
	light := theme(t, lightVars)
	for _, c := range []struct{ l, name string }{
		{string(inkText), "ink"}, {string(boldText), "ink"}, {string(softText), "soft"}, {string(inkLine), "ink"}, {string(wallLine), "ink"}, {string(openLine), "ink"},
		{string(softLine), "soft"}, {string(softDash), "soft"}, {string(ruleLine), "rule"}, {string(inkFill), "ink"},
		{string(seriesLine(0)), "s0"}, {string(seriesLine(1)), "s1"}, {string(seriesFill(2)), "s2"}, {string(seriesFill(3)), "s3"}, {string(seriesBand(4)), "s4"},
	} {
		if !strings.Contains(c.l, light[c.name].hex()) {
			t.Errorf("%s has not the colour of --d-%s", c.l, c.name)
		}
	}
	for name, draw := range samples() {
		for _, m := range regexp.MustCompile(`class="([^"]+)"`).FindAllStringSubmatch(draw(Frame{ID: "c"}).SVG, -1) {
			for class := range strings.FieldsSeq(m[1]) {
				if !strings.Contains(CSS, "."+class+"{") && !strings.Contains(CSS, "."+class+" ") {
					t.Errorf("%s: class %s is not in CSS", name, class)
				}
			}
		}
	}
	if strings.Count(CSS, "{") != strings.Count(CSS, "}") {
		t.Error("braces of CSS do not pair")
	}
}
