// Package roomair answers what a room has to get rid of: the water that a crop breathes out
// and the heat that lamps leave, by a dehumidifier, by cooling, or by exchange of air, and
// what each does to heat and to carbon dioxide. Package moistair knows the air itself,
// leafenergy the water of leaves.
//
// # Conventions
//
//   - Heat is in W, positive into the room; water in g/h; air in m³/h of inside air; carbon
//     dioxide in g/h and ppm.
//   - Functions are balances of a steady hour. A room also stores heat and water for a
//     while, which is left out: sizes come out for the hour that lasts.
//   - All electricity used in a room becomes heat in it. What photosynthesis keeps is
//     1 % of it (Ohyama2020) and left out.
//
// # What is left out, and why
//
// A dehumidifier at the air of the room is told by curves fitted to six machines of one
// country; another one may differ by a fifth. Frost on its coil below about 15 °C is in
// neither curve. A cooling coil is told by one number, its coefficient of performance.
//
// # Sources
//
//   - Winkler2011: laboratory test of six dehumidifiers; capacity and efficiency by air.
//   - EnergyPlusDX: another pair of curves, for the spread between the two.
//   - ASHRAE2017: air for each kg of dry air.
//   - Ohyama2020: share of electricity that plants keep.
package roomair
