// Package quantity knows the amounts a grower writes down: how bright, how far,
// how long, how warm. It reads "34 cm", "13.5 in" or "72 °F", keeps one unit
// for each kind of amount, and prints it again with its unit.
//
// Everything else in the program computes in the base units below and never
// converts by itself; a bare factor such as 2.54 or 0.0036 anywhere else is a
// mistake.
//
// # Conventions
//
//   - A scalar that could be mistaken for another travels as a type of this
//     package (PPFD is not DLI, °C is not a difference in °C). Bulk data is a
//     []float64 whose name ends in its unit.
//   - A [Kind] is what can be asked for in a file: it lists the units accepted
//     and the one kept. Parsing never guesses a unit: "34" is no length.
//   - Numbers may use a decimal point or, if no point is present, one decimal
//     comma. Thousands separators are refused, and so is 1,234, which could be
//     either.
//
// # Sources
//
//   - ThompsonTaylor2008: A. Thompson, B. N. Taylor (2008), Guide for the Use of
//     the International System of Units, NIST SP 811, appendix B (foot, inch,
//     degree Fahrenheit: exact).
//   - Jennings2018: RFC 8428, Sensor Measurement Lists, section 12.1: the codes of
//     units that sensors send.
//   - ASABE2017: ANSI/ASABE S640 (2017), Quantities and Units of Optical
//     Radiation for Plants (PPFD, PPF, photon efficacy), as described in the
//     trade literature; the standard itself is sold and was not read.
package quantity
