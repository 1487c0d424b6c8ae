// Package feedbook answers: which feeds of a folder are those of a bench, what would another
// recipe or volume make of one, what was read of the tank, and how is that written down?
//
// It stands between the feed files of a folder and package feed, as trialbook does for trials:
// pages and programs write through it, so that both keep the same and refuse the same. Nothing
// is written unless the whole file can be read afterwards.
package feedbook
