// Package round answers: what was seen of the plants of a bench on the walks past them,
// what of it counts, and where two people saw different things?
//
// It reads what a phone sends, makes entries of it that are kept for ever, follows
// corrections, finds conflicts, asks about what can hardly be meant, and makes the
// observations of a cycle of what counts. It keeps nothing and reads no clock: the store
// and the time are the caller's.
//
// # Conventions
//
//   - An entry is one thing seen of one plant: a measure, a note, a photo, or that the
//     plant was cut. The measures, their units and their readers are those of the tables
//     of trials ([underlamp.Response], package trialtable).
//   - An entry is never changed. A correction is a new entry that names the old one; both
//     stay. What was typed stays beside the value made of it.
//   - The id is given by the phone that saw it, so that sending twice enters once.
//   - An instant is in UTC; days are those of the zone that the caller names.
//   - A warning never stops anything.
//
// # Clocks
//
// A phone's clock may be wrong, or be put right between typing and sending. Every packet
// carries the phone's own time at sending, so its offset from the server's clock is known;
// an entry carries the offset that the phone knew when it was typed. Where both agree
// within [Tolerance] the time is corrected by it. Where they do not, the clock was changed
// in between: the time is corrected by the offset of then, and marked as unsure.
//
// # Grades of burn
//
// Severity goes from 0 to [underlamp.MaxSeverity] by the share of leaves with burnt
// margins; the bounds are those of package calcium, our own, no source.
package round
