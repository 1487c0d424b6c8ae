// Package energycost adds up the electricity of lamps, its price, and what it
// yields; it reads a tariff by the time of day and places the light of a day where
// power is cheap. The outlook uses it for kWh, money and grams per kWh, app/aim for
// the hours.
//
// # Conventions
//
// Power is what is drawn from the socket, driver included. All of it ends as
// heat in the room: photosynthesis keeps about one hundredth (Ohyama2020).
//
// # Sources
//
//   - Kusuma2020: P. Kusuma, P. M. Pattison, B. Bugbee (2020), From physics to
//     fixtures to food, Horticulture Research 7:56 (abstract and opening):
//     fixtures with light-emitting diodes of 2020 cannot pass 3.4 (white and red)
//     or 4.1 µmol/J (blue and red).
//   - Ohyama2020: K. Ohyama, J. Yamaguchi, A. Enjoji (2020), Agronomy 10:723
//     (abstract; names of the second and third author from memory).
package energycost
