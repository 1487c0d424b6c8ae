// Package photoscene makes photos whose truth is known: labels and leaves of exact place
// and size before a camera of exact place and lens. The methods that measure plants in
// photos are tested on them, so it shares no code with those methods but the design of the
// label.
//
// # Conventions
//
//   - World: x, y on the table in mm, z up towards the camera. A label that is not turned
//     has its x along that of the world and its y against it: it is read by an eye that
//     looks down with the world's y up.
//   - Light is linear; 1 is white paper.
package photoscene
