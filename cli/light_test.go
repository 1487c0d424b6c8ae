package cli

import (
	"strings"
	"testing"
)

// The light says where to read next and that the field was used; options that make
// no sense are refused with what was expected.
func TestLightOptions(t *testing.T) {
	file := demoFile(t, "tier-1-top.yaml")
	code, out, errs := run(t, "", "light", "--ceiling", "300 µmol/m²/s", file)
	if code != 0 || errs != "" {
		t.Fatalf("code %d, %s", code, errs)
	}
	for _, want := range []string{"Next reading: ", "6 usable readings", "plants above the ceiling", "surface within 10 % of its mean", "darkest plant, of the mean"} {
		if !strings.Contains(out, want) {
			t.Errorf("the output does not say %q:\n%s", want, out)
		}
	}
	var got struct {
		Field struct {
			Used bool   `json:"used"`
			Why  string `json:"why"`
		} `json:"residual_field"`
		Next struct {
			Before float64 `json:"relative_sd_before"`
			After  float64 `json:"relative_sd_after"`
		} `json:"next_reading"`
	}
	inJSON(t, &got, "light", "--json", "--field", "off", file)
	if got.Field.Used || !strings.Contains(got.Field.Why, "switched off") || !(got.Next.After > 0 && got.Next.After < got.Next.Before) {
		t.Errorf("%+v", got)
	}
	for _, args := range [][]string{{"--field", "maybe"}, {"--target", "250"}, {"--ceiling", "-3 µmol/m²/s"}} {
		refuses(t, args[0], append([]string{"light", file}, args...)...)
	}
}
