// Package headlearn answers what a grower's own cycles say about a cultivar in
// their room: how far its traits lie from those that headcycle forecasts with, how
// sure that is, and which of the data do not fit.
//
// [Learn] takes [Evidence] (weighings, heights, burn seen or not seen, by plant and
// day, with the light and the air that each plant stood in) and a [Prior], and
// gives a [Posterior]. [Posterior.Traits] hands draws to a forecast in place of
// headcycle.Spread.Draws. [Posterior.Summary] is what a file keeps; [FromSummary]
// brings it back.
//
// # Conventions
//
//   - A parameter is the logarithm of a factor on one or several traits of
//     headcycle.Traits. Its prior is normal about 0.
//   - Days count from transplanting; an observation of day d is of the state at the
//     end of d days of light.
//   - Masses in g per plant, lengths in m, light as headcycle.Profile.
package headlearn
