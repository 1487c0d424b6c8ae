// Package demo holds the invented scenario that shows the tool: a rack of three
// tiers in a shared cellar, two cultivars, lamps of an invented make, and a
// handful of meter readings with realistic errors. People, places, cultivars and
// lamps are invented.
package demo
