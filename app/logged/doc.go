// Package logged tells what a data logger has read on a bench: light by day, and
// temperature, humidity and vapour pressure deficit while the lamps are on and while they
// are off. It sets them beside what the bench file says, in the words of the bench file.
//
// Readings stand for the time around them: half of the way to the one before and
// after, at most one and a half times the usual step, so that a gap is no reading. Days are
// those of a zone; a day counts where nine tenths of it are covered, and for DLI and hours
// of light, which a gap would make too small, all but a fiftieth.
//
// The lamps are on while PPFD is above a tenth of its upper level (the 90th percentile),
// or, without a light sensor, in the hours given.
//
// The deficit is the mean of deficits, not the deficit of means, which would be too
// small wherever temperature moves. Source: Allen1998, equations 11 and 17, in package
// moistair.
package logged
