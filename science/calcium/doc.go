// Package calcium answers whether the youngest leaves of a lettuce get the
// calcium that their growth needs, and so whether and when the heart burns
// (inner tipburn).
//
// # The idea
//
// Calcium moves with the water that a leaf evaporates. The open leaves
// evaporate freely; the young leaves in the closing heart hardly do, so they
// live on the little air that reaches them by day and on the sap that root
// pressure lifts on moist nights. More light makes them grow faster and close
// earlier but brings them hardly more water: their calcium is diluted.
//
// Calcium in young leaves, c in mg per g of dry mass, is a balance of import
// and dilution by growth:
//
//	dc/dt = X (w_day + w_night) − r c
//
// with X the calcium in the sap that reaches them, w their water per dry mass,
// and r their relative growth rate. In a steady state c = X w / r: what is
// supplied for each gram grown. Below the need N the tissue is in want; the
// greater the want, the more of the young leaves burn each day.
//
// # What must hold (and is held by checks, docs/validation.md)
//
// More light: more burn, sooner, while calcium of the inner leaves does not
// rise (Sago2016). Air onto the heart removes burn at any light (Frantz2004).
// Enriched CO2: sooner. Nights above 95 % humidity: far less (Vanhassel2015).
// Low evaporation by day: more (ErtleKubota2023a). More calcium in the feed:
// hardly any help (Hartz2007).
//
// # What is assumed
//
// Nothing published gives the resistance to water vapour inside a closing
// heart. HeartResistance is a fitted parameter with a wide spread, and so are
// the enclosing mass and the growth rate of young leaves. They were fitted
// together with the need and with what a dry night costs to the results marked
// "calibrate" in docs/validation.md; taken one
// by one they are no measurements.
//
// Burn of the outer leaf margins by salt and dry air is another mechanism and
// is not computed here.
//
// # Conventions
//
// Vapour deficits are in g m⁻³, air speeds in m s⁻¹, temperatures in °C,
// calcium in mg per g dry mass, rates per day. A step changes only its
// receiver and allocates nothing.
//
// # Sources
//
//   - BartaTibbitts1991: D. J. Barta, T. W. Tibbitts (1991), J. Amer. Soc. Hort.
//     Sci. 116:870-875 (abstract): injured 20-mm leaves 0.2-0.3 mg Ca per g
//     dry, sound parts of burnt plants 0.4-0.5, healthy leaves 1.0-1.6.
//   - Sago2016, Frantz2004, ErtleKubota2023a, ErtleKubota2023b, Vanhassel2015,
//     CollierTibbitts1984, PalzkillTibbitts1977, Hartz2007: see the
//     bibliography in science/reference.
//   - Graamans2017: boundary layer of lettuce leaves after Fuchs (1993).
package calcium
