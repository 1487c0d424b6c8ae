// Package curve fits curves of a response over a dose: parabola, the saturating
// curve of Mitscherlich, rectangular and non-rectangular hyperbola, and straight or
// parabolic rises that end in a plateau; and any other curve by nonlinear least
// squares.
//
// # Method
//
//   - [Least] is Levenberg and Marquardt's method with steps by orthogonal
//     triangles, so that badly scaled parameters keep their digits.
//   - Of each form most parameters are linear once one or two are fixed. Those are
//     searched on a grid first (Mitscherlich1909, MarshallBiscoe1980,
//     AndersonNelson1975), so no start is asked for and more than one minimum does
//     no harm: the sum of squares of a plateau has kinks at the levels.
//   - Limits are by profile of the sum of squares with F (BatesWatts1988). A limit
//     may be infinite; that is an answer.
//   - Forms are compared by AICc, with the error variance counted as a parameter
//     (HurvichTsai1989).
//
// # Conventions
//
//   - One value per unit, over the dose that it really got.
//   - As many parameters as levels, or a standard error above its estimate, is "not
//     identified" and is said; such numbers are not to be printed.
package curve
