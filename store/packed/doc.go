// Package packed holds the readings of one sensor over a stretch of time in few
// bytes, and gives them back exactly.
//
// Stores keep an hour of a sensor as one such block. A sensor that reports every ten
// seconds to one decimal needs one to two bytes a reading, where a row of a table needs
// twenty and more; and a whole block is written, checked and summed up at once, so late
// and doubled readings cannot leave a sum that disagrees with what was kept.
//
// # Layout
//
// A block is its layout number (2), the number of readings n, the times, the values,
// and in four bytes a CRC-32C of all that, begun with a hash of the start of the block; layout 1 of
// earlier versions is without it, and is read. Whole numbers are varints, signed ones in zigzag.
//
//   - Times are microseconds after the start of the block: the first, then how
//     each step differs from the one before, with the number of times that the same
//     difference follows. A steady sensor writes two numbers an hour.
//   - Values are either decimals, value·10^e as whole numbers with their steps, where
//     the smallest e from 0 to 9 carries all of them exactly; or, where none does, the bits
//     of the numbers, each as what it changes in the one before, less its zero bytes.
//
// The idea of coding differences of steps and changed bits is that of Pelkonen2015;
// the layout is ours.
//
// # Sources
//
//   - Pelkonen2015: T. Pelkonen, S. Franklin, J. Teller, P. Cavallaro, Q. Huang,
//     J. Meza, K. Veeraraghavan (2015), Gorilla: a fast, scalable, in-memory time
//     series database, Proceedings of the VLDB Endowment 8:1816-1827, from memory.
package packed
