// Package madetrials makes trials by chance whose truth is known, has them analysed as
// those of growers are, and counts how often the answer holds: how many 90 % limits hold
// the true threshold or the best light, and how many tests at 5 % find a difference where
// there is none. Beside each stands the method that takes plants for repeats.
//
// The designs are those for which the project has counts of R 4.2.2 (20 000 trials for
// limits of thresholds, 40 000 for the best light, 1 500 for tests); both must agree
// within what chance does. A trial has a generator of its own, so that the counts do not
// depend on the number of processors.
//
// # Sources
//
//   - Fieller1954: the limits. Hurlbert1984: why plants are no repeats.
//   - Sun1996, BrunnerMunzel2000: scores for onset and for grades.
package madetrials
