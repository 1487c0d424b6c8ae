// Package live tells how a bench stands now: what follows from the readings of its
// sensors, the day so far beside the plan, what is wrong with a sensor, and what a person
// should be told.
//
// # How readings add up
//
// A reading stands for the time around it, as in package logged: half of the way to its
// neighbours; a gap is of more than three steps and of more than a quarter of an hour. The
// readings of a sensor are summed up by quarters of an hour. A sum is a function of the
// readings alone, and not of the order in which they came: what is held while readings
// arrive is equal, to the last bit, to what is computed anew from all of them. What comes
// late for a quarter whose readings are not held any more is read from the store.
//
// Days are those of a zone, of 23 or 25 hours where its clocks change. Zones whose
// midnight lies on no quarter of an hour of UTC (before about 1970) are off by its rest.
//
// # Light
//
// The map of the bench file tells how light is shared, the sensor how much there is:
// ratio = light read over light of the map at the sensor, and the light of a plant is the
// ratio times that of the map. A sensor without a place is taken for the mean plant.
// Without a light sensor the lamps' own state serves, without both the clock.
//
// # Many servers
//
// An engine holds copies only. Rules look at readings and at which messages are open in
// the store, so that any server comes to the same; of two that open one message the store
// keeps one.
//
// # Sources
//
//   - Allen1998: vapour pressure deficit, as in package moistair.
//   - OSHATableZ1: the limit of CO2 for a working day.
package live
