package outlook

import (
	"fmt"
	"strings"

	"underlamp"
	"underlamp/science/crops"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A NotSupported says that no data support the growth and burn of a species, so
// that neither is forecast.
type NotSupported struct {
	Species string      // as the bench file has it
	Known   *crops.Crop // what is known of it; nil if nothing is
}

// Error says why, and what still holds.
func (e *NotSupported) Error() string {
	const light = "All that is of light alone holds for it as for any plant"
	if e.Known == nil {
		return fmt.Sprintf("growth and burn of %s cannot be forecast: nothing published of it is in underlamp, and the figures of lettuce do not hold for it. %s. underlamp crops lists what is known", e.Species, light)
	}
	return fmt.Sprintf("growth and burn of %s cannot be forecast. %s %s %s. underlamp crops %s says what is known", e.Species, e.Known.Growth.Text, e.Known.Burn.Text, light, e.Known.Name)
}

// Supported says whether growth and burn of the crop of a bench can be forecast: a
// [*NotSupported] if not.
func Supported(b *underlamp.Bench) error {
	species := b.Crop.Species.Value
	if crops.IsLettuce(species) {
		return nil
	}
	known, ok := crops.Find(species)
	switch {
	case ok && known.Supported():
		return nil
	case ok:
		return &NotSupported{species, known}
	}
	return &NotSupported{Species: species}
}

// headType is what is known of the head type that the traits of a bench are of:
// that of its profile, which was learned on top of it, or the stated one; nil for
// lettuce at large.
func headType(b *underlamp.Bench) *crops.Crop {
	t := b.Crop.Type.Value
	switch p := b.Crop.Profile; {
	case p != nil:
		t = p.Type
	case b.Crop.Type.IsDefault():
		t = ""
	}
	if t == "" {
		return nil
	}
	c, ok := crops.Find(string(t))
	if !ok {
		return nil
	}
	return c
}

// TraitType is the head type whose own figures are in the traits of a bench; empty
// if they are those of lettuce at large.
func TraitType(b *underlamp.Bench) underlamp.HeadType {
	if c := headType(b); c != nil && len(c.Factors()) > 0 {
		return underlamp.HeadType(c.HeadType)
	}
	return ""
}

// A factor is a published difference from lettuce at large.
type factor struct {
	crops.Fact
	trait headcycle.UncertainTrait
}

func factors(b *underlamp.Bench) []factor {
	c := headType(b)
	if c == nil {
		return nil
	}
	var out []factor
	for _, f := range c.Factors() {
		for _, t := range headcycle.UncertainTraits() {
			if t.Name == f.Enters {
				out = append(out, factor{f, t})
			}
		}
	}
	return out
}

// widened adds the doubt about the figures of a head type.
func widened(b *underlamp.Bench, s headcycle.Spread) headcycle.Spread {
	for _, f := range factors(b) {
		s = s.Widened(f.Enters, f.Spread)
	}
	return s
}

// A typed is what the head type brings to the workings of an outlook; zero if none
// was stated.
type typed struct {
	inputs       []working.Input // traits that differ from lettuce's
	sources      []string
	growth, burn []string // notes: what stays lettuce's, and why
}

func typeOf(b *underlamp.Bench) typed {
	c := headType(b)
	if c == nil {
		return typed{}
	}
	t := typed{inputs: []working.Input{working.Plain("head type", c.HeadType, underlamp.Stated.String())}}
	if b.Crop.Profile != nil {
		t.inputs[0].Origin = "learned"
	}
	var own []string
	for _, f := range factors(b) {
		own = append(own, f.Name)
		t.inputs = append(t.inputs, working.Input{
			Name: fmt.Sprintf("%s, of %s", f.Name, c.Name), Origin: "published",
			Value: fmt.Sprintf("%s times, spread %s", quantity.Number(f.Value, 3), working.Percent(f.Spread)),
			Note:  strings.Join(f.Sources, ", ") + ": " + f.Text,
		})
		t.sources = append(t.sources, f.Sources...)
	}
	switch rests := c.Name == string(underlamp.Butterhead); {
	case len(own) > 0:
		t.growth = []string{fmt.Sprintf("Of %s these figures of its own are supported by data: %s. Every other trait is that of lettuce at large; underlamp crops %s says why. Its heart is taken to close at the same dry mass as lettuce's.", c.Name, strings.Join(own, ", "), c.Name)}
	case rests:
		t.growth = []string{"The traits of lettuce at large stand for butterhead: they were fitted to it, among others."}
	default:
		t.growth = []string{fmt.Sprintf("No figure of its own is supported by data for %s: every trait is that of lettuce at large; underlamp crops %s says why.", c.Name, c.Name)}
	}
	if f, ok := c.Fact(crops.BurnProneness); ok {
		t.burn = []string{fmt.Sprintf("Burn of %s is that of lettuce at large. %s", c.Name, f.Text)}
	}
	return t
}
