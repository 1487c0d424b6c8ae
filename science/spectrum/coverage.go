package spectrum

import (
	"fmt"
	"math"
)

// Measured returns the range of wavelengths that the data of all measured curves
// have in common, in nm; from 0 to infinity if the spectrum is made of formulas
// that end by themselves.
func (s Spectrum) Measured() (from, to float64) {
	from, to = 0, math.Inf(1)
	for _, c := range s.curves {
		if !c.complete {
			from, to = math.Max(from, c.nm[0]), math.Min(to, c.nm[len(c.nm)-1])
		}
	}
	return from, to
}

// covers is the share of a band that the data reach.
func (s Spectrum) covers(b Band) float64 {
	from, to := s.Measured()
	return math.Max(0, math.Min(b.To, to)-math.Max(b.From, from)) / (b.To - b.From)
}

// slight is the light at the edge of the data, as a share of the peak, below
// which what lies beyond hardly matters.
const slight = 0.005

// Gaps says in sentences what the ends of the data hide: nothing if they reach
// from 350 to 800 nm.
func (s Spectrum) Gaps() []string {
	from, to := s.Measured()
	if len(s.curves) == 0 {
		return nil
	}
	peak := 0.0
	for _, c := range s.curves {
		for _, nm := range c.nm {
			peak = math.Max(peak, s.At(nm))
		}
	}
	edge := func(nm float64) string {
		left := s.At(nm) / peak
		if left < slight {
			return "little, since the light is below 0.5 % of its peak there"
		}
		return fmt.Sprintf("not a little, since the light is still at %.2g %% of its peak there", 100*left)
	}
	var out []string
	switch {
	case from > PAR.From:
		out = append(out, fmt.Sprintf("The data begin at %g nm, within 400 to 700 nm: photons below are missing from PPF, blue and every share (%s).", from, edge(from)))
	case from > 350:
		out = append(out, fmt.Sprintf("The data begin at %g nm: UV below that is not counted (%s).", from, edge(from)))
	}
	switch {
	case to < PAR.To:
		out = append(out, fmt.Sprintf("The data end at %g nm, within 400 to 700 nm: photons above are missing from PPF, red and every share (%s); far-red, R:FR and PPE cannot be told.", to, edge(to)))
	case to < 735:
		out = append(out, fmt.Sprintf("The data end at %g nm: far-red above that is missing (%s), R:FR with 725–735 nm cannot be told, ePAR is low and PPE too high.", to, edge(to)))
	case to < 750:
		out = append(out, fmt.Sprintf("The data end at %g nm: far-red and ePAR to 750 nm are cut short, R:FR with 700–800 nm and PPE are too high (%s).", to, edge(to)))
	case to < 770:
		out = append(out, fmt.Sprintf("The data end at %g nm: far-red 700–800 nm is cut short, R:FR with it is too high, and PPE a little (%s).", to, edge(to)))
	case to < FarRedWide.To:
		out = append(out, fmt.Sprintf("The data end at %g nm: far-red 700–800 nm is cut short and R:FR with it is too high (%s).", to, edge(to)))
	}
	return out
}
