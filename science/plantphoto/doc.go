// Package plantphoto measures the plants of a photo: it finds the labels, brings what lies
// around each to its plane and its light, lets package plantfigure measure there, sees to it
// that no plant is given to two labels, and puts the uncertainty of each figure together.
//
// # Method
//
// The photo is looked at twice for each label: coarsely over all that may hold its plant, and
// then finely around the plant that was found. What is nearest to a label is its plant. Leaves
// stand above the plane of the label and so nearer to the camera; where the height of the
// plant is known the picture is brought to the plane at half of it, exactly, for the camera's
// place is known. Where it is not known, nothing is corrected, and what that can make is told.
//
// # Conventions
//
//   - The photo is upright and of sRGB: whoever calls has turned it and honoured its colour profile.
//   - mm, cm² and shares as in plantfigure; places in the photo are pixels, x to the right, y
//     down, pixel (0, 0) covers [0, 1] × [0, 1].
//   - Nothing is random; nothing is kept between calls.
//
// The equations stand in docs/photos.md.
package plantphoto
