package spectrumfile

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"underlamp/science/spectrum"
)

// rows writes a spectrum of 5 nm steps with the separator and decimal mark given.
func rows(sep, decimal string) string {
	var b strings.Builder
	for nm := 400; nm <= 700; nm += 5 {
		v := strings.ReplaceAll(fmt.Sprintf("%.3f", value(nm)), ".", decimal)
		n := strings.ReplaceAll(fmt.Sprintf("%d.0", nm), ".", decimal)
		b.WriteString(n + sep + v + "\n")
	}
	return b.String()
}

func value(nm int) float64 { return 1 + float64(nm-400)/100 }

func wide16(s string, little bool, mark bool) string {
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xfeff}, units...)
	}
	var b []byte
	for _, u := range units {
		if little {
			b = append(b, byte(u), byte(u>>8))
		} else {
			b = append(b, byte(u>>8), byte(u))
		}
	}
	return string(b)
}

// The same spectrum in every dress.
func TestDresses(t *testing.T) {
	plainRows := rows(",", ".")
	for name, text := range map[string]string{
		"comma": plainRows, "tab": rows("\t", "."), "semicolon": rows(";", "."), "blanks": rows("   ", "."), "comma and blank": rows(", ", "."),
		"semicolon, decimal comma": rows(";", ","), "tab, decimal comma": rows("\t", ","), "blank, decimal comma": rows(" ", ","),
		"quoted":        strings.ReplaceAll(`"`+strings.ReplaceAll(strings.TrimSpace(rows(`";"`, ",")), "\n", "\"\n\"")+"\"\n", `;`, ","),
		"last empty":    strings.ReplaceAll(rows(";", "."), "\n", ";\n"),
		"BOM":           "\ufeff" + plainRows,
		"CRLF":          strings.ReplaceAll(plainRows, "\n", "\r\n"),
		"CR":            strings.ReplaceAll(plainRows, "\n", "\r"),
		"no last line":  strings.TrimSpace(plainRows),
		"UTF-16 LE":     wide16(plainRows, true, true),
		"UTF-16 BE":     wide16(plainRows, false, true),
		"UTF-16, bare":  wide16(plainRows, true, false),
		"units":         strings.ReplaceAll(plainRows, ".0,", " nm,"),
		"heading":       "An invented lamp\nmeasured on a bench\n\nnm,value\n" + plainRows,
		"comments":      "# one\n% two\n! three\n// four\n" + plainRows + "# five\n",
		"blank lines":   "\n\n" + strings.ReplaceAll(plainRows, "\n", "\n\n"),
		"footer":        plainRows + "\n>>> end of the data\nchecked by nobody\n",
		"leading blank": "  " + strings.ReplaceAll(plainRows, "\n", "\n  "),
		"Latin-1":       "Wellenl\xe4nge;Wert\n" + rows(";", "."),
	} {
		d, err := Read(strings.NewReader(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(d.NM) != 61 {
			t.Errorf("%s: %d samples, want 61", name, len(d.NM))
			continue
		}
		for i, nm := range d.NM {
			if want := value(400 + 5*i); nm != float64(400+5*i) || math.Abs(d.Value[i]-want) > 1e-9 {
				t.Errorf("%s: %g at %g nm, want %g at %d", name, d.Value[i], nm, want, 400+5*i)
				break
			}
		}
		if d.BasisKnown {
			t.Errorf("%s: a basis was made up: %v", name, d.Notes)
		}
		if _, err := d.Spectrum(); !errors.Is(err, ErrBasis) {
			t.Errorf("%s: %v, want ErrBasis", name, err)
		}
	}
}

// Units in headings, and the factor to W or µmol for each nm.
func TestUnits(t *testing.T) {
	const e, p = spectrum.Energy, spectrum.Photons
	const rel, flux, density = spectrum.Relative, spectrum.Flux, spectrum.FluxDensity
	for _, c := range []struct {
		heading string
		known   bool
		basis   spectrum.Basis
		scale   spectrum.Scale
		factor  float64
	}{
		{"nm,W/m2/nm", true, e, density, 1},
		{"Wavelength [nm],Irradiance [W/(m²·nm)]", true, e, density, 1},
		{"wavelength_nm,W_m2_nm", true, e, density, 1},
		{"Wavelength (nm),mW m⁻² nm⁻¹", true, e, density, 1e-3},
		{"nm,µW/cm²/nm", true, e, density, 1e-2},
		{"nm,μW/cm^2/nm", true, e, density, 1e-2},
		{"nm,W/nm", true, e, flux, 1},
		{"nm,mW/nm", true, e, flux, 1e-3},
		{"nm,µmol m-2 s-1 nm-1", true, p, density, 1},
		{"nm,umol/m2/s/nm", true, p, density, 1},
		{"wavelength_nm,umol_m2_s_nm", true, p, density, 1},
		{"nm,µmol/s/nm", true, p, flux, 1},
		{"nm,nmol/s/nm", true, p, flux, 1e-3},
		{"nm,mol/m2/s/nm", true, p, density, 1e6},
		{"nm,W/m2", true, e, rel, 1},
		{"wavelength nm,µmol/m2/s", true, p, rel, 1},
		{"nm,relative energy", true, e, rel, 1},
		{"nm,normalised W/nm", true, e, rel, 1},
		{"nm,relative photon flux", true, p, rel, 1},
		{"nm,spectral power distribution", true, e, rel, 1},
		{"nm,photon irradiance", true, p, rel, 1},
		{"nm,irradiance", true, e, rel, 1},
		{"nm,intensity", false, p, rel, 1},
		{"nm,counts", false, p, rel, 1},
		{"nm,watts or photons", false, p, rel, 1},
		{"nm,wool", false, p, rel, 1},
		{"# energy, relative\nnm,value", true, e, rel, 1},
	} {
		d, err := Read(strings.NewReader(c.heading + "\n" + rows(",", ".")))
		if err != nil {
			t.Errorf("%q: %v", c.heading, err)
			continue
		}
		if d.BasisKnown != c.known || d.Basis != c.basis || d.Scale != c.scale || math.Abs(d.Value[0]-c.factor) > 1e-12*c.factor {
			t.Errorf("%q: known %v, %v, scale %d, %g; notes %q", c.heading, d.BasisKnown, d.Basis, d.Scale, d.Value[0], d.Notes)
		}
		if len(d.Notes) == 0 {
			t.Errorf("%q: nothing is said of the guess", c.heading)
		}
	}
}

// What is mended is said.
func TestMended(t *testing.T) {
	reversed := strings.Split(strings.TrimSpace(rows(",", ".")), "\n")
	for i, j := 0, len(reversed)-1; i < j; i, j = i+1, j-1 {
		reversed[i], reversed[j] = reversed[j], reversed[i]
	}
	all := rows(",", ".")
	for name, c := range map[string]struct{ text, note string }{
		"descending": {strings.Join(reversed, "\n"), "descend"},
		"doubles":    {strings.Replace(all, "450.0,1.500", "450.0,1.400\n450.0,1.600", 1), "stand twice"},
		"noise":      {strings.Replace(all, "450.0,1.500", "450.0,-0.160", 1), "below 0"},
		"missing":    {strings.Replace(all, "450.0,1.500", "450.0,NaN", 1), "no value"},
		"gap":        {cut(all, 450, 490), "between 445 and 495 nm"},
		"coarse":     {"400 1\n420 1\n440 1\n460 1\n480 1\n500 1\n520 1\n", "coarse"},
		"commas":     {rows(";", ","), "Decimal commas"},
	} {
		d, err := Read(strings.NewReader(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !strings.Contains(strings.Join(d.Notes, "\n"), c.note) {
			t.Errorf("%s: notes %q do not say %q", name, d.Notes, c.note)
		}
		for i, v := range d.Value {
			if v < 0 || i > 0 && d.NM[i] <= d.NM[i-1] {
				t.Errorf("%s: %g at %g nm", name, v, d.NM[i])
			}
		}
		if name == "doubles" && math.Abs(d.Value[10]-1.5) > 1e-12 {
			t.Errorf("mean of doubles is %g", d.Value[10])
		}
	}
}

// cut leaves out the wavelengths from one to another.
func cut(text string, from, to int) string {
	var b strings.Builder
	for l := range strings.Lines(text) {
		var nm float64
		if _, err := fmt.Sscanf(l, "%f,", &nm); err == nil && nm >= float64(from) && nm <= float64(to) {
			continue
		}
		b.WriteString(l)
	}
	return b.String()
}

// What is not safe is refused with line and reason.
func TestRefused(t *testing.T) {
	all := rows(",", ".")
	for name, c := range map[string]struct {
		text string
		line int
		want string
	}{
		"empty":            {"", 0, "empty"},
		"blank":            {" \n\t\n", 0, "empty"},
		"words":            {"a spectrum\nof a lamp\n", 0, "no line holds"},
		"one column":       {"1\n2\n3\n", 0, "no line holds"},
		"binary":           {"\x01\x02\x00\x03spectrum", 1, "not text"},
		"three columns":    {"nm,a,b\n" + strings.ReplaceAll(all, "\n", ",3\n"), 2, "more than two numbers"},
		"bare commas":      {"400,0,1,5\n401,0,1,6\n", 1, "more than two numbers"},
		"micrometres":      {"0.40 1\n0.45 1\n0.5 1\n0.55 2\n0.6 1\n", 1, "0.4 nm"},
		"angstrom":         {"3900 1\n4500 1\n5000 1\n5500 2\n6000 1\n", 2, "ångström"},
		"up and down":      {strings.Replace(all, "450.0", "550.0", 1), 12, "up and down"},
		"words in data":    {strings.Replace(all, "450.0,1.500", "450.0,high", 1), 11, "stands among the data"},
		"two spectra":      {all + "second\n" + all, 62, "stands among the data"},
		"too much noise":   {strings.Replace(all, "450.0,1.500", "450.0,-0.900", 1), 11, "too much for noise"},
		"dark":             {"400 0\n410 0\n420 0\n430 0\n440 0\n", 0, "no value is above 0"},
		"few":              {"400 1\n410 1\n", 0, "only 2"},
		"steps":            {"400 1\n450 1\n500 1\n550 1\n600 1\n", 0, "50 nm apart"},
		"hole":             {cut(all, 450, 520), 0, "between 445 and 525"},
		"infrared":         {"900 1\n910 1\n920 1\n930 1\n940 1\n", 0, "900 to 940"},
		"infinite":         {strings.Replace(all, "450.0,1.500", "450.0,Inf", 1), 11, "stands among"},
		"huge":             {strings.Replace(all, "450.0,1.500", "450.0,1e99", 1), 0, "largest value"},
		"hexadecimal":      {strings.Replace(all, "450.0,1.500", "450.0,0x1p4", 1), 11, "stands among"},
		"thousands":        {strings.Replace(rows(";", ","), "450,0;1,500", "450,0;1.234,5", 1), 11, "stands among"},
		"too large":        {strings.Repeat("x", MaxBytes+1), 0, "larger than 4 MiB"},
		"too many samples": {strings.Repeat("500 1\n", MaxSamples+1), MaxSamples + 1, "more than"},
	} {
		d, err := Read(strings.NewReader(c.text))
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s: %v, %v", name, d, err)
			continue
		}
		if e.Line != c.line || !strings.Contains(e.Error(), c.want) || e.Do == "" {
			t.Errorf("%s: line %d, %q; want line %d, %q", name, e.Line, e, c.line, c.want)
		}
	}
	failed := errors.New("the disk is gone")
	if _, err := Read(io.MultiReader(strings.NewReader(all), iotest.ErrReader(failed))); !errors.Is(err, failed) {
		t.Errorf("a failing reader gives %v", err)
	}
}

// A file of each basis gives the same light: 555 nm carries 4.64 µmol for each
// joule (555/119.6266), whatever the file counts.
func TestBasisMatters(t *testing.T) {
	energy, err := Read(strings.NewReader("nm,W/m2/nm\n553,0\n554,0\n555,1\n556,0\n557,0\n"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := energy.Spectrum()
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Total(spectrum.Photons); math.Abs(got-4.6394) > 1e-4 {
		t.Errorf("%g µmol for a joule, want 4.6394", got)
	}
	if s.Scale() != spectrum.FluxDensity {
		t.Errorf("scale %d", s.Scale())
	}
}

func ExampleRead() {
	d, err := Read(strings.NewReader("Lamp on shelf 2\nnm;µmol/m²/s/nm\n400,0;0,1\n410,0;0,4\n420,0;0,9\n430,0;0,4\n440,0;0,1\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %d wavelengths, %v\n", d.Title, len(d.NM), d.Basis)
	for _, n := range d.Notes {
		fmt.Println(n)
	}
	_, err = Read(strings.NewReader("0.40 12\n0.45 30\n0.50 9\n"))
	fmt.Println(err)
	// Output:
	// Lamp on shelf 2: 5 wavelengths, photons
	// Decimal commas were read.
	// The heading "µmol/m²/s/nm" was taken as photons, µmol/m²/s for each nm.
	// line 1: a wavelength of 0.4 nm; the first column must be the wavelength in nm (no row numbers, no µm, no eV)
}

// FuzzRead: no text makes the reader panic or give what package spectrum does
// not take, and what was read is read again the same when written plainly.
func FuzzRead(f *testing.F) {
	f.Add([]byte(rows(",", ".")))
	f.Add([]byte(rows(";", ",")))
	f.Add([]byte("nm\tmW/m2/nm\r\n" + rows("\t", ".")))
	f.Add([]byte(wide16(rows(" ", "."), true, true)))
	f.Add([]byte("# x\n400,-0.01\n405,1\n410,1\n415,NaN\n420,1\n425,2\n"))
	f.Add([]byte("\"400,0\",\"1,5\"\n\"405,0\",\"1\"\n\"410\",\"1\"\n\"415\",\"2\"\n\"420\",\"2\"\nend\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		d, err := Read(strings.NewReader(string(raw)))
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Reason == "" || e.Line < 0 || e.Line > 1+len(raw) || strings.ContainsAny(e.Error(), "\n\x00") {
				t.Fatalf("%q", err)
			}
			return
		}
		d.BasisKnown = true
		if _, err := d.Spectrum(); err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		b.WriteString("nm W/nm\n")
		for i := range d.NM {
			fmt.Fprintf(&b, "%v %v\n", d.NM[i], d.Value[i])
		}
		again, err := Read(strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("read once, refused when written again: %v", err)
		}
		for i := range d.NM {
			if again.NM[i] != d.NM[i] || again.Value[i] != d.Value[i] {
				t.Fatalf("%g at %g nm became %g at %g nm", d.Value[i], d.NM[i], again.Value[i], again.NM[i])
			}
		}
	})
}

func BenchmarkRead401Samples(b *testing.B) {
	var text strings.Builder
	text.WriteString("nm,W/m2/nm\n")
	for nm := 380; nm <= 780; nm++ {
		fmt.Fprintf(&text, "%d,%.6f\n", nm, math.Sin(float64(nm))+1)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(strings.NewReader(text.String())); err != nil {
			b.Fatal(err)
		}
	}
}
