// Package optimal places the levels of a trial where an expected curve is informative:
// for all its parameters together (D-optimal), or for one function of them, such as the
// dose of the most response (c-optimal).
//
// # Method
//
//   - The information of a point x is weight(x)·g(x)g(x)ᵀ, g the gradient of the curve by
//     its parameters. It is taken at a prior curve: the design is optimal there, locally
//     (Chernoff1953), and how much it loses at other curves is asked with [Model.D].
//   - D: points are exchanged on a fine grid until none would gain, then moved freely;
//     c: the linear program of Elfving1952 by the simplex method, its columns found as
//     they are needed.
//   - Every answer carries the proof: the greatest sensitivity over the whole range, which
//     is 1 at an optimum (KieferWolfowitz1960). The efficiency is at least 1/Worst for D
//     and 1/Worst² for c, whatever the search missed.
//
// # Conventions
//
//   - Weights are shares of the units and sum to 1; [Design.Units] makes whole numbers.
//   - A design with as many points as parameters cannot test the form of the curve: add a
//     level for that.
//
// # Sources
//
//   - Elfving1952, Chernoff1953, KieferWolfowitz1960: optimality and its proof
//   - Fedorov1972: exchange of points
package optimal
