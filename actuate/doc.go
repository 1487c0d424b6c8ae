// Package actuate turns lamps: it asks package act every few seconds what each should be
// set to, and tells them over MQTT, retained, when it changes and after each connection.
//
// Nothing is sent unless the description of the acting says so; else it is only logged
// what would be. Through an outside broker each lamp has a connection of its own, whose
// last will sets it to its safe state if the program dies. Through our own broker there is
// no such will, for the broker dies with the program: the device must go to a safe state
// by itself when it loses its broker. When the program ends in order it sets all lamps to
// their safe state.
//
// What was set, and how long each lamp was lit, is a document of kind "act state" in the
// store, so that the limits of a day hold over a new start. While the program was away a
// lamp counts as it was left.
//
// It is never the only safety device: see docs/formats/act.md.
package actuate
