// Package light answers what light every plant of a bench gets, how even it is
// and how sure that is. It turns the bench into lamps, walls and readings for
// science/lightfield, fits the lamps to the readings, and gives each figure its
// working. What lamps and walls leave of the readings is carried to its
// surroundings by science/residualfield, and the package says where one more
// reading would narrow the light of the plants most. The light page, the report
// and the outlook use it.
//
// # Conventions
//
//   - PPFD is on a flat horizontal surface. The light of a plant is the mean
//     over its crown, a disc that touches its neighbours.
//   - The setting of a lamp (height, dimming, hours) is that of the bench; a
//     [Model] can be asked about other settings without fitting again.
//   - If lamps burn for different hours, the light day is the longest of them,
//     and PPFD is the mean over that day: it gives the right DLI.
//   - The residual field is used from four usable readings on (near the model,
//     under the lamps of the setting); [Options] switch it. An [Answer] holds its
//     light with the field, and in Field what the field did and the light before.
//   - The field is kept by distance under the lamps: with lamps or canopy at
//     another height it holds less and the standard deviation grows. Equal dimming
//     of all lamps leaves it as it is.
//   - Bands hold parameters of the fit and field together, from one posterior.
//   - A [Lit] remembers responses of the lamps at its height, so that dimming and
//     hours alone cost a tenth of a millisecond. It may be used in parallel.
//
// # What is left out, and why
//
//   - The shade that a taller plant throws on its neighbour.
//   - A field for each lamp: a reading under other lamps than those of the setting
//     counts as far as the lamps are shared.
package light
