package dist

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"underlamp/science/stat/numeric"
)

// TUpper returns the chance that Student's t with df degrees of freedom exceeds t.
func TUpper(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return upperNormal(t)
	}
	if t < 0 {
		return 1 - TUpper(-t, df)
	}
	if math.IsInf(t, 1) {
		return 0
	}
	if df > 60 {
		// the logarithms of the gamma function lose digits here, the integral over s none.
		return NoncentralT{DF: df}.Upper(t)
	}
	return incompleteBeta(df/2, 0.5, df/(df+t*t)) / 2
}

// TTwoSided returns the chance that |t| is exceeded.
func TTwoSided(t, df float64) float64 { return 2 * TUpper(math.Abs(t), df) }

// TQuantile returns the t that is exceeded with chance 1 − p, 0 < p < 1.
func TQuantile(p, df float64) float64 {
	if p == 0.5 {
		return 0
	}
	if p < 0.5 {
		return -upperQuantile(func(t float64) float64 { return TUpper(t, df) }, p)
	}
	return upperQuantile(func(t float64) float64 { return TUpper(t, df) }, 1-p)
}

// NormalQuantile returns the standard normal z that is exceeded with chance 1 − p.
func NormalQuantile(p float64) float64 { return mathext.NormalQuantile(p) }

// NormalTwoSided returns the chance that a standard normal exceeds |z| in size.
func NormalTwoSided(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// NormalLower returns the chance that a standard normal stays below z.
func NormalLower(z float64) float64 { return lowerNormal(z) }

// FUpper returns the chance that F with d1 and d2 degrees of freedom exceeds f.
// d2 may be +Inf.
func FUpper(f, d1, d2 float64) float64 {
	if f <= 0 {
		return 1
	}
	if math.IsInf(f, 1) {
		return 0
	}
	if math.IsInf(d2, 1) {
		return ChiSquareUpper(f*d1, d1)
	}
	return incompleteBeta(d2/2, d1/2, d2/(d2+d1*f))
}

// FQuantile returns the f that is exceeded with chance 1 − p.
func FQuantile(p, d1, d2 float64) float64 {
	return positiveQuantile(p,
		func(f float64) float64 {
			if math.IsInf(d2, 1) {
				return mathext.GammaIncReg(d1/2, f*d1/2)
			}
			return incompleteBeta(d1/2, d2/2, d1*f/(d2+d1*f))
		},
		func(f float64) float64 { return FUpper(f, d1, d2) })
}

// ChiSquareUpper returns the chance that chi-square with df degrees of freedom
// exceeds x.
func ChiSquareUpper(x, df float64) float64 {
	if x <= 0 {
		return 1
	}
	if math.IsInf(x, 1) {
		return 0
	}
	return mathext.GammaIncRegComp(df/2, x/2)
}

// ChiSquareQuantile returns the x that is exceeded with chance 1 − p.
func ChiSquareQuantile(p, df float64) float64 {
	return positiveQuantile(p,
		func(x float64) float64 { return mathext.GammaIncReg(df/2, x/2) },
		func(x float64) float64 { return ChiSquareUpper(x, df) })
}

// BetaQuantile returns the x below which a beta with shapes a and b lies with
// chance p.
func BetaQuantile(p, a, b float64) float64 {
	// The odds x/(1−x) are positive and free above.
	odds := positiveQuantile(p,
		func(o float64) float64 { return incompleteBeta(a, b, o/(1+o)) },
		func(o float64) float64 { return incompleteBeta(b, a, 1/(1+o)) })
	return odds / (1 + odds)
}

// positiveQuantile finds x > 0 with lower(x) = p. It searches ln x and compares
// logarithms of the smaller tail, so that small quantiles keep their digits.
func positiveQuantile(p float64, lower, upper func(float64) float64) float64 {
	if !(p > 0 && p < 1) {
		panic("dist: a probability must lie between 0 and 1")
	}
	miss := func(u float64) float64 {
		x := math.Exp(u)
		if p < 0.5 {
			return safeLog(lower(x)) - math.Log(p)
		}
		return math.Log1p(-p) - safeLog(upper(x))
	}
	lo, hi := -1.0, 1.0
	for miss(lo) > 0 {
		lo = 2 * lo
	}
	for miss(hi) < 0 {
		hi += 2
	}
	return math.Exp(numeric.Root(miss, lo, hi))
}

func safeLog(p float64) float64 {
	if p <= 0 {
		return -1e4
	}
	return math.Log(p)
}

// NoncentralF is F with D1 and D2 degrees of freedom and noncentrality Lambda: a
// mixture of betas with Poisson weights of mean Lambda/2.
type NoncentralF struct{ D1, D2, Lambda float64 }

// Upper returns the chance of more than f. The sum runs from the largest Poisson
// weight outward. Above a noncentrality of a million it is good to 1e-5.
func (n NoncentralF) Upper(f float64) float64 {
	if f <= 0 {
		return 1
	}
	if n.Lambda > 1e6 {
		// Thousands of terms; the root of the numerator is as good as normal by now.
		root, mean := math.Sqrt(f*n.D1), math.Sqrt(n.Lambda+n.D1-1)
		return OverScale(n.D2, func(s float64) float64 { return upperNormal(root*s - mean) }, mean/root, (mean-5)/root, (mean+5)/root)
	}
	x := n.D2 / (n.D2 + n.D1*f)
	h := n.Lambda / 2
	term := func(j float64) float64 {
		lw := -h
		if h > 0 {
			lg, _ := math.Lgamma(j + 1)
			lw = j*math.Log(h) - h - lg
		} else if j > 0 {
			return 0
		}
		return math.Exp(lw)
	}
	tail := func(j float64) float64 {
		if math.IsInf(n.D2, 1) {
			return ChiSquareUpper(n.D1*f, n.D1+2*j)
		}
		return incompleteBeta(n.D2/2, n.D1/2+j, x)
	}
	mode := math.Floor(h)
	var sum float64
	for j := mode; j >= 0; j-- {
		w := term(j)
		sum += w * tail(j)
		if w < 1e-18 {
			break
		}
	}
	for j := mode + 1; ; j++ {
		w := term(j)
		sum += w * tail(j)
		if w < 1e-18 {
			break
		}
	}
	return math.Min(1, sum)
}

// Quantile returns the f that is exceeded with chance 1 − p.
func (n NoncentralF) Quantile(p float64) float64 {
	return positiveQuantile(p, func(f float64) float64 { return 1 - n.Upper(f) }, n.Upper)
}
