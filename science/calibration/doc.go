// Package calibration runs the plant model under the conditions of published
// experiments, and fits its free parameters to the results that are marked for
// calibration. Package validation prints what comes out; the rows marked
// "check" are never touched here but to compute what the model says.
//
// # Conditions that were not printed
//
// Most experiments could be read in their abstracts only. What an abstract
// leaves out is assumed (22 °C, 65 % humidity by day and 75 % by night, 450 ppm
// CO2, still air, 25 plants per m², 1.5 g fresh at transplanting, 16 h), and
// every result is computed again with those assumptions moved; the span that
// this opens stands beside it.
//
// # Sources
//
// The keys of the experiments are those of the bibliography in
// science/reference.
package calibration
