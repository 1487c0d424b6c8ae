// Package nutrients answers what to weigh for a feed, what the feed then is, and what brings a
// running tank back.
//
// # Mixing
//
// A target, the analysis of the water and the products in the cupboard are put together by weighted least
// squares with no amount below 0, or by the least cost within tolerance ([Problem.Solve]). The pH
// is one more equation: acid and bases must bring the alkalinity that the wanted pH has. What
// cannot be met is told with its cause, and every known substance is tried as a remedy.
//
// # Chemistry
//
// Ions are parted into free ones and pairs by their equilibrium constants, with activities by the extended law of
// Debye and Hückel in the form of Truesdell and Jones. The pH follows from the alkalinity: the
// charge of the strong ions against CO2, H2PO4⁻ and NH4⁺. Carbon is either kept ([Solution.Closed]) or in
// balance with air ([Solution.Open]).
//
// EC is a sum over ions,
//
//	EC = Σ |z| c λ(t, I)
//
// with λ from the measured conductivities of single salts at the same ionic strength
// (McCleskey2011): potassium nitrate less potassium chloride, calcium chloride less potassium chloride, and so on. No
// coefficient is fitted to feeds. H2PO4⁻ and HPO4²⁻ have no salt there and follow bicarbonate and
// sulfate.
//
// # Conventions
//
//   - Amounts are mmol/L, phosphorus, sulfur and nitrogen as the element; alkalinity is meq/L;
//     products are in g, liquids in mL; temperatures in °C; EC in mS/cm at 25 °C.
//   - A litre of feed is taken to hold a kilogram of water.
//   - Functions keep no state and may run in parallel.
//
// # What is left out, and why
//
// Iron chelates are counted as iron alone: labels do not say what else they bring, and it is below
// 1 % of the charges. Redox, silica, fluoride, hydroxyapatite (solutions are oversaturated with it above pH 6 and
// it does not form at once) are left out. In stocks beyond an ionic strength of about 1 mol/L activities are
// rough, and EC is outside of what the salts were measured for.
//
// # Sources
//
//   - IUPAC2021: atomic weights.
//   - McCleskey2011: conductivities of salts (coefficients second-hand).
//   - PHREEQC2013: equilibrium constants of the databases phreeqc.dat and minteq.v4.dat.
//   - Pitzer1973: osmotic coefficient.
//   - HoaglandArnon1950, SonneveldStraver1994, Steiner1984, BrechnerBoth2013, LettuceRecipe2014, Yamazaki1982: recipes.
package nutrients
