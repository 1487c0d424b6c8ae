package reference

import "slices"

// A Work is one entry of the bibliography.
type Work struct {
	Key     string
	Authors string
	Year    int
	Title   string // empty where it could not be read
	Where   string // journal, publisher, standard
	Read    string // how much of it was read, and what is only remembered
}

// Cite returns the work of a key.
func Cite(key string) (Work, bool) {
	for _, w := range works {
		if w.Key == key {
			return w, true
		}
	}
	return Work{}, false
}

// Works lists the bibliography by key.
func Works() []Work {
	out := slices.Clone(works)
	slices.SortFunc(out, func(a, b Work) int {
		if a.Key < b.Key {
			return -1
		}
		return 1
	})
	return out
}

const (
	full     = "full text"
	abstract = "abstract"
	second   = "second-hand, as quoted elsewhere"
)

// works is in the order of use: units and light, air and leaf, growth, calcium,
// energy and safety.
var works = []Work{
	{"ThompsonTaylor2008", "Thompson A., Taylor B. N.", 2008, "Guide for the Use of the International System of Units (SI)", "NIST Special Publication 811, appendix B", "factors that are exact by definition"},
	{"ASABE2017", "American Society of Agricultural and Biological Engineers", 2017, "Quantities and Units of Optical Radiation for Plants (Photosynthetic Organisms)", "ANSI/ASABE S640", second},
	{"GeneralisedCosine", "common practice", 0, "Generalised cosine law of a lamp, I = I₀ cosᵐ θ", "elementary photometry; no single source", "common practice, no source"},
	{"CIE17", "International Commission on Illumination", 2020, "ILV: International Lighting Vocabulary, term 17-25-104, photometric distance law", "CIE S 017", "the term"},
	{"HowellCatalogue", "Howell J. R.", 2010, "A Catalog of Radiation Heat Transfer Configuration Factors, entries C-11 and C-14", "University of Texas", "as quoted in code that cites the entries"},
	{"SiegelHowell", "Siegel R., Howell J. R.", 1992, "Thermal Radiation Heat Transfer, page 843", "Hemisphere", "one value through the manual of a heat-transfer program; the element factors from memory, confirmed by brute force"},
	{"Janecek2008", "Janecek M., Moses W. W.", 2008, "", "IEEE Transactions on Nuclear Science (reflectance of white and metallic surfaces)", abstract},
	{"Ham1993", "Ham J. M., Kluitenberg G. J., Lamont W. J.", 1993, "Optical properties of plastic mulches affect the field temperature regime", "J. Amer. Soc. Hort. Sci. 118:188-193", abstract},
	{"Meerdink2019", "Meerdink S. K., Hook S. J., Roberts D. A., Abbott E. A.", 2019, "The ECOSTRESS spectral library version 1.0", "Remote Sensing of Environment 230:111196", "spectra, averaged over 400 to 700 nm outside this project"},
	{"EhlertSmith1993", "Ehlert J. R., Smith T. F.", 1993, "View factors for perpendicular and parallel rectangular plates", "Journal of Thermophysics and Heat Transfer 7:173-175", "from memory; checked against entries C-11 and C-14 of HowellCatalogue"},
	{"GoralEtAl1984", "Goral C. M., Torrance K. E., Greenberg D. P., Battaile B.", 1984, "Modeling the interaction of light between diffuse surfaces", "Computer Graphics 18:213-222", "from memory"},
	{"AllenBerkley1979", "Allen J. B., Berkley D. A.", 1979, "Image method for efficiently simulating small-room acoustics", "Journal of the Acoustical Society of America 65:943-950", "from memory; the lattice of images is checked against reflecting one image after the other"},
	{"IESLS6", "Illuminating Engineering Society", 2020, "Lighting Science: Calculation of Light and Its Effects (zonal cavity method)", "ANSI/IES LS-6", "the formulas and 792 values as printed in a published notebook"},
	{"Trefethen2013", "Trefethen L. N.", 2013, "Approximation Theory and Approximation Practice, theorem 19.3", "SIAM", "from memory"},
	{"BerrutTrefethen2004", "Berrut J.-P., Trefethen L. N.", 2004, "Barycentric Lagrange interpolation", "SIAM Review 46:501-517", "from memory"},
	{"LangeLittleTaylor1989", "Lange K. L., Little R. J. A., Taylor J. M. G.", 1989, "Robust statistical modeling using the t distribution", "Journal of the American Statistical Association 84:881-896", "from memory"},
	{"LightMemory", "common practice", 0, "Reflectance of matte white paint 0.80 to 0.90, opaque white film 0.70 to 0.85", "", "from memory, no source"},

	{"Allen1998", "Allen R. G., Pereira L. S., Raes D., Smith M.", 1998, "Crop evapotranspiration", "FAO Irrigation and Drainage Paper 56", "worked examples as quoted in the tests of an open library"},
	{"ASHRAE2017", "ASHRAE", 2017, "Handbook Fundamentals, chapter 1, tables 1 to 3", "ASHRAE", "values as quoted in the tests of an open psychrometrics library"},
	{"Lide2005", "Lide D. R.", 2005, "CRC Handbook of Chemistry and Physics, vapour pressure of water", "CRC Press", second},
	{"HylandWexler1983", "Hyland R. W., Wexler A.", 1983, "", "ASHRAE Transactions 89 (saturation pressure)", "coefficients from memory; they reproduce the ASHRAE table to 3 in 10 000"},
	{"Harrison1963", "Harrison L. P.", 1963, "", "latent heat, in the FAO expert report of 1990", "the report's annex"},
	{"Bonan2019", "Bonan G. B.", 2019, "Climate Change and Terrestrial Ecosystem Modeling, chapter 10", "Cambridge University Press", "supplemental programs 10.1 and 10.2 in the author's repository"},
	{"Graamans2017", "Graamans L., van den Dobbelsteen A., Meinen E., Stanghellini C.", 2017, "Plant factories; crop transpiration and energy balance", "Agricultural Systems 153:138-147, doi 10.1016/j.agsy.2017.01.003", full},

	{"VanHenten1994", "Van Henten E. J.", 1994, "Validation of a dynamic lettuce growth model for greenhouse climate control", "Agricultural Systems 45:55-72, doi 10.1016/S0308-521X(94)90280-1", full},
	{"WUR2021", "open data", 2021, "388 lettuce plants, destructive harvest", "4TU.ResearchData, doi 10.4121/15023088", "the data; means and regressions computed from it outside this project"},
	{"TalbotMonfet2024", "Talbot M.-H., Monfet D.", 2024, "Development of a crop growth model for the energy analysis of controlled agriculture environment spaces", "Biosystems Engineering 238:38-50", second},
	{"ThimijanHeins1983", "Thimijan R. W., Heins R. D.", 1983, "", "HortScience 18:818-822 (photometric, radiometric and quantum light units)", second},
	{"Carotti2021", "Carotti L., Graamans L., Puksic F., Butturini M., Meinen E., Heuvelink E., Stanghellini C.", 2021, "Plant factories are heating up: hunting for the best combination of light intensity, air temperature and root-zone temperature in lettuce production", "Frontiers in Plant Science 11:592171", abstract},
	{"Jin2023", "Jin W., Formiga Lopez D., Heuvelink E., Marcelis L. F. M.", 2023, "Light use efficiency of lettuce cultivation in vertical farms compared with greenhouse and field", "Food and Energy Security 12(1)", abstract},
	{"Jin2023Ramp", "Jin W., Ji Y., Larsen D. H., Huang Y., Heuvelink E., Marcelis L. F. M.", 2023, "", "Scientia Horticulturae (gradually increasing light)", abstract},
	{"Palmer2020", "Palmer S., van Iersel M. W.", 2020, "", "Agronomy 10(11):1659", abstract},
	{"Kang2026", "Kang I., Ding S., Meng Q.", 2026, "", "Frontiers in Plant Science, doi 10.3389/fpls.2026.1763702", abstract},
	{"Palmitessa2026", "Palmitessa O. D. and others", 2026, "", "Frontiers in Plant Science, doi 10.3389/fpls.2026.1783548", abstract},
	{"Baumbauer2019", "Baumbauer D. A., Schmidt C. B., Burgess M. H.", 2019, "Leaf lettuce yield is more sensitive to low daily light integral than kale and spinach", "HortScience 54(12) (authors from memory)", abstract},
	{"KnightMitchell1988", "Knight S. L., Mitchell C. A.", 1988, "", "growth of 'Waldmann's Green' under 460 and 920 µmol m⁻² s⁻¹", abstract},
	{"Voutsinos2021", "Voutsinos O. and others (names from memory)", 2021, "", "Agriculture 11(6):503 (butterhead under lamps in a vertical farm and in daylight)", abstract},
	{"Meikoningin1970", "authors not shown on the page read", 1970, "Lettuce growth and tipburn incidence as influenced by CO2 concentration and light intensity", "", abstract},
	{"Frantz2004", "Frantz J. M., Ritchie G., Cometti N. N., Robinson J., Bugbee B.", 2004, "Exploring the limits of crop productivity: beyond the limits of tipburn in lettuce", "J. Amer. Soc. Hort. Sci. 129:331-338", abstract},

	{"Sago2016", "Sago Y.", 2016, "Effects of light intensity and growth rate on tipburn development and leaf calcium concentration in butterhead lettuce", "HortScience 51:1087-1091", abstract},
	{"BartaTibbitts1991", "Barta D. J., Tibbitts T. W.", 1991, "Calcium localization in lettuce leaves with and without tipburn: comparison of controlled-environment and field-grown plants", "J. Amer. Soc. Hort. Sci. 116:870-875", abstract},
	{"ErtleKubota2023a", "Ertle J., Kubota C.", 2023, "Testing cultivar-specific tipburn sensitivity of lettuce for indoor vertical farms", "HortScience 58(10), doi 10.21273/HORTSCI17313-23", abstract},
	{"ErtleKubota2023b", "Ertle J., Kubota C.", 2023, "", "HortScience 58(10), doi 10.21273/HORTSCI17314-23 (less light at the end of production)", abstract},
	{"Vanhassel2015", "Vanhassel P. and others", 2015, "", "Acta Horticulturae 1107, article 26 (night humidity and tipburn of butterhead)", abstract},
	{"Cox1976", "Cox E. F., McKee J. M. T., Dearman A. S.", 1976, "", "J. Hort. Sci. 51:297-309 (growth rate and tipburn of six cultivars)", abstract},
	{"CollierTibbitts1984", "Collier G. F., Tibbitts T. W.", 1984, "", "J. Amer. Soc. Hort. Sci. 109:128 (humidity by day and night)", "abstract in part"},
	{"PalzkillTibbitts1977", "Palzkill D. A., Tibbitts T. W.", 1977, "", "Plant Physiology 60:854 (root pressure carries calcium into covered leaves)", abstract},
	{"KSC2006", "Kennedy Space Center", 2006, "", "SAE paper 2006-01-2029; HortScience 40:1009 (2005)", abstract},
	{"Gaudreau1994", "Gaudreau L. and others", 1994, "", "HortScience 29:1285", abstract},
	{"Hartz2007", "Hartz T. K. and others", 2007, "", "HortScience 42:1681", abstract},
	{"OptimIA2023", "OptimIA project", 2023, "", "trade article on downward air over lettuce", second},
	{"BrechnerBoth2013", "Brechner M., Both A. J.", 2013, "Hydroponic Lettuce Handbook", "Cornell University (year about)", second},

	{"Kusuma2020", "Kusuma P., Pattison P. M., Bugbee B.", 2020, "From physics to fixtures to food: current and potential LED efficacy", "Horticulture Research 7:56", "abstract and opening"},
	{"Ohyama2020", "Ohyama K. and others", 2020, "", "Agronomy 10:723", abstract},
	{"OSHATableZ1", "Occupational Safety and Health Administration", 2024, "Limits for air contaminants, 29 CFR 1910.1000, table Z-1", "Code of Federal Regulations (year of reading)", "the entry for carbon dioxide"},
	{"IEC62471", "International Electrotechnical Commission", 2006, "Photobiological safety of lamps and lamp systems", "IEC 62471", "excerpt"},
}
