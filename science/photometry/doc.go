// Package photometry answers what a lamp does with its light, from the far-field
// intensity that a photometric file carries: how much light in all, how much of
// it down, how wide and how round the beam is, how far apart such lamps may
// hang, and how many photons the lumens are worth.
//
// Package formats/photometricfile fills a [File] from LM-63 and EULUMDAT text.
// The command lamp prints it. The field of light takes a [*Web] as the
// distribution of a lamp by its method [Web.Relative].
//
// # Conventions
//
//   - Directions are those of type C: gamma is the angle from the beam axis
//     (0 straight down for a lamp that hangs, 180 up), C the angle of the half
//     plane about that axis. Both are in degrees, but for [Web.Relative], which
//     takes radians, because it is called for every ray.
//   - C0 to C180 runs along the length of an LM-63 opening. Which way C turns,
//     seen from the lamp, is not the same in all files; [Web.Turn] and
//     [Web.Mirror] put it right.
//   - Intensity is in candela and flux in lumen. Any other pair of flux and flux
//     per steradian, such as µmol/s, works alike.
//   - A [Web] covers the full circle of C, whatever the file stored; outside the
//     gamma angles that were given there is no light.
//   - Between gamma angles the intensity is linear in cos γ, between planes
//     linear in C. So the zonal sum 2π (cos γ₁ − cos γ₂)(I₁ + I₂)/2 that
//     laboratories print is the exact flux of the interpolated web, a cosine
//     emitter is met exactly at any step, and no false peak stands on the axis.
//   - A Web never changes once it is made and may be used from many goroutines.
//
// # What is left out, and why
//
// Near field: a web describes a lamp from far away, at least five times its
// size; nearer, the opening has to be divided, which is what package lightfield
// does. Glare ratings, road lighting classes and cavity exitances serve rooms
// with people. How the light of a lamp
// changes when it is tilted: the web is taken as turning with it.
//
// # Sources
//
//   - LM63: ANSI/IES LM-63 (1986 to 2019), coordinate types A, B and C.
//   - LM57: IES LM-57, zonal-cavity coefficients (now in LS-6).
//   - ThimijanHeins1983: R. W. Thimijan, R. D. Heins (1983), HortScience
//     18:818-822, lux per photon flux of common lamps (as quoted elsewhere).
//   - CIE015: CIE 015:2018, spectra of illuminants, for the factors computed from
//     them.
package photometry
