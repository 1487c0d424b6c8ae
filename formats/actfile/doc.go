// Package actfile reads how the program may turn the lamps of a bench, and what a person
// wants of them meanwhile. docs/formats/act.md describes both texts.
//
// A lamp is turned only if the text says so ("acting: yes"), and every limit must be
// written: here nothing is assumed.
package actfile
