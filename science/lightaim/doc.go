// Package lightaim answers how far to dim each lamp so that the plants get the
// light asked for: with the least electricity, as evenly as can be, or with as
// many plants within limits as can be. It says what stands in the way if it
// cannot be done, and how near one can come.
//
// Package app/aim asks it for every height and number of hours that it tries.
//
// # Method
//
// The light is linear in the dimmings: E = Σ a·x, a being what a lamp at full
// power gives. So the least electricity is a linear program and the most even
// light a bounded least squares; [Linear] and [Quadratic] solve them, and hand
// out the prices by which anybody can check the answer. What is not linear is
// settled around them:
//
//   - Dim steps, lamps that may be off, and power curves that bend the wrong way:
//     branch and bound on the interval of each lamp, with the lower hull of its
//     power curve in each. It is exact if it ends within MaxNodes; else the answer
//     says so and gives the bound that it could reach.
//   - Most points within limits, and a share of points: a search with no promise
//     (Answer.Proven is false), beside the bound of the relaxed program.
//   - Even light with dim steps: rounded and bettered step by step; exact where
//     there are few combinations.
//
// # Conventions
//
//   - Light is PPFD in µmol m⁻² s⁻¹, power in W, dimming from 0 (off) to 1.
//   - Responses are lamp-major, as lightfield.Field.Responses returns them.
//   - The power of a dimmed lamp is a [Curve], linear between its points. Without
//     a curve of the maker it is taken proportional to the dimming: common
//     practice, no source; drivers draw some watts more at low dimming.
//   - A limit is held to one part in a million.
//
// # What is left out, and why
//
// Colour: a lamp gives one number. Places and heights: they are not linear and
// are searched outside. Programs of thousands of unknowns: everything is dense.
//
// # Sources
//
//   - Chvatal1983: V. Chvátal (1983), Linear Programming, Freeman (from memory).
//   - Bland1977: R. G. Bland (1977), New finite pivoting rules for the simplex
//     method, Mathematics of Operations Research 2:103-107 (from memory).
//   - GoldfarbIdnani1983: D. Goldfarb, A. Idnani (1983), A numerically stable
//     dual method for solving strictly convex quadratic programs, Mathematical
//     Programming 27:1-33 (from memory).
//   - LandDoig1960: A. H. Land, A. G. Doig (1960), An automatic method of solving
//     discrete programming problems, Econometrica 28:497-520 (from memory).
//   - Haimes1971: Y. Y. Haimes, L. S. Lasdon, D. A. Wismer (1971), On a
//     bicriterion formulation of the problems of integrated system identification
//     and system optimization, IEEE Trans. Systems, Man, and Cybernetics
//     1:296-297 (from memory): the trade-off curve by a bound on one aim.
package lightaim
