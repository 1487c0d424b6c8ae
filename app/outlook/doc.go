// Package outlook forecasts what a setting of a bench will bring: growth,
// water, calcium and the chance of inner tipburn, electricity and money, day by
// day to harvest; and it finds the best setting within the grower's limits.
//
// # Conventions
//
//   - A forecast is an ensemble: the same cycle run with many draws of the
//     uncertain traits (headcycle.LettuceSpread) and of the light level. Bands
//     are quantiles of the draws, 90 % of them inside.
//   - One draw is one possible plant of one possible cultivar. The chance of
//     burn is the share of draws that burn before harvest: for the grower, the
//     share of heads to expect with burn, when no more is known of the cultivar
//     than was described.
//   - Draws come from a fixed seed. Two settings are compared on the same draws,
//     so their difference is not blurred by chance.
//   - Plants are taken together in classes of equal light, at most six.
//   - Saleable mass counts heads without visible burn that weigh at least what
//     the grower sells and are not left loose by dim light (headcycle.Traits).
//
// # What the band leaves out
//
// That the model itself may be wrong (see docs/validation.md for its errors on
// published trials), disease, uneven transplants, a meter that was not read,
// and anything that changes during the cycle.
package outlook
