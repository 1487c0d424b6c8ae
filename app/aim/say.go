package aim

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"underlamp/science/lightaim"
	"underlamp/science/quantity"
)

const (
	runnerUps   = 4
	apartHeight = 0.04 // as in app/outlook
	apartHours  = 1.5
	apartDim    = 0.1
	named       = 5 // plants named in one sentence
)

// apart are the best settings that differ from the chosen one and from one another
// by more than a nudge.
func (s *state) apart(all []trial, chosen *trial) []Proposal {
	mean := func(t *trial) float64 {
		sum := 0.0
		for _, d := range t.a.Dim {
			sum += d / float64(len(t.a.Dim))
		}
		return sum
	}
	far := func(a, b *trial) bool {
		return a.sp.layout != b.sp.layout || math.Abs(a.sp.height-b.sp.height) >= apartHeight-1e-9 ||
			math.Abs(a.hours-b.hours) >= apartHours-1e-9 || math.Abs(mean(a)-mean(b)) >= apartDim-1e-9
	}
	free := slices.DeleteFunc(slices.Clone(all), func(t trial) bool { return t.err != nil })
	slices.SortStableFunc(free, func(x, y trial) int {
		if d := x.score - y.score; math.Abs(d) > 1e-9*(1+math.Abs(x.score)) {
			return int(math.Copysign(1, d))
		}
		return s.nearer(x) - s.nearer(y)
	})
	taken := []trial{*chosen}
	for _, t := range free {
		if len(taken) > runnerUps {
			break
		}
		if slices.ContainsFunc(taken, func(o trial) bool { return !far(&t, &o) }) {
			continue
		}
		if s.a.Step > 0 || s.a.MayBeOff {
			a, err := solve(s.a.Goal, s.problem(t.sp, t.hours, true))
			if err != nil {
				continue
			}
			t.a, t.score = a, s.score(a, t.hours)
		}
		taken = append(taken, t)
	}
	rest := taken[1:]
	sort.SliceStable(rest, func(i, j int) bool { return rest[i].score < rest[j].score })
	out := []Proposal{}
	for i := range rest {
		out = append(out, s.proposal(&rest[i]))
	}
	return out
}

// Points of the trade-off at each height, and how many the curve shows.
const (
	curveEach = 6
	curveMost = 12
	curveGap  = 0.002 // of unevenness, below which a point says nothing new
)

// curve is electricity against evenness over all heights, at the hours of the
// proposal, with free dimmers and the mean at the target: the points that no other
// beats in both.
func (s *state) curve(spots []spot, hours float64) []Proposal {
	var all []trial
	for i := range spots {
		if len(spots) > 60 && i%(len(spots)/60+1) != 0 {
			continue
		}
		even := *s
		even.a.Goal = MostEven
		list, err := even.problem(&spots[i], hours, false).TradeOff(curveEach)
		if err != nil {
			continue // out of reach at this height
		}
		for _, a := range list {
			all = append(all, trial{sp: &spots[i], hours: hours, a: a})
		}
	}
	slices.SortStableFunc(all, func(x, y trial) int {
		switch {
		case x.a.Watt < y.a.Watt-1e-9:
			return -1
		case x.a.Watt > y.a.Watt+1e-9:
			return 1
		case x.a.Uneven < y.a.Uneven:
			return -1
		}
		return 1
	})
	var kept []trial
	for _, t := range all {
		if n := len(kept); n == 0 || t.a.Uneven < kept[n-1].a.Uneven-curveGap {
			kept = append(kept, t)
		}
	}
	out := []Proposal{}
	for i := range kept {
		// Of many, those in equal steps of the list, with both ends.
		if len(kept) > curveMost && i != len(kept)-1 && i*(curveMost-1)/(len(kept)-1) == (i-1)*(curveMost-1)/(len(kept)-1) && i > 0 {
			continue
		}
		out = append(out, s.proposal(&kept[i]))
	}
	return out
}

// limits says what stands in the way of a better setting.
func (s *state) limits(r *Result, t *trial) {
	say := func(format string, args ...any) { r.Limits = append(r.Limits, fmt.Sprintf(format, args...)) }
	u, lim, p := s.b.Units, s.b.Limits, &r.After
	if s.a.Goal == LeastElectricity && !s.a.Mean {
		var names []string
		for i, v := range p.PPFD {
			if float64(v) < float64(p.Target)*1.01 {
				names = append(names, s.b.Plants[i].Name)
			}
		}
		if len(names) > 0 && len(names) <= len(p.PPFD)/2 {
			say("%s %s just what was asked and %s the electricity: all others have more.", list("plant", names), have(names, "has", "have"), have(names, "settles", "settle"))
		}
	}
	if s.a.AtMost > 0 && float64(p.Top) > 0.99*float64(s.a.AtMost) {
		say("The brightest plant is at the greatest PPFD allowed, %s.", quantity.PhotonFluxDensity.Format(float64(s.a.AtMost), u, 3))
	}
	lo, hi := max(float64(lim.MinHeight.Value), float64(s.a.Canopy+s.a.Clearance)+t.sp.layout.lowest()), float64(lim.MaxHeight.Value)
	if !s.a.KeepHeight && hi-lo > heightStep {
		switch {
		case t.sp.height < lo+heightStep/2 && lo > float64(lim.MinHeight.Value)+1e-9:
			say("The lamps hang as low as canopy and clearance allow.")
		case t.sp.height < lo+heightStep/2:
			say("The lamps hang as low as the limits allow; lower would bring more of their light to the plants.")
		case t.sp.height > hi-heightStep/2:
			say("The lamps hang as high as the limits allow; higher would even out the light.")
		}
	}
	var full, least []string
	for k, d := range p.Dim {
		switch {
		case float64(d) > float64(lim.MaxDim.Value)-1e-6:
			full = append(full, p.Layout.names[k])
		case d > 0 && float64(d) < float64(lim.MinDim.Value)+1e-6:
			least = append(least, p.Layout.names[k])
		}
	}
	if len(full) > 0 {
		say("%s %s as bright as the limits allow.", list("", full), have(full, "burns", "burn"))
	}
	if len(least) > 0 {
		off := ""
		if !s.a.MayBeOff {
			off = "; switching lamps off has not been tried"
		}
		say("%s %s dimmed as far as the limits allow%s.", list("", least), have(least, "is", "are"), off)
	}
	if days := hours(s.m, &s.a); len(days) > 1 {
		switch {
		case t.hours <= days[0]+1e-9:
			say("The days are as short as the limits allow.")
		case t.hours >= days[len(days)-1]-1e-9:
			say("The days are as long as the limits allow.")
		}
	}
	if !t.a.Proven && s.a.Share > 0 && s.a.Share < 1 && t.a.Bound > 0 {
		say("Which plants go without was searched, not all choices tried: none could save more than %s %% of the electricity.", quantity.Number(100*(1-t.a.Bound/t.a.Aim), 2))
	} else if !t.a.Proven && s.a.Goal != MostWithin && t.a.Bound > 0 && !math.IsInf(t.a.Bound, 0) {
		say("The steps of the dimmers were searched, not all tried: a better choice of steps could gain %s %% at most.", quantity.Number(100*(1-t.a.Bound/t.a.Aim), 2))
	}
	if s.a.Goal == MostWithin && !t.a.Proven {
		say("More than %d plants within the limits were not found; no choice of dimmings has more than %.0f.", t.a.Within, t.a.Bound)
	}
	if len(r.Limits) == 0 {
		say("Nothing at the edge of the limits: the setting balances what each height, dimming and hour costs.")
	}
}

// missed fills a result for a question that cannot be met: the nearest setting,
// and which plants stand in the way.
func (s *state) missed(r *Result, all []trial) {
	say := func(format string, args ...any) { r.Limits = append(r.Limits, fmt.Sprintf(format, args...)) }
	u := s.b.Units
	var best *trial
	var why *lightaim.InfeasibleError
	for i := range all {
		t := &all[i]
		if t.err == nil { // free dimmers can, steps cannot
			if why != nil || best == nil || t.score < best.score {
				best, why = t, nil
			}
			continue
		}
		e, ok := errors.AsType[*lightaim.InfeasibleError](t.err)
		if !ok || e.Best == nil || best != nil && (why == nil || e.Short >= why.Short-1e-9) {
			continue
		}
		best, why = t, e
		t.a = e.Best
	}
	if best == nil {
		say("No height, dimming and hours within the limits of the bench come near: the limits contradict one another.")
		r.After = r.Before
		return
	}
	r.After = s.proposal(best)
	p := &r.After
	at := fmt.Sprintf("with the lamps at %s for %s", quantity.Length.Format(float64(p.Height), u, 3), quantity.Duration.Format(float64(p.Hours), u, 4))
	if why == nil {
		say("Free dimmers could do it, but no steps of %s keep all limits; the nearest, %s, is shown with free dimmers. A finer step or a wider limit would help.", percent(float64(s.a.Step)), at)
		return
	}
	say("No height, dimming and hours within the limits give what was asked. The nearest is %s: everything is missed by at most %s %%, and the darkest plant has %s.",
		at, quantity.Number(100*why.Short, 2), quantity.PhotonFluxDensity.Format(float64(p.Lowest), u, 3))
	reach := func(list []lightaim.Reach, words string) {
		if len(list) == 0 {
			return
		}
		slices.SortStableFunc(list, func(a, b lightaim.Reach) int {
			return int(math.Copysign(1, math.Abs(b.Can/b.Want-1)-math.Abs(a.Can/a.Want-1)))
		})
		var parts []string
		for i, x := range list {
			if i == named {
				parts = append(parts, fmt.Sprintf("%d more", len(list)-named))
				break
			}
			parts = append(parts, fmt.Sprintf("%s (%s)", s.b.Plants[x.Point].Name, quantity.Fixed(x.Can, 0)))
		}
		say(words, and(parts), quantity.PhotonFluxDensity.Format(list[0].Want, u, 3))
	}
	reach(why.Dark, "There, even with every lamp as bright as the limits allow, these plants stay under it: %s, of %s.")
	reach(why.Bright, "There, even with every lamp as dim as the limits allow, these plants are over it: %s, of %s.")
	if len(why.Dark)+len(why.Bright) == 0 {
		if s.a.Mean || s.a.Goal == MostEven {
			say("With every lamp as bright as the limits allow the mean stays under the target.")
		} else {
			say("Each plant could have it, but not all at once: what lights the darkest is too much for the brightest.")
		}
	}
	say("What would help: lamps nearer or more of them, longer days if the target is a DLI, brighter walls, or a target for a share of the plants.")
}

// notes says what was assumed.
func (s *state) notes(r *Result) {
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	u := s.b.Units
	if s.a.Sure == 0.5 && r.Found {
		to := float64(s.asked(&r.After)) * math.Exp(s.sd*normalQuantile(0.9))
		note("The light level is known to ±%s %% (one standard deviation), so a target met exactly is missed with a chance of one half. To be 90 %% sure, aim at %s.",
			quantity.Number(100*s.sd, 2), quantity.PhotonFluxDensity.Format(to, u, 3))
	}
	if s.a.Power == nil {
		note("%s", s.curveWords())
	}
	if len(s.b.Readings) == 0 {
		note("No meter reading: the level rests on the label alone. Three readings would narrow it.")
	}
	if s.a.LampsTo > 0 {
		note("Other layouts are reckoned with the first lamp of the bench, corrected by the readings where it hangs now. What more lamps cost to buy is not in it.")
	}
	for _, l := range s.b.Lamps {
		if l.Power.IsDefault() {
			note("The power of %s is a default: %s", l.Name, l.Power.Note)
			break
		}
	}
}

// list joins names: "plants A1, A2 and A3", at most a few of them.
func list(noun string, names []string) string {
	n := len(names)
	if n > 1 && noun != "" {
		noun += "s"
	}
	if n > named {
		names = append(slices.Clone(names[:named]), fmt.Sprintf("%d more", n-named))
	}
	text := strings.TrimSpace(noun + " " + and(names))
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

func and(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

func have(names []string, one, many string) string {
	if len(names) == 1 {
		return one
	}
	return many
}

func percent(f float64) string { return quantity.Number(100*f, 3) + " %" }
