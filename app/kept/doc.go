// Package kept keeps the benches of a folder in a store, with their history, and shows
// those of a store as a folder, so that what reads benches need not know which of the
// two it has.
//
// A bench is known by the name of its file without the ending. What lies beside it (cycle
// files, profiles, photometric files, spectra, tables) is kept under its own name as a
// document; of it the newest counts. Bytes come out as they went in.
package kept
