// Package srgb turns the numbers of pictures into linear light and back, and linear light
// of one set of primaries into another. It is the one home of the curve and the primaries
// of sRGB.
//
// # Conventions
//
//   - Linear light is 0 for none and 1 for the white of the picture, in the primaries that
//     are named.
//   - Matrices have rows for the outputs: out[i] = Σ m[i][j]·in[j].
//
// # Sources
//
//   - IEC61966: the curve, the primaries of ITU-R BT.709, the white D65 (0.3127, 0.3290).
package srgb
