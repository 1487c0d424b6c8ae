// Package fileschema makes, of each kind of file that people write, a JSON Schema (draft
// 2020-12) for editors and a table of its fields for the reference. Only tests import it;
// with -update they write what it makes into docs.
//
// # Conventions
//
//   - Types, units, ranges, words to choose from and defaults are what the readers ask for
//     while they read ([handwritten.Traced]); nothing of them is said twice.
//   - What a field means stands in docs/formats, in the tables there, and is taken from them.
//   - A field is needed if its reader misses it in a file that says nothing but its version,
//     and every file that is accepted has it.
//   - A schema says what a file is made of. It does not say what only the whole file tells:
//     whether a lamp hangs below the ceiling, or an amount with a unit is within its range.
package fileschema
