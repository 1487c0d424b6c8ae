// Package marked holds what the tests of files written by hand say in the same
// words: where in a text a problem must be reported, which keys the documentation
// names, and what holds for every text whatever. Only tests import it.
//
// # Conventions
//
//   - The mark « stands in a text before the place of a problem. Lines and columns
//     count from 1, columns in characters.
package marked
