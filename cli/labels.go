package cli

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/app/photo"
	"underlamp/app/trial"
	"underlamp/draw/labelsheet"
)

type labelsOptions struct {
	out, size, sheet, scale string
	plants                  []string
	skip                    int
	check                   bool
}

func newLabels(w World) *cobra.Command {
	o := labelsOptions{}
	cmd := &cobra.Command{
		Use:   "labels BENCH|TRIAL…",
		Short: "Print labels for plants, by which a photo is measured",
		Long: `labels makes a PDF of labels for the plants of benches (mybench.yaml) or of trials
(mytrial.trial.yaml). Stuck beside a plant, on a stick or the rim of its pot, a label says
in a photo which plant it is, how large a millimetre is, how the camera was held and what
white is; underlamp photos, and the page Photos of a bench, then measure the plant.

Sizes: small (60 × 35 mm), large (96 × 48 mm), stick (34 × 80 mm, upright) and card
(140 × 90 mm, for a camera that hangs high). Sheets: a4 and letter are plain paper with
marks to cut along; others are sheets of self-adhesive labels, named by their size.

Print at 100 %, never "fit to page". --check-page prints a page of lines that a steel rule
measures; if the printer scales, --scale corrects it. Matt paper is better than glossy.
A printer without colour will do: colours are then not corrected, sizes are.`,
		Example: `  Is the printer true? Then the labels of a bench on plain paper:

  underlamp labels --check-page -o underlamp-demo/check.pdf
  underlamp labels underlamp-demo/tier-2-middle.yaml -o underlamp-demo/labels.pdf

  On self-adhesive labels, of which five are used, with a printer that prints small, and the
  plants of a trial:

  underlamp labels underlamp-demo/tier-2-middle.yaml --sheet a4-70x37 --used 5 --scale 148.5x198 -o underlamp-demo/labels.pdf
  underlamp labels underlamp-demo/light-levels.trial.yaml --size large -o underlamp-demo/trial-labels.pdf`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 && !o.check {
				return wrongf("underlamp labels takes benches or trials, for example: underlamp labels mybench.yaml -o labels.pdf")
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return runLabels(w, o, args) },
	}
	f := cmd.Flags()
	f.StringVar(&o.size, "size", "small", "size of the labels: small, large, stick or card")
	f.StringVar(&o.sheet, "sheet", "a4", "sheet to print on: a4 or letter, plain; or a sheet of labels such as a4-70x37, a4-63.5x38.1, a4-99.1x67.7, letter-101.6x50.8")
	f.StringSliceVar(&o.plants, "plants", nil, "these plants alone, parted by commas")
	renamedFlag(w, f, "plant", "plants")
	f.IntVar(&o.skip, "used", 0, "number of labels of the first sheet that are used already")
	f.StringVar(&o.scale, "scale", "", "what a rule reads on the check page, across and down in mm, such as 148.5x198")
	f.BoolVar(&o.check, "check-page", false, "print the check page instead of labels")
	renamedFlag(w, f, "check", "check-page")
	renamedFlag(w, f, "skip", "used")
	outputFlag(f, &o.out, "labels.pdf")
	return cmd
}

// labelsOf are the labels of a bench or a trial.
func labelsOf(w World, file string) ([]photo.Label, error) {
	if !strings.HasSuffix(file, trialEnding) {
		b, err := load(w, file)
		if err != nil {
			return nil, err
		}
		return photo.BenchLabels(benchKey(file), b), nil
	}
	_, p, err := openTrial(w, file)
	if err != nil {
		return nil, err
	}
	l, err := lightOf(w, p.Trial, file, "", trial.LightOptions{})
	if err != nil {
		return nil, err
	}
	s, err := trial.NewSheet(p.Trial, l, trial.SheetOptions{})
	if err != nil {
		return nil, wrongf("%v", err)
	}
	return photo.TrialLabels(strings.TrimSuffix(filepath.Base(file), trialEnding), benchKey(p.Trial.Bench), s), nil
}

const trialEnding = ".trial.yaml"

func runLabels(w World, o labelsOptions, files []string) error {
	layout, err := labelsheet.LayoutOf(o.size)
	if err != nil {
		return wrongf("%v", err)
	}
	format, err := labelsheet.FormatOf(layout, o.sheet)
	if err != nil {
		return wrongf("%v", err)
	}
	scale, err := labelsheet.ParseScale(o.scale)
	if err != nil {
		return wrongf("--scale: %v", err)
	}
	if o.check {
		pdf, err := labelsheet.Check(format.Page, scale)
		if err != nil {
			return err
		}
		if o.out == "" {
			o.out = "check.pdf"
		}
		if err := writeFile(o.out, pdf); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s: print it at 100 %%, and measure %d mm across and %d mm down\n", o.out, labelsheet.CheckAcross, labelsheet.CheckDown)
		return nil
	}
	var labels []photo.Label
	for _, file := range files {
		some, err := labelsOf(w, file)
		if err != nil {
			return err
		}
		labels = append(labels, some...)
	}
	if len(o.plants) > 0 {
		for _, p := range o.plants {
			if !slices.ContainsFunc(labels, func(l photo.Label) bool { return l.Subject.Plant == p || l.Subject.Unit == p }) {
				return wrongf("there is no plant %q", p)
			}
		}
		labels = slices.DeleteFunc(labels, func(l photo.Label) bool {
			return !slices.Contains(o.plants, l.Subject.Plant) && !slices.Contains(o.plants, l.Subject.Unit)
		})
	}
	pdf, err := labelsheet.Labels(labelsheet.Options{Layout: layout, Format: format, Scale: scale, Skip: o.skip, Title: "Labels: " + strings.Join(files, ", ")}, photo.Contents(labels))
	if err != nil {
		return wrongf("%v", err)
	}
	if o.out == "" {
		o.out = "labels.pdf"
	}
	if err := writeFile(o.out, pdf); err != nil {
		return err
	}
	sheets := (len(labels) + o.skip + format.Cells() - 1) / format.Cells()
	fmt.Fprintf(w.Out, "%s: labels %d, %s, sheets of %s %d; print at 100 %%\n", o.out, len(labels), layout.Name, format.Name, sheets)
	for _, l := range labels {
		if l.Plain {
			fmt.Fprintf(w.Err, "%s%s: the name has letters that cannot be printed; its label shows the code %s\n", l.Subject.Plant, l.Subject.Unit, l.Content.Code.Readable())
		}
	}
	return nil
}
