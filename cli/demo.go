package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/demo"
	"underlamp/report"
)

type demoOptions struct {
	folder  string
	noServe bool
	listen  string
}

func newDemo(w World) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The whole job on an invented rack: writes it, computes it, shows it",
		Long: `demo writes the bench files of an invented rack of three tiers into a folder,
computes light, outlook and best setting, writes a report of each, and shows the
benches as pages on this machine. With --no-serve it stops after the reports.
Files that are there already are kept as they are.`,
		Example: `  See everything before you describe anything:

  underlamp demo

  prints light, outlook and best setting of three tiers and an address to open.
  Only the files and the reports (--folder takes another place for them):

  underlamp demo --no-serve`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDemo(cmd, w, o) },
	}
	cmd.Flags().StringVar(&o.folder, "folder", "underlamp-demo", "where to write")
	cmd.Flags().BoolVar(&o.noServe, "no-serve", false, "write the reports and stop")
	cmd.Flags().StringVar(&o.listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	return cmd
}

func runDemo(cmd *cobra.Command, w World, o demoOptions) error {
	if err := os.MkdirAll(o.folder, 0o755); err != nil {
		return fmt.Errorf("the demo folder cannot be made: %w", err)
	}
	if err := writeDemo(o.folder); err != nil {
		return err
	}
	for _, name := range demo.Names() {
		file := filepath.Join(o.folder, name)
		m, err := loadModel(w, file)
		if err != nil {
			return err
		}
		d, err := report.Compute(cmd.Context(), m, "", progressTo(w))
		if err != nil {
			return err
		}
		d.Version = version
		var b bytes.Buffer
		if err := d.Write(&b); err != nil {
			return err
		}
		out := strings.TrimSuffix(file, filepath.Ext(file)) + ".html"
		if err := writeFile(out, b.Bytes()); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s\n", d.Bench.Name)
		writeParagraph(w.Out, "  light    ", fmt.Sprintf("%s and %s at the plants, spread %s", d.Light.Mean.Text(), d.Light.DLI.Text(), d.Light.Spread.Text()))
		writeParagraphs(w.Out, "  note     ", d.Light.Notes)
		writeParagraph(w.Out, "  outlook  ", report.OutlookSentence(d.Bench, d.Outlook))
		writeParagraph(w.Out, "  best     ", report.Verdict(d.Bench, d.Best))
		fmt.Fprintf(w.Out, "  report   %s\n\n", out)
	}
	of := func(name string) string { return filepath.Join(o.folder, filepath.FromSlash(name)) }
	fmt.Fprintf(w.Out, "A lamp of the top tier:  underlamp lamp --per-lumen white-led %s\n", of(demo.LampFile))
	fmt.Fprintf(w.Out, "The colour of its light:  underlamp spectrum --species lettuce %s\n\n", of(demo.LampSpectrum))
	if o.noServe {
		return nil
	}
	return w.Serve(cmd.Context(), ServeOptions{Folder: o.folder, Listen: o.listen}, func(address string) {
		fmt.Fprintf(w.Out, "Open %s to turn the lamps yourself. Stop with Ctrl-C.\n", address)
	})
}

// writeDemo writes the files of the demo; what is there already is kept.
func writeDemo(folder string) error {
	return fs.WalkDir(demo.Folder(), ".", func(name string, d fs.DirEntry, err error) error {
		file := filepath.Join(folder, filepath.FromSlash(name))
		switch {
		case err != nil:
			return err
		case d.IsDir():
			if err := os.MkdirAll(file, 0o755); err != nil {
				return fmt.Errorf("the demo folder cannot be made: %w", err)
			}
			return nil
		}
		if _, err := os.Stat(file); !errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return writeFile(file, demo.File(name))
	})
}
