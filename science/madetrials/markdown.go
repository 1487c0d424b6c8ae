package madetrials

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Markdown writes a table of rates.
func Markdown(w io.Writer, all []Rate) error {
	var b strings.Builder
	fails := 0
	for _, r := range all {
		if !r.Holds() {
			fails++
		}
	}
	fmt.Fprintf(&b, `# Made trials

Written by `+"`underlamp validate --made %d`"+`. %d trials of each design are made by chance with a truth that is known, and analysed as those of growers are. Set in bold: the methods
that findings use. R: the same design counted with R 4.2.2 (20 000 trials for thresholds, 40 000 for the best light, 1 500 for tests). A row holds if it lies within what is
asked and, where R has a count, within three standard errors of the difference from it; of so many comparisons about one in ten whole tables would have a row that misses by
chance alone. %d of %d rows hold.

`, all[0].Trials, all[0].Trials, len(all)-fails, len(all))
	b.WriteString("| design | what | method | share | ± | R | asked | holds |\n|---|---|---|---|---|---|---|---|\n")
	for _, r := range all {
		method, other, asked, holds := r.Method, "", "", "yes"
		if r.Default {
			method = "**" + method + "**"
		}
		if !math.IsNaN(r.R) {
			other = fmt.Sprintf("%.3f", r.R)
		}
		switch {
		case math.IsNaN(r.Low):
		case r.Low <= 0:
			asked = fmt.Sprintf("at most %.3f", r.High)
		default:
			asked = fmt.Sprintf("%.3f to %.3f", r.Low, r.High)
		}
		if !r.Holds() {
			holds = "DOES NOT HOLD"
		} else if asked == "" && other == "" {
			holds = ""
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %.3f | %.4f | %s | %s | %s |\n", r.Design, r.What, method, r.Share, r.Error, other, asked, holds)
	}
	b.WriteString(`
Plants taken for repeats find differences that are not there, and their limits are too narrow, as soon as lamps differ; where lamps are alike (P4) they do no harm. That the simulation shows it
is asked of P1, P5 and Y1 to Y3. The randomisation test cannot go below p = 0.10 with 3 lamps against 3. The mixed model is refused where it takes the lamps for alike, so it finds less than 5 %;
findings then go by lamp means.
`)
	_, err := io.WriteString(w, b.String())
	return err
}
