// Package trial plans fair trials and reads what they tell. Findings are made from the
// plan of a trial and the table beside it; Propose lists the layouts that a bench
// allows, what each could show and what it cannot tell apart; Levels places levels of light
// where an expected curve is told best.
//
// # Conventions
//
//   - The unit is what a treatment was given to, mostly the lamp in its cycle. Plants
//     make the mean of their unit sharper and never add degrees of freedom
//     (Hurlbert1984).
//
//   - Estimate and limits come first, p after it. Without repeats there are effect
//     sizes and no test. "No difference" is never said.
//
//   - Doses are what the units got where the plan says so, else what was aimed at.
//
//   - The primary response was chosen before the run. Whatever else is tested is counted,
//     and its p values are adjusted for their number (Holm1979).
//
//   - Limits hold 95 %, those of thresholds and of the best light 90 %.
//
//   - The light of units ([CheckLight]) is that at the planting surface by the field of
//     the bench. It is a claim of the plan, never a measurement: doses are what was read.
//
// # What is left out, and why
//
//   - Incomplete blocks are analysed within blocks; what blocks tell among themselves is
//     not recovered. Carry-over is tested and not taken out.
//   - Several factors are compared by the primary response; curves over the light, burn and
//     onset take their units together. Interactions of three and more are not shown.
//   - The power for burn with several factors is the large-sample one, not simulated.
//
// # Sources
//
// Those of the packages below science/stat, which do the work; each figure names its own.
package trial
