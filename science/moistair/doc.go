// Package moistair describes the air around the plants: how much water vapour
// it can hold, how much it does hold, and so how hard it pulls water out of a
// leaf. Package leafenergy turns the pull into transpiration and package
// calcium turns it into the calcium that reaches the youngest leaves, so an
// error of sign or unit here becomes a wrong forecast of tipburn.
//
// # Conventions
//
//   - Temperature is in °C, pressure in kPa, relative humidity a share from 0 to
//     1 of saturation over liquid water at air temperature.
//   - Functions do not check their arguments: what a person writes is checked
//     where it is read. NaN in gives NaN out. Only [StateOf] refuses, for it alone
//     can see that two measures do not go together.
//   - Pressure enters what is told for each kg of air, and the wet bulb; vapour
//     pressures, deficits and dew points do not depend on it.
//
// # What is left out, and why
//
// Below 0 °C the curve over liquid water is used, not the one over ice: no crop
// of ours grows there. The enhancement factor of moist air (under 0.5 %) is
// ignored; the check against printed tables of saturated air shows it.
//
// # Sources
//
//   - Allen1998: R. G. Allen, L. S. Pereira, D. Raes, M. Smith (1998), Crop
//     evapotranspiration, FAO Irrigation and Drainage Paper 56, chapter 3.
//   - ASHRAE2017: ASHRAE Handbook Fundamentals (2017), chapter 1 (read in the
//     test suite of a general psychrometrics library that quotes it).
//   - Harrison1963: L. P. Harrison (1963), latent heat, as in the FAO expert
//     report of 1990.
package moistair
