package benchfile

import (
	"io/fs"
	"path"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/energycost"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
)

// Files opens what a bench file names: photometric files, spectra, profiles and feeds that
// lie beside it. A nil function refuses such names with a sentence. Names are paths
// in the manner of package fs: relative, with slashes, and never upwards.
type Files struct {
	Photometry func(name string) (*photometry.File, error)
	Spectrum   func(name string) (spectrum.Spectrum, error)
	Profile    func(name string) (*underlamp.Profile, error)
	Feed       func(name string) (*underlamp.FeedMade, error)
}

// fileName reads the name of a file beside the bench file.
func (r *reader) fileName(v handwritten.Value, example string) (string, bool) {
	want := "the name of a file in the folder of this one, such as " + example
	name, ok := r.Words(v, 200)
	if !ok {
		return "", false
	}
	if !fs.ValidPath(name) || name == "." || path.IsAbs(name) || strings.ContainsAny(name, "\\:") {
		r.Errorf(v, want, "%q is no name of a file beside this one", handwritten.Shortened(name))
		return "", false
	}
	return name, true
}

// photometry reads the photometric file of a lamp.
func (r *reader) photometry(v handwritten.Value) *underlamp.LampFile {
	name, ok := r.fileName(v, "lamps/bar.ies")
	if !ok {
		return nil
	}
	if r.files.Photometry == nil {
		r.Errorf(v, "beam: 120° instead", "photometric files cannot be opened from here, as the bench does not come from a folder")
		return nil
	}
	file, err := r.files.Photometry(name)
	if err != nil {
		r.Errorf(v, "a file in LM-63 (.ies) or EULUMDAT (.ldt)", "%s: %s", name, firstClauses(err))
		return nil
	}
	for _, n := range file.Notes {
		r.Warnf(v, "", "%s, line %d: %s", name, n.Line, strings.TrimSuffix(n.Text, "."))
	}
	return &underlamp.LampFile{Name: name, File: file}
}

// colour reads the spectrum of a lamp.
func (r *reader) colour(v handwritten.Value) *underlamp.LampColour {
	name, ok := r.fileName(v, "lamps/bar.csv")
	if !ok {
		return nil
	}
	if r.files.Spectrum == nil {
		r.Errorf(v, "nothing", "spectra cannot be opened from here, as the bench does not come from a folder")
		return nil
	}
	s, err := r.files.Spectrum(name)
	if err != nil {
		r.Errorf(v, "a table of two columns, wavelength in nm and light", "%s: %s", name, firstClauses(err))
		return nil
	}
	return &underlamp.LampColour{Name: name, Spectrum: s}
}

// A relative standard deviation of the photons that lumens are worth with the
// lamp's own spectrum: two instruments at 5 % each (common practice, no source).
const lumensBySpectrumSD = 0.07

// fromFile takes from the photometric file what the bench file leaves out: the
// beam, the opening, the watts, and with a spectrum or a class of lamp the flux.
func (r *reader) fromFile(f handwritten.Fields, l *underlamp.Lamp) {
	v := f.Get("photometry")
	per := f.Get("lux per ppfd")
	if l.File == nil {
		if per.Written() && !v.Written() {
			r.Errorf(per, "photometry: with the file that has the lumens, or flux: instead", "the photons in a lumen are of use only with a photometric file")
		}
		return
	}
	file := l.File.File
	if b := f.Get("beam"); b.Written() {
		r.Warnf(b, "beam or photometry", "the beam comes from %s; what is written here is not used", l.File.Name)
	}
	l.Beam = underlamp.Given[quantity.Degree]{Value: file.Web.BeamAngle().Mean, Origin: underlamp.Label, Note: "from " + l.File.Name}
	if watts := f.Get("watts"); !watts.Written() && file.Watts > 0 && wattsSpan.Holds(file.Watts) {
		l.Power = underlamp.Given[quantity.Watt]{Value: quantity.Watt(file.Watts), Origin: underlamp.Label, Note: "from " + l.File.Name}
	}
	if f.Get("flux").Written() || f.Get("watts").Written() && f.Get("efficacy").Written() {
		return // the file says how the light spreads, the label how much there is
	}
	lumens := file.Web.Flux()
	factor, sd, how := 0.0, 0.0, ""
	switch {
	case per.Written():
		factor, sd, how = r.photonsPerLumen(per)
		if factor == 0 {
			return
		}
	case l.Colour != nil:
		factor, sd, how = l.Colour.MicromolesPerLumen(), lumensBySpectrumSD, "the spectrum "+l.Colour.Name
	case f.Get("spectrum").Written():
		return // the spectrum is wrong, which was said
	default:
		r.Missing(v, "flux: 110 µmol/s, spectrum: bar.csv, or lux per ppfd: white LED", "what the lumens of the file are worth in photons")
		return
	}
	flux := lumens * factor
	if !fluxSpan.Holds(flux) {
		r.Errorf(v, r.Wanted(quantity.PhotonFlux, fluxSpan), "%s lm make %s, which is no lamp that is read here", quantity.Number(lumens, 4), r.Show(quantity.PhotonFlux, flux))
		return
	}
	l.Flux = underlamp.Given[quantity.PPF]{Value: quantity.PPF(flux), Origin: underlamp.Computed,
		Note: quantity.Number(lumens, 4) + " lm of " + l.File.Name + " by " + how}
	l.FluxSD = quantity.Fraction(sd)
}

// photonsPerLumen reads what a lumen is worth: a kind of lamp, or its factor from
// PPFD to lux. It returns 0 where it is wrong.
func (r *reader) photonsPerLumen(v handwritten.Value) (perLumen, relativeSD float64, how string) {
	var names []string
	for _, c := range photometry.Classes() {
		names = append(names, c.Name)
	}
	want := "a number such as 68 (lux for each µmol/m²/s), or one of " + strings.Join(names, ", ")
	text, ok := r.Scalar(v, want)
	if !ok {
		return 0, 0, ""
	}
	text = strings.TrimSpace(text)
	if text != "" && strings.ContainsAny(text[:1], "0123456789.,") {
		x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if s := (handwritten.Span{Min: 8, Max: 130}); err != nil || !s.Holds(x) {
			r.Errorf(v, want, "%q is no factor that light of lamps has (9 for blue or red diodes, 111 for green)", handwritten.Shortened(text))
			return 0, 0, ""
		}
		return 1 / x, lumensBySpectrumSD, quantity.Number(x, 3) + " lux for each µmol/m²/s"
	}
	c, err := photometry.ClassOf(text)
	if err != nil {
		r.Add(v.At, Problem{Path: v.Path, Message: strings.TrimPrefix(firstClauses(err), "photometry: "), Want: want, Suggest: handwritten.Nearest(handwritten.Normal(text), names)})
		return 0, 0, ""
	}
	return c.PerLumen(), c.RelativeSD, "the usual factor of " + c.Name
}

// fileOpening is the opening that a photometric file gives, if it is one that
// can hang in the space.
func fileOpening(file *underlamp.LampFile) (underlamp.Opening, bool) {
	if file == nil {
		return underlamp.Opening{}, false
	}
	o := file.Opening
	size := func(m quantity.Metre) underlamp.Given[quantity.Metre] {
		return underlamp.Given[quantity.Metre]{Value: quantity.Metre(openingSpan.Clamp(float64(m))), Origin: underlamp.Label, Note: "from " + file.Name}
	}
	switch o.Outline() {
	case photometry.RectangleOutline:
		return underlamp.Opening{Width: size(o.AlongC0), Depth: size(o.AlongC90), Origin: underlamp.Label}, true
	case photometry.RoundOutline:
		d := size((o.AlongC0 + o.AlongC90) / 2)
		return underlamp.Opening{Round: true, Width: d, Depth: d, Origin: underlamp.Label}, true
	}
	return underlamp.Opening{}, false
}

// mirrored is a file whose planes count the other way round the axis, as those
// of some makers do.
func mirrored(f *photometry.File) *photometry.File {
	c := *f
	c.Web = f.Web.Mirror()
	return &c
}

// judgeColour holds the efficacy against the lamp's own spectrum.
func (r *reader) judgeColour(f handwritten.Fields, l underlamp.Lamp) {
	if l.Colour == nil || !(l.Rated.Value > 0) || l.Rated.Value > energycost.DoubtfulEfficacy {
		return // above that every lamp is judged, see output
	}
	at := f.Get("spectrum")
	switch verdict, why := l.Colour.JudgeEfficacy(l.Rated.Value); verdict {
	case spectrum.Impossible:
		r.Errorf(at, "the figures of this very lamp", "%s", why)
	case spectrum.Doubtful:
		r.Warnf(at, "the figures of this very lamp", "%s", why)
	}
}

// profile reads what was learned of the crop. The tendency to burn is then that of
// the profile: it was learned on top of it.
func (r *reader) profile(f handwritten.Fields, c *underlamp.Crop) {
	v := f.Get("profile")
	if !v.Written() {
		return
	}
	name, ok := r.fileName(v, "moonquill-cellar.profile.yaml")
	if !ok {
		return
	}
	if r.files.Profile == nil {
		r.Errorf(v, "nothing", "profiles cannot be opened from here, as the bench does not come from a folder")
		return
	}
	p, err := r.files.Profile(name)
	if err != nil {
		r.Errorf(v, "a profile that underlamp learn wrote", "%s: %s", name, firstClauses(err))
		return
	}
	p.File = name
	if !strings.EqualFold(p.Species, c.Species.Value) {
		r.Errorf(v, "a profile of "+c.Species.Value, "%s was learned of %s", name, p.Species)
		return
	}
	if c.Cultivar != "" && p.Cultivar != "" && !strings.EqualFold(c.Cultivar, p.Cultivar) {
		r.Warnf(v, "a profile of "+c.Cultivar, "%s was learned of the cultivar %s", name, p.Cultivar)
	}
	if t := f.Get("tendency"); t.Written() && c.Tendency.Value != p.Tendency {
		r.Warnf(t, "tendency: "+string(p.Tendency)+", or no tendency", "%s was learned on top of the tendency %q, which is used", name, string(p.Tendency))
	}
	c.Tendency = underlamp.Given[underlamp.Tendency]{Value: p.Tendency, Origin: underlamp.Computed, Note: "as in " + name + ", which was learned on top of it"}
	c.Profile = p
}

// made reads the feed plan that a bench takes its feed from.
func (r *reader) made(v handwritten.Value) *underlamp.FeedMade {
	if !v.Written() {
		return nil
	}
	name, ok := r.fileName(v, "cellar.feed.yaml")
	if !ok {
		return nil
	}
	if r.files.Feed == nil {
		r.Errorf(v, "the amounts instead, such as calcium: 100 mg/L", "feeds cannot be opened from here, as the bench does not come from a folder")
		return nil
	}
	m, err := r.files.Feed(name)
	if err != nil {
		r.Errorf(v, "a file that begins with underlamp feed: 1", "%s: %s", name, firstClauses(err))
		return nil
	}
	return m
}
