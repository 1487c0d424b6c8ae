// Package notifyfile reads who is told of messages, and on which way. It answers: whom
// does this text name, and if it names nobody, what must be changed, and where?
//
// The layout is laid down in docs/formats/notify.md, which the tests hold against this
// package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and
//     column. A file with an error gives nobody.
//   - Secrets do not stand in the file: it says in which variable of the environment or in
//     which file they lie.
//
// # Limits
//
// Those of package handwritten; 50 receivers.
package notifyfile
