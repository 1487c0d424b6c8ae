// Package learn answers what a grower's own cycles teach about the crop of a bench:
// it turns bench and cycles into evidence for science/headlearn, sets the outlook
// before beside the outlook after, names the data that do not fit and the one
// observation that would tell most, and holds the outlook against finished cycles
// as it would have been made on each day.
//
// # Conventions
//
//   - The light of a day is that of the setting of that day: a cycle is cut into
//     stages at its changes, and each plant has its own light in each.
//   - Before means what is usual for the species ([outlook.Usual]), even if the bench
//     file names a profile already: a profile is learned anew from all cycles.
//   - After is drawn from what a profile keeps, so that a forecast with the profile is
//     the one shown here.
//   - The doubt about the level of the light is in every forecast. Part of it has gone
//     into what was learned in the same light, so bands after learning are somewhat
//     too wide.
//
// # What is left out, and why
//
//   - Leaf numbers: the model does not count the leaves that a grower counts.
//   - Of several counts of burn over a bench only the last is used: they are of the
//     same heads, and the likelihood of counts that are nested is not in headlearn. Where
//     the plants stand in different light (coefficient of variation above 10 %) it is
//     not used either: the chance of a mean plant is not the mean chance.
//   - A cycle of another bench file: its light would need that bench.
//
// # Sources
//
//   - ChalonerVerdinelli1995: the design of the next observation, by the variance that
//     it would take away.
//   - GneitingRaftery2007, Brier1950: scores of the back-test, in
//     science/forecastscore.
package learn
