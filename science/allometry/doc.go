// Package allometry tells the fresh mass of a shoot from what a photo shows of it:
// projected leaf area, and where they are known its height and the width of its crown.
//
// # Method
//
// The logarithm of mass is straight in the logarithms of what is seen (Huxley1932), with
// coefficients of a cultivar in a grower's room. They have a prior, wide, from published
// plants, and are learned from plants that were photographed and then weighed: linear
// regression with a conjugate prior (normal for the coefficients, inverse gamma for the
// variance of plants about the curve; GelmanBDA2013, chapter 14), so that the mass of a
// plant has a Student distribution in its logarithm. What is not seen of a plant, such as
// its height, is taken as usual for its area with a spread of its own.
//
// # Conventions
//
//   - Areas are projected and in cm², widths and heights in mm, masses of the fresh shoot
//     in g.
//   - A mass outside the range of plants that the curve stands on is refused.
//   - Errors of the curve are common to all plants and days: they do not fall with the
//     number of photos. [Mass] tells them apart from those of the one plant.
package allometry
