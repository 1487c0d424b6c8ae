package spectrumfile

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"underlamp/formats/plaintext"
	"underlamp/science/spectrum"
)

// Limits of what is read.
const (
	MaxBytes   = 4 << 20 // of a file
	MaxSamples = 50_000  // wavelengths of a spectrum
	minSamples = 5
)

// Data is a spectrum file as it was understood.
type Data struct {
	Title      string    // the first words of the file's heading; may be empty
	NM         []float64 // wavelengths in nm, strictly ascending
	Value      []float64 // one for each wavelength, at least 0
	Basis      spectrum.Basis
	BasisKnown bool // false if nothing in the file tells energy from photons
	Scale      spectrum.Scale
	Notes      []string // what was guessed or mended, in sentences
}

// An Error says what cannot be used, where, and what to do about it.
type Error struct {
	Line   int // from 1; 0 if it is about the whole file
	Reason string
	Do     string
}

// Error is one line of text.
func (e *Error) Error() string {
	s := e.Reason
	if e.Line > 0 {
		s = fmt.Sprintf("line %d: %s", e.Line, s)
	}
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}

// ErrBasis is returned by [Data.Spectrum] if the file does not say whether it
// counts energy or photons.
var ErrBasis = errors.New("the file does not say whether its values are energy (watts) or photons (µmol)")

// Spectrum makes a spectrum of the data.
func (d *Data) Spectrum() (spectrum.Spectrum, error) {
	if !d.BasisKnown {
		return spectrum.Spectrum{}, ErrBasis
	}
	return spectrum.New(spectrum.Samples{NM: d.NM, Value: d.Value, Basis: d.Basis, Scale: d.Scale})
}

// Read reads one spectrum. What is wrong with the text gives an [*Error]; a
// failure of r is returned as it is.
func Read(r io.Reader) (*Data, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > MaxBytes {
		return nil, &Error{Reason: fmt.Sprintf("the file is larger than %d MiB", MaxBytes>>20), Do: "a spectrum of 1 nm steps takes a few kB: keep wavelength and one value"}
	}
	d := &Data{}
	lines, notes, err := plaintext.Lines(raw)
	if bad, ok := errors.AsType[*plaintext.NotTextError](err); ok {
		return nil, &Error{Line: bad.Line, Reason: "the file is not text", Do: "save the spectrum as text or CSV"}
	} else if err != nil {
		return nil, &Error{Reason: err.Error(), Do: "give lines of wavelength and value"}
	}
	d.Notes = notes
	t, err := split(lines)
	if err != nil {
		return nil, err
	}
	d.Notes = append(d.Notes, t.notes...)
	d.Title = t.title
	factor := d.units(t)
	if err := d.order(t); err != nil {
		return nil, err
	}
	if err := d.noise(t); err != nil {
		return nil, err
	}
	if err := d.steps(); err != nil {
		return nil, err
	}
	for i := range d.Value {
		d.Value[i] *= factor
	}
	if _, err := spectrum.New(spectrum.Samples{NM: d.NM, Value: d.Value}); err != nil {
		return nil, &Error{Reason: err.Error()}
	}
	return d, nil
}

func (d *Data) note(format string, args ...any) {
	d.Notes = append(d.Notes, fmt.Sprintf(format, args...))
}

// order fills the samples by ascending wavelength.
func (d *Data) order(t *text) error {
	for _, s := range t.samples {
		switch {
		case s.nm < spectrum.Shortest:
			return &Error{Line: s.line, Reason: fmt.Sprintf("a wavelength of %g nm", s.nm),
				Do: "the first column must be the wavelength in nm (no row numbers, no µm, no eV)"}
		case s.nm > spectrum.Longest:
			return &Error{Line: s.line, Reason: fmt.Sprintf("a wavelength of %g nm", s.nm),
				Do: "the first column must be the wavelength in nm (no ångström, no wavenumbers, no row numbers)"}
		}
	}
	s := t.samples
	if s[0].nm > s[len(s)-1].nm {
		slices.Reverse(s)
		d.note("The wavelengths descend; they were turned round.")
	}
	for i := 1; i < len(s); i++ {
		if s[i].nm < s[i-1].nm {
			return &Error{Line: s[i].line, Reason: fmt.Sprintf("the wavelengths go up and down (%g nm beside %g nm)", s[i].nm, s[i-1].nm),
				Do: "the first column must be the wavelength, of one spectrum"}
		}
	}
	doubles := 0
	for i := 0; i < len(s); {
		sum, n := 0.0, 0
		for j := i; j < len(s) && s[j].nm == s[i].nm; j++ {
			sum += s[j].v
			n++
		}
		d.NM, d.Value = append(d.NM, s[i].nm), append(d.Value, sum/float64(n))
		doubles += n - 1
		i += n
	}
	if doubles > 0 {
		d.note("%d wavelengths stand twice; their values were averaged.", doubles)
	}
	if len(d.NM) < minSamples {
		return &Error{Reason: fmt.Sprintf("there are only %d wavelengths", len(d.NM)), Do: fmt.Sprintf("a spectrum needs at least %d lines of wavelength and value", minSamples)}
	}
	return nil
}

// mostNoise is how far below zero noise may go, as a share of the peak.
const mostNoise = 0.05

// noise cuts off what is below zero, if it can be noise.
func (d *Data) noise(t *text) error {
	peak := slices.Max(d.Value)
	if peak > 1e80 {
		return &Error{Reason: fmt.Sprintf("the largest value is %g", peak), Do: "the second column must be the light at the wavelength"}
	}
	if !(peak > 1e-80) {
		return &Error{Reason: "no value is above 0", Do: "the second column must be the light at the wavelength, on a linear scale"}
	}
	count, least, below, above := 0, 0.0, 0.0, 0.0
	for i, v := range d.Value {
		if v < 0 {
			count++
			below -= v
			least = math.Min(least, v)
			d.Value[i] = 0
			if -v > mostNoise*peak {
				return &Error{Line: t.lineOf(d.NM[i]), Reason: fmt.Sprintf("the value at %g nm is below 0 by %.2g %% of the peak, too much for noise", d.NM[i], -100*v/peak),
					Do: "take the dark spectrum off, and give values on a linear scale"}
			}
		} else {
			above += v
		}
	}
	if count > 0 {
		d.note("%d values are below 0 (noise, at most %.2g %% of the peak); they were set to 0, which adds %.2g %% to the whole.", count, -100*least/peak, 100*below/above)
	}
	return nil
}

// Steps between wavelengths, in nm.
const (
	coarse    = 10 // said
	tooCoarse = 30 // refused: a diode is 20 nm wide
	gap       = 15 // said, if it is three times the usual step as well
	tooWide   = 50 // refused where plants and eyes see
)

func (d *Data) steps() error {
	var steps []float64
	for i := 1; i < len(d.NM); i++ {
		steps = append(steps, d.NM[i]-d.NM[i-1])
	}
	sorted := slices.Clone(steps)
	slices.SortFunc(sorted, cmp.Compare)
	usual := sorted[len(sorted)/2]
	first, last := d.NM[0], d.NM[len(d.NM)-1]
	switch {
	case last < 400 || first > 780:
		return &Error{Reason: fmt.Sprintf("the data reach from %g to %g nm", first, last), Do: "give some of 400 to 780 nm, in nm"}
	case usual > tooCoarse:
		return &Error{Reason: fmt.Sprintf("the wavelengths are %g nm apart", usual), Do: fmt.Sprintf("steps of at most %d nm are needed, or the peak of a diode is missed", tooCoarse)}
	case usual > coarse:
		d.note("The wavelengths are %g nm apart: coarse, the peak of a diode may be missed.", usual)
	}
	for i, s := range steps {
		if s <= gap || s <= 3*usual {
			continue
		}
		from, to := d.NM[i], d.NM[i+1]
		if s > tooWide && to > 380 && from < 780 {
			return &Error{Reason: fmt.Sprintf("nothing is given between %g and %g nm", from, to), Do: "light may be missing there; give the whole spectrum"}
		}
		d.note("Nothing is given between %g and %g nm; a straight line was drawn.", from, to)
	}
	return nil
}
