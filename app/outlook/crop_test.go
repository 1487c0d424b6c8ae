package outlook

import (
	"errors"
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
)

// ofType is the demo bench of the bottom tier with a head type; an empty one leaves
// it unsaid.
func ofType(t *testing.T, head underlamp.HeadType) *Outlook {
	t.Helper()
	return prepared(t, "tier-3-bottom.yaml", 200, func(b *underlamp.Bench) {
		b.Crop.Type = underlamp.Said(head)
		if head == "" {
			b.Crop.Type = underlamp.Assumed(underlamp.Butterhead, "")
		}
	})
}

// Types differ in the direction of samples that set no factor: USDASR2001, an older
// release with other samples than USDASR2018, has 4.42, 5.09 and 6.00 g of dry mass
// in 100 g of butterhead, romaine and loose leaf, so for equal dry mass a romaine and a
// leaf lettuce weigh less; in a tunnel a romaine was the driest of its trial
// (TunnelLettuce2022). LeafyKorea2025 has Batavia and butterhead alike on four farms
// (4.05 and 4.09 %). Head type did not explain burn over ten cultivars
// (ErtleKubota2023a), so the chance of burn may move by no more than its standard
// error over 200 draws, √(0.22 · 0.78/200) = 0.03: plants of another height stand in
// other light.
func TestHeadTypesDifferAsPublished(t *testing.T) {
	of := func(head underlamp.HeadType) *Forecast { return forecast(t, ofType(t, head), nil) }
	plain, butter := of(""), of(underlamp.Butterhead)
	if plain.Fresh != butter.Fresh || plain.Chance != butter.Chance || plain.Saleable != butter.Saleable {
		t.Errorf("a butterhead differs from lettuce whose type is unsaid: %v and %v", butter.Fresh, plain.Fresh)
	}
	if crisp := of(underlamp.Crisphead); crisp.Fresh != butter.Fresh {
		t.Errorf("a crisphead weighs %v, a butterhead %v; published dry shares are alike", crisp.Fresh, butter.Fresh)
	}
	for head, older := range map[underlamp.HeadType]float64{underlamp.Romaine: 5.09 / 4.42, underlamp.Leaf: 6.00 / 4.42} {
		f := of(head)
		ratio := butter.Fresh.Mid / f.Fresh.Mid
		t.Logf("%s: a butterhead weighs %.3f times as much fresh, %.3f dry; from the older samples %.3f; burn %.3f for %.3f", head, ratio, butter.Dry.Mid/f.Dry.Mid, older, f.Chance, butter.Chance)
		if (ratio > 1) != (older > 1) {
			t.Errorf("%s: a butterhead weighs %.3f times as much, the older samples say %.3f", head, ratio, older)
		}
		if math.Abs(f.Dry.Mid/butter.Dry.Mid-1) > 0.02 {
			t.Errorf("%s: dry mass %v for %v; only the dry share is told apart", head, f.Dry, butter.Dry)
		}
		if math.Abs(f.Chance-butter.Chance) > 0.03 {
			t.Errorf("%s: chance of burn %.3f for %.3f, but head type did not explain burn", head, f.Chance, butter.Chance)
		}
	}
}

// The workings say which trait is of the head type, from which source, and that the
// rest is lettuce's.
func TestWorkingsTellTheHeadTypesTraits(t *testing.T) {
	text := func(head underlamp.HeadType, figure int) string {
		o := ofType(t, head)
		w := o.Figures(forecast(t, o, nil))[figure].Working
		var b strings.Builder
		for _, in := range w.Inputs {
			b.WriteString(in.Name + " = " + in.Value + " (" + in.Origin + ") " + in.Note + "\n")
		}
		return b.String() + strings.Join(w.Notes, "\n") + "\n" + strings.Join(w.Sources, " ")
	}
	const mass, burn = 0, 4
	for _, c := range []struct {
		head   underlamp.HeadType
		figure int
		want   []string
	}{
		{underlamp.Romaine, mass, []string{"head type = romaine (stated)", "dry share against butterhead, of romaine = 1.23 times", "(published) USDASR2018", "Every other trait is that of lettuce at large"}},
		{underlamp.Oakleaf, mass, []string{"head type = oakleaf (stated)", "No figure of its own is supported by data for oakleaf"}},
		{underlamp.Butterhead, mass, []string{"stand for butterhead"}},
		{underlamp.Romaine, burn, []string{"Burn of romaine is that of lettuce at large"}},
	} {
		got := text(c.head, c.figure)
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("the working of %s does not say %q:\n%s", c.head, want, got)
			}
		}
	}
	if got := text("", mass); strings.Contains(got, "head type") {
		t.Errorf("a head type that nobody stated is in the working:\n%s", got)
	}
}

// What was learned stands on the head type that it was learned on top of, whatever
// the bench file says now; a profile without one is of lettuce at large.
func TestProfileKeepsItsHeadType(t *testing.T) {
	b := &underlamp.Bench{Crop: underlamp.Crop{Type: underlamp.Said(underlamp.Romaine)}}
	share := func() float64 { return central(b).Growth.DryShare }
	romaine := share()
	b.Crop.Profile = &underlamp.Profile{}
	lettuce := share()
	b.Crop.Profile.Type = underlamp.Romaine
	if got := share(); got != romaine || lettuce >= romaine || TraitType(b) != underlamp.Romaine {
		t.Errorf("dry share %g with a profile of romaine, %g without a profile, %g with one of lettuce", got, romaine, lettuce)
	}
	b.Crop.Profile = nil
	b.Crop.Type = underlamp.Said(underlamp.Oakleaf)
	if got := TraitType(b); got != "" {
		t.Errorf("oakleaf has no figures of its own, yet traits of %q", got)
	}
}

// The doubt about the figure of a head type widens what is drawn and what can be
// learned by it, and nothing else: squares of standard deviations add.
func TestDoubtOfAHeadType(t *testing.T) {
	b := &underlamp.Bench{Crop: underlamp.Crop{Type: underlamp.Said(underlamp.Romaine)}}
	plain := &underlamp.Bench{Crop: underlamp.Crop{Type: underlamp.Assumed(underlamp.Butterhead, "")}}
	at, before := Prior(b), Prior(plain)
	if want := math.Hypot(before.Between.DryShare, 0.04); math.Abs(at.Between.DryShare-want) > 1e-12 {
		t.Errorf("spread of the dry share between crops is %g, want %g", at.Between.DryShare, want)
	}
	at.Between.DryShare = before.Between.DryShare
	if at.Between != before.Between || at.Within != before.Within {
		t.Error("another spread has moved")
	}
}

// No figure of lettuce is shown for another species: the outlook is refused with the
// reason, and light is not.
func TestOtherSpeciesAreRefused(t *testing.T) {
	for species, want := range map[string]string{
		"spinach": "spinach by 42 %", "kale": "kale by 47 %", "basil": "29 °C", "arugula": "underlamp crops rocket", "Pak Choi": "baby-leaf", "fennel": "nothing published of it",
	} {
		text := strings.Replace(string(demo.File("tier-3-bottom.yaml")), "species: lettuce", "species: "+species, 1)
		b, problems, err := benchfile.Read(strings.NewReader(strings.ReplaceAll(text, "type: butterhead", "")))
		if err != nil {
			t.Fatal(err)
		}
		if b == nil {
			t.Fatalf("%s: %v", species, problems)
		}
		m, err := light.NewModel(b)
		if err != nil {
			t.Fatalf("%s has no light: %v", species, err)
		}
		_, err = New(m, 10)
		var refused *NotSupported
		if !errors.As(err, &refused) || refused.Species != species || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want a refusal that says %q", species, err, want)
		}
		if (refused != nil && refused.Known == nil) != (species == "fennel") {
			t.Errorf("%s: known is %v", species, refused.Known)
		}
	}
	for _, species := range []string{"lettuce", "Lettuce", "Lactuca sativa"} {
		if err := Supported(&underlamp.Bench{Crop: underlamp.Crop{Species: underlamp.Said(species)}}); err != nil {
			t.Errorf("%s is refused: %v", species, err)
		}
	}
}
