package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/app/aswire"
	"underlamp/report"
	"underlamp/science/crops"
	"underlamp/wire"
	"underlamp/working"
)

func newCrops(w World) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "crops [NAME]",
		Short: "What is known of head types and other species, and what no data support",
		Long: `crops lists the head types of lettuce and the other species that a bench file may
name, and says for which the outlook may be asked. With a name it shows each
published figure with its spread and its source, which of them enter an outlook,
and for what no data support a figure, with the reason.`,
		Example: `  May the outlook of spinach be asked, and what parts romaine from butterhead?

  underlamp crops
  underlamp crops spinach
  underlamp crops romaine

  prints the reason for the refusal, and the dry share of romaine with its source.
  The same for a program:

  underlamp crops --json romaine`,
		Args: cobra.ArbitraryArgs, // the words of one name
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return runCrops(w, asJSON)
			}
			return runCrop(w, strings.Join(args, " "), asJSON)
		},
	}
	jsonFlag(cmd.Flags(), &asJSON, "")
	return cmd
}

// runCrops prints the list.
func runCrops(w World, asJSON bool) error {
	list := crops.All()
	if asJSON {
		out := make([]wire.Crop, len(list))
		for i := range list {
			out[i] = aswire.Crop(&list[i])
		}
		return writeJSON(w, cropsOut{out})
	}
	var rows [][]string
	for i := range list {
		c := &list[i]
		own := "nothing: as lettuce at large"
		if !c.Supported() {
			own = ""
		}
		var names []string
		for _, f := range c.Factors() {
			names = append(names, f.Name)
		}
		if len(names) > 0 {
			own = strings.Join(names, ", ")
		}
		rows = append(rows, []string{c.Name, kindOfCrop(c), forecast(c), own})
	}
	writeTable(w.Out, []column{{head: "name"}, {head: "kind"}, {head: "growth and burn"}, {head: "enters the outlook"}}, rows)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", "Light, target, match and lamps hold for every plant. underlamp crops NAME shows the figures of one with their sources.")
	return nil
}

func kindOfCrop(c *crops.Crop) string {
	if c.HeadType != "" {
		return "head type of lettuce"
	}
	return "species"
}

func forecast(c *crops.Crop) string {
	if c.Supported() {
		return "forecast"
	}
	return "not supported by data"
}

// runCrop prints one crop.
func runCrop(w World, name string, asJSON bool) error {
	c, ok := crops.Find(name)
	if !ok {
		if crops.IsLettuce(name) {
			return wrongf("lettuce at large is what the outlook computes; name a head type: %s", cropNames(true))
		}
		return wrongf("nothing published of %q is known here; there are %s, and the head types %s", name, cropNames(false), cropNames(true))
	}
	if asJSON {
		return writeJSON(w, aswire.Crop(c))
	}
	title := c.Name + " (" + c.Botanical
	if len(c.Also) > 0 {
		title += "; also " + strings.Join(c.Also, ", ")
	}
	fmt.Fprintf(w.Out, "%s)\n\n", title)
	verdict := func(what string, v crops.Verdict) {
		word := "forecast"
		if !v.Supported {
			word = "not supported by data"
		}
		text := word + ". " + v.Text
		if len(v.Sources) > 0 {
			text += " (" + strings.Join(v.Sources, ", ") + ")"
		}
		writeParagraph(w.Out, fmt.Sprintf("  %-7s ", what), text)
	}
	verdict("growth", c.Growth)
	verdict("burn", c.Burn)

	var numbers [][]string
	for _, f := range c.Facts {
		if f.Status != crops.Number {
			continue
		}
		enters := ""
		if f.Enters != "" {
			enters = "yes"
		}
		numbers = append(numbers, []string{f.Name, report.CropValue(f), report.CropSpread(f), enters, strings.Join(f.Sources, ", ")})
	}
	fmt.Fprintln(w.Out, "\nPublished figures:")
	writeTable(w.Out, []column{{head: "figure"}, {head: "value", right: true}, {head: "spread"}, {head: "in the outlook"}, {head: "source"}}, numbers)
	for _, f := range c.Facts {
		if f.Status == crops.Number {
			writeParagraph(w.Out, "  - ", f.Name+": "+f.Text)
		}
	}
	cropFacts(w, c, crops.Reference, "Lettuce at large rests on it:")
	cropFacts(w, c, crops.Unsupported, "Not supported by data:")
	fmt.Fprintln(w.Out, "\nSources:")
	for _, key := range cropSources(c) {
		writeParagraph(w.Out, "  "+key+"  ", working.Cite(key))
	}
	return nil
}

// cropFacts prints the facts of a status that is no number.
func cropFacts(w World, c *crops.Crop, s crops.Status, head string) {
	first := true
	for _, f := range c.Facts {
		if f.Status != s {
			continue
		}
		if first {
			fmt.Fprintln(w.Out, "\n"+head)
			first = false
		}
		text := f.Name + ": " + f.Text
		if len(f.Sources) > 0 {
			text += " (" + strings.Join(f.Sources, ", ") + ")"
		}
		writeParagraph(w.Out, "  - ", text)
	}
}

// cropSources are all works that a crop cites, by key.
func cropSources(c *crops.Crop) []string {
	keys := slices.Concat(c.Growth.Sources, c.Burn.Sources)
	for _, f := range c.Facts {
		keys = append(keys, f.Sources...)
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// cropNames lists the head types, or the other species.
func cropNames(heads bool) string {
	var names []string
	for _, c := range crops.All() {
		if (c.HeadType != "") == heads {
			names = append(names, c.Name)
		}
	}
	return strings.Join(names, ", ")
}

// cropsOut is the list.
type cropsOut struct {
	Crops []wire.Crop `json:"crops" doc:"head types and species"`
}
