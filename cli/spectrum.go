package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/app/lamp"
	"underlamp/draw"
	"underlamp/formats/spectrumfile"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
)

type spectrumOptions struct {
	file     string // "-" is standard input; may be empty
	led      string
	shares   string
	energy   bool // the values of the file
	photons  bool
	ppfd     string
	efficacy string
	species  string
	svg      string
	json     bool
	working  bool
}

func newSpectrum(w World) *cobra.Command {
	var o spectrumOptions
	cmd := &cobra.Command{
		Use:   "spectrum [FILE]",
		Short: "The colour of a lamp: blue to far-red, R:FR, PPE, lux, efficacy limit",
		Long: `spectrum reads the light of a lamp by wavelength (two columns, nm and value, in
any text or CSV) and prints what plants, eyes and meters make of it, with what is
published about the effect of such light on the shape of plants. It gives no
verdict on a lamp.

Without a file, --led mixes diodes from peak, full width at half maximum and
share. With a file, the diodes are added to it and the file (a white diode, say)
has the share that is left of 100.

If the file does not say whether it counts energy (watts) or photons (µmol), say
it with --energy or --photons: it changes the blue share by half.`,
		Example: `  What colour has the light of the demo's bars, and what is published about it?

  underlamp demo --no-serve
  underlamp spectrum underlamp-demo/lamps/hollin-bar-42.csv
  underlamp spectrum --ppfd 180 --species lettuce underlamp-demo/lamps/hollin-bar-42.csv

  Diodes by peak, width and share, alone or with the light of a file:

  underlamp spectrum --led "450:20:15, 660:18:85" --svg redblue.svg
  underlamp spectrum --led "660:18:40" underlamp-demo/lamps/hollin-bar-42.csv`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return &wrongError{err: fmt.Errorf("%s takes one spectrum file, for example: %s lamp.csv", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 1 {
				o.file = args[0]
			}
			return runSpectrum(w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.led, "led", "", "diodes as peak:width:share, nm:nm:%, with commas between")
	f.StringVar(&o.shares, "shares", "photons", "what the shares of --led count: photons or energy")
	f.BoolVar(&o.energy, "energy", false, "the values of the file are energy (W, mW, relative power)")
	renamedFlag(w, f, "watts", "energy")
	f.BoolVar(&o.photons, "photons", false, "the values of the file are photons (µmol)")
	f.StringVar(&o.ppfd, "ppfd", "", "PPFD at the plants in µmol/m²/s, for the notes")
	f.StringVar(&o.efficacy, "efficacy", "", "efficacy that the label claims in µmol/J, to be judged")
	f.StringVar(&o.species, "species", "", "species for the notes, for example lettuce")
	svgFlag(f, &o.svg)
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
}

// leastPAR is the share of photons within 400 to 700 nm below which a lamp is not
// for growing by itself.
const leastPAR = 0.2

// lampLight is what the options say, read and computed.
type lampLight struct {
	name     string
	light    spectrum.Spectrum
	ppfd     quantity.PPFD // 0 if not known
	claim    quantity.Efficacy
	verdict  spectrum.Verdict
	judgment string   // about the claim
	notes    []string // of the reading and of the ends of the data
	evidence []spectrum.Note
}

func runSpectrum(w World, o spectrumOptions) error {
	l, err := readLight(w, o)
	if err != nil {
		var wrong *wrongError
		if errors.As(err, &wrong) {
			return err
		}
		return &wrongError{err: err}
	}
	if o.svg != "" {
		if err := writeFile(o.svg, []byte(report.SpectrumPicture(l.name, l.light, draw.Frame{ID: "spectrum"}).SVG)); err != nil {
			return err
		}
		w.news("%s written\n", o.svg)
	}
	if o.json {
		return writeJSON(w, spectrumJSON(l))
	}
	printSpectrum(w.Out, l)
	if o.working {
		writeWorking(w.Out, lamp.SpectrumFigures(l.name, l.light))
	}
	return nil
}

// readLight turns the options into a light. Its errors are about the input.
func readLight(w World, o spectrumOptions) (*lampLight, error) {
	l := &lampLight{}
	if o.energy && o.photons {
		return nil, fmt.Errorf("--energy and --photons exclude each other")
	}
	shares := spectrum.Photons
	switch o.shares {
	case "photons":
	case "energy":
		shares = spectrum.Energy
	default:
		return nil, fmt.Errorf("--shares %q: write photons or energy", o.shares)
	}
	var parts []spectrum.Part
	if o.led != "" {
		var err error
		if parts, err = spectrum.ParseParts(o.led); err != nil {
			return nil, fmt.Errorf("--led: %w", err)
		}
	}
	if o.file == "" && parts == nil {
		return nil, fmt.Errorf("a spectrum file or --led is needed, for example: underlamp spectrum --led \"450:20:15, 660:18:85\"")
	}
	if o.file != "" {
		d, err := readSpectrum(w, o)
		if err != nil {
			return nil, err
		}
		l.name = d.Title
		if l.name == "" {
			l.name = filepath.Base(o.file)
		}
		l.notes = d.Notes
		if l.light, err = d.Spectrum(); err != nil {
			return nil, fmt.Errorf("%s: %w", o.file, err)
		}
	}
	if parts != nil {
		if err := l.mix(shares, parts); err != nil {
			return nil, err
		}
	}
	l.notes = append(l.notes, l.light.Gaps()...)
	if share := l.light.PARShare(); share < leastPAR {
		l.notes = append(l.notes, fmt.Sprintf("Only %s %% of the photons lie within 400–700 nm: shares of them mean little.", quantity.Number(100*share, 2)))
	}
	return l, l.ask(o)
}

// mix adds diodes to the light of the file, or makes the light of them.
func (l *lampLight) mix(shares spectrum.Basis, parts []spectrum.Part) error {
	sum := 0.0
	for _, p := range parts {
		sum += p.Share
	}
	switch {
	case l.name != "" && sum >= 100:
		return fmt.Errorf("--led: the shares add to %s %%: with a file they must leave it something of 100", quantity.Number(sum, 4))
	case l.name != "":
		parts = append(parts, spectrum.Part{Spectrum: l.light, Share: 100 - sum})
		l.notes = append(l.notes, fmt.Sprintf("The file has %s %% of the %s, the diodes the rest.", quantity.Number(100-sum, 3), shares))
		l.name += ", with diodes"
	default:
		l.name = "Diodes"
		if sum < 99.5 || sum > 100.5 {
			l.notes = append(l.notes, fmt.Sprintf("The shares add to %s; they were taken in proportion.", quantity.Number(sum, 4)))
		}
	}
	l.notes = append(l.notes, fmt.Sprintf("Diodes are Gaussian curves; shares count %s of all wavelengths.", shares))
	var err error
	l.light, err = spectrum.Mix(shares, parts...)
	return err
}

// ask reads what is asked about the light.
func (l *lampLight) ask(o spectrumOptions) error {
	if o.ppfd != "" {
		v, err := amountOf("--ppfd", o.ppfd, quantity.PhotonFluxDensity, 5000)
		if err != nil {
			return err
		}
		l.ppfd = quantity.PPFD(v)
	} else if l.light.Scale() == spectrum.FluxDensity {
		l.ppfd = quantity.PPFD(l.light.In(spectrum.PAR))
	}
	if l.light.In(spectrum.PAR) <= 0 {
		return fmt.Errorf("there is no light between 400 and 700 nm: such a lamp adds nothing to PPFD, and no share of it can be told")
	}
	if o.efficacy != "" {
		v, err := amountOf("--efficacy", o.efficacy, quantity.PhotonEfficacy, 1000)
		if err != nil {
			return err
		}
		l.claim = quantity.Efficacy(v)
		if l.verdict, l.judgment = l.light.JudgeEfficacy(l.claim); l.verdict == spectrum.Impossible {
			return fmt.Errorf("--efficacy: %s", l.judgment)
		}
	}
	l.evidence = l.light.Notes(l.ppfd, o.species)
	return nil
}

// amountOf reads an option whose name says its unit: a bare number will do.
func amountOf(option, text string, k quantity.Kind, most float64) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		if v, err = k.Parse(text); err != nil {
			return 0, fmt.Errorf("%s: %w", option, err)
		}
	}
	if !(v > 0 && v <= most) {
		return 0, fmt.Errorf("%s: %s is not above 0 and at most %s", option, k.Format(v, quantity.Metric, 4), k.Format(most, quantity.Metric, 4))
	}
	return v, nil
}

// readSpectrum reads the file and settles what it counts.
func readSpectrum(w World, o spectrumOptions) (*spectrumfile.Data, error) {
	in, name := w.In, "standard input"
	if o.file != "-" {
		f, err := os.Open(o.file)
		if err != nil {
			return nil, fmt.Errorf("the spectrum file cannot be opened: %w", err)
		}
		defer f.Close()
		in, name = io.Reader(f), o.file
	}
	d, err := spectrumfile.Read(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if o.energy || o.photons {
		said := spectrum.Photons
		if o.energy {
			said = spectrum.Energy
		}
		if d.BasisKnown && d.Basis != said {
			d.Scale = spectrum.Relative
			d.Notes = append(d.Notes, fmt.Sprintf("You say %s where the heading says %s: your word was taken, and only the shape.", said, d.Basis))
		}
		d.Basis, d.BasisKnown = said, true
	}
	if !d.BasisKnown {
		return nil, fmt.Errorf("%s: %w; say --energy or --photons (spectrometers and data sheets mostly give energy)", name, spectrumfile.ErrBasis)
	}
	return d, nil
}
