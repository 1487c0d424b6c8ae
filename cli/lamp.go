package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/draw"
	"underlamp/formats/photometricfile"
	"underlamp/report"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/working"
)

type lampOptions struct {
	file        string
	turn        float64
	mirror      bool
	perLumen    string
	svg         string
	json        bool
	working     bool
	utilisation bool
}

func newLamp(w World) *cobra.Command {
	var o lampOptions
	cmd := &cobra.Command{
		Use:   "lamp FILE",
		Short: "What is in a photometric file: light, beam, opening, and what was assumed",
		Long: `lamp reads a photometric file (LM-63, .ies, or EULUMDAT, .ldt) and says what is in
it for a grower: how much light, where it goes, how wide and how round the beam
is, how large the opening, what looks wrong and what had to be assumed. With
--per-lumen it turns lumens into photons, by your own number of µmol per lumen,
from the spectrum of the lamp, or by a class of light:
` + classKeys() + `.`,
		Example: `  Is this bar as round as its label says, and how many photons are its lumens?
  The lamp of the demo:

  underlamp demo --no-serve
  underlamp lamp underlamp-demo/lamps/hollin-bar-42.ies
  underlamp lamp --per-lumen white-led --svg bar.svg underlamp-demo/lamps/hollin-bar-42.ies

  prints light, beam and photons, and draws the curve. A file whose planes lie
  across the lamp is turned:

  underlamp lamp --turn 90 --per-lumen 0.0146 underlamp-demo/lamps/hollin-bar-42.ies`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return &wrongError{err: fmt.Errorf("%s takes one photometric file, for example: %s bar.ies", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			o.file = args[0]
			return runLamp(w, o)
		},
	}
	cmd.Flags().Float64Var(&o.turn, "turn", 0, "turn the lamp about its axis by so many degrees (°), from C0 toward C90")
	cmd.Flags().BoolVar(&o.mirror, "mirror", false, "count C the other way round, before turning")
	cmd.Flags().StringVar(&o.perLumen, "per-lumen", "", "photons for each lumen: a class of light, such as white-led, or a number in µmol/lm")
	svgFlag(cmd.Flags(), &o.svg)
	jsonFlag(cmd.Flags(), &o.json, "")
	workingFlag(cmd.Flags(), &o.working)
	cmd.Flags().BoolVar(&o.utilisation, "utilisation", false, "add the coefficients of utilisation for rooms")
	return cmd
}

func classKeys() string {
	var keys []string
	for _, c := range photometry.Classes() {
		keys = append(keys, c.Key)
	}
	return strings.Join(keys, ", ")
}

// A lampView is a photometric file as it is shown: turned, with its photons.
type lampView struct {
	name    string // as the file was asked for
	file    *photometry.File
	web     *photometry.Web
	opening photometry.Opening
	notes   []photometry.Note
	photons []working.Figure // none without --per-lumen
}

func runLamp(w World, o lampOptions) error {
	if math.IsNaN(o.turn) || math.Abs(o.turn) > 360 {
		return &wrongError{err: fmt.Errorf("--turn is %g, wanted: −360 to 360 degrees", o.turn)}
	}
	factor, err := perLumenOf(o.perLumen)
	if err != nil {
		return &wrongError{err: err}
	}
	f, err := loadLamp(w, o.file)
	if err != nil {
		return err
	}
	v := lampView{name: o.file, file: f, web: f.Web, opening: f.Opening, notes: f.Notes}
	if o.mirror {
		v.web = v.web.Mirror()
	}
	if o.turn != 0 {
		v.web = v.web.Turn(quantity.Degree(o.turn))
		v.opening = v.opening.Turn(quantity.Degree(o.turn))
		if math.Mod(o.turn, 90) != 0 && v.opening.AlongC0 != v.opening.AlongC90 {
			v.notes = append(v.notes, photometry.Note{Text: fmt.Sprintf("the light is turned by %g°, the opening only by whole quarters: it can lie along C0 or along C90", o.turn)})
		}
	}
	if factor != nil {
		v.photons = photonFigures(v, factor)
		v.notes = append(v.notes, efficacyNotes(v.photons)...)
	}
	if o.svg != "" {
		if err := writeFile(o.svg, []byte(report.PolarPicture(v.web, draw.Frame{ID: "lamp", Title: curveTitle(v.file)}).File())); err != nil {
			return err
		}
	}
	if o.json {
		return writeJSON(w, lampJSON(v))
	}
	printLamp(w.Out, v)
	if o.utilisation {
		printUtilisation(w.Out, v.web)
	}
	if o.working && len(v.photons) > 0 {
		writeWorking(w.Out, v.photons)
	}
	if o.svg != "" {
		fmt.Fprintf(w.Out, "\n%s: the curve of light\n", o.svg)
	}
	return nil
}

// loadLamp reads a photometric file ("-" is standard input). A TILT file that it
// names is looked for beside it.
func loadLamp(w World, name string) (*photometry.File, error) {
	var in io.Reader = w.In
	var beside fs.FS
	shown := "standard input"
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, &wrongError{err: fmt.Errorf("the photometric file cannot be opened: %w", err)}
		}
		defer f.Close()
		in, beside, shown = f, os.DirFS(filepath.Dir(name)), name
	}
	f, err := photometricfile.ReadBeside(in, beside)
	var bad *photometricfile.Error
	switch {
	case errors.As(err, &bad):
		return nil, &wrongError{err: fmt.Errorf("%s: %w", shown, err)}
	case err != nil:
		return nil, err
	}
	return f, nil
}

// longestValue is how much of a line of the file is shown.
const longestValue = 400

func printLamp(out io.Writer, v lampView) {
	f, web := v.file, v.web
	name := lampName(f)
	if name == "" {
		name = v.name
	}
	writeParagraph(out, "", name)
	rows := [][]string{}
	add := func(what, value string) {
		// A line of a broken file may be very long.
		if r := []rune(value); len(r) > longestValue {
			value = string(r[:longestValue]) + "…"
		}
		if value != "" {
			rows = append(rows, []string{what, value})
		}
	}
	add("maker", f.Keyword("MANUFAC"))
	add("number", f.Keyword("LUMCAT"))
	add("light source", f.Keyword("LAMP"))
	add("tested", joined(f.Keyword("TESTLAB"), f.Keyword("TEST"), f.Keyword("ISSUEDATE"), f.Keyword("DATE")))
	stored := f.Symmetry.String()
	if f.Symmetry == photometry.NoSymmetry {
		stored = "no symmetry"
	}
	add("format", fmt.Sprintf("%s, type %v, %s, %d angles from %s° to %s°", f.Format, f.Coordinates, stored, len(web.GammasDeg()),
		quantity.Number(web.GammasDeg()[0], 4), quantity.Number(web.GammasDeg()[len(web.GammasDeg())-1], 4)))
	writePairs(out, rows)

	fmt.Fprintln(out, "\nLight")
	rows = rows[:0]
	add("total", lumens(web.Flux())+", added up from the intensities")
	add("stated", stated(f))
	add("down and up", fmt.Sprintf("%s and %s", percentOf(web.Down()/web.Flux()), percentOf(web.Up()/web.Flux())))
	add("power", power(f))
	peak, c, gamma := web.Peak()
	where := "straight down"
	switch {
	case gamma == 180:
		where = "straight up"
	case gamma != 0:
		where = fmt.Sprintf("%s from straight down, toward C%s", degrees(gamma), quantity.Number(float64(c), 4))
		if f.Symmetry == photometry.Axial {
			where = degrees(gamma) + " from straight down, all round"
		}
	}
	add("peak", fmt.Sprintf("%s cd, %s", quantity.Number(peak, 4), where))
	add("opening", openingText(v.opening))
	writePairs(out, rows)

	fmt.Fprintln(out, "\nBeam")
	beam, field, space := web.BeamAngle(), web.FieldAngle(), web.Spacing()
	table := [][]string{
		{"beam angle (half of the peak)", degrees(beam.C0), degrees(beam.C90), degrees(beam.Mean)},
		{"field angle (a tenth)", degrees(field.C0), degrees(field.C90), degrees(field.Mean)},
	}
	if !math.IsNaN(space.C0) && !math.IsNaN(space.C90) && !math.IsNaN(space.Diagonal) {
		table = append(table, []string{"farthest spacing, in heights", ratio(space.C0), ratio(space.C90), ratio(space.Diagonal) + " diagonal"})
	}
	writeTable(out, []column{{head: ""}, {"C0-C180", true}, {"C90-C270", true}, {"mean", true}}, table)
	writeParagraph(out, "  ", roundness(web.FitCosine()))

	if len(v.photons) > 0 {
		fmt.Fprintln(out, "\nPhotons, 400 to 700 nm")
		writeFigures(out, v.photons)
		writeParagraphs(out, "  ", v.photons[0].Working.Notes)
	} else {
		fmt.Fprintln(out)
		writeParagraph(out, "", "Lumens are for eyes: give --per-lumen to see the photons (a class of light such as white-led, or the µmol per lumen of this lamp).")
	}
	if len(v.notes) > 0 {
		fmt.Fprintln(out, "\nAssumed or odd")
		for _, n := range v.notes {
			writeParagraph(out, "  ! ", noteText(n))
		}
	}
}

// curveTitle names the picture of the light by angle.
func curveTitle(f *photometry.File) string {
	if name := lampName(f); name != "" {
		return "Light by angle: " + name
	}
	return ""
}

// lampName is the name of the lamp: the keyword, or the first lines of a file
// that has no keywords.
func lampName(f *photometry.File) string {
	if s := f.Keyword("LUMINAIRE"); s != "" {
		return s
	}
	var label []string
	for _, k := range f.Keywords {
		if k.Name == "" && len(label) < 2 {
			label = append(label, k.Value)
		}
	}
	return strings.Join(label, ", ")
}

// writePairs prints what and value, values aligned and broken into lines.
func writePairs(out io.Writer, rows [][]string) {
	wide := 0
	for _, r := range rows {
		wide = max(wide, len([]rune(r[0])))
	}
	for _, r := range rows {
		writeParagraph(out, "  "+r[0]+strings.Repeat(" ", wide-len([]rune(r[0]))+2), r[1])
	}
}

func joined(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, ", ")
}

func stated(f *photometry.File) string {
	switch {
	case math.IsNaN(f.StatedLumens) && f.Absolute:
		return "nothing; the intensities are of this lamp as it is (absolute)"
	case math.IsNaN(f.StatedLumens):
		return "nothing"
	case f.Absolute:
		return fmt.Sprintf("%s for the lamp as it is; difference %s", lumens(f.StatedLumens), working.SignedPercent(f.Difference()))
	}
	return fmt.Sprintf("%s for %s; %s of it leaves the fixture", lumens(f.StatedLumens), count(f.Lamps, "bare lamp"), percentOf(1+f.Difference()))
}

func power(f *photometry.File) string {
	if math.IsNaN(f.Watts) {
		return "not stated"
	}
	return fmt.Sprintf("%s, %s lm/W", quantity.Power.Format(f.Watts, quantity.Metric, 4), quantity.Number(f.Efficacy(), 3))
}

func openingText(o photometry.Opening) string {
	size := func(m quantity.Metre) string { return quantity.Length.Format(float64(m), quantity.Metric, 3) }
	s := o.Shape.String()
	switch {
	case o.Shape == photometry.PointShape:
		return "a point: no size is given"
	case o.Outline() == photometry.RoundOutline && o.AlongC0 == o.AlongC90:
		s += ", " + size(o.AlongC0) + " across"
	default:
		s += fmt.Sprintf(", %s along C0-C180 and %s along C90-C270", size(o.AlongC0), size(o.AlongC90))
	}
	if o.Height > 0 {
		s += ", " + size(o.Height) + " high"
	}
	// CIE17, photometric distance law: five times the largest extent.
	return s + fmt.Sprintf("; nearer than %s it is no point, and a bench needs its size", size(5*o.Largest()))
}

func roundness(fit photometry.CosineFit) string {
	if math.IsNaN(fit.Exponent) {
		return "No light goes down, so no cosine law fits."
	}
	// Limits of our own: 3 % is less than the classes of walls differ, 10 % as much.
	verdict := "a bench that knows the beam angle only is as good as this file"
	switch {
	case fit.Misplaced > 0.10:
		verdict = "a bench that knows the beam angle only would be wrong; use this file"
	case fit.Misplaced > 0.03:
		verdict = "a bench that knows the beam angle only comes near"
	}
	return fmt.Sprintf("Nearest cosine law: exponent %s. It puts %s of the light in the wrong place: %s. To make the lamp the same all round, %s would have to move.",
		quantity.Number(fit.Exponent, 3), percentOf(fit.Misplaced), verdict, percentOf(fit.Uneven))
}

func noteText(n photometry.Note) string {
	if n.Line > 0 {
		return fmt.Sprintf("line %d: %s", n.Line, n.Text)
	}
	return n.Text
}

func lumens(lm float64) string         { return quantity.Number(lm, 4) + " lm" }
func degrees(d quantity.Degree) string { return quantity.Fixed(float64(d), 0) + "°" }
func ratio(v float64) string           { return quantity.Number(v, 3) }
func percentOf(share float64) string   { return quantity.Fixed(100*share, 1) + " %" }

// printUtilisation prints the zonal-cavity table of common reflectances.
func printUtilisation(out io.Writer, web *photometry.Web) {
	rooms := []photometry.Reflectances{{Ceiling: 0.8, Walls: 0.7, Floor: 0.2}, {Ceiling: 0.8, Walls: 0.5, Floor: 0.2}, {Ceiling: 0.5, Walls: 0.5, Floor: 0.2}, {Ceiling: 0.3, Walls: 0.3, Floor: 0.2}, {}}
	cols := []column{{head: "room cavity ratio", right: true}}
	for _, r := range rooms {
		cols = append(cols, column{fmt.Sprintf("%.0f/%.0f/%.0f", 100*r.Ceiling, 100*r.Walls, 100*r.Floor), true})
	}
	var rows [][]string
	for rcr := range 11 {
		row := []string{fmt.Sprint(rcr)}
		for _, r := range rooms {
			u, err := web.Utilisation(float64(rcr), r)
			if err != nil {
				panic("cli: printUtilisation: " + err.Error())
			}
			row = append(row, percentOf(u))
		}
		rows = append(rows, row)
	}
	fmt.Fprintln(out, "\nShare of the light that reaches the working plane, by reflectance of ceiling, walls and floor in %")
	writeTable(out, cols, rows)
	fmt.Fprintln(out, "  (room cavity ratio: 5 · height · (width + depth) / (width · depth))")
}
