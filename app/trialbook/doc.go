// Package trialbook keeps trials where they lie, a folder or a store: it lists them and
// how far they are, writes plans, and enters, corrects, strikes and imports what was seen.
// Commands and pages use it alike.
//
// # Conventions
//
//   - A file is written whole or not at all, and only in place of the very bytes that were
//     read: what somebody wrote by hand meanwhile is never lost.
//   - The table of what was seen only grows. A correction is a new line; the undoing of an
//     import strikes its lines.
//   - What came with a key is entered once, however often it is sent.
//   - Faults of what a person says name the field they are in.
//
// # What is left out, and why
//
//   - Days of a trial are not in its plan, so that what is due is told by what is missing,
//     not by the calendar.
package trialbook
