// Package ranks holds tests on ranks: Kruskal and Wallis for groups, Friedman for
// blocks, Jonckheere for a trend over ordered levels, and the chance that a value
// of one group exceeds one of another (Brunner and Munzel), for units with subsamples too.
//
// # Conventions
//
//   - One value per unit, but for [SuperiorityInUnits]. Ties share their mean rank, and variances allow for them.
//   - P values are those of the large-sample distribution; for few units the exact
//     randomisation test of package layout is the better one.
package ranks
