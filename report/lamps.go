package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/lamp"
	"underlamp/draw"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/working"
)

// PolarPicture draws the light of a lamp by angle, in its two principal planes.
func PolarPicture(web *photometry.Web, f draw.Frame) draw.Picture {
	gammas := web.GammasDeg()
	p := draw.Polar{Frame: f, Name: "Intensity", Unit: "cd"}
	last := 90.0
	if gammas[len(gammas)-1] > 90 {
		last = 180
	}
	for a := 0.0; a <= last; a++ {
		p.Angles = append(p.Angles, a)
	}
	half := func(c quantity.Degree) []float64 {
		out := make([]float64, len(p.Angles))
		for i, a := range p.Angles {
			out[i] = web.At(c, quantity.Degree(a))
		}
		return out
	}
	if web.Symmetry() == photometry.Axial {
		p.Curves = []draw.PolarCurve{{Name: "all planes", Right: half(0), Left: half(0)}}
	} else {
		p.Curves = []draw.PolarCurve{
			{Name: "C0 and C180", RightName: "C0", LeftName: "C180", Right: half(0), Left: half(180)},
			{Name: "C90 and C270", RightName: "C90", LeftName: "C270", Right: half(90), Left: half(270)},
		}
	}
	return p.Draw()
}

// rolled draws a lamp without a photometric file: round, by the cosine law of its
// beam, in parts of its peak.
func rolled(k lamp.Kind, f draw.Frame) draw.Picture {
	p := draw.Polar{Frame: f, Name: "Intensity", Unit: "% of the peak"}
	var v []float64
	for a := 0.0; a <= 90; a += 2 {
		p.Angles = append(p.Angles, a)
		v = append(v, 100*math.Pow(math.Max(math.Cos(a*math.Pi/180), 0), k.Exponent))
	}
	p.Curves = []draw.PolarCurve{{Name: "all planes", Right: v, Left: v}}
	return p.Draw()
}

// SpectrumPicture draws a light as photons at every nm, its bands marked.
func SpectrumPicture(name string, light spectrum.Spectrum, f draw.Frame) draw.Picture {
	r := light.Resample(1)
	from, to := r.Support()
	from, to = math.Max(from, 300), math.Min(to, 900)
	p := draw.Spectrum{Frame: f, Name: name}
	if u := lamp.Unit(light); u != "" {
		p.Unit = u + " for each nm"
	}
	top := 0.0
	for nm := math.Min(from, 380); nm <= math.Max(to, 800); nm++ {
		v := r.At(nm)
		top = math.Max(top, v)
		p.NM, p.Photons = append(p.NM, nm), append(p.Photons, v)
	}
	if p.Unit == "" && top > 0 {
		for i := range p.Photons {
			p.Photons[i] /= top // the peak is 1
		}
	}
	for _, b := range []spectrum.Band{spectrum.UV, spectrum.Blue, spectrum.Green, spectrum.Red, spectrum.FarRedWide} {
		p.Bands = append(p.Bands, draw.SpectrumBand{Name: b.Name, From: math.Max(b.From, p.NM[0]), To: b.To, Share: light.OfPAR(b)})
	}
	return p.Draw()
}

// LampsSection shows every kind of lamp of a bench: how it spreads its light, what
// it gives for its electricity, the colour of its light and what is published
// about such light.
func LampsSection(b *underlamp.Bench, kinds []lamp.Kind) template.HTML {
	type note struct {
		Cue, Light, Advice string
		Published          []string
	}
	type row struct {
		Title, Facts    string
		Headline        []working.Figure
		Polar, Spectrum template.HTML
		Colour          []working.Figure
		Lux             string
		Notes           []note
		Doubts          []string
	}
	var rows []row
	for i, k := range kinds {
		r := row{Title: k.Name, Facts: k.Facts, Headline: k.Figures, Doubts: k.Doubts}
		id := fmt.Sprintf("lamp%d", i+1)
		r.Polar = fit(id, b, func(f draw.Frame) draw.Picture {
			f.Title = "Light by angle"
			if k.File != nil {
				return PolarPicture(k.File.Web, f)
			}
			return rolled(k, f)
		})
		if k.Colour != nil {
			r.Spectrum = fit(id+"s", b, func(f draw.Frame) draw.Picture {
				f.Title = "Light by wavelength"
				return SpectrumPicture(k.Name, k.Colour.Spectrum, f)
			})
			r.Colour = k.ColourFigures
			r.Lux = k.Lux
			for _, n := range k.Evidence {
				v := note{Cue: n.Cue, Light: n.Light, Advice: n.Advice}
				for j, text := range n.Published {
					v.Published = append(v.Published, text+" ["+n.Sources[j]+"]")
				}
				r.Notes = append(r.Notes, v)
			}
		}
		rows = append(rows, r)
	}
	return render("lamps.tmpl", rows)
}
