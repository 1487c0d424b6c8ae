// Package pairwise compares means with each other or with one of them, with
// limits that hold for all comparisons together, and adjusts p values of families of
// tests.
//
// # Conventions
//
//   - Limits of Tukey and Kramer (Tukey1953, Kramer1956) are exact for equal numbers and a
//     little too wide otherwise (Hayter1984); GamesHowell1976 is for variances that
//     differ; Dunnett1955 for one level against the others.
//   - Comparisons are named "b − a" in the order of the levels.
package pairwise
