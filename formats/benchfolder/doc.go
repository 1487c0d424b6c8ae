// Package benchfolder opens what a bench file names: photometric files,
// spectra and profiles that lie in its folder. Commands and pages read benches through it;
// package benchfile itself reads text only.
package benchfolder
