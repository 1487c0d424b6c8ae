// Package draw turns numbers into pictures: the bench from above with its
// light, the bench from the side, lines over days, the map of settings, the
// bars of what-ifs, the curve of light of a lamp and its light by wavelength. The pages and the report show the same pictures.
//
// # Conventions
//
//   - A picture is a struct with named fields and a method Draw, which gives a
//     [Picture]: an SVG element as text, and a [Table] with the same numbers for
//     those who do not see it.
//   - Lengths are in m, light in µmol m⁻² s⁻¹ or mol m⁻² d⁻¹ as the caller
//     says, time of light in h, a chance from 0 to 1. The [Frame] says in which
//     system of units lengths are printed.
//   - NaN and infinities are missing numbers: the line breaks, the map has a
//     hole, the label is left out. A mistake of the programmer, such as series
//     of different lengths, panics with "draw: Type: what".
//   - The SVG holds no style attribute, no style element and no script, so it
//     passes a Content-Security-Policy of default-src 'self'. Colours are
//     presentation attributes for paper and light screens; [CSS] replaces them
//     by class on dark ones.
//   - Text is sized for a picture shown at [Frame].Width pixels. [Fit] draws a
//     wide and a narrow one and lets the stylesheet choose.
//   - Nothing is told by colour alone: lines differ in dash, markers in shape,
//     and numbers stand beside them.
//   - The same input gives the same bytes.
//
// # What is left out, and why
//
// Values between the points of a grid are not smoothed by a curve of higher
// order: it would draw light that nobody computed. A grid of about 49 by 25
// points gives contours that look smooth. Text is measured by a table of average
// widths, since the reader's font is not known; in a very wide font a label may
// touch its neighbour.
//
// # Sources
//
//   - Ottosson2020: B. Ottosson (2020), A perceptual color space for image
//     processing: the matrices of OKLab.
//   - IEC61966: IEC 61966-2-1 (1999), sRGB: transfer function.
//   - WCAG22: W3C (2023), Web Content Accessibility Guidelines 2.2: relative
//     luminance and contrast ratio.
//   - Lorensen1987: W. E. Lorensen, H. E. Cline (1987), Marching cubes, Computer
//     Graphics 21(4):163-169, of which contouring square cells is the plane case.
//   - DouglasPeucker1973: D. H. Douglas, T. K. Peucker (1973), Cartographica
//     10(2):112-122: leaving out points that a line does not need.
//   - Ayer1955: M. Ayer et al. (1955), Annals of Mathematical Statistics
//     26:641-647: pooling adjacent violators, here for labels that would overlap.
package draw
