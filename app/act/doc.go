// Package act decides what each lamp should be set to now: by the hours and the dimming
// of the bench, by what a person wants meanwhile, and within limits that hold for both.
// It computes and remembers nothing by itself; package actuate sends what it decides.
//
// # The rules, the strongest first
//
//  1. Limits. A lit lamp stays between its least and its most dimming. On a day of the
//     calendar it is lit no longer than its most hours, to the minute: then it goes off
//     until midnight. Its dimming changes no faster than its rate, but to go off for a
//     limit or for a person, which is at once.
//  2. A person. An override counts until its time, or until it is taken back.
//  3. The plan. The light begins at its hour by the clock on the wall and lasts the hours
//     of the bench, by a stopwatch: on days when the clocks change it is as long as on any
//     other. An hour that comes twice counts the first time; one that is left out begins
//     the light as late as it would have been.
//
// A lamp that the plan has switched is not switched again by it within a minute, so that a
// clock that is set back by some seconds does not flicker.
//
// # Time
//
// Hours of light are counted by elapsed time ([Tick.Elapsed]), and for the day that the
// clock on the wall shows: setting it back does not give more light than the limit has.
//
// # What it is not
//
// A program, a network and a computer can fail. Heat, mains and water need protection
// that works without them; see docs/formats/act.md.
package act
