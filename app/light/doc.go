// Package light answers what light every plant of a bench gets, how even it is
// and how sure that is. It turns the bench into lamps, walls and readings for
// science/lightfield, fits the lamps to the readings, and gives each figure its
// working. The light page, the report and the outlook use it.
//
// # Conventions
//
//   - PPFD is on a flat horizontal surface. The light of a plant is the mean
//     over its crown, a disc that touches its neighbours.
//   - The setting of a lamp (height, dimming, hours) is that of the bench; a
//     [Model] can be asked about other settings without fitting again.
//   - If lamps burn for different hours, the light day is the longest of them,
//     and PPFD is the mean over that day: it gives the right DLI.
package light
