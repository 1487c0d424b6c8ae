// Package feed is the answer of the page Feed: what to weigh for a bench's nutrient solution, what
// it then is, what is off target and why, how it is kept as a stock, and what brings a
// running tank back. Web and command line show the same answer.
//
// Amounts are rounded to the step of the scale, and everything that is shown is of the rounded
// amounts. What is too little for the scale is weighed into a litre of micro stock and measured by volume.
package feed
