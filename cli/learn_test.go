package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
)

// What is wrong with cycles or the command line ends with 2 and says what to do.
func TestLearnRefuses(t *testing.T) {
	dir := demoFolder(t)
	at := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) string {
		if err := os.WriteFile(at(name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return at(name)
	}
	bench, summer := at("tier-2-middle.yaml"), at("tier-2-middle.summer.cycle.yaml")
	wrong := write("wrong.cycle.yaml", "underlamp cycle: 1\nbench: tier-2-middle.yaml\ntransplanted: 2026-08-10\nobservations:\n  - {date: 2026-08-20, plant: P99, mass: 20 g}\n")
	nothing := write("nothing.cycle.yaml", "underlamp cycle: 1\nbench: tier-2-middle.yaml\ntransplanted: 2026-08-10\n")
	profiled := write("profiled.yaml", strings.Replace(string(demo.File("tier-2-middle.yaml")), "  cultivar: Tarn Copper", "  cultivar: Tarn Copper\n  profile: wrong.profile.yaml", 1))
	write("wrong.profile.yaml", "underlamp profile: 1\nname: x\n")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"learn", bench}, 2, "at least one cycle file"},
		{[]string{"backtest", bench}, 2, "at least one cycle file"},
		{[]string{"learn", bench, at("none.yaml")}, 2, "cannot be opened"},
		{[]string{"learn", bench, bench}, 2, `did you mean "underlamp cycle"?`},
		{[]string{"learn", bench, wrong}, 2, "wrong.cycle.yaml:5:31: error: observations[0].plant: the bench has no plant \"P99\""},
		{[]string{"learn", bench, summer, summer}, 2, "are the same cycle"},
		{[]string{"learn", at("tier-1-top.yaml"), summer}, 2, "is a cycle of tier-2-middle.yaml, not of tier-1-top.yaml"},
		{[]string{"learn", bench, nothing}, 1, "nothing to learn from"},
		{[]string{"backtest", bench, nothing}, 1, "no day of harvest"},
		{[]string{"backtest", bench, summer, "--every", "0"}, 2, "at least 1 day"},
		{[]string{"outlook", profiled}, 2, "wrong.profile.yaml: "},
	} {
		if code, _, errs := run(t, "", c.args...); code != c.code || !strings.Contains(errs, c.says) {
			t.Errorf("%v: code %d, want %d and %q:\n%s", c.args, code, c.code, c.says, errs)
		}
	}
}

// The JSON of a back-test holds what the table shows.
func TestBacktestJSON(t *testing.T) {
	dir := demoFolder(t)
	var got struct {
		Cycles []struct {
			Mass   float64 `json:"came_mean_mass_g"`
			Issues []struct {
				Day  int `json:"day"`
				Said struct {
					Heads int     `json:"heads"`
					CRPS  float64 `json:"crps_g"`
				} `json:"learning"`
			} `json:"issues"`
		} `json:"cycles"`
	}
	inJSON(t, &got, "backtest", filepath.Join(dir, "tier-2-middle.yaml"), filepath.Join(dir, "tier-2-middle.summer.cycle.yaml"), "--every", "16", "--json")
	if len(got.Cycles) != 1 || len(got.Cycles[0].Issues) != 2 || got.Cycles[0].Issues[1].Day != 16 || got.Cycles[0].Issues[0].Said.Heads != 6 || !(got.Cycles[0].Issues[0].Said.CRPS > 0) {
		t.Errorf("%+v", got)
	}
}
