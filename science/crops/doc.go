// Package crops holds what is published of a head type of lettuce or of another
// leafy green, apart from what holds for lettuce at large. It answers: by which
// figures does romaine differ from the lettuce that the forecast knows, and may
// growth and burn of spinach be forecast at all?
//
// # Conventions
//
// Each crop is a CSV file in data. The lines at its top, "# key: value", say what it
// is, and whether growth and burn are supported, on which sources, and why not if
// not. Each row is a fact of one of three kinds:
//
//   - number: a published figure with its spread and its sources;
//   - reference: the figure of lettuce rests on this crop;
//   - unsupported: no data support a figure of its own. The text says why.
//
// A spread is the standard deviation of the logarithm, of a temperature in °C that
// in °C; 0 marks a rule of trade, which has none. What a spread is not read but
// assumed says its text. A number with an entry under "enters" is a factor on that
// uncertain trait of headcycle. Every other number is for reading: it does not enter
// a forecast.
//
// # What is left out, and why
//
// Cultivars: what one does in a room is learned from its own crops, see headlearn. The
// size of a seedling, days and spacing: they are the grower's.
//
// # Sources
//
//   - USDASR2018: dry share of the edible part by type and species.
//   - ErtleKubota2023a, FieldTipburn1974: head type does not explain burn.
//   - Baumbauer2019: kale and spinach beside lettuce. Others stand with each fact.
package crops
