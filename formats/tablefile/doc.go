// Package tablefile reads and writes which column of a data logger's table is which
// sensor. It answers, for a table with a certain heading from a certain place: by whose
// clock are its times, and under which names are its columns kept?
//
// The program writes such a text when it meets a table for the first time, and the person
// changes what was guessed wrongly. docs/formats/intake.md describes it.
package tablefile
