package working

import (
	"strings"

	"underlamp/science/quantity"
)

// Percent prints a share as a person says it: "12 %", and "under 1 %" or "over
// 99 %" where a rounded 0 % or 100 % would claim too much.
func Percent(share float64) string {
	switch {
	case share > 0 && share < 0.005:
		return "under 1 %"
	case share < 1 && share > 0.995:
		return "over 99 %"
	}
	return quantity.Fixed(100*share, 0) + " %"
}

// SignedPercent prints a relative change: "+3 %", "−12 %", "0 %".
func SignedPercent(change float64) string { return Signed(100*change, 0) + " %" }

// Signed prints a difference with a sign, except for zero.
func Signed(v float64, decimals int) string {
	s := quantity.Fixed(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}
