// Package plantlabel is the design of the label that stands beside a plant in a photo: what
// is printed where, in millimetres, and what its code says. Whoever prints labels and
// whoever finds them in photos read the same list.
//
// A label has a QR code for the identity, marks near its four corners for the plane, grey
// steps and colour patches for the light, and words for the eyes.
//
// # Conventions
//
//   - Coordinates are millimetres on the label, x to the right and y down from its upper
//     left corner as it is read.
//   - What is not drawn is bare white paper.
//   - Inks are values of sRGB, as a printer takes them. What they reflect when printed is
//     known to about a tenth at best; white paper is the one that is relied upon.
//   - A code is one to twelve of 0–9 and A–Z, chosen by whoever prints. What it stands for
//     is the caller's to keep.
//
// # The code
//
// The QR code is of version 1 (21 × 21 modules) with error correction Q, in alphanumeric
// mode: the fewest and so the largest modules (ISO18004). Its text is the letter U, the
// letter of the layout, the code, and two check characters over all of that by MOD 1271-36
// (ISO7064), which tell every single wrong or two swapped characters. A text of other
// form or with wrong check characters is refused: a label is read right or not at all.
//
// # Sources
//
//   - ISO18004: the QR code.
//   - ISO7064: the check characters.
//   - IEC61966: the linear light of inks.
package plantlabel
