package marginburn

import "math"

// Published limits; see the package comment.
const (
	extractLimit = 1.3  // dS m⁻¹ of the saturated extract
	lossPerDS    = 0.13 // of yield for each dS m⁻¹ beyond
	extractShare = 0.5  // of the EC of the solution at the roots

	SaltLimit = extractLimit / extractShare // mS cm⁻¹ of a feed: 2.6
	AirLimit  = 1.49                        // kPa: 50 % at 24 °C
)

// farLoad is the salt load that is high even with only one limit passed.
const farLoad = 2

// A Level is a grade of risk.
type Level int

// The levels.
const (
	Low    Level = iota // neither limit is passed
	Raised              // one is
	High                // both are, or one by far
)

// String is the level in a word: low, raised or high.
func (l Level) String() string { return [...]string{"low", "raised", "high"}[l] }

// A Risk is a level with what it follows from.
type Risk struct {
	Level Level
	Salty bool    // EC beyond SaltLimit
	Dry   bool    // deficit beyond AirLimit
	Load  float64 // salt carried to the leaf margins, relative to that at both limits
	Loss  float64 // share of yield that the salt alone costs, 0 to 1
}

// Of is the risk at an EC of the feed and a vapour pressure deficit of the day.
// opening is how far stomata open in an air, see leafenergy.DryAirOpening; it makes
// transpiration rise less than the deficit.
//
//	load = EC/2.6 · D f(D) / (1.49 f(1.49))
//	loss = 0.13 (EC/2 − 1.3)
func Of(ec, vpd float64, opening func(kPa float64) float64) Risk {
	ec, vpd = max(ec, 0), max(vpd, 0)
	r := Risk{
		Salty: ec > SaltLimit, Dry: vpd > AirLimit,
		Load: ec / SaltLimit * vpd * opening(vpd) / (AirLimit * opening(AirLimit)),
		Loss: math.Min(max(lossPerDS*(ec*extractShare-extractLimit), 0), 1),
	}
	switch {
	case r.Salty && r.Dry, (r.Salty || r.Dry) && r.Load >= farLoad:
		r.Level = High
	case r.Salty, r.Dry:
		r.Level = Raised
	}
	return r
}
