// Package working carries a number together with the doubt about it and the
// way it was reached: its band, formula, inputs with the origin of each, and
// sources. Every headline figure travels as a [Figure] from app to the screen,
// the terminal and the report, so that each can show its working in the same
// words.
//
// # Conventions
//
//   - A band is an interval with its level. It holds what the inputs and
//     parameters leave open; what the model itself cannot know is said in Notes.
//   - Values in a working are formatted for people already: the working is for
//     reading, the figure's Value is for computing.
//   - A source is a key of the bibliography in science/reference.
package working
