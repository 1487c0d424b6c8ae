package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/report"
	"underlamp/science/crops"
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
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the figures as JSON")
	return cmd
}

// runCrops prints the list.
func runCrops(w World, asJSON bool) error {
	list := crops.All()
	if asJSON {
		out := make([]cropOut, len(list))
		for i := range list {
			out[i] = cropJSON(&list[i])
		}
		return writeJSON(w.Out, out)
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
		rows = append(rows, []string{c.Name, kindOf(c), forecast(c), own})
	}
	writeTable(w.Out, []column{{head: "name"}, {head: "kind"}, {head: "growth and burn"}, {head: "enters the outlook"}}, rows)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", "Light, target, match and lamps hold for every plant. underlamp crops NAME shows the figures of one with their sources.")
	return nil
}

func kindOf(c *crops.Crop) string {
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
		return writeJSON(w.Out, cropJSON(c))
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

type cropOut struct {
	Name      string     `json:"name"`
	Species   string     `json:"species"`
	HeadType  string     `json:"head_type,omitempty"`
	Botanical string     `json:"botanical"`
	Also      []string   `json:"also"`
	Growth    verdictOut `json:"growth"`
	Burn      verdictOut `json:"burn"`
	Facts     []factOut  `json:"facts"`
}

type verdictOut struct {
	Supported bool     `json:"supported"`
	Text      string   `json:"text"`
	Sources   []string `json:"sources"`
}

// A factOut has a value only if its status is number. Its spread is the standard
// deviation of the logarithm, of a temperature that in °C.
type factOut struct {
	Name    string   `json:"name"`
	Status  string   `json:"status"`
	Value   *float64 `json:"value,omitempty"`
	Unit    string   `json:"unit,omitempty"`
	Spread  *float64 `json:"spread,omitempty"`
	Outlook bool     `json:"enters_outlook"`
	Sources []string `json:"sources"`
	Text    string   `json:"text"`
}

func cropJSON(c *crops.Crop) cropOut {
	some := func(s []string) []string { return append([]string{}, s...) } // an empty list, not null
	out := cropOut{
		Name: c.Name, Species: c.Species, HeadType: c.HeadType, Botanical: c.Botanical, Also: some(c.Also),
		Growth: verdictOut{Supported: c.Growth.Supported, Text: c.Growth.Text},
		Burn:   verdictOut{Supported: c.Burn.Supported, Text: c.Burn.Text},
	}
	out.Growth.Sources, out.Burn.Sources = some(c.Growth.Sources), some(c.Burn.Sources)
	for _, f := range c.Facts {
		x := factOut{Name: f.Name, Status: string(f.Status), Unit: f.Unit, Outlook: f.Enters != "", Text: f.Text}
		x.Sources = some(f.Sources)
		if f.Status == crops.Number {
			x.Value, x.Spread = &f.Value, &f.Spread
		}
		out.Facts = append(out.Facts, x)
	}
	return out
}
