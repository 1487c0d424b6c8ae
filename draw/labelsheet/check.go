package labelsheet

import "fmt"

// Distances between the lines of the check page, mm.
const (
	CheckAcross = 150
	CheckDown   = 200
)

// Check is the page that tells whether a printer scales, as a PDF. A scale that was found
// can be tried with it.
func Check(page Page, scale Scale) ([]byte, error) {
	p := open(page, "Does the printer scale?")
	p.AddPage()
	s := scale.or1()
	p.SetTextColor(0, 0, 0)
	p.SetFont("Go", "B", 16)
	p.Text(48, 24, "Does the printer scale?")
	p.SetFont("Go", "", 9.5)
	lines := []string{
		"Print this page as you print labels: at 100 % or “actual size”, never “fit to page”.",
		fmt.Sprintf("Measure with a steel rule from the middle of one long line to the middle of the other: across it should be %d mm, down %d mm.", CheckAcross, CheckDown),
		"Within 0.5 mm across and 0.7 mm down all is well: areas are then right within 1 %.",
		"If it is more, print the labels with what you read, for example 148.5 mm across and 198 mm down:",
		"    underlamp labels mybench.yaml --scale 148.5x198",
		"and the check page again with --check-page --scale 148.5x198: now the distances should be right.",
		"Paper stretches when it is wet: laminate the labels, or print on film, where they get splashed.",
	}
	if scale != (Scale{}) {
		lines = append(lines, fmt.Sprintf("This page is drawn larger by %.2f %% across and %.2f %% down to correct the printer.", 100*(s.X-1), 100*(s.Y-1)))
	}
	y := 32.0
	for _, l := range lines {
		for _, part := range p.SplitText(l, page.Width-48-16) {
			p.Text(48, y, part)
			y += 4.6
		}
		y += 1.6
	}
	p.SetDrawColor(0, 0, 0)
	p.SetFont("Go", "", 7)
	left, bottom := 48.0, page.Height-24
	ruler := func(horizontal bool, x, y float64, length int, k float64) {
		for mm := 0; mm <= length; mm++ {
			size, width := 2.5, 0.1
			switch {
			case mm == 0 || mm == length:
				size, width = 12, 0.15
			case mm%10 == 0:
				size, width = 5, 0.15
			case mm%5 == 0:
				size = 3.5
			}
			p.SetLineWidth(width)
			at := float64(mm) * k
			if horizontal {
				p.Line(x+at, y, x+at, y-size)
				if mm%50 == 0 {
					p.Text(x+at-2, y+3.5, fmt.Sprint(mm))
				}
			} else {
				p.Line(x, y-at, x+size, y-at)
				if mm%50 == 0 {
					p.Text(x-7, y-at+1, fmt.Sprint(mm))
				}
			}
		}
	}
	ruler(true, left, bottom, CheckAcross, s.X)
	ruler(false, 22, bottom, CheckDown, s.Y)
	// Squares of known size, for a quick look with a set square or a coin.
	p.SetLineWidth(0.15)
	p.Rect(left, bottom-24-50*s.Y, 50*s.X, 50*s.Y, "D")
	p.Text(left+2, bottom-24-50*s.Y+4, "50 × 50 mm")
	p.Rect(left+60*s.X, bottom-24-20*s.Y, 20*s.X, 20*s.Y, "F")
	p.Text(left+60*s.X, bottom-24+4, "20 × 20 mm")
	// A disc that is drawn round shows by eye whether both ways are scaled alike.
	p.Ellipse(left+110*s.X, bottom-24-20*s.Y, 20*s.X, 20*s.Y, 0, "D")
	p.Text(left+100*s.X, bottom-24+4, "40 mm across")
	return done(p)
}
