package photometricfile_test

import (
	"fmt"
	"strconv"
	"strings"

	"underlamp/science/photometry"
)

// lm63 is an LM-63 file to be written for a test.
type lm63 struct {
	tag      string   // first line
	labels   []string // keyword lines
	tilt     string   // after TILT=, with the lines that follow it
	lamps    string
	lumens   float64
	mult     float64
	kind     int
	unit     int
	w, l, h  float64
	ballast  string // the second record; "-" leaves it out
	vertical []float64
	planes   []float64
	cd       []float64
}

// cosineLamp is 100 cd straight down, falling with the cosine: 100 π lm.
func cosineLamp() lm63 {
	return lm63{
		tag: "IESNA:LM-63-2002", labels: []string{"[TEST] 1", "[MANUFAC] Hollin Lamp Works"}, tilt: "NONE", lamps: "1", lumens: -1, mult: 1, kind: 1, unit: 2,
		ballast: "1 1 2", vertical: []float64{0, 60, 90}, planes: []float64{0}, cd: []float64{100, 50, 0},
	}
}

func num(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func nums(v []float64) string {
	var s []string
	for _, x := range v {
		s = append(s, num(x))
	}
	return strings.Join(s, " ")
}

func (f lm63) text() string {
	lines := []string{}
	if f.tag != "" {
		lines = append(lines, f.tag)
	}
	lines = append(lines, f.labels...)
	lines = append(lines, "TILT="+f.tilt,
		fmt.Sprintf("%s %s %s %d %d %d %d %s %s %s", f.lamps, num(f.lumens), num(f.mult), len(f.vertical), len(f.planes), f.kind, f.unit, num(f.w), num(f.l), num(f.h)))
	if f.ballast != "-" {
		lines = append(lines, f.ballast)
	}
	lines = append(lines, nums(f.vertical), nums(f.planes))
	for i := range f.planes {
		lines = append(lines, nums(f.cd[i*len(f.vertical):(i+1)*len(f.vertical)]))
	}
	return strings.Join(lines, "\n") + "\n"
}

// eulumdat is a EULUMDAT file to be written for a test.
type eulumdat struct {
	symmetry     int
	planes       []float64 // all of them
	gammas       []float64
	size         [9]float64 // mm
	down, ratio  float64
	factor       float64
	sets         []string // six lines each
	values       []float64
	directRatios string
}

// cosineTube is 100 cd per 1000 lm of a tube of 1000 lm: 100 π lm.
func cosineTube() eulumdat {
	return eulumdat{
		symmetry: 1, planes: []float64{0}, gammas: []float64{0, 60, 90}, size: [9]float64{1200, 60, 80, 1100, 40},
		down: 100, ratio: 31.4, factor: 1, sets: []string{"1\ntube\n1000\n4000 K\n1B\n20"}, values: []float64{100, 50, 0},
	}
}

func (f eulumdat) text() string {
	step := 0.0
	lines := []string{"Hollin Lamp Works", "1", num(float64(f.symmetry)), num(float64(len(f.planes))), num(step), num(float64(len(f.gammas))), "0",
		"R 7", "Bar", "B 1", "bar.ldt", "2026-01-01"}
	for _, v := range f.size {
		lines = append(lines, num(v))
	}
	lines = append(lines, num(f.down), num(f.ratio), num(f.factor), "0", num(float64(len(f.sets))))
	lines = append(lines, f.sets...)
	for i := range 10 {
		if f.directRatios == "blank" {
			lines = append(lines, "")
		} else {
			lines = append(lines, num(0.3+0.05*float64(i)))
		}
	}
	for _, part := range [][]float64{f.planes, f.gammas, f.values} {
		for _, v := range part {
			lines = append(lines, num(v))
		}
	}
	return strings.Join(lines, "\r\n") + "\r\n"
}

// notes puts the notes of a file in one text.
func notes(f *photometry.File) string {
	var s []string
	for _, n := range f.Notes {
		s = append(s, fmt.Sprintf("%d: %s", n.Line, n.Text))
	}
	return strings.Join(s, "\n")
}
