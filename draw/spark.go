package draw

import (
	"fmt"
	"math"
	"strings"
)

// A Spark is a small line without axes, for a row of a table: the course of a sensor.
// Values of one index belong together; NaN breaks the line.
type Spark struct {
	Label    string // what it shows, for those who cannot see it; it holds the least and the most
	X        []float64
	Mean     []float64
	Min, Max []float64 // the band around it
}

// Size of a spark in pixels.
const (
	sparkWidth  = 160
	sparkHeight = 36
	sparkEdge   = 3
)

// SVG draws it in the colour of the text around it.
func (s Spark) SVG() string {
	lowX, highX := math.Inf(1), math.Inf(-1)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range s.X {
		if !allFinite(s.Mean[i], s.Min[i], s.Max[i]) {
			continue
		}
		lowX, highX = min(lowX, s.X[i]), max(highX, s.X[i])
		low, high = min(low, s.Min[i]), max(high, s.Max[i])
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="spark" role="img" aria-label="%s" viewBox="0 0 %d %d" width="%d" height="%d">`, escape(s.Label), sparkWidth, sparkHeight, sparkWidth, sparkHeight)
	if low <= high {
		if high == low {
			low, high = low-1, high+1
		}
		if highX == lowX {
			lowX, highX = lowX-1, highX+1
		}
		x := func(v float64) float64 { return sparkEdge + (v-lowX)/(highX-lowX)*(sparkWidth-2*sparkEdge) }
		y := func(v float64) float64 {
			return sparkHeight - sparkEdge - (v-low)/(high-low)*(sparkHeight-2*sparkEdge)
		}
		for _, run := range s.runs() {
			var band, line strings.Builder
			for k, i := range run {
				fmt.Fprintf(&band, "%s%.1f %.1f", verb(k), x(s.X[i]), y(s.Max[i]))
				fmt.Fprintf(&line, "%s%.1f %.1f", verb(k), x(s.X[i]), y(s.Mean[i]))
			}
			for k := len(run) - 1; k >= 0; k-- {
				fmt.Fprintf(&band, "L%.1f %.1f", x(s.X[run[k]]), y(s.Min[run[k]]))
			}
			if len(run) == 1 {
				fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="1.5" fill="currentColor"/>`, x(s.X[run[0]]), y(s.Mean[run[0]]))
				continue
			}
			fmt.Fprintf(&b, `<path d="%sZ" fill="currentColor" opacity="0.2"/><path d="%s" fill="none" stroke="currentColor" stroke-width="1.5" stroke-linejoin="round"/>`, &band, &line)
		}
	}
	b.WriteString("</svg>")
	return b.String()
}

func verb(k int) string {
	if k == 0 {
		return "M"
	}
	return "L"
}

func allFinite(vs ...float64) bool {
	for _, v := range vs {
		if !finite(v) {
			return false
		}
	}
	return true
}

// runs are the stretches without a break.
func (s Spark) runs() [][]int {
	var out [][]int
	var run []int
	for i := range s.X {
		if allFinite(s.Mean[i], s.Min[i], s.Max[i]) {
			run = append(run, i)
			continue
		}
		if len(run) > 0 {
			out = append(out, run)
		}
		run = nil
	}
	if len(run) > 0 {
		out = append(out, run)
	}
	return out
}
