package web

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/app/round"
)

// A place is a plant on the plan, in the order of walking.
type place struct {
	Name       string
	X, Y, R    string // on the plan
	Below, Row string // places of its two lines of text
}

// A benchPlan is the plan to tap on. A picture is at least as wide as its targets need.
type benchPlan struct {
	Width, Height string // of the view
	Least         int    // width in px at which neighbours are 44 px apart
	Places        []place
	Lamps         []struct{ X, Y, W, H string }
	Font          string
}

// fingertip is the least size of a target in px, and planRoom the room of the plan on a
// small phone.
const (
	fingertip = 44
	planRoom  = 340
)

// planOf lays the plants out to scale. The walk goes along the front, back along the next
// row, and so on: the shortest way past a bench.
func roundsPlanOf(b *underlamp.Bench) benchPlan {
	w, d := 100*float64(b.Space.Width), 100*float64(b.Space.Depth)
	least := math.Min(w, d)
	for i, p := range b.Plants {
		for _, q := range b.Plants[:i] {
			if g := 100 * math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y)); g > 0 {
				least = math.Min(least, g)
			}
		}
	}
	n := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
	plan := benchPlan{Width: n(w), Height: n(d), Least: int(math.Ceil(fingertip * w / least)), Font: n(least * 0.28)}
	for _, l := range b.Lamps {
		lw, ld := 100*float64(l.Opening.Width.Value), 100*float64(l.Opening.Depth.Value)
		if l.Opening.Round {
			ld = lw
		}
		plan.Lamps = append(plan.Lamps, struct{ X, Y, W, H string }{n(100*float64(l.X) - lw/2), n(d - 100*float64(l.Y) - ld/2), n(lw), n(ld)})
	}
	for _, p := range walk(b.Plants) {
		y := d - 100*float64(p.Y)
		plan.Places = append(plan.Places, place{Name: p.Name, X: n(100 * float64(p.X)), Y: n(y), R: n(least * 0.46), Below: n(y + least*0.02), Row: n(y + least*0.3)})
	}
	return plan
}

// walk puts plants into the order of walking: rows from the front, each other one back.
func walk(plants []underlamp.Plant) []underlamp.Plant {
	out := slices.Clone(plants)
	slices.SortStableFunc(out, func(a, b underlamp.Plant) int { return compare(float64(a.Y), float64(b.Y)) })
	const sameRow = 0.03 // m; plants of a row stand seldom nearer a line than this
	for from, back := 0, false; from < len(out); back = !back {
		to := from + 1
		for to < len(out) && float64(out[to].Y-out[to-1].Y) < sameRow {
			to++
		}
		slices.SortStableFunc(out[from:to], func(a, b underlamp.Plant) int {
			if back {
				a, b = b, a
			}
			return compare(float64(a.X), float64(b.X))
		})
		from = to
	}
	return out
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// A burnGrade is a grade with its drawing.
type burnGrade struct {
	Number int
	Says   string
	Drawn  template.HTML
}

func burnGrades() []burnGrade {
	var out []burnGrade
	for _, g := range round.Grades() {
		out = append(out, burnGrade{g.Number, g.Says, drawnHead(g.Number)})
	}
	return out
}

// drawnHead is a head from above with 24 leaves, of which so many have a burnt margin as
// the grade means: 0, 1, 2, 5, 9 and 14. The youngest burn first.
func drawnHead(grade int) template.HTML {
	burnt := [...]int{0, 1, 2, 5, 9, 14}[grade]
	var b strings.Builder
	b.WriteString(`<svg viewBox="-50 -50 100 100" class="head" aria-hidden="true" focusable="false">`)
	left := 24
	for _, ring := range []struct {
		n           int
		at, rx, ry  float64
		turn, begin float64
	}{{10, 29, 15, 19, 0, 0}, {8, 17, 12, 15, 20, 0}, {6, 7, 8, 10, 0, 0}} {
		for i := range ring.n {
			left--
			angle := ring.turn + 360*float64(i)/float64(ring.n)
			class := "leaf"
			fmt.Fprintf(&b, `<g transform="rotate(%.0f) translate(0 %.0f)"><ellipse rx="%.0f" ry="%.0f" class="%s"/>`, angle, -ring.at, ring.rx, ring.ry, class)
			if left < burnt {
				fmt.Fprintf(&b, `<path d="M%.1f %.1f A%.0f %.0f 0 0 1 %.1f %.1f" class="burnt"/>`, -0.87*ring.rx, -0.5*ring.ry, ring.rx, ring.ry, 0.87*ring.rx, -0.5*ring.ry)
			}
			b.WriteString(`</g>`)
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // numbers alone
}
