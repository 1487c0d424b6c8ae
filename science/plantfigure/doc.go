// Package plantfigure says what is plant in a picture that was brought to the plane of
// its label, and measures it: area, width, colour, burnt spots, height. It knows no
// photos, labels or files: who calls it has found the label, turned the picture upright
// and scaled it.
//
// # Conventions
//
//   - Light is linear: 1 is white paper in the light of the photo. Primaries and white
//     are those of sRGB, whether or not the colours were corrected.
//   - Coordinates are pixels, x to the right and y down; pixel (0, 0) covers [0, 1] × [0, 1],
//     so that its centre is (0.5, 0.5). Lengths come out in mm, areas in cm², shares of
//     leaf area between 0 and 1.
//   - Every figure is a [Value] with a standard deviation and its parts.
//   - What cannot be measured is refused by a [*Refusal] that says how to take the photo.
//
// The method, with its constants, is told in docs/photos.md.
package plantfigure
