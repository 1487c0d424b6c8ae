// Package leafenergy answers how much water leaves lose and how warm they are:
// for one leaf with its boundary layer, and for a closed stand of lettuce. The
// outlook takes the water of a plant from it.
//
// # Conventions
//
//   - Fluxes are in W per m² of leaf or of ground, as each function says;
//     positive away from the leaf. Resistances are in s m⁻¹, conductances in mol
//     m⁻² s⁻¹.
//   - Leaf temperature is found by bisection or Newton's method on the balance,
//     never by repeating it: where free convection switches on and off a
//     repetition can swing for ever.
//
// # What is left out, and why
//
// The stand is that of Graamans2017, whose resistances are for its open leaves;
// nothing here is known of the leaves inside a head (see package calcium). Its
// resistance in the dark is known to be too high: the paper measured 0.016 g
// m⁻² s⁻¹ where it computes 0.011.
//
// # Sources
//
//   - Bonan2019: G. B. Bonan (2019), Climate Change and Terrestrial Ecosystem
//     Modeling, chapter 10 with its supplemental programs.
//   - Graamans2017: L. Graamans, A. van den Dobbelsteen, E. Meinen, C.
//     Stanghellini (2017), Plant factories; crop transpiration and energy
//     balance, Agricultural Systems 153:138-147.
package leafenergy
