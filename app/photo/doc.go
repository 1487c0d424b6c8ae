// Package photo answers: what do photos of plants tell, of which plant, on which day, and
// what follows for mass and burn?
//
// It makes codes for labels and finds what a code stands for; makes what is kept of one
// photo ([Measure]); puts the photos of a bench into a book, by plant through time
// ([NewBook]); learns from verdicts what burn looks like, and from weighed plants what
// area weighs; and draws strips of plants at one scale and one exposure ([Strip]). It keeps
// nothing and reads no clock: store, folder and time are the caller's. [Folder] goes
// through a folder of photos, and takes up again where it stopped.
//
// # Conventions
//
//   - A photo is known by the SHA-256 of its bytes. The original is kept as it came; whatever is
//     made of it carries no word of where it was taken.
//   - Figures are kept with the method that read them, and its version. When the method
//     changes photos are read anew, and the older figures stay.
//   - Lengths are cm, areas cm², masses g, shares 0 to 1. SD is one standard deviation.
//   - What was not measured has a refusal: why, and how to take it better.
//   - What is learned, burn from verdicts and mass from weighings, is worked out anew each
//     time from all that there is, and never kept with a photo: a verdict that is changed
//     leaves nothing behind.
package photo
