// Package air turns a bench and its outlook into what a grower asks of the air: how hard it
// pulls water from leaves by day and night, where dew may form, how much water and heat must
// leave the room each hour as the crop grows, what that takes, what carbon dioxide it costs,
// and how fast the air must be over the hearts.
//
// # Conventions
//
//   - Day is while the lamps are on, night while they are off, as in the bench file.
//   - Water and heat are of the whole bench, in g/h and W. Those of a day of the crop are
//     means over its light and over its dark hours.
//   - Water is that of the outlook, the same draws, so that this and the outlook say one
//     thing; so is the chance of burn over air speed and over the humidity of nights.
//   - A crop whose growth is not known gives no water: everything that rests on it is
//     missing, and the rest stands.
//
// # What is left out, and why
//
// Water that evaporates from wet trays, gutters and floors: in a chamber with open water it
// was a quarter of all (Wheeler1994). Heat and water that a room stores. People, who breathe
// out about as much CO2 as a shelf takes up. The dew of walls and pipes: only leaves are
// looked at.
//
// # Sources
//
//   - Allen1998, ASHRAE2017: moist air.
//   - Bonan2019, Graamans2017: leaf temperature, and water of a stand.
//   - Winkler2011, EnergyPlusDX: dehumidifiers.
//   - OSHATableZ1, NIOSH1994: limits of CO2.
package air
