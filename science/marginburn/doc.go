// Package marginburn answers whether salt and dry air put the margins of the outer
// leaves of lettuce at risk. That is another burn than the inner tipburn of package
// calcium, with other cures: what dries the outer leaves helps the heart.
//
// # The idea
//
// Water leaves an outer leaf and its salt stays, most of all at the margin, where the
// flow ends. Two published limits bound what lettuce bears:
//
//   - salt: yield falls by 13 % for each dS/m of the saturated soil extract above 1.3
//     (Maas1990). Roots in solution meet the salt of soil water at field capacity, which
//     is about twice that of the extract (AyersWestcot1985), so the limit for a feed is
//     taken as 2.6 mS/cm;
//   - air: a handbook of hydroponic lettuce asks for 50 to 70 % humidity at 24 °C by day,
//     because drier air burns the edges of outer leaves (BrechnerBoth2013, second-hand):
//     a vapour pressure deficit of 1.49 kPa.
//
// # What is assumed
//
// No published count of burnt margins against salt and air was found, so there is no
// chance here, only a grade. That a grade is "high" beyond both limits, or where the
// salt that transpiration carries is twice that at both, is assumed, no source.
//
// # Conventions
//
// EC in mS cm⁻¹ at 25 °C, deficits in kPa. Pure functions.
//
// # Sources
//
//   - Maas1990: E. V. Maas (1990), relative salt tolerance of herbaceous crops (the
//     table, on a page of the U.S. Salinity Laboratory); after Maas and Hoffman (1977).
//   - AyersWestcot1985: FAO Irrigation and Drainage Paper 29 (from memory).
//   - BrechnerBoth2013: see the bibliography in science/reference.
package marginburn
