// Package headcycle follows one head of lettuce from transplanting to harvest:
// light at the top of the growing canopy, growth, water, calcium of the young
// leaves, burn. It puts cropgrowth, calcium, moistair and leafenergy together
// day by day; the outlook runs it a thousand times with other parameters, and
// the validation runs it under the conditions of published experiments, so that
// what is checked is what forecasts.
//
// # Conventions
//
//   - A day begins when the lamps go on. Day 1 is the first day after
//     transplanting; the state of day d is that at its end.
//   - Light is a [Profile]: PPFD by height above the planting surface, because
//     the canopy grows toward the lamp.
//   - Light and dark hours differ in temperature and humidity and are stepped
//     apart, in steps as long as their error allows (cropgrowth.Tolerance).
//   - [Run] keeps no state; the same input gives the same output.
//
// # What is left out, and why
//
// Temperature, humidity and CO2 are the same every day: a grower's plan, not
// the weather. Neighbours are taken as equal: shading of a small plant by a
// large one is not computed.
package headcycle
