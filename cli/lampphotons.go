package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"underlamp/app/aswire"
	"underlamp/science/energycost"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/wire"
	"underlamp/working"
)

// perLumen is how many photons a lumen is worth.
type perLumen struct {
	micromol float64           // µmol/s per lm
	class    *photometry.Class // nil for a number of the user
}

// Least and most µmol per lumen that are taken: pure green at 555 nm has 0.0068,
// a lamp of red and blue about 0.1; what lies beyond is a slip of the unit.
const (
	leastPerLumen = 0.0065
	mostPerLumen  = 0.5
)

// perLumenOf reads the option: nothing, a number or a class.
func perLumenOf(text string) (*perLumen, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	if v, err := strconv.ParseFloat(strings.TrimSpace(text), 64); err == nil {
		if !(v >= leastPerLumen && v <= mostPerLumen) {
			return nil, fmt.Errorf("--per-lumen is %g µmol per lumen, wanted: %g to %g (white light has about 0.014)", v, leastPerLumen, mostPerLumen)
		}
		return &perLumen{micromol: v}, nil
	}
	c, err := photometry.ClassOf(text)
	if err != nil {
		return nil, fmt.Errorf("--per-lumen: %s", strings.TrimPrefix(err.Error(), "photometry: "))
	}
	return &perLumen{micromol: c.PerLumen(), class: &c}, nil
}

// photonFigures are the photon flux of a lamp and, if its power is stated, its
// photon efficacy.
func photonFigures(v lampView, k *perLumen) []working.Figure {
	flux := v.web.Flux()
	ppf := working.Figure{Name: "photon flux (PPF)", Unit: quantity.PhotonFlux.Unit(), Value: float64(photometry.PhotonFlux(flux, k.micromol))}
	ppf.Working = working.Working{
		Formula: "Φ_p = Φ · k",
		Inputs: []working.Input{
			working.Plain("light Φ", lumens(flux), "photometric file"),
			working.Plain("photons k", quantity.Number(k.micromol, 3)+" µmol/s per lm", "stated"),
		},
	}
	if k.class != nil {
		c := k.class
		ppf.Band = working.Normal(ppf.Value, ppf.Value*c.RelativeSD, 0.9)
		ppf.Working.Inputs[1] = working.Input{Name: "photons k", Value: fmt.Sprintf("%s µmol/s per lm ± %s (1 sd)", quantity.Number(k.micromol, 3), percentOf(c.RelativeSD)),
			Origin: "class " + c.Name, Note: fmt.Sprintf("%g to %g lm per µmol/s", c.LuxLow, c.LuxHigh)}
		ppf.Working.Sources = []string{"ThimijanHeins1983", "CIE015"}
		ppf.Working.Notes = []string{fmt.Sprintf("The band is the spread of %s (%g to %g lm per µmol/s). A spectrum of this lamp would narrow it; the error of the photometry itself comes on top.", c.Name, c.LuxLow, c.LuxHigh)}
	} else {
		ppf.Working.Notes = []string{"With your own number of µmol per lumen no band can be given: it is as good as the spectrum behind it."}
	}
	out := []working.Figure{ppf}
	if w := v.file.Watts; !math.IsNaN(w) {
		eff := working.Figure{Name: "photon efficacy", Unit: quantity.PhotonEfficacy.Unit(), Value: ppf.Value / w}
		if b := ppf.Band; b != nil {
			eff.Band = &working.Band{Low: b.Low / w, High: b.High / w, Level: b.Level}
		}
		eff.Working = working.Working{
			Formula: "K_p = Φ_p / P",
			Inputs: []working.Input{
				working.Plain("photon flux Φ_p", ppf.Text(), "computed"),
				working.Plain("power P", quantity.Power.Format(w, quantity.Metric, 4), "photometric file"),
			},
			Sources: []string{"ASABE2017", "Kusuma2020"},
		}
		out = append(out, eff)
	}
	return out
}

// efficacyNotes doubts an efficacy that no lamp has.
func efficacyNotes(figures []working.Figure) []photometry.Note {
	if len(figures) < 2 {
		return nil
	}
	switch e := quantity.Efficacy(figures[1].Value); {
	case e > energycost.ImpossibleEfficacy:
		return []photometry.Note{{Text: fmt.Sprintf("%s is more light than the electricity holds: the watts, the lumens or the µmol per lumen are wrong", figures[1].Text())}}
	case e > energycost.DoubtfulEfficacy:
		return []photometry.Note{{Text: fmt.Sprintf("%s is more than lamps reach (about %g µmol/J): look at the watts and the µmol per lumen", figures[1].Text(), float64(energycost.DoubtfulEfficacy))}}
	}
	return nil
}

// The JSON of the lamp command: field names carry the units.
type lampOut struct {
	Name     string        `json:"name" doc:"of the lamp, as its file says"`
	Format   string        `json:"format" doc:"of the file"`
	Type     string        `json:"coordinates" doc:"coordinates of its angles"`
	Stored   string        `json:"stored_symmetry" doc:"how much of the lamp its planes cover"`
	Keywords []keywordOut  `json:"keywords" doc:"lines of the file that describe the lamp"`
	Absolute bool          `json:"absolute" doc:"candela are of the lamp as measured, not of 1000 lm of its source"`
	Flux     number        `json:"flux_lm" doc:"light that leaves the lamp, by its candela (lm)"`
	Down     number        `json:"down_lm" doc:"of that, below the horizontal (lm)"`
	Up       number        `json:"up_lm" doc:"of that, above the horizontal (lm)"`
	Stated   number        `json:"stated_lm" doc:"light that the file states (lm)"`
	Differ   number        `json:"difference_from_stated" doc:"flux over what is stated, less 1"`
	Watts    number        `json:"power_w" doc:"electricity that the file states (W)"`
	Efficacy number        `json:"efficacy_lm_per_w" doc:"flux over electricity (lm/W)"`
	Peak     peakOut       `json:"peak" doc:"where it is brightest"`
	Beam     spreadOut     `json:"beam_angle" doc:"width at half of the peak"`
	Field    spreadOut     `json:"field_angle" doc:"width at a tenth of the peak"`
	Cosine   cosineOut     `json:"nearest_cosine_law" doc:"the cosine law that is nearest to its beam"`
	Spacing  spacingOut    `json:"farthest_spacing_in_heights" doc:"farthest spacing of lamps for even light, in heights"`
	Opening  openingOut    `json:"opening" doc:"its luminous opening"`
	Photons  []wire.Figure `json:"photons" doc:"PPF and what follows from it, with working"`
	Zones    []number      `json:"zones_of_10_deg_lm" doc:"light in zones of 10°, from straight down (lm)"`
	Notes    []noteOut     `json:"notes" doc:"what the reader noticed"`
	Tilt     *tiltOut      `json:"tilt,omitempty" doc:"how its light changes when it is tilted; missing: not at all"`
}

type keywordOut struct {
	Name  string `json:"name" doc:"of the keyword"`
	Value string `json:"value" doc:"its text"`
	Line  int    `json:"line" doc:"of the file"`
}

type peakOut struct {
	Candela number `json:"cd" doc:"luminous intensity (cd)"`
	C       number `json:"c_deg" doc:"plane (°)"`
	Gamma   number `json:"gamma_deg" doc:"angle from straight down (°)"`
}

type spreadOut struct {
	C0   number `json:"c0_deg" doc:"across the planes 0° and 180° (°)"`
	C90  number `json:"c90_deg" doc:"across the planes 90° and 270° (°)"`
	Mean number `json:"mean_deg" doc:"over all planes (°)"`
}

type cosineOut struct {
	Exponent  number `json:"exponent" doc:"of the cosine"`
	Misplaced number `json:"misplaced_share" doc:"share of the downward light that goes elsewhere than the law says, 0 to 1"`
	Uneven    number `json:"uneven_share" doc:"share that would have to move about the axis to make the lamp the same all round, 0 to 1"`
}

type spacingOut struct {
	C0       number `json:"c0" doc:"along the planes 0° and 180°, over the height"`
	C90      number `json:"c90" doc:"along the planes 90° and 270°, over the height"`
	Diagonal number `json:"diagonal" doc:"of lamps in a square, corner to corner, over the height"`
}

type openingOut struct {
	Shape    string `json:"shape" doc:"of the opening"`
	AlongC0  number `json:"along_c0_m" doc:"extent along the planes 0° and 180° (m)"`
	AlongC90 number `json:"along_c90_m" doc:"extent along the planes 90° and 270° (m)"`
	Height   number `json:"height_m" doc:"of luminous sides (m)"`
}

type noteOut struct {
	Line int    `json:"line,omitempty" doc:"of the file; 0: none"`
	Text string `json:"text" doc:"what was noticed"`
}

type tiltOut struct {
	Geometry int       `json:"geometry" doc:"of lamp and luminaire, 1 to 3, as LM-63 counts"`
	Angles   []float64 `json:"angles_deg" doc:"of tilt (°)"`
	Factors  []float64 `json:"factors" doc:"on the light, angle by angle"`
	AtHand   bool      `json:"at_hand" doc:"the factors are known; else they lie in a file that is not there"`
}

func lampJSON(v lampView) lampOut {
	f, web := v.file, v.web
	peak, c, gamma := web.Peak()
	spread := func(s photometry.Spread) spreadOut { return spreadOut{number(s.C0), number(s.C90), number(s.Mean)} }
	fit, space := web.FitCosine(), web.Spacing()
	out := lampOut{
		Name: lampName(f), Format: f.Format, Type: f.Coordinates.String(), Stored: f.Symmetry.String(), Keywords: []keywordOut{}, Absolute: f.Absolute,
		Flux: number(web.Flux()), Down: number(web.Down()), Up: number(web.Up()), Stated: number(f.StatedLumens), Differ: number(f.Difference()),
		Watts: number(f.Watts), Efficacy: number(f.Efficacy()), Peak: peakOut{number(peak), number(c), number(gamma)},
		Beam: spread(web.BeamAngle()), Field: spread(web.FieldAngle()), Cosine: cosineOut{number(fit.Exponent), number(fit.Misplaced), number(fit.Uneven)},
		Spacing: spacingOut{number(space.C0), number(space.C90), number(space.Diagonal)},
		Opening: openingOut{v.opening.Shape.String(), number(v.opening.AlongC0), number(v.opening.AlongC90), number(v.opening.Height)},
		Photons: aswire.Figures(v.photons), Notes: []noteOut{},
	}
	for _, k := range f.Keywords {
		out.Keywords = append(out.Keywords, keywordOut(k))
	}
	for k := range 18 {
		out.Zones = append(out.Zones, number(web.ZonalFlux(quantity.Degree(10*k), quantity.Degree(10*k+10))))
	}
	for _, n := range v.notes {
		out.Notes = append(out.Notes, noteOut(n))
	}
	if t := f.Tilt; t != nil {
		out.Tilt = &tiltOut{Geometry: t.Geometry, Angles: append([]float64{}, t.AnglesDeg...), Factors: append([]float64{}, t.Factors...), AtHand: !t.NotAtHand}
	}
	return out
}
