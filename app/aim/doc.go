// Package aim settles how a bench should be set to give its plants the light that
// the grower wants: Reach finds heights, dimming and hours for a target of PPFD or
// DLI with the least electricity or as evenly as can be; Match brings two benches,
// or two groups of plants under unlike lamps, to one level; Raise says by which
// day the lamps go up as the canopy grows. The commands aim, match and raise print
// its answers.
//
// # Method
//
// Heights, hours and layouts of lamps are tried one by one within the limits of
// the bench; the dimmings of each are worked out exactly by science/lightaim. As
// free dimmers can never need more than stepped ones, settings are looked at from
// the cheapest free answer on, and the search ends when no other can win.
//
// # Conventions
//
//   - Light is that of a plant's crown at the height of the canopy asked for,
//     the planting surface if nothing is said.
//   - The uncertainty of the level is common to all plants and normal in the
//     logarithm (light.Model.LevelSD). A target met exactly is met with a chance of
//     one half: Ask.Sure asks for more.
//   - A lamp follows its measured dimming curve; without one it draws power in
//     proportion to its dimming unless Ask.Power says
//     otherwise: common practice, no source.
//   - What is proposed is a setting to try; nothing is written to the bench.
//
// # What is left out, and why
//
// Growth and tipburn: whether the target is a good one is asked of app/outlook.
// The price of lamps, where their number is searched. Turning lamps about.
//
// # Sources
//
//   - Chvatal1983, GoldfarbIdnani1983, LandDoig1960, Haimes1971: see
//     science/lightaim.
//   - ASABE2017: PPFD and DLI.
package aim
