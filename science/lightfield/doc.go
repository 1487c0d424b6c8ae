// Package lightfield answers how much light falls on a level surface at any
// place of a box-shaped growing space: from every lamp directly, and from the
// walls after any number of reflections. It also corrects lamps and walls by
// the readings of a quantum meter and says how sure the answer then is.
//
// Package app/light asks it for every plant, map and setting; what it answers
// decides the daily light integral and with it growth and tipburn.
//
// # Method
//
// A lamp faces straight down and sends I(θ) = Φ (m+1)/(2π) cos^m θ from every
// part of a horizontal opening. Treating it as one point overstates the light
// at one panel's width below by a third, so the opening is integrated: by
// closed forms where they exist, else by Gauss nodes, as many as the distance
// asks for ([Options].MaxError). The sides of the space are cut into patches
// that exchange light by exact view factors; their balance is solved once for
// a [Room] (radiosity). A level surface then gathers from every patch by the
// exact factor for a small element.
//
// With the default [Options] the light of a fine grid of patches is met to 1 %
// from 5 cm off a wall, and to 2 % closer to it.
//
// # Conventions
//
//   - Lengths and coordinates in m: x to the right, y to the back, z up, z = 0
//     is the planting surface. Light is PPFD in µmol m⁻² s⁻¹, flux in µmol s⁻¹.
//   - Responses are lamp-major: all points of the first lamp, then of the next.
//   - A dst argument may be nil; a dst of the wrong length panics.
//   - Work is spread over processors in fixed blocks; the result does not
//     depend on how many there are.
//
// # What is left out, and why
//
//   - Mirror-like reflection: walls scatter evenly. Foil and bright film in part
//     mirror; their light is right in sum and wrong in place.
//   - Shade by lamp bodies, plants and posts, and light that a lamp sends up.
//   - Tilted lamps, and beams that are not round: two exponents would need a
//     photometric file.
//   - Light from outside an open side.
//   - Colour: reflectance is one number for 400 to 700 nm.
//   - Readings are fitted by group of lamps; a single lamp that has aged more
//     than its group shows up as readings that are far off.
//   - Grazing light within a tenth of a radius outside a disc of exponent other
//     than 1, nearer than a twentieth of a radius to its plane, may err by more
//     than MaxError; it is next to nothing there.
//
// # Sources
//
//   - HowellCatalogue: J. R. Howell, M. P. Mengüç, A Catalog of Radiation Heat
//     Transfer Configuration Factors, entries C-11 and C-14 (read in code that
//     quotes them).
//   - SiegelHowell: R. Siegel, J. R. Howell, Thermal Radiation Heat Transfer;
//     element factors from memory, checked by brute force in the tests.
//   - EhlertSmith1993: J. R. Ehlert, T. F. Smith (1993), View factors for
//     perpendicular and parallel rectangular plates, Journal of Thermophysics and
//     Heat Transfer 7:173-175 (from memory; checked against C-11 and C-14).
//   - GoralEtAl1984: C. M. Goral, K. E. Torrance, D. P. Greenberg, B. Battaile
//     (1984), Modeling the interaction of light between diffuse surfaces,
//     Computer Graphics 18:213-222 (from memory): radiosity.
//   - Trefethen2013: L. N. Trefethen (2013), Approximation Theory and
//     Approximation Practice, theorem 19.3 (from memory): error of Gauss rules.
//   - BerrutTrefethen2004: J.-P. Berrut, L. N. Trefethen (2004), Barycentric
//     Lagrange interpolation, SIAM Review 46:501-517.
//   - LangeLittleTaylor1989: K. L. Lange, R. J. A. Little, J. M. G. Taylor (1989),
//     Robust statistical modeling using the t distribution, Journal of the
//     American Statistical Association 84:881-896 (from memory).
//   - SensorMakers: pages and manuals of two makers of quantum sensors:
//     calibration within 5 %, directional error about 2 % at 45° and 5 % at 75°.
package lightfield
