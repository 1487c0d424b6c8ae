// Package headlearn answers what a grower's own cycles say about a cultivar in
// their room: how far its traits lie from those that headcycle forecasts with, how
// sure that is, and which of the data do not fit.
//
// [Learn] takes [Evidence] (weighings, heights, burn seen or not seen, by plant and
// day, with the light and the air that each plant stood in) and a [Prior], and
// gives a [Posterior]. [Learned.Traits] hands draws to a forecast in place of
// headcycle.Spread.Draws. [Posterior.Summary] is what a file keeps; [FromSummary]
// brings it back.
//
// # Method
//
//   - The variance between crops in the prior is parted: four fifths a crop keeps, a
//     fifth comes anew with every cycle ([CycleShare]). What is learnt is what it keeps.
//   - Twelve factors on the mean plant and one on the spread of plants are drawn by
//     package posterior; those that the evidence does not speak of stay at the prior.
//   - A likelihood runs growth in one to five lights a cycle and reads plants between
//     them. Hearts do not act on growth, so eleven hearts of different tendency are led
//     through each.
//   - Spreads of plants and cycles enter by the slopes of the response at the mean of a
//     short first pass.
//   - Masses, dry shares and heights of one plant are together Student distributed
//     about the model: spread of plants, one plant's own path, scale. What a cycle does to
//     each, early and late, is integrated out.
//   - A mean of plants that share a lamp has an error that does not fall with their
//     number (SharedSD), and a count of them tells less than as many plants (Weight).
//   - A plant's tendency to burn is one normal number, that of a cycle another; both are
//     integrated out. Given the tendency the model says on which day an extent of burn
//     is reached; it is seen a normal delay before or after. A plant that was sound on one
//     round and burnt on the next is interval-censored, one that never burnt is
//     right-censored, by one formula.
//   - Every datum is then held against the posterior; what is farther out than the
//     worst of so many should be is a misfit.
//
// With nothing to learn from, the traits that come out spread as those of
// headcycle.LettuceSpread.
//
// # Conventions
//
//   - A parameter is the logarithm of a factor on one or several traits of
//     headcycle.Traits. Its prior is normal about 0.
//   - Days count from transplanting; an observation of day d is of the state at the
//     end of d days of light.
//   - Masses in g per plant, lengths in m, light as headcycle.Profile.
//
// # What is left out, and why
//
//   - The level of light is taken as given. If the light is computed a tenth too high,
//     vigour comes out lower: it is the vigour under the light as computed, right for
//     forecasts of the same bench, wrong for another. A forecast with learnt traits that
//     draws the level of light anew is too wide.
//   - A plant's mass and its burn are taken as independent given the mean plant, though
//     heavy plants burn sooner: what one says of the other is lost, not counted twice.
//   - How much plants of one crop differ in their hearts is not learnt.
//   - Leaf counts: the rate at which leaves appear is the same in all traits. They
//     serve to turn burnt leaves into a share, see [BurntShare].
//   - Neighbours are independent given the cycle; a dry corner of the bench is not.
//
// # Sources
//
//   - LangeLittleTaylor1989: Student errors by reweighting.
//   - Vehtari2021, DelMoral2006, TerBraakVrugt2008: see package posterior.
//   - GelmanBDA2013: conditional normal, posterior predictive check.
//   - HasoferLind1974: the direction of the tendency, see spreads.
package headlearn
