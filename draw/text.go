package draw

import (
	"math"
	"strings"
)

// textWidth estimates the width of s in px. The widths, in parts of the size,
// are rough ones of common sans faces, on the wide side; from memory, no source.
// The reader's font is not known.
func textWidth(s string, size float64) float64 {
	var w float64
	for _, r := range s {
		switch {
		case strings.ContainsRune("il.,:;|'j\u202f", r):
			w += 0.32
		case r == ' ' || strings.ContainsRune("frt()/-·", r):
			w += 0.40
		case strings.ContainsRune("mwMW%—", r):
			w += 0.95
		case strings.ContainsRune("²³⁻¹", r):
			w += 0.42
		case r >= 'A' && r <= 'Z':
			w += 0.70
		case r >= '0' && r <= '9':
			w += 0.62
		case r == '+' || r == '−' || r == '±':
			w += 0.80
		case r > 0x2e80: // ideographs and their like are as wide as high
			w += 1
		default:
			w += 0.60
		}
	}
	return w * size
}

// boldWider is how much wider bold text is; from memory, no source.
const boldWider = 1.1

// wrap breaks s at blanks into lines of at most width px, but never after a
// number, whose unit may follow. A word that is longer than a line keeps one of
// its own, cut to width.
func wrap(s string, width, size float64) []string {
	var lines []string
	line := ""
	words := strings.Fields(s)
	for i, word := range words {
		if last := word[len(word)-1]; last >= '0' && last <= '9' && i+1 < len(words) {
			words[i+1] = word + " " + words[i+1]
			continue
		}
		next := word
		if line != "" {
			next = line + " " + word
		}
		if line != "" && textWidth(next, size) > width {
			lines = append(lines, line)
			next = word
		}
		line = cut(next, width, size)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// cut shortens s to width px, with an ellipsis; the table has it in full.
func cut(s string, width, size float64) string {
	if textWidth(s, size) <= width {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		if t := strings.TrimRight(string(runes[:n]), " ") + "…"; textWidth(t, size) <= width {
			return t
		}
	}
	return "…"
}

// A box is a rectangle in px, y downwards.
type box struct{ x0, y0, x1, y1 float64 }

func (a box) w() float64 { return a.x1 - a.x0 }
func (a box) h() float64 { return a.y1 - a.y0 }

func (a box) overlaps(b box) bool {
	return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1
}

func (a box) within(b box) bool {
	return a.x0 >= b.x0 && a.x1 <= b.x1 && a.y0 >= b.y0 && a.y1 <= b.y1
}

func (a box) grown(by float64) box { return box{a.x0 - by, a.y0 - by, a.x1 + by, a.y1 + by} }

// textBox is the room of s written at a baseline.
func textBox(x, y float64, anchor, s string, size float64) box {
	w := textWidth(s, size)
	switch anchor {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	return box{x, y - 0.80*size, x + w, y + 0.25*size}
}

// A placer keeps labels apart: it knows the room that is taken.
type placer struct {
	within box
	taken  []box
}

// take marks room as taken, whatever lies there.
func (p *placer) take(b box) { p.taken = append(p.taken, b) }

// free tells whether b lies within the picture and on nothing.
func (p *placer) free(b box) bool {
	if !b.within(p.within) {
		return false
	}
	for _, t := range p.taken {
		if b.overlaps(t) {
			return false
		}
	}
	return true
}

// try takes b if it is free.
func (p *placer) try(b box) bool {
	if !p.free(b) {
		return false
	}
	p.take(b)
	return true
}

// spread moves positions as little as may be (least squares) so that
// neighbours, in the order given, stand at least gap apart, and then all of them
// within lo and hi as far as they fit. wanted must be in ascending order.
//
// Ayer1955: with zᵢ = wantedᵢ − i·gap the answer is the isotonic regression of z.
func spread(wanted []float64, gap, lo, hi float64) []float64 {
	type pool struct {
		sum float64
		n   int
	}
	var pools []pool
	for i, w := range wanted {
		pools = append(pools, pool{w - float64(i)*gap, 1})
		for k := len(pools) - 1; k > 0 && pools[k-1].sum*float64(pools[k].n) >= pools[k].sum*float64(pools[k-1].n); k-- {
			pools[k-1] = pool{pools[k-1].sum + pools[k].sum, pools[k-1].n + pools[k].n}
			pools = pools[:k]
		}
	}
	// Within the bounds, z must stay from lo to hi − (n−1)·gap.
	top := math.Max(lo, hi-float64(len(wanted)-1)*gap)
	out := make([]float64, 0, len(wanted))
	for _, p := range pools {
		z := math.Min(math.Max(p.sum/float64(p.n), lo), top)
		for range p.n {
			out = append(out, z+float64(len(out))*gap)
		}
	}
	return out
}
