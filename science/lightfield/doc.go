// Package lightfield answers how much light falls on a level surface at any
// place of a box-shaped growing space: from every lamp directly, and from walls and
// shelves after any number of reflections, scattered or mirrored. It also corrects lamps and walls by
// the readings of a quantum meter and says how sure the answer then is.
//
// Package app/light asks it for every plant, map and setting; what it answers
// decides the daily light integral and with it growth and tipburn.
//
// # Method
//
// A lamp sends I(θ) = Φ (m+1)/(2π) cos^m θ, or what its [Distribution] says, from
// every part of a flat opening; it hangs level or turned and tilted ([Lamp]).
// Treating it as one point overstates the light at one panel's width below by a
// third, so the opening is integrated: by closed forms where they exist, else by
// Gauss nodes, as many as the distance asks for, or by cutting until two rules
// agree ([Options].MaxError). A tilted opening of the cosine law is a level one in
// its own frame.
//
// The sides of the space and the faces of its panels are cut into patches that
// exchange light by view factors; their balance is solved once for a [Room]
// (radiosity). A level surface then gathers from every patch by the exact factor for
// a small element.
//
// A side may mirror a part of the light. In a box the copies that mirrors show form a
// lattice, and the mirror shares met on the way do not depend on the places, so that
// lamps and patches are simply seen once more from every copy, with one weight
// each. Copies that touch the box are treated as the box; the others patch by patch,
// or in blocks of a quarter of a side where that errs by less than MaxError of what
// one side sends to another by their weight and distance, and from the fourth ring
// on. What is seen in copies that do not touch the box is smooth and is worked out on
// a lattice of fewer nodes. The series ends where
// what is left is at most a quarter of MaxError of what a lamp or side sends out:
// a bound from the directions that light can take (the comment of imagesOf). Light
// that cannot be followed so far, between near perfect mirrors close together, is an
// error. In rooms with mirrors or panels the exchange is at last scaled so that every
// patch sends out all that it gives, for bright sides repeat a small loss many times.
//
// A panel is opaque. What it hides of a level rectangle is again a rectangle, so
// the shadow of such a lamp is exact; other lamps, and patches, are looked at in as
// many places as are in half shadow.
//
// With the default [Options] the light of a fine grid of patches is met to 1 %
// from 5 cm off a wall, and to 1.5 % closer to it (2 % under a panel). Twenty rooms
// at random with mirrors, panels, tilted lamps and distributions agree with a tracer
// of photons to 1 % in the mean and 3 % at every place (the tests) but in deep shade:
// what a patch in half shadow sends on is spread over all of it, so that a little leaks
// under a panel. Where it is darker than a tenth of the mean of the plane the light may
// be some 5 % too bright, 0.4 % of that mean; half as large patches leave half of it.
//
// # What it costs
//
// Preparing a room grows with the square of the patches, its balance with the
// cube; lamps and points cost in proportion to either. Dimming alone is a matter
// of adding up ([Combine], or [Field.PPFD], which holds no table of lamps by points).
// [Field.Replace] computes one lamp, [Room.WithReflectance] with [Field.In] only the
// balance. Mirrors and panels make a room several times as dear, as do
// lamps that are tilted or have a distribution.
//
// # Conventions
//
//   - Lengths and coordinates in m: x to the right, y to the back, z up, z = 0
//     is the planting surface. Light is PPFD in µmol m⁻² s⁻¹, flux in µmol s⁻¹.
//   - Angles of a lamp are in degrees, those of a [Distribution] in rad.
//   - Zero values mean the simple case: no mirror, no panel, a lamp straight down.
//   - Responses are lamp-major: all points of the first lamp, then of the next.
//   - A dst argument may be nil; a dst of the wrong length panics.
//   - Work is spread over processors in fixed blocks; the result does not
//     depend on how many there are.
//
// # What is left out, and why
//
//   - Reflection that is neither even nor that of a plane mirror: foil with
//     creases spreads its glare, and a share that grows at grazing angles is taken at
//     its mean.
//   - Panels that mirror, stand upright or let light through; shade by lamp
//     bodies, posts and plants. A canopy counts as a level floor of its reflectance.
//   - Light that the openings of other lamps would catch, and light sent into the
//     side that an opening lies in.
//   - Light from outside an open side.
//   - Colour: reflectance is one number for 400 to 700 nm.
//   - A fit to readings moves photon flux, exponent, reflectance and how much of
//     it is mirrored by one number each for all walls.
//   - Readings are fitted by group of lamps; a single lamp that has aged more
//     than its group shows up as readings that are far off.
//   - Light deep in a gap between two panels, or a panel and a side, that is
//     narrower than a patch: it may err by several per cent of the little there is.
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
//   - AllenBerkley1979: J. B. Allen, D. A. Berkley (1979), Image method for
//     efficiently simulating small-room acoustics, Journal of the Acoustical
//     Society of America 65:943-950 (from memory; checked by reflecting one image
//     after the other): the lattice of images in a box.
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
