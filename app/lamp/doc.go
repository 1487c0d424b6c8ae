// Package lamp answers what kind of lamps hang over a bench: how they spread
// their light, how many photons they give for their electricity, what colour
// their light has and what is published about such light. The lamp page, the
// report and the commands spectrum and lamp use it.
//
// # Conventions
//
// Lamps of one kind share one answer. What is not known of a lamp is left out:
// without a photometric file its beam is the round one of its angle, without a
// spectrum nothing is said of its colour.
//
// # Sources
//
// Those of science/photometry and science/spectrum; each figure names its own.
package lamp
