// Package spectrum knows the colour of light: how many photons a lamp sends at
// each wavelength, what share of them is blue, green, red and far-red, what a
// plant and an eye make of them, and what is known of their effect on the shape
// of plants. Package lightfield says how much light falls where; this one says
// what kind of light it is.
//
// # Conventions
//
//   - Wavelengths are in nm. A spectrum is made of samples, joined by straight
//     lines; outside the samples there is no light, and [Spectrum.Gaps] says
//     what that hides.
//   - Samples are photons or energy, and a spectrum never forgets which: a
//     curve of energy read as photons would put the blue share wrong by half.
//     Absolute samples are in µmol s⁻¹ nm⁻¹ or W nm⁻¹, of a lamp or for each m²;
//     relative ones in any unit.
//   - Photons of wavelength λ carry 119.6265658/λ J/µmol, from the exact
//     constants of the SI. Integrals take the lines between samples and between
//     the rows of a table as they are, so they hold no error of their own.
//   - Bands are named with their limits wherever they are printed. Far-red is
//     700 to 750 nm where ePAR is meant, 700 to 800 nm in ANSI/ASABE S640; the
//     two definitions of R:FR in use differ threefold on LEDs.
//   - NaN is a figure that the data cannot give. Infinity is a ratio to nothing.
//   - A spectrum is a value that never changes; all calls may run in parallel.
//
// # What is left out, and why
//
// The cross-sections of phytochrome of Sager et al. 1988 could not be read and
// are not used; figures quoted with them run 0.03 to 0.05 above [Spectrum.PPE].
// McCree1972 tabulates nothing beyond 725 nm, so the yield photon flux counts
// nothing there. Cryptochrome has no published threshold that is general enough
// to compute with. A colour rendering index is of no use to a plant.
// [Spectrum.Notes] tells published effects and their spread; it gives no verdict
// on a lamp, because the sources disagree.
//
// # Sources
//
//   - BIPM2019: The International System of Units, 9th edition: h, c, N_A.
//   - ASABE2017: ANSI/ASABE S640: bands, photon efficacy.
//   - McCree1972: relative quantum yield of 22 crops.
//   - Mancinelli1994: cross-sections of phytochrome.
//   - CIE018: V(λ) and K_m; CIE11664: observer of 1931, illuminants A and D65.
//   - CIE15: daylight of a colour temperature, uniform chromaticity of 1960.
//   - Kusuma2020: limits of efficacy; Zhen2021: photons of 700 to 750 nm.
package spectrum
