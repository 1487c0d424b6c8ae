// Package benchfile reads and writes the description of a bench, the one file
// that a grower writes by hand. It answers: which bench does this text
// describe, and if it describes none, what must be changed, and where?
//
// The command line and the pages read every bench through [Read]; the question
// and answer dialogue for a new bench writes through [Write]. The layout of the
// file is laid down in docs/formats/bench.md, which the tests hold against this
// package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and
//     column. A key with nothing after it counts as not written.
//   - A bench with an error is no bench: [Read] gives either a bench or errors,
//     never half of one.
//   - What was not written and has a usual value becomes a default that says so
//     ([underlamp.Default]) and why; it never passes for a statement.
//
// # What is left out, and why
//
// Photometric files and spectra are other formats: a bench file
// names them, and [ReadWith] has them opened.
//
// # Limits
//
// Those of package handwritten; 200 lamps, 2000 plants, 2000 readings. They bound
// time and memory: the longest text within them is read in about a second.
//
// # Sources
//
//   - Ham1993: J. M. Ham, G. J. Kluitenberg, W. J. Lamont (1993), Optical
//     properties of plastic mulches affect the field temperature regime, J.
//     Amer. Soc. Hort. Sci. 118:188-193 (abstract read).
//   - Meerdink2019: S. K. Meerdink, S. J. Hook, D. A. Roberts, E. A. Abbott
//     (2019), The ECOSTRESS spectral library version 1.0, Remote Sensing of
//     Environment 230:111196 (spectra averaged over 400 to 700 nm).
//   - Janecek2008: M. Janecek, W. W. Moses (2008), Optical reflectance
//     measurements for commonly used reflectors, IEEE Trans. Nucl. Sci.
//     55:2432-2437 (abstract read).
//   - Kusuma2020: P. Kusuma, P. M. Pattison, B. Bugbee (2020), From physics to
//     fixtures to food: current and potential LED efficacy, Horticulture
//     Research 7:56 (abstract and opening read): the limits of efficacy, which
//     stand in package energycost.
//   - OSHATableZ1: 29 CFR 1910.1000, Table Z-1, carbon dioxide: 5000 ppm over 8 h.
package benchfile
