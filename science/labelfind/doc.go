// Package labelfind finds plant labels in a photo: which ones, where they lie before the
// camera, how sharp they are, and what their patches tell of the light. What is found is
// certain or refused: a code counts only if it is read, its check characters hold, and its
// modules are seen again where the corner marks say that they are.
//
// # Method
//
// Copies of the photo shrunk by 4 and by 2 are searched for the squares within squares of QR
// codes, whose dark and light runs are 1 : 1 : 3 : 1 : 1 (ISO18004); triples of them are sampled
// and decoded (with the fourth corner moved a little, for perspective). From the code the
// four marks are looked for, by correlation with black and white quarters, and each is
// placed to a fraction of a pixel where the edges of its quarters meet. Package pinhole
// makes a plane before a camera of them. Blur is that of the marks' edges. Patches give
// white balance, and a matrix of colours if they were printed in colour.
//
// # Conventions
//
//   - Pixels: x to the right, y down, pixel (0, 0) covers [0, 1] × [0, 1], from the upper left
//     of the picture's bounds.
//   - The photo is already turned as it is seen, and its values are of sRGB.
//   - Nothing is random; nothing is kept between calls.
//
// # Sources
//
//   - ISO18004: the eyes, the timing and the margins of a QR code.
//   - IEC61966: bytes to linear light.
package labelfind
