// Package ailment draws what can be seen on a plant that is not well: small pictures to pick
// from, of a lettuce from above, from the side, or of one leaf. It answers: how does this
// look?
//
// # Conventions
//
//   - A picture is an SVG of its own, 120 × 100 units, without text, scripts or styles of
//     a page; leaves have their own colours, and what is no leaf takes currentColor, so that
//     it shows on light and on dark.
//   - It is made to be read at 100 px: what is wrong is drawn larger than it is.
//   - Every picture has an alternative in words.
package ailment

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

type point struct{ x, y float64 }

// Colours of leaves.
const (
	outerGreen  = "#4f8f3a"
	middleGreen = "#66a84a"
	innerGreen  = "#86c163"
	heartGreen  = "#a9d684"
	edgeGreen   = "#2f5f24"
	yellow      = "#e8d04f"
	pale        = "#f1f0c4"
	brown       = "#7d4a1c"
	purple      = "#7b4a8f"
)

// A Picture is one drawing with what it shows in words.
type Picture struct {
	Key, Alt string
	body     string
}

// SVG is the picture; label says that a screen reader should read its words, else it is
// decoration beside a text that says the same.
func (p Picture) SVG(label bool) string {
	role := `aria-hidden="true"`
	if label {
		role = `role="img" aria-label="` + p.Alt + `"`
	}
	return `<svg class="ailment" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 120 100" width="120" height="100" ` + role + ` fill="none" stroke="` + edgeGreen + `" stroke-width=".9" stroke-linejoin="round" stroke-linecap="round">` + p.body + `</svg>`
}

// Of is the picture of a symptom by its key; of a key without one it is that of a plain leaf.
func Of(key string) Picture {
	for _, p := range All() {
		if p.Key == key {
			return p
		}
	}
	return Picture{key, "a leaf", leafOf("")}
}

// All are the pictures.
func All() []Picture {
	sound := rings{{7, 45, 30, 0, outerGreen, look{}}, {6, 33, 25, 0.3, middleGreen, look{}}, {5, 22, 18, 0.1, innerGreen, look{}}, {4, 12, 11, 0.5, heartGreen, look{}}}
	with := func(change func(r rings)) string {
		r := append(rings{}, sound...)
		change(r)
		return r.draw()
	}
	return []Picture{
		{"inner-leaf-burn", "a head from above: the youngest leaves in the heart have brown margins", with(func(r rings) {
			r[2] = ringOf(5, 25, 20, 0.1, innerGreen, look{burn: true})
			r[3] = ringOf(4, 14, 13, 0.5, heartGreen, look{burn: true})
		})},
		{"outer-margin-burn", "a head from above: the outer leaves have brown margins, the heart is sound", with(func(r rings) { r[0].look.burn = true })},
		{"stretch", "a plant from the side: few long thin leaves on a long stem, leaning", stretched()},
		{"pale-old", "a head from above: the outer, oldest leaves are evenly yellow", with(func(r rings) { r[0].fill = yellow; r[0].look.edge = "#a8922a" })},
		{"pale-young", "a head from above: the youngest leaves are evenly pale, veins too", with(func(r rings) {
			r[2] = ringOf(5, 25, 20, 0.1, pale, look{edge: "#9c9a55"})
			r[3] = ringOf(4, 14, 13, 0.5, "#fbf9e2", look{edge: "#9c9a55"})
		})},
		{"interveinal-old", "a head from above: the outer, oldest leaves are yellow between green veins", with(func(r rings) {
			r[0].fill, r[0].look = yellow, look{veins: true}
		})},
		{"interveinal-young", "a head from above: the youngest leaves are yellow between green veins", with(func(r rings) {
			r[2] = ringOf(5, 27, 22, 0.1, "#efe48a", look{veins: true})
			r[3] = ringOf(3, 16, 15, 0.5, "#f6f0b4", look{veins: true})
		})},
		{"purple", "a head from above: the outer leaves are purple", with(func(r rings) {
			r[0].fill, r[0].look.edge = purple, "#4b2a5b"
			r[1].fill, r[1].look.edge = "#86809a", "#4b4a5b"
		})},
		{"wilt", "a plant from the side: the leaves hang limp", wilted()},
		{"blisters", "the underside of a leaf with glassy bumps, some of them corky", leafOf("blisters")},
		{"bolting-seen", "a plant from the side: a stem with buds shoots up from the heart", bolted()},
		{"twisted", "a head from above: the leaves of the heart are curled and misshapen", twistedHeart()},
		{"slow", "a plant from the side that is small beside the dashed outline of one of its age", small()},
		{"spots", "a leaf with brown spots that have a pale halo", leafOf("spots")},
		{"root-slime", "a plant from the side: its roots in the water are brown, with slime on them", slimy()},
	}
}

// A look is how the leaves of a ring differ from sound ones.
type look struct {
	burn, veins bool
	bend        float64 // of the midrib, in parts of the length
	edge        string
}

// A ring is leaves of one age around the middle.
type ring struct {
	n             int
	length, width float64
	turn          float64 // rad
	fill          string
	look          look
}

type rings []ring

func ringOf(n int, length, width, turn float64, fill string, l look) ring {
	return ring{n, length, width, turn, fill, l}
}

// draw draws a head from above, the outer leaves first.
func (r rings) draw() string {
	var b strings.Builder
	for k, x := range r {
		for i := range x.n {
			a := x.turn + 2*math.Pi*float64(i)/float64(x.n) + 0.13*math.Sin(float64(5*i+k))
			// The head is seen a little from the front, so that it is wider than high.
			to := point{60 + x.length*math.Cos(a)*1.12, 50 + x.length*math.Sin(a)}
			from := point{60 + 2*math.Cos(a), 50 + 2*math.Sin(a)}
			b.WriteString(leaf(from, to, x.look.bend*x.length, x.width, x.fill, x.look, float64(i+3*k)))
		}
	}
	return b.String()
}

// leaf draws a leaf from its base to its tip; bend moves the middle of its midrib aside.
func leaf(from, to point, bend, width float64, fill string, l look, seed float64) string {
	edge := "" // that of the picture
	if l.edge != "" {
		edge = ` stroke="` + l.edge + `"`
	}
	dx, dy := to.x-from.x, to.y-from.y
	length := math.Hypot(dx, dy)
	n := point{-dy / length, dx / length}
	mid := point{(from.x+to.x)/2 + bend*n.x, (from.y+to.y)/2 + bend*n.y}
	at := func(s float64) (p, normal point) { // along the midrib
		u := 1 - s
		p = point{u*u*from.x + 2*u*s*mid.x + s*s*to.x, u*u*from.y + 2*u*s*mid.y + s*s*to.y}
		tx, ty := 2*u*(mid.x-from.x)+2*s*(to.x-mid.x), 2*u*(mid.y-from.y)+2*s*(to.y-mid.y)
		t := math.Hypot(tx, ty)
		return p, point{-ty / t, tx / t}
	}
	half := func(s, side float64) float64 { // of the blade, with a wavy margin
		w := math.Pow(math.Sin(math.Pi*math.Pow(s, 1.35)), 0.75)
		return width / 2 * w * (1 + 0.07*math.Sin(17*s+seed+2*side))
	}
	const steps = 9
	var left, right []point
	for i := 0; i <= steps; i++ {
		s := float64(i) / steps
		p, m := at(s)
		left = append(left, point{p.x + m.x*half(s, 1), p.y + m.y*half(s, 1)})
		right = append(right, point{p.x - m.x*half(s, -1), p.y - m.y*half(s, -1)})
	}
	outline := append([]point{}, left...)
	for i := len(right) - 2; i >= 0; i-- {
		outline = append(outline, right[i])
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<path d="%sZ" fill="%s"%s/>`, path(outline), fill, edge)
	rib := ` stroke="#cfe6bd"`
	if l.veins {
		rib = ` stroke-width="1.5"`
	}
	end, _ := at(0.92)
	fmt.Fprintf(&b, `<path d="M%.0f %.0fQ%.0f %.0f %.0f %.0f"%s/>`, from.x, from.y, mid.x, mid.y, end.x, end.y, rib)
	if l.veins {
		var side strings.Builder
		for _, s := range []float64{0.3, 0.48, 0.66} {
			p, m := at(s)
			q, _ := at(math.Min(s+0.14, 1))
			for _, sign := range []float64{1, -1} {
				h := 0.82 * half(s+0.1, sign) * sign
				side.WriteString(path([]point{p, {q.x + m.x*h, q.y + m.y*h}}))
			}
		}
		fmt.Fprintf(&b, `<path d="%s" stroke-width="1.1"/>`, side.String())
	}
	if l.burn {
		from := steps / 2
		margin := append([]point{}, left[from:]...)
		for i := len(right) - 2; i >= from; i-- {
			margin = append(margin, right[i])
		}
		w := math.Max(2.2, width*0.17)
		fmt.Fprintf(&b, `<path d="%s" stroke="%s" stroke-width="%.1f"/>`, path(margin), brown, w)
	}
	return b.String()
}

// path joins points by straight lines, in few characters: steps from point to point, to a
// tenth of a unit.
func path(points []point) string {
	var b strings.Builder
	x, y := 0, 0
	for i, p := range points {
		nx, ny := int(math.Round(10*p.x)), int(math.Round(10*p.y))
		if i == 0 {
			b.WriteString("M" + tenth(nx))
		} else {
			b.WriteString("l" + tenth(nx-x))
		}
		if ny-y >= 0 || i == 0 {
			b.WriteByte(' ')
		}
		b.WriteString(tenth(ny - y))
		x, y = nx, ny
	}
	return b.String()
}

// tenth prints a number of tenths: -8 is "-.8".
func tenth(n int) string {
	text := strconv.FormatFloat(float64(n)/10, 'f', -1, 64)
	return strings.Replace(strings.Replace(text, "-0.", "-.", 1), "0.", ".", btoi(strings.HasPrefix(text, "0.")))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// ground is the surface on which a plant stands, seen from the side.
const ground = `<path d="M8 86H112" stroke="currentColor" stroke-width="1.6"/><rect x="50" y="80" width="20" height="6" rx="1" fill="currentColor" stroke="none" opacity=".35"/>`

// fan is a sound plant from the side.
func fan(scale float64, base point) string {
	var b strings.Builder
	for i, a := range []float64{-1.25, 1.25, -0.9, 0.9, -0.5, 0.5, -0.17, 0.17} {
		fill := []string{outerGreen, outerGreen, middleGreen, middleGreen, innerGreen, innerGreen, heartGreen, heartGreen}[i]
		l := scale * (46 - 1.5*float64(i))
		to := point{base.x + l*math.Sin(a), base.y - l*math.Cos(a)}
		b.WriteString(leaf(base, to, scale*6*sign(a), scale*21, fill, look{}, float64(i)))
	}
	return b.String()
}

func sign(v float64) float64 { return math.Copysign(1, v) }

func stretched() string {
	stem := `<path d="M60 82C60 70 63 58 66 46" stroke="#9cc07a" stroke-width="4"/><path d="M60 82C60 70 63 58 66 46" stroke="` + edgeGreen + `" stroke-width=".8"/>`
	var b strings.Builder
	b.WriteString(ground + stem)
	for i, x := range []struct {
		from, to point
		bend     float64
	}{{point{61, 68}, point{28, 50}, 8}, {point{62, 62}, point{98, 44}, -8}, {point{64, 54}, point{40, 18}, 7}, {point{66, 46}, point{92, 12}, -6}, {point{66, 46}, point{66, 8}, 3}} {
		b.WriteString(leaf(x.from, x.to, x.bend, 9.5, []string{"#8db873", "#8db873", "#9cc682", "#a9d08f", "#b4d99b"}[i], look{}, float64(i)))
	}
	return b.String()
}

func wilted() string {
	var b strings.Builder
	b.WriteString(ground)
	for i, x := range []struct {
		to   point
		bend float64
	}{{point{12, 83}, 33}, {point{108, 83}, -33}, {point{24, 76}, 32}, {point{96, 77}, -32}, {point{38, 66}, 25}, {point{83, 67}, -25}} {
		b.WriteString(leaf(point{60, 80}, x.to, x.bend, 17, []string{outerGreen, outerGreen, "#6f9a56", "#6f9a56", "#89ab6d", "#89ab6d"}[i], look{}, float64(i)))
	}
	return b.String()
}

func bolted() string {
	var b strings.Builder
	b.WriteString(ground)
	for i, a := range []float64{-1.35, 1.35, -1, 1} {
		to := point{60 + 34*math.Sin(a), 80 - 34*math.Cos(a)}
		b.WriteString(leaf(point{60, 80}, to, 5*sign(a), 17, []string{outerGreen, outerGreen, middleGreen, middleGreen}[i], look{}, float64(i)))
	}
	b.WriteString(`<path d="M60 80V20" stroke="` + edgeGreen + `" stroke-width="5.4"/><path d="M60 80V20" stroke="#9cc07a" stroke-width="3.6"/>`)
	for i, x := range []struct{ y, to float64 }{{66, -15}, {58, 15}, {48, -13}, {40, 12}, {31, -9}} {
		b.WriteString(leaf(point{60, x.y}, point{60 + x.to, x.y - 11}, 2, 7, innerGreen, look{}, float64(i)))
	}
	b.WriteString(`<path d="M60 22L50 11M60 22L60 7M60 22L70 11" stroke="` + edgeGreen + `" stroke-width="1.6"/>`)
	for _, p := range []point{{50, 10}, {60, 6}, {70, 10}} {
		fmt.Fprintf(&b, `<circle cx="%.0f" cy="%.0f" r="3.6" fill="#e8c93a" stroke="#8a741c" stroke-width=".9"/>`, p.x, p.y)
	}
	return b.String()
}

func small() string {
	return ground + `<path d="M60 80C30 78 14 58 20 48C28 40 32 44 36 34C40 24 52 30 60 24C68 30 80 24 84 34C88 44 92 40 100 48C106 58 90 78 60 80Z" stroke="currentColor" stroke-width="1.4" stroke-dasharray="4 3.4"/>` + fan(0.42, point{60, 80})
}

func slimy() string {
	var b strings.Builder
	b.WriteString(fan(0.62, point{60, 44}))
	b.WriteString(`<rect x="14" y="50" width="92" height="44" rx="3" fill="#4c8fbd" stroke="none" opacity=".22"/><path d="M8 50H50M70 50H112" stroke="currentColor" stroke-width="2.4"/><rect x="50" y="43" width="20" height="9" rx="1.5" fill="currentColor" stroke="none" opacity=".4"/>`)
	for i, to := range []float64{-30, -20, -10, -2, 7, 16, 27} {
		x := 60 + 0.25*to
		fmt.Fprintf(&b, `<path d="M%.1f 52C%.1f 64 %.1f 70 %.1f %.0f" stroke="%s" stroke-width="2.6"/>`, x, x+to*0.2, 60+to*0.9, 60+to, 80+float64(i*5%9), []string{"#6a3d16", "#84531f", "#5d3512"}[i%3])
	}
	for _, p := range []struct{ x, y, r float64 }{{44, 72, 5}, {52, 82, 4}, {67, 76, 5.4}, {78, 68, 4}, {60, 66, 3.6}} {
		fmt.Fprintf(&b, `<ellipse cx="%.0f" cy="%.0f" rx="%.1f" ry="%.1f" fill="#b3a06a" opacity=".85" stroke="#6d5f33" stroke-width=".7"/>`, p.x, p.y, p.r*1.5, p.r)
	}
	return b.String()
}

// twistedHeart is an open head whose young leaves curl every way, as narrow straps.
func twistedHeart() string {
	var b strings.Builder
	b.WriteString(rings{{7, 45, 27, 0, outerGreen, look{}}}.draw())
	b.WriteString(`<circle cx="60" cy="50" r="19" fill="#3f7a2e"/>`)
	for i, x := range []struct {
		to   point
		bend float64
	}{{point{88, 44}, 24}, {point{36, 60}, 22}, {point{66, 24}, -22}, {point{50, 76}, -20}, {point{78, 68}, 20}, {point{40, 36}, 18}} {
		b.WriteString(leaf(point{60, 50}, x.to, x.bend, 8.5, []string{"#bfe39a", "#a9d684", "#cdebad"}[i%3], look{}, float64(3*i)))
	}
	return b.String()
}

// leafOf is one leaf, near by, with what sits on it.
func leafOf(what string) string {
	var b strings.Builder
	b.WriteString(leaf(point{10, 62}, point{114, 40}, -4, 66, middleGreen, look{}, 1))
	b.WriteString(`<path d="M10 62C40 56 80 48 106 42" stroke="#d7ecc4" stroke-width="3"/>`)
	for _, x := range []struct{ a, c point }{{point{34, 57}, point{48, 32}}, {point{54, 53}, point{70, 27}}, {point{74, 49}, point{90, 30}}, {point{34, 57}, point{54, 76}}, {point{54, 53}, point{76, 70}}, {point{74, 49}, point{94, 59}}} {
		fmt.Fprintf(&b, `<path d="%s" stroke="#d7ecc4" stroke-width="1.3"/>`, path([]point{x.a, x.c}))
	}
	switch what {
	case "spots":
		for _, p := range []struct{ x, y, r float64 }{{40, 42, 4.6}, {58, 66, 5.6}, {62, 38, 3.6}, {80, 60, 4.2}, {84, 40, 5}, {44, 66, 3.2}, {72, 50, 3}, {30, 52, 3.4}} {
			fmt.Fprintf(&b, `<circle cx="%.0f" cy="%.0f" r="%.1f" fill="#efe08e" stroke="none"/><circle cx="%.0f" cy="%.0f" r="%.1f" fill="%s" stroke="none"/>`, p.x, p.y, p.r+2, p.x, p.y, p.r, "#5b3413")
		}
	case "blisters":
		for i, p := range []struct{ x, y, r float64 }{{36, 46, 4.4}, {46, 41, 3.4}, {44, 66, 4.2}, {56, 64, 5}, {60, 40, 4.2}, {70, 36, 3.4}, {68, 62, 4}, {80, 58, 4.8}, {82, 40, 4.6}, {92, 44, 3.2}, {28, 58, 3}} {
			fill, rim := "#d3efd0", "#33632a"
			if i%3 == 2 {
				fill, rim = "#b98a4d", "#5e3f16"
			}
			fmt.Fprintf(&b, `<circle cx="%.0f" cy="%.0f" r="%.1f" fill="%s" stroke="%s" stroke-width="1.1"/><circle cx="%.1f" cy="%.1f" r="%.1f" fill="#ffffff" stroke="none" opacity=".8"/>`, p.x, p.y, p.r, fill, rim, p.x-p.r*0.3, p.y-p.r*0.35, p.r*0.28)
		}
	}
	return b.String()
}
