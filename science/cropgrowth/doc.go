// Package cropgrowth answers how fast a lettuce gains mass and leaf area under
// given light, air and CO2. The outlook draws its growth curve from it, and
// package calcium takes the growth of the youngest leaves as the demand for
// calcium.
//
// Two models live here. [VanHenten] is the published two-state canopy model,
// kept to the letter so that it can be checked against an independent run of
// its equations. [Head] is the model that the tool forecasts with: the same
// photosynthesis, growth and respiration, but for one plant on its own ground,
// with a leaf area that stays physical under lamps.
//
// # Why a second model
//
// In VanHenten1994 the leaf area is a fixed 0.075 m² per gram of structural
// shoot mass. That was measured on dim winter crops; under lamps it gives leaf
// area indices of 19 to 56. In Head the leaf area follows from shoot mass by
// an allometric relation of measured plants (WUR2021), thinner in dim light,
// and a plant catches light over its crown until the crowns meet. Light enters
// as photons, since leaves count photons: a joule of lamp light carries more of
// them than a joule of daylight.
//
// # Conventions
//
//   - Masses are dry, in g, unless the name says fresh. Rates are per second in
//     the equations (as the paper has them) and per day where a name says Day.
//   - Canopy quantities are per m² of ground; Head works per plant.
//   - All functions are pure; a step of [Head] changes only its receiver and
//     allocates nothing.
//
// # What is left out, and why
//
// Leaf area does not change with temperature of itself: under lamps it peaks near
// 24 °C (Carotti2021), but the winter crops of VanHenten1994 have broad leaves at
// 17 and 10 °C, and no relation served both. So heads that start with 1.5 g come out
// heaviest in cool air, which real ones do not. Maintenance that falls with growth
// flattened that, and made a winter crop too heavy. Leaf area from structural mass alone made no
// difference to a head, since its sugars never pile up.
//
// Leaf temperature is taken as air temperature (at shelf light it is about one
// degree cooler, Graamans2017), colour of the light acts only through photons,
// and nutrients other than calcium are taken as sufficient. Height is common
// practice, no source: see [Height].
//
// # Sources
//
//   - VanHenten1994: E. J. Van Henten (1994), Validation of a dynamic lettuce
//     growth model for greenhouse climate control, Agricultural Systems 45:55-72.
//   - WUR2021: open data of 388 lettuce plants harvested and measured in a
//     greenhouse, DOI 10.4121/15023088; relations computed from it by the
//     authors of this package.
//   - TalbotMonfet2024: M.-H. Talbot, D. Monfet (2024), Biosystems Engineering
//     238:38-50 (read second-hand).
//   - Sun2025: Sun and others (2025), A lettuce growth model responding to a broad
//     range of greenhouse climates, Biosystems Engineering 250:285-305 (read
//     second-hand).
//   - Frantz2004: J. M. Frantz and others (2004), J. Amer. Soc. Hort. Sci.
//     129:331-338 (abstract).
//   - BogackiShampine1989: P. Bogacki, L. F. Shampine (1989), Applied Mathematics
//     Letters 2:321-325 (from memory).
//   - Carotti2021: L. Carotti and others (2021), Frontiers in Plant Science
//     11:592171 (abstract).
//   - ThimijanHeins1983: R. W. Thimijan, R. D. Heins (1983), HortScience
//     18:818-822 (read second-hand).
package cropgrowth
