// Package environment answers: what must be told of the surroundings of a crop so that others
// can judge and repeat it, what of it is known here, and how is the rest to be had?
//
// The list of what is to be told follows published guidelines for growth rooms. [Items] has
// it, [Of] puts what is known of a bench beside it, and every item comes out either told or
// among what is missing, with the instrument, command or page that would close the gap. [Of] is
// a pure function; [Recorded] alone reads a store.
//
// # Conventions
//
//   - What was only set is called set, not measured; what nobody said is called assumed. See
//     [State].
//   - Values over a crop are those of hours: the mean of the hourly means, their standard
//     deviation, the lowest and the highest, apart for the time with and without light.
//
// # Sources
//
//   - EP411: the standard for growth chambers; its scope was read, its table is from memory
//   - TibbittsSagerKrizek2000: the same guidelines in a journal; the beginning was read, the
//     table is from memory
//   - ICCEG2004: the international minimum guidelines for growth rooms; from memory
//   - Both2015: the same committee for greenhouses; the abstract
//   - Krizek2000: which parameters matter most, where and what is read in solution culture; the abstract
//   - Poorter2012: the list for growth chambers in its table 2, as a page on standards of phenotyping prints it
package environment
