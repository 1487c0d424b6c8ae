// Package compare holds what the tests of several packages say in the same
// words: that a figure is as near to an expected one as its tolerance asks. Only
// tests import it.
//
// # Conventions
//
//   - NaN is never near to anything, so a figure that could not be computed
//     fails.
package compare
