// Package fanjet answers how fast the air of a fan is where it meets leaves: from blades and
// distance, by the free jet, or from readings of an anemometer. Package calcium says what
// of it arrives over the heart of a head.
//
// # Conventions
//
//   - Lengths are in m, speeds in m/s, flows in m³/s. x is along the axis of the fan from its
//     blades, r across it.
//   - Speeds are means over time along the axis; a jet is gusty, a fifth to a quarter of its
//     speed on the axis.
//
// # The jet
//
// Near the blades the middle keeps its speed; farther on
//
//	u(x, 0) = B U d / x,  u(x, r) = u(x, 0) exp(−ln 2 (r/(S x))²)
//
// U the mean speed at the blades, d their diameter, B = 5.9, S = 0.095. Momentum is carried on
// unchanged, which ties B to S: B = √(ln 2/2)/S = 6.2.
//
// # What is left out, and why
//
// An axial fan throws a ring that turns; its jet is wider and slower than that of a nozzle.
// Nothing was found that gives it for small fans, so its speed is taken as that of the nozzle
// with a spread of 30 % (common practice, no source). Plants, lamps and walls in the way break
// a jet; where it meets the canopy it turns aside within about a diameter of the blades.
//
// # Sources
//
//   - Hussein1994: decay constant 5.8, spread 0.094 of a round jet (from memory).
//   - PanchapakesanLumley1993: 6.06 and 0.096 (from memory).
//   - AbdelRahman1996: 6.11 at a Reynolds number of 19 400; slower jets decay faster.
//   - CampbellNorman1998: speed inside a canopy (from memory).
package fanjet
