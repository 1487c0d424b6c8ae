package validation

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"underlamp/science/calibration"
	"underlamp/science/headcycle"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// A Treatment is one published treatment that no parameter was fitted to, with what was
// seen and what the tool computes for it.
type Treatment struct {
	Name, Source string
	Burnt        Seen
	Level        float64 // published, in percent of leaves or of plants; NaN if none
	Got          float64 // computed, of the same kind as Level
	Chance       float64 // computed share of plants with burn
	Leaves       float64 // computed share of leaves with burn
}

// Seen is whether burn was seen.
type Seen int

// What was seen.
const (
	NotTold Seen = iota
	Sound        // no burn, or on less than half of the plants
	Burns        // burn, on half of the plants or more, or enough to drop the treatment
)

// TipburnTreatments are the treatments among the rows of purpose "check" whose burn was
// published as yes or no, or as a level. Where a trial gives an order alone it is not
// here: its rows hold or do not.
func TipburnTreatments() []Treatment {
	w := watcher(calibration.Plants(headcycle.Lettuce()))
	usual, base := calibration.Usual(), calibration.ErtleKubota()
	var out []Treatment
	add := func(name, source string, seen Seen, c calibration.Crowd) {
		out = append(out, Treatment{name, source, seen, math.NaN(), math.NaN(), c.Chance, c.Leaves})
	}
	night := func(rh float64) calibration.Crowd {
		return w.watch(usual.With(func(e *calibration.Experiment) { e.NightRH = rh }))
	}
	leveled := func(level, got float64) { out[len(out)-1].Level, out[len(out)-1].Got = level, got }

	dim := func(f float64) calibration.Experiment {
		return base.With(func(e *calibration.Experiment) { e.Dim = from(16, f) })
	}
	rex := calibration.CultivarOf(headcycle.Lettuce(), 0.14, base)
	klee := calibration.CultivarOf(headcycle.Lettuce(), 0.33, base, dim(0.85), dim(0.70))
	for _, f := range []float64{0.85, 0.70, 0.55} {
		c := rex.Watch(dim(f))
		add(fmt.Sprintf("T07 'Rex', %.0f %% of the light", 100*f), "ErtleKubota2023b", NotTold, c)
		leveled(2, 100*c.Leaves)
	}
	c := klee.Watch(dim(0.55))
	add("T08 'Klee', 55 % of the light", "ErtleKubota2023b", NotTold, c)
	leveled(8, 100*c.Leaves)
	c = night(0.80)
	add("T09 usual nights", "Vanhassel2015", Burns, c)
	leveled(80, 100*c.Chance)
	c = night(0.96)
	add("T09 nights above 95 %", "Vanhassel2015", Sound, c)
	leveled(26.5, 100*c.Chance)
	add("T15 25.8 mol", "KSC2006", Burns, w.watch(usual.With(light(dailyLight(25.8), 16))))
	add("T19 17 mol under a fan", "BrechnerBoth2013", Sound, w.watch(usual.With(func(e *calibration.Experiment) { e.PPFD, e.Aim, e.Speed = dailyLight(17), "down", 0.5 })))
	return append(out, climatesOf(w, false)...)
}

// climatesOf are the 48 of Carotti2021, at one relative humidity in all (assumed), or at one
// vapour deficit: that of the assumed humidity at 20 °C.
func climatesOf(w watcher, oneDeficit bool) []Treatment {
	usual := calibration.Usual()
	var out []Treatment
	for _, ppfd := range []float64{200, 400, 750} {
		for _, air := range []float64{20, 24, 28, 32} {
			for _, root := range []float64{20, 24, 28, 32} {
				seen := Sound
				if ppfd > 200 && air > 24 && root < 28 {
					seen = Burns
				}
				x := calibration.Carotti(usual, ppfd, air).With(func(e *calibration.Experiment) {
					e.RootC = root
					if oneDeficit {
						e.DayRH, e.NightRH = sameDeficit(usual.DayRH, 20, air), sameDeficit(usual.NightRH, 20, air)
					}
				})
				c := w.watch(x)
				out = append(out, Treatment{fmt.Sprintf("T10 %.0f µmol, air %.0f, roots %.0f °C", ppfd, air, root), "Carotti2021", seen, math.NaN(), math.NaN(), c.Chance, c.Leaves})
			}
		}
	}
	return out
}

// sameDeficit is the relative humidity at another temperature with the vapour deficit, in
// g m⁻³, of a humidity at one.
func sameDeficit(rh, at, other float64) float64 {
	full := func(c float64) float64 { return moistair.Deficit(quantity.Celsius(c), 0) }
	return 1 - (1-rh)*full(at)/full(other)
}

// TipburnMetrics sum up the treatments, and the orders among the checks.
func TipburnMetrics(checks []Check, treatments []Treatment) []Metric {
	var told, climates []Treatment
	var published, computed []float64
	for _, t := range treatments {
		if t.Source == "Carotti2021" {
			climates = append(climates, t)
		} else if t.Burnt != NotTold {
			told = append(told, t)
		}
		if !math.IsNaN(t.Level) {
			published, computed = append(published, t.Level), append(computed, t.Got)
		}
	}
	auc := func(list []Treatment, score func(Treatment) float64) (float64, string) {
		var yes, no []float64
		for _, t := range list {
			switch t.Burnt {
			case Burns:
				yes = append(yes, score(t))
			case Sound:
				no = append(no, score(t))
			}
		}
		return AreaUnderCurve(yes, no), fmt.Sprintf("%d treatments that burnt, %d that did not", len(yes), len(no))
	}
	chance, leaves := func(t Treatment) float64 { return t.Chance }, func(t Treatment) float64 { return t.Leaves }
	const curve = "area under the curve of burn, yes or no"
	metric := func(name, unit, aim string, v float64, note string) Metric {
		return Metric{Group: "tipburn", Name: name, Unit: unit, Value: v, Aim: aim, Note: note}
	}
	all, allOver := auc(slices.Concat(told, climates), chance)
	few, fewOver := auc(told, chance)
	heat, heatOver := auc(climates, leaves)

	level, levelOver := auc(climatesOf(watcher(calibration.Plants(headcycle.Lettuce())), true), leaves)

	var late []float64
	held, orders := 0, 0
	for _, c := range checks {
		if c.Area != "tipburn" || c.Purpose != Published {
			continue
		}
		if c.Unit == "day" && !math.IsInf(c.Got, 0) {
			late = append(late, math.Abs(c.Got-c.Expected))
		}
		if c.Kind == Order {
			orders++
			if c.Held {
				held++
			}
		}
	}
	slices.Sort(late)
	day := math.NaN()
	if len(late) > 0 {
		day = stat.Quantile(0.5, stat.Empirical, late, nil)
	}
	return []Metric{
		metric(curve, "", "0.85", all, allOver+"; by the computed chance; Carotti2021 counts as burnt where it dropped the climate, which is severe burn"),
		metric(curve+", without Carotti2021", "", "0.85", few, fewOver+"; by the computed chance"),
		metric(curve+", 48 climates of Carotti2021", "", "0.85", heat, heatOver+"; by the computed share of leaves, since dropping a climate tells severe from slight"),
		metric(curve+", 48 climates of Carotti2021 at one vapour deficit", "", "0.85", level, levelOver+"; the same, had all climates the deficit of 65 and 75 % at 20 °C instead of that humidity; the abstract prints neither"),
		metric("rank correlation of levels (Spearman)", "", "0.7", Spearman(published, computed), fmt.Sprintf("%d levels, in percent of leaves (ErtleKubota2023b) and of plants (Vanhassel2015)", len(published))),
		metric("median error of the day of first burn", "d", "3", day, fmt.Sprintf("%d row: no trial beside those fitted to prints a day", len(late))),
		metric("orders that hold", "%", "", 100*float64(held)/float64(orders), fmt.Sprintf("%d of %d", held, orders)),
	}
}

// treatmentsSection writes what is behind the figures of tipburn.
func treatmentsSection(b *strings.Builder, treatments []Treatment) {
	b.WriteString("Every treatment behind the figures of tipburn; a computed level is of the same kind as the published one:\n\n")
	b.WriteString("| source | treatment | burn seen | level published, % | level computed, % | plants with burn, % | leaves with burn, % |\n|---|---|---|---|---|---|---|\n")
	for _, t := range treatments {
		if t.Source == "Carotti2021" {
			continue
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %.0f | %.1f |\n", t.Source, cell(t.Name), [...]string{"", "no", "yes"}[t.Burnt], levelCell(t.Level), levelCell(t.Got), 100*t.Chance, 100*t.Leaves)
	}
	b.WriteString("\nThe 48 climates of Carotti2021, burnt leaves in percent as computed; **bold** where the trial dropped the climate for burn:\n\n")
	b.WriteString("| light and air | roots 20 °C | 24 °C | 28 °C | 32 °C |\n|---|---|---|---|---|\n")
	column := 0
	for _, t := range treatments {
		if t.Source != "Carotti2021" {
			continue
		}
		if column%4 == 0 {
			name, _, _ := strings.Cut(strings.TrimPrefix(t.Name, "T10 "), ", roots")
			fmt.Fprintf(b, "| %s °C |", name)
		}
		text := fmt.Sprintf("%.1f", 100*t.Leaves)
		if t.Burnt == Burns {
			text = "**" + text + "**"
		}
		fmt.Fprintf(b, " %s |", text)
		if column++; column%4 == 0 {
			b.WriteString("\n")
		}
	}
	b.WriteString("\n")
}

func levelCell(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return number(v)
}

// AreaUnderCurve is the chance that a treatment that burnt has the higher score of a pair
// with one that did not; ties count half. 0.5 is a guess, NaN if one kind is missing.
func AreaUnderCurve(burnt, sound []float64) float64 {
	sum := 0.0
	for _, b := range burnt {
		for _, s := range sound {
			switch {
			case b > s:
				sum++
			case b == s:
				sum += 0.5
			}
		}
	}
	return sum / float64(len(burnt)*len(sound))
}

// Spearman is the correlation of ranks, ties at their mean rank; NaN for fewer than two.
func Spearman(a, b []float64) float64 {
	if len(a) < 2 {
		return math.NaN()
	}
	return stat.Correlation(ranks(a), ranks(b), nil)
}

func ranks(v []float64) []float64 {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(v[a], v[b]) })
	out := make([]float64, len(v))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && v[order[j]] == v[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			out[order[k]] = float64(i+j-1)/2 + 1
		}
		i = j
	}
	return out
}
