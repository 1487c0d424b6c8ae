// Package archive writes all of a store into one file of open parts, and fills an empty
// store from it, whichever engine either has.
//
// The file is a ZIP:
//
//   - README.txt says what the parts are.
//   - TABLE.jsonl holds the entries of a table, a JSON object a line. Bytes that are
//     text stand as text, others as {"base64": …}; large ones are parts of their own,
//     named by {"part": …}.
//   - readings/SENSOR.csv holds what a sensor read: at_us (µs since 1970-01-01 UTC) and
//     value, in order. SENSOR is its id in sensor.jsonl.
//   - forgotten/SENSOR.csv holds the sums of the hours whose readings were forgotten on
//     purpose.
//   - manifest.json, the last, holds the layout and, of every part, length and SHA-256.
//
// A file that was cut or changed is refused before anything is entered. Memory does not
// grow with the number of readings.
package archive
