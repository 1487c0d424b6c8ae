// Package trouble finds out what is wrong with plants of a bench: it turns symptoms that
// somebody picked, answers, and the records of the bench into findings, has package
// diagnosis rank the causes, and says what to change first, what the outlook expects of it,
// and when to look again. It keeps cases with their outcomes and counts how often the first
// cause was right here.
//
// # Records
//
// A record is trusted by where it comes from: sensors of the last days most, then what was
// written down as measured, then what was said. What nobody gave is a default, and a
// default is no evidence: it is shown, and counts for nothing. The chance of burn of the
// outlook is no evidence either: it is made of the same records.
//
// # What the outlook knows
//
// Growth by light, air and CO2, and burn of the heart. Of salt, disease, other nutrients
// and water that fails it knows nothing; a first change against them has no forecast, or
// one of burn and mass alone, and says so.
package trouble
