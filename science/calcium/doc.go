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
// and dilution by growth, apart for the light and the dark hours:
//
//	dc/dt = X w − r c
//
// with X the calcium in the sap that reaches them, w their water per dry mass,
// and r their relative growth rate. What is supplied for each gram grown is X w / r.
// Below the need N the tissue is in want, in full want at 0.45 N; the greater the want,
// the more of the young leaves burn each day.
//
// # Temperature
//
// A closed heart has no light to warm it. What it evaporates takes its heat from the air,
// by the same closed path by which the vapour leaves, so it cools toward the wet bulb, and
// its water is held to
//
//	w ∝ D / (r_s + r_a + (1 + s/γ) R)
//
// R the path through the heart, s/γ the slope of the saturation curve over the
// psychrometric constant (the balance of Penman without radiation). At equal humidity
// the deficit D is half as high again at 24 as at 17 °C, the water of a closed heart a
// sixth more. Open leaves get their heat from the lamps and stay within a degree or so of the
// air (Graamans2017); there the factor is left out. Stomata close as the air dries
// (leafenergy.DryAirOpening).
//
// Young leaves can grow faster where it is warm (Scaife1973), but no faster than the plant
// lays down dry mass. Cool roots bring less: sap is as fluid as water.
//
// # The feed
//
// Roots take up calcium by its activity, along a saturating law with a published constant
// (RootCalcium1973), against ammonium, magnesium and potassium; see [Feed.Uptake]. At the
// levels of common feeds that is nearly saturated, so more calcium hardly helps. Salt
// lowers root pressure and the activity.
//
// # What must hold (and is held by checks, docs/validation.md)
//
// More light: more burn, sooner, while calcium of the inner leaves does not
// rise (Sago2016). Air onto the heart removes burn at any light (Frantz2004).
// Enriched CO2: sooner. Nights above 95 % humidity: far less (Vanhassel2015).
// Low evaporation by day: more (ErtleKubota2023a). More calcium in the feed:
// hardly any help (Hartz2007). Hot air over cool roots: worst (Carotti2021).
//
// # What is assumed
//
// Nothing published gives the resistance to water vapour inside a closing
// heart. HeartResistance is a fitted parameter with a wide spread, and so are
// the enclosing mass, the draught in a heart, the sap and the flow by root pressure. They
// were fitted together with the need and with what a dry night costs to the results marked
// "calibrate" in docs/validation.md; taken one by one they are no measurements.
//
// The transpiration of a closed heart in the dark is left out: stomata are shut. So is what
// the sap loses on the way: it carries the same calcium to the heart as to open leaves.
// Sap does not grow thinner as a plant transpires more; that was thought of and goes against
// Sago2016, where calcium in the whole plant rose with light (not tried).
//
// Burn of the outer leaf margins by salt and dry air is another mechanism: package
// marginburn.
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
//   - Scaife1973: growth of seedlings of six cultivars at four temperatures (abstract).
//   - RootCalcium1973, AmmoniumLettuce, BresWeston1992: uptake and its rivals (abstracts).
//   - Kielland1937, GriffinJurinak1973: activity, ionic strength from EC (from memory).
package calcium
