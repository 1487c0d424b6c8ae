// Package qr draws QR codes (ISO/IEC 18004) for terminals and pages. The code itself is made
// by a library.
package qr

import (
	"fmt"
	"html"
	"strings"

	goqr "github.com/piglig/go-qr"
)

// quiet is the width of the margin in modules, as the standard asks.
const quiet = 4

// matrix is the modules of a code with its margin; true is dark.
func matrix(text string) ([][]bool, error) {
	code, err := goqr.EncodeText(text, goqr.Medium)
	if err != nil {
		return nil, fmt.Errorf("%d bytes do not fit into a QR code: %w", len(text), err)
	}
	n := code.Size() + 2*quiet
	out := make([][]bool, n)
	for y := range out {
		out[y] = make([]bool, n)
		for x := range out[y] {
			if in := x >= quiet && y >= quiet && x < n-quiet && y < n-quiet; in {
				out[y][x] = code.Module(x-quiet, y-quiet)
			}
		}
	}
	return out, nil
}

// Terminal draws a code with half blocks, two rows of modules a line. With colour it is black
// on white whatever the terminal is; without, light modules are drawn, as fits one that is
// dark.
func Terminal(text string, colour bool) (string, error) {
	m, err := matrix(text)
	if err != nil {
		return "", err
	}
	var out strings.Builder
	for y := 0; y < len(m); y += 2 {
		if colour {
			out.WriteString("\x1b[38;5;16;48;5;231m")
		}
		for x := range m[y] {
			upper, lower := m[y][x], y+1 < len(m) && m[y+1][x]
			if !colour {
				upper, lower = !upper, !lower
				if y+1 == len(m) {
					lower = false // below the margin is the terminal
				}
			}
			out.WriteString(map[[2]bool]string{{false, false}: " ", {true, false}: "▀", {false, true}: "▄", {true, true}: "█"}[[2]bool{upper, lower}])
		}
		if colour {
			out.WriteString("\x1b[0m")
		}
		out.WriteByte('\n')
	}
	return out.String(), nil
}

// SVG draws a code for a page, black on white, with a label for those who do not see it. It
// takes its size from the page.
func SVG(text, label string) (string, error) {
	m, err := matrix(text)
	if err != nil {
		return "", err
	}
	var path strings.Builder
	for y, row := range m {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	return fmt.Sprintf(`<svg class="qr" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %[1]d %[1]d" role="img" aria-label="%[2]s" shape-rendering="crispEdges"><rect width="%[1]d" height="%[1]d" fill="#fff"/><path d="%[3]s" fill="#000"/></svg>`,
		len(m), html.EscapeString(label), path.String()), nil
}
