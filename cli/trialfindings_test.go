package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var notNumber = regexp.MustCompile(`\bNaN\b|[+−-]?\bInf\b|∞|%!`)

// oddTrial writes a made trial with all that goes wrong: few units, lost ones, missing cells,
// no scatter, all or no plants burnt, values in ounces or a thousand times too large, lines twice,
// days turned round. It returns the file of the plan.
func oddTrial(t *rapid.T, dir string) string {
	layout := rapid.SampledFrom([]string{"complete", "blocks", "latin square", "split plot", "systematic"}).Draw(t, "layout")
	response := rapid.SampledFrom([]string{"mass", "height", "leaves", "burn", "severity"}).Draw(t, "response")
	treatments := rapid.IntRange(2, 5).Draw(t, "treatments")
	repeats := rapid.IntRange(1, 4).Draw(t, "repeats")
	if layout == "latin square" {
		repeats = treatments
	}
	plants := rapid.IntRange(1, 6).Draw(t, "plants")
	light := rapid.Bool().Draw(t, "light")
	burnt := rapid.SampledFrom([]float64{-99, 0, 99}).Draw(t, "burnt") // none, some, all
	scatter := rapid.SampledFrom([]float64{0, 1, 1, 1}).Draw(t, "scatter")
	lost := rapid.SampledFrom([]float64{0, 0, 0.1, 0.5}).Draw(t, "lost")
	slip := rapid.SampledFrom([]string{"", "", "ounces", "thousand", "twice", "days", "unit", "treatment"}).Draw(t, "slip")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	var plan, table strings.Builder
	fmt.Fprintf(&plan, "underlamp trial: 1\nname: odd\ntable: odd.csv\nresponse: %s\nlayout: %s\nseed: 3\n", response, layout)
	if rapid.Bool().Draw(t, "margin") {
		plan.WriteString("difference: " + map[string]string{"mass": "10 g", "height": "2 cm", "leaves": "2", "burn": "10 %", "severity": "1"}[response] + "\n")
	}
	plan.WriteString("treatments:\n")
	for k := range treatments {
		fmt.Fprintf(&plan, "  - {name: t%d", k)
		if light {
			fmt.Fprintf(&plan, ", dli: %d mol/m²/d", 10+3*k)
		}
		if k == 1 && rapid.Bool().Draw(t, "control") {
			plan.WriteString(", control: yes")
		}
		plan.WriteString("}\n")
	}
	plan.WriteString("units:\n")
	table.WriteString("id,time,unit,plant,what,value,missing,by,with,note,corrects,struck\n")
	id := 0
	row := func(unit string, plant int, what, value, missing string) {
		id++
		line := fmt.Sprintf(",2026-05-01,%s,P%d,%s,%s,%s,,,,,\n", unit, plant, what, value, missing)
		fmt.Fprintf(&table, "e%d%s", id, line)
		if slip == "twice" {
			id++
			fmt.Fprintf(&table, "e%d%s", id, line)
		}
	}
	whole := rapid.SampledFrom([]int{2, 2, 1}).Draw(t, "parts")
	for b := range repeats {
		for k := range treatments {
			for part := range whole {
				if part > 0 && layout != "split plot" {
					continue
				}
				name := fmt.Sprintf("C%d-L%d-%d", b, k, part)
				fmt.Fprintf(&plan, "  - {name: %s, treatment: t%d, block: c%d, place: p%d", name, (k+b)%treatments, b, k)
				if layout == "split plot" {
					fmt.Fprintf(&plan, ", whole: w%d-%d, part: v%d", b, k, part)
				}
				plan.WriteString("}\n")
				if slip == "unit" && b == 0 && k == 0 || slip == "treatment" && (k+b)%treatments == 0 {
					continue
				}
				shift := scatter * r.NormFloat64()
				for p := range plants {
					if r.Float64() < lost {
						row(name, p, response, "", "lost")
						continue
					}
					z := shift + scatter*r.NormFloat64() + 0.5*float64((k+b)%treatments)
					mass := max(100+10*z, 1)
					if slip == "ounces" && p == 0 {
						mass /= 28.35
					}
					if slip == "thousand" && b+k+p == 0 {
						mass *= 1000
					}
					row(name, p, "mass", fmt.Sprintf("%.1f", mass), "")
					row(name, p, "height", fmt.Sprintf("%.1f", max(10+z, 1)), "")
					row(name, p, "leaves", fmt.Sprintf("%.0f", max(12+z, 1)), "")
					grade := math.Floor(min(max(z+burnt, 0), 5))
					row(name, p, "burn", fmt.Sprintf("%.0f", min(grade, 1)), "")
					row(name, p, "severity", fmt.Sprintf("%.0f", grade), "")
					first, clear := 12+3*float64(p%3), 30.0
					if grade > 0 {
						clear = first - 3
						if slip == "days" {
							clear = first + 3
						}
						row(name, p, "first", fmt.Sprintf("%.0f", first), "")
					}
					row(name, p, "clear", fmt.Sprintf("%.0f", clear), "")
				}
			}
		}
	}
	file := filepath.Join(dir, "odd.yaml")
	if err := os.WriteFile(file, []byte(plan.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "odd.csv"), []byte(table.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// From file to text, JSON and page a trial gives an answer that holds no NaN and no infinity, or a
// refusal that says what is missing.
func TestOddTrialsFromFileToPage(t *testing.T) {
	if testing.Short() {
		t.Skip("slow")
	}
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		file := oddTrial(rt, dir)
		page := filepath.Join(dir, "odd.html")
		more := rapid.SampledFrom([][]string{{"--working"}, {"--json"}, {"-o", page}}).Draw(rt, "as")
		code, out, errs := run(t, "", append([]string{"trial", "findings", file}, more...)...)
		text := out + errs
		if code != 0 && len(errs) < 30 {
			rt.Fatalf("%v: code %d and hardly a word: %q", more, code, errs)
		}
		if code == 0 && more[0] == "--json" {
			var any map[string]any
			if err := json.Unmarshal([]byte(out), &any); err != nil {
				rt.Fatalf("JSON: %v", err)
			}
		}
		if code == 0 && more[0] == "-o" {
			raw, err := os.ReadFile(page)
			if err != nil {
				rt.Fatal(err)
			}
			text += string(raw)
		}
		if at := notNumber.FindStringIndex(text); at != nil {
			rt.Fatalf("%v: …%s…", more, text[max(0, at[0]-200):min(len(text), at[1]+80)])
		}
		if strings.Contains(strings.ToLower(text), "no difference") {
			rt.Fatalf("%v says that there is no difference", more)
		}
	})
}
