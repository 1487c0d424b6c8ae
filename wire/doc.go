// Package wire is how answers and questions look as JSON: what the HTTP API sends and takes, and
// what the command line prints with --json. It knows nothing of how they are reached. Names of
// fields carry the units; what a field means stands in its tag doc, from which package
// wire/schema makes JSON Schemas.
//
// A number that is not known is null ([Number]). Bands hold 90 % unless their name says
// otherwise. Lists that hold nothing are there, and empty.
package wire
