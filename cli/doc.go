// Package cli is the command line: one verb a file, in the order of the job
// (new, check, light, lamp, spectrum, outlook, best, aim, match, raise, report, serve, demo,
// validate). A verb reads
// its options into a struct, and a function that takes only that struct does the
// work, so that both are tested apart.
//
// # Conventions
//
//   - Results go to standard output, everything else to standard error.
//   - People get tables; --json gives the same figures to programs, with units in
//     the names of the fields and null for what is not known.
//   - Exit codes: 0 done; 1 it could not be done (a file, a port); 2 the bench
//     file, the photometric file or the command line is wrong. Nothing is written when the code is 2.
package cli
