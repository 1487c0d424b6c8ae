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
// dimming, energy and safety, then pictures and files.
var works = []Work{
	{"ThompsonTaylor2008", "Thompson A., Taylor B. N.", 2008, "Guide for the Use of the International System of Units (SI)", "NIST Special Publication 811, appendix B", "factors that are exact by definition"},
	{"ASABE2017", "American Society of Agricultural and Biological Engineers", 2017, "Quantities and Units of Optical Radiation for Plants (Photosynthetic Organisms)", "ANSI/ASABE S640", second},
	{"GeneralisedCosine", "common practice", 0, "Generalised cosine law of a lamp, I = I₀ cosᵐ θ", "elementary photometry; no single source", "common practice, no source"},
	{"CIE17", "International Commission on Illumination", 2020, "ILV: International Lighting Vocabulary, term 17-25-104, photometric distance law", "CIE S 017", "the term"},
	{"CIE015", "International Commission on Illumination", 2018, "Colorimetry, 4th edition: spectra of the illuminants FL, HP and LED", "CIE 015:2018", "the spectra; factors computed from them outside this project"},
	{"Sobol2001", "Sobol' I. M.", 2001, "Global sensitivity indices for nonlinear mathematical models and their Monte Carlo estimates", "Mathematics and Computers in Simulation 55:271-280", "from memory; the formulas of the test function are worked out again in the test"},
	{"Kelley1935", "Kelley T. L.", 1935, "An unbiased correlation ratio measure", "Proceedings of the National Academy of Sciences 21:554-559", "from memory; held by tests on functions with known shares"},
	{"IshigamiHomma1990", "Ishigami T., Homma T.", 1990, "An importance quantification technique in uncertainty analysis for computer models", "First International Symposium on Uncertainty Modeling and Analysis", "from memory; its integrals are elementary"},
	{"LM63", "Illuminating Engineering Society", 2019, "Standard File Format for the Electronic Transfer of Photometric Data", "ANSI/IES LM-63 (1986, 1991, 1995, 2002, 2019)", "excerpts, and open programs that read all five versions"},
	{"TM21", "Illuminating Engineering Society", 2021, "Projecting Long-Term Luminous, Photon, and Radiant Flux Maintenance of LED Light Sources", "ANSI/IES TM-21", "from memory: the exponential; its limit of six times the hours tested is not checked here"},
	{"LM57", "Illuminating Engineering Society", 1982, "Recommended procedure for calculating coefficients of utilization, wall and ceiling cavity exitance", "IES LM-57, now in ANSI/IES LS-6 (year from memory)", "the formulas, in an open notebook and an open program that cite it"},
	{"UtilisationNotebook", "open notebook", 2023, "Coefficients of utilisation from photometric files, after ANSI/IES LS-6", "GitHub echowuzangye/CU-calculations-based-on-IES-file (year about)", "in full, with its files and printed results"},
	{"Stockmar1990", "Stockmar A.", 1990, "EULUMDAT, a data format for luminaires (version 2 of 1998)", "published tables of its lines", second},
	{"HowellCatalogue", "Howell J. R.", 2010, "A Catalog of Radiation Heat Transfer Configuration Factors, entries C-11 and C-14", "University of Texas", "as quoted in code that cites the entries"},
	{"AbramowitzStegun1964", "Abramowitz M., Stegun I. A.", 1964, "Handbook of Mathematical Functions, formulas 4.4.46 and 4.4.49", "National Bureau of Standards, Applied Mathematics Series 55", "from memory; held by a test against the library"},
	{"SiegelHowell", "Siegel R., Howell J. R.", 1992, "Thermal Radiation Heat Transfer, page 843", "Hemisphere", "one value through the manual of a heat-transfer program; the element factors from memory, confirmed by brute force"},
	{"Janecek2008", "Janecek M., Moses W. W.", 2008, "", "IEEE Transactions on Nuclear Science (reflectance of white and metallic surfaces)", abstract},
	{"Pozzobon2020", "Pozzobon V., Levasseur W., Do K.-V., Palpant B., Perré P.", 2020, "Household aluminum foil matte and bright side reflectivity measurements: application to a photobioreactor light concentrator design", "Biotechnology Reports 25:e00399 (volume from memory)", abstract},
	{"Ham1993", "Ham J. M., Kluitenberg G. J., Lamont W. J.", 1993, "Optical properties of plastic mulches affect the field temperature regime", "J. Amer. Soc. Hort. Sci. 118:188-193", abstract},
	{"Meerdink2019", "Meerdink S. K., Hook S. J., Roberts D. A., Abbott E. A.", 2019, "The ECOSTRESS spectral library version 1.0", "Remote Sensing of Environment 230:111196", "spectra, averaged over 400 to 700 nm outside this project"},
	{"EhlertSmith1993", "Ehlert J. R., Smith T. F.", 1993, "View factors for perpendicular and parallel rectangular plates", "Journal of Thermophysics and Heat Transfer 7:173-175", "from memory; checked against entries C-11 and C-14 of HowellCatalogue"},
	{"GoralEtAl1984", "Goral C. M., Torrance K. E., Greenberg D. P., Battaile B.", 1984, "Modeling the interaction of light between diffuse surfaces", "Computer Graphics 18:213-222", "from memory"},
	{"AllenBerkley1979", "Allen J. B., Berkley D. A.", 1979, "Image method for efficiently simulating small-room acoustics", "Journal of the Acoustical Society of America 65:943-950", "from memory; the lattice of images is checked against reflecting one image after the other"},
	{"IESLS6", "Illuminating Engineering Society", 2020, "Lighting Science: Calculation of Light and Its Effects (zonal cavity method)", "ANSI/IES LS-6", "the formulas and 792 values as printed in a published notebook"},
	{"Trefethen2013", "Trefethen L. N.", 2013, "Approximation Theory and Approximation Practice, theorem 19.3", "SIAM", "from memory"},
	{"BerrutTrefethen2004", "Berrut J.-P., Trefethen L. N.", 2004, "Barycentric Lagrange interpolation", "SIAM Review 46:501-517", "from memory"},
	{"LangeLittleTaylor1989", "Lange K. L., Little R. J. A., Taylor J. M. G.", 1989, "Robust statistical modeling using the t distribution", "Journal of the American Statistical Association 84:881-896", "from memory"},
	{"SensorMakers", "two makers of quantum sensors", 0, "Pages and manuals: calibration within 5 %, directional error about 2 % at 45° and 5 % at 75°", "", "the pages"},
	{"RasmussenWilliams2006", "Rasmussen C. E., Williams C. K. I.", 2006, "Gaussian Processes for Machine Learning, algorithm 2.1, sections 2.7 and 5.4", "MIT Press", "from memory; checked against scikit-learn 1.2.1"},
	{"Vehtari2021", "Vehtari A., Gelman A., Simpson D., Carpenter B., Bürkner P.-C.", 2021, "Rank-normalization, folding, and localization: an improved R-hat for assessing convergence of MCMC", "Bayesian Analysis 16:667-718", "the thresholds from memory; the diagnostics are held by tests against an open package"},
	{"GneitingRaftery2007", "Gneiting T., Raftery A. E.", 2007, "Strictly proper scoring rules, prediction, and estimation", "J. Amer. Stat. Assoc. 102:359-378", "equation 43 as open packages quote it; the rest from memory, held by tests against the closed form for a normal forecast"},
	{"Brier1950", "Brier G. W.", 1950, "Verification of forecasts expressed in terms of probability", "Monthly Weather Review 78:1-3", "from memory"},
	{"ChalonerVerdinelli1995", "Chaloner K., Verdinelli I.", 1995, "Bayesian experimental design: a review", "Statistical Science 10:273-304", "from memory"},
	{"LightMemory", "common practice", 0, "Reflectance of matte white paint 0.80 to 0.90, opaque white film 0.70 to 0.85", "", "from memory, no source"},

	{"BIPM2019", "International Bureau of Weights and Measures", 2019, "The International System of Units (SI), 9th edition: exact h, c and N_A", "BIPM", "the constants"},
	{"CIE018", "International Commission on Illumination", 2019, "The Basis of Physical Photometry, 3rd edition, table 1: V(λ)", "CIE 018:2019, doi 10.25039/CIE.DS.dktna2s3", "the table; the constant 683.002 lm/W from memory, confirmed by specplot"},
	{"CIE11664", "International Commission on Illumination", 2022, "Colorimetry: part 1, standard observers; part 2, standard illuminants A and D65", "ISO/CIE 11664", "tables, from open copies; the formula of A from memory, it gives all 531 printed values"},
	{"CIE15", "International Commission on Illumination", 2018, "Colorimetry, 4th edition", "CIE 015:2018", "tables of daylight and of lamps, from open copies; formulas and section numbers from memory"},
	{"Argyll", "Gill G. W.", 2022, "specplot 2.3.1", "package argyll of Debian, a general colour program", "run outside this project, output in a table"},
	{"McCree1972", "McCree K. J.", 1972, "The action spectrum, absorptance and quantum yield of photosynthesis in crop plants", "Agricultural Meteorology 9:191-216, doi 10.1016/0002-1571(71)90022-7", "abstract; tables as typed in open data"},
	{"Mancinelli1994", "Mancinelli A. L.", 1994, "The physiology of phytochrome action", "Photomorphogenesis in Plants, 2nd edition, 211-269, doi 10.1007/978-94-011-1884-2_10", "table as typed in open data"},
	{"Aphalo2015", "Aphalo P. J.", 2015, "The r4photobiology suite", "user guides of the R packages photobiology and photobiologyPlants (year from memory)", "printed results for the cross-sections of Mancinelli1994"},
	{"Zhen2021", "Zhen S., van Iersel M. W., Bugbee B.", 2021, "Why far-red photons should be included in the definition of photosynthetic photons and the measurement of horticultural fixture efficacy", "Frontiers in Plant Science 12:693445 (title from memory)", "opening sections"},
	{"Snowden2016", "Snowden M. C., Cope K. R., Bugbee B.", 2016, "Sensitivity of seven diverse species to blue and green light: interactions with photon flux", "PLoS ONE 11(10):e0163121 (title from memory)", abstract},
	{"Cope2013", "Cope K. R., Bugbee B.", 2013, "Spectral effects of three types of white light-emitting diodes on plant growth and development: absolute versus relative amounts of blue light", "HortScience 48(4):504-509 (title from memory)", abstract},
	{"Kusuma2021", "Kusuma P., Swan B., Bugbee B.", 2021, "", "Plants 10(4):637 (blue and green photons, lettuce among others)", abstract},
	{"Meng2020", "Meng Q., Runkle E. S.", 2020, "", "Frontiers in Plant Science 11:571788 (blue, green and red, 'Rouxai' lettuce)", abstract},
	{"ZhenBugbee2020", "Zhen S., Bugbee B.", 2020, "", "Frontiers in Plant Science 11:581156 (far-red in place of other photons)", abstract},
	{"Kong2018", "Kong Y., Stasiak M., Dixon M. A., Zheng Y.", 2018, "", "blue light and elongation of four bedding plants (journal from memory: Environmental and Experimental Botany)", abstract},
	{"KongZheng2024", "Kong Y., Zheng Y.", 2024, "", "Plants 13:115 (review of blue light and elongation)", "abstract and extract"},
	{"FarRedLettuce2024", "authors not shown on the page read", 2024, "", "Frontiers in Plant Science, doi 10.3389/fpls.2024.1492431 (far-red and lettuce by stage)", abstract},
	{"Legendre2021", "Legendre R., van Iersel M. W.", 2021, "", "Plants 10:166 (supplemental far-red and lettuce canopies)", abstract},
	{"Liu2023", "Liu J., van Iersel M. W.", 2023, "", "J. Amer. Soc. Hort. Sci. 148(6):253 (far-red against red photons in lettuce; initials from memory)", abstract},
	{"Hoenecke1992", "Hoenecke M. E., Bula R. J., Tibbitts T. W.", 1992, "", "HortScience 27:427-430 (blue photon levels for lettuce seedlings under red diodes)", "excerpt"},
	{"Poulet2014", "Poulet L. and others", 2014, "", "Life Sciences in Space Research 2:43-53 (red and blue diodes, 'Waldmann's Green')", abstract},
	{"Kohler2024", "Kohler A. E., Runkle E. S.", 2024, "", "HortScience 59(7):903 (blue share and daily light of lettuce)", abstract},

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
	{"Sun2025", "Sun W. and others (initial from memory)", 2025, "A lettuce growth model responding to a broad range of greenhouse climates", "Biosystems Engineering 250:285-305, doi 10.1016/j.biosystemseng.2025.01.008", second},
	{"BogackiShampine1989", "Bogacki P., Shampine L. F.", 1989, "A 3(2) pair of Runge-Kutta formulas", "Applied Mathematics Letters 2:321-325", "from memory; the orders are held by a test"},
	{"Zhou2022", "Zhou J., Li P., Wang J. (names from memory)", 2022, "Effects of light intensity and temperature on the photosynthesis characteristics and yield of lettuce", "Horticulturae 8(2):178", abstract},
	{"HicklentonWolynetz1987", "Hicklenton P. R., Wolynetz M. S. (first name from memory)", 1987, "Influence of light- and dark-period air temperatures and root temperature on growth of lettuce in nutrient flow systems", "J. Amer. Soc. Hort. Sci. 112 (volume and year from memory)", abstract},
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
	{"LoneraganSnowball1969", "Loneragan J. F., Snowball K.", 1969, "Calcium requirements of plants", "Australian Journal of Agricultural Research 20:465-478", "from memory"},
	{"OptimIA2023", "OptimIA project", 2023, "", "trade article on downward air over lettuce", second},
	{"BrechnerBoth2013", "Brechner M., Both A. J.", 2013, "Hydroponic Lettuce Handbook", "Cornell University (year about)", second},
	{"Mirza2019", "Chiu G., quoting M. Mirza", 2019, "", "trade article on two burns of greenhouse lettuce, August 2019", "its beginning"},
	{"Scaife1973", "Scaife M. A. (author from memory)", 1973, "The early relative growth rates of six lettuce cultivars as affected by temperature", "Annals of Applied Biology 74:119-128, doi 10.1111/j.1744-7348.1973.tb07730.x", abstract},
	{"RootCalcium1973", "authors not shown on the page read", 1973, "The kinetics of calcium uptake by roots", "Planta 112:159-167, doi 10.1007/BF00388586", abstract},
	{"AmmoniumLettuce", "authors not shown on the page read", 0, "Plant growth and calcium and potassium accumulation in lettuce under different nitrogen regimes of ammonium and nitrate nutrition", "journal not shown", abstract},
	{"BresWeston1992", "Bres W., Weston L. A.", 1992, "", "HortScience 27:790 (potassium, pH and tipburn of hydroponic lettuce)", abstract},
	{"Kielland1937", "Kielland J.", 1937, "Individual activity coefficients of ions in aqueous solutions", "Journal of the American Chemical Society 59:1675-1678", "from memory; the table stands in many textbooks"},
	{"GriffinJurinak1973", "Griffin R. A., Jurinak J. J.", 1973, "Estimation of activity coefficients from the electrical conductivity of natural aquatic systems and soil extracts", "Soil Science 116:26-30", "from memory"},
	{"Maas1990", "Maas E. V.", 1990, "Relative salt tolerance of herbaceous crops", "table of the U.S. Salinity Laboratory, after Maas and Hoffman (1977)", "the table"},
	{"AyersWestcot1985", "Ayers R. S., Westcot D. W.", 1985, "Water quality for agriculture", "FAO Irrigation and Drainage Paper 29", "from memory"},
	{"Medlyn2011", "Medlyn B. E. and others", 2011, "Reconciling the optimal and empirical approaches to modelling stomatal conductance", "Global Change Biology 17:2134-2144", "the form, as quoted in documentation"},
	{"DeKauwe2015", "De Kauwe M. G. and others", 2015, "A test of an optimal stomatal conductance scheme within the CABLE land surface model", "Geoscientific Model Development 8:431-452", "the value of C3 crops from memory"},

	{"Chvatal1983", "Chvátal V.", 1983, "Linear Programming", "Freeman, New York", "from memory; worked examples checked by hand"},
	{"Bland1977", "Bland R. G.", 1977, "New finite pivoting rules for the simplex method", "Mathematics of Operations Research 2:103-107", "from memory"},
	{"GoldfarbIdnani1983", "Goldfarb D., Idnani A.", 1983, "A numerically stable dual method for solving strictly convex quadratic programs", "Mathematical Programming 27:1-33", "from memory"},
	{"LandDoig1960", "Land A. H., Doig A. G.", 1960, "An automatic method of solving discrete programming problems", "Econometrica 28:497-520", "from memory"},
	{"Haimes1971", "Haimes Y. Y., Lasdon L. S., Wismer D. A.", 1971, "On a bicriterion formulation of the problems of integrated system identification and system optimization", "IEEE Transactions on Systems, Man, and Cybernetics 1:296-297", "from memory"},
	{"HillierLieberman", "Hillier F. S., Lieberman G. J.", 2010, "Introduction to Operations Research, chapter 3, glass works", "McGraw-Hill", "the worked example from memory; checked by hand"},
	{"Beale1955", "Beale E. M. L.", 1955, "Cycling in the dual simplex algorithm", "Naval Research Logistics Quarterly 2:269-275", "the example as quoted in code and textbooks"},
	{"KleeMinty1972", "Klee V., Minty G. J.", 1972, "How good is the simplex algorithm?", "Inequalities III, Academic Press, 159-175", "the cube from memory, in the form of Chvatal1983"},
	{"NocedalWright2006", "Nocedal J., Wright S. J.", 2006, "Numerical Optimization, example 16.4", "Springer", "the example as quoted in code"},
	{"HockSchittkowski1981", "Hock W., Schittkowski K.", 1981, "Test Examples for Nonlinear Programming Codes, problems 21 and 35", "Springer", "from memory; checked by hand"},
	{"VirtanenEtAl2020", "Virtanen P. and others", 2020, "SciPy 1.0: fundamental algorithms for scientific computing in Python", "Nature Methods 17:261-272; version 1.10.1 was run", "answers computed outside this project"},

	{"Kusuma2020", "Kusuma P., Pattison P. M., Bugbee B.", 2020, "From physics to fixtures to food: current and potential LED efficacy", "Horticulture Research 7:56", "abstract and opening"},
	{"Ohyama2020", "Ohyama K. and others", 2020, "", "Agronomy 10:723", abstract},
	{"OSHATableZ1", "Occupational Safety and Health Administration", 2024, "Limits for air contaminants, 29 CFR 1910.1000, table Z-1", "Code of Federal Regulations (year of reading)", "the entry for carbon dioxide"},
	{"Pennisi2019", "Pennisi G. and others", 2019, "Resource use efficiency of indoor lettuce (Lactuca sativa L.) cultivation as affected by red:blue ratio provided by LED lighting", "Scientific Reports 9:14127", "abstract; title from memory"},
	{"Barbosa2015", "Barbosa G. L. and others", 2015, "Comparison of land, water, and energy requirements of lettuce grown using hydroponic vs. conventional agricultural methods", "International Journal of Environmental Research and Public Health 12:6879-6891", "abstract; title from memory"},
	{"Carotti2023", "Carotti L. and others", 2023, "", "Agricultural Water Management (water of lettuce in a vertical farm)", abstract},
	{"IEC62471", "International Electrotechnical Commission", 2006, "Photobiological safety of lamps and lamp systems", "IEC 62471", "excerpt"},

	{"IEC61966", "International Electrotechnical Commission", 1999, "Multimedia systems and equipment, colour measurement and management: default RGB colour space sRGB", "IEC 61966-2-1", "transfer function from memory"},
	{"ITUT81", "International Telecommunication Union", 1992, "Digital compression and coding of continuous-tone still images: requirements and guidelines", "ITU-T Recommendation T.81", "markers from memory"},
	{"W3CPNG", "World Wide Web Consortium", 2003, "Portable Network Graphics (PNG) Specification, second edition", "W3C Recommendation", "chunks from memory"},
	{"CIPA2012", "Camera and Imaging Products Association", 2012, "Exchangeable image file format for digital still cameras: Exif version 2.3", "CIPA DC-008", "tag 274 from memory"},
	{"WCAG22", "World Wide Web Consortium", 2023, "Web Content Accessibility Guidelines 2.2", "W3C Recommendation", "contrast and luminance from memory"},
	{"Ottosson2020", "Ottosson B.", 2020, "A perceptual color space for image processing", "the author's site", "matrices from memory"},
	{"Lorensen1987", "Lorensen W. E., Cline H. E.", 1987, "Marching cubes: a high resolution 3D surface construction algorithm", "Computer Graphics 21(4):163-169", "from memory"},
	{"DouglasPeucker1973", "Douglas D. H., Peucker T. K.", 1973, "Algorithms for the reduction of the number of points required to represent a digitized line or its caricature", "Cartographica 10(2):112-122", "from memory"},
	{"Ayer1955", "Ayer M., Brunk H. D., Ewing G. M., Reid W. T., Silverman E.", 1955, "An empirical distribution function for sampling with incomplete information", "Annals of Mathematical Statistics 26:641-647", "from memory"},
	{"Pelkonen2015", "Pelkonen T., Franklin S., Teller J., Cavallaro P., Huang Q., Meza J., Veeraraghavan K.", 2015, "Gorilla: a fast, scalable, in-memory time series database", "Proceedings of the VLDB Endowment 8:1816-1827", "from memory"},
	{"Hartmann2020", "Hartmann R., Kochie B., Brazil B., Skillington R.", 2020, "OpenMetrics 1.0", "Cloud Native Computing Foundation; prometheus.io/docs/specs/om", "grammar from memory"},
	{"Jennings2018", "Jennings C., Shelby Z., Arkko J., Keränen A., Bormann C.", 2018, "Sensor Measurement Lists (SenML)", "IETF RFC 8428", "from memory; the time rule as in its public draft"},
	{"Klensin2008", "Klensin J.", 2008, "Simple Mail Transfer Protocol", "IETF RFC 5321", "from memory; the talk is that of a library"},
	{"Krawczyk1997", "Krawczyk H., Bellare M., Canetti R.", 1997, "HMAC: Keyed-Hashing for Message Authentication", "IETF RFC 2104", "from memory; the code is that of the standard library"},
	{"Nystrom2005", "Nystrom M.", 2005, "Identifiers and Test Vectors for HMAC-SHA-224, HMAC-SHA-256, HMAC-SHA-384, and HMAC-SHA-512", "IETF RFC 4231", "test case 2, from memory"},
	{"OASIS2014", "Banks A., Gupta R. (editors)", 2014, "MQTT version 3.1.1", "OASIS Standard", "from memory"},
	{"OASIS2019", "Banks A., Briggs E., Borgendale K., Gupta R. (editors)", 2019, "MQTT version 5.0", "OASIS Standard", "from memory"},
	{"YAML2021", "YAML Language Development Team", 2021, "YAML Ain't Markup Language, version 1.2, revision 1.2.2", "yaml.org", "from memory"},

	{"Geyer1992", "Geyer C. J.", 1992, "Practical Markov chain Monte Carlo", "Statistical Science 7:473-483", "from memory"},
	{"HyndmanFan1996", "Hyndman R. J., Fan Y.", 1996, "Sample quantiles in statistical packages", "The American Statistician 50:361-365", "from memory"},
	{"DelMoral2006", "Del Moral P., Doucet A., Jasra A.", 2006, "Sequential Monte Carlo samplers", "Journal of the Royal Statistical Society B 68:411-436", "from memory"},
	{"TerBraakVrugt2008", "Ter Braak C. J. F., Vrugt J. A.", 2008, "Differential evolution Markov chain with snooker updater and fewer chains", "Statistics and Computing 18:435-446, doi 10.1007/s11222-008-9104-9", "from memory"},
	{"Vrugt2009", "Vrugt J. A., ter Braak C. J. F., Diks C. G. H., Robinson B. A., Hyman J. M., Higdon D.", 2009, "Accelerating Markov chain Monte Carlo simulation by differential evolution with self-adaptive randomized subspace sampling", "International Journal of Nonlinear Sciences and Numerical Simulation 10:273-290", "from memory"},
	{"GelmanBDA2013", "Gelman A., Carlin J. B., Stern H. S., Dunson D. B., Vehtari A., Rubin D. B.", 2013, "Bayesian Data Analysis, 3rd edition, sections 2.5, 3.5 and 6.3", "CRC Press", "from memory"},
	{"Haario1999", "Haario H., Saksman E., Tamminen J.", 1999, "Adaptive proposal distribution for random walk Metropolis algorithm", "Computational Statistics 14:375-395", "from memory"},
	{"Neal2003", "Neal R. M.", 2003, "Slice sampling", "The Annals of Statistics 31:705-767", "from memory"},
	{"Talts2018", "Talts S., Betancourt M., Simpson D., Vehtari A., Gelman A.", 2018, "Validating Bayesian inference algorithms with simulation-based calibration", "arXiv:1804.06788", "from memory"},
	{"HasoferLind1974", "Hasofer A. M., Lind N. C.", 1974, "Exact and invariant second-moment code format", "Journal of the Engineering Mechanics Division 100:111-121", "from memory"},
	{"Sobol1993", "Sobol I. M.", 1993, "Sensitivity estimates for nonlinear mathematical models", "Mathematical Modelling and Computational Experiment 1:407-414", "from memory"},
	{"Plischke2012", "Plischke E.", 2012, "How to compute variance-based sensitivity indicators with your spreadsheet software", "Environmental Modelling & Software 35:188-191", "from memory"},
	{"Saltelli2008", "Saltelli A., Ratto M., Andres T., Campolongo F., Cariboni J., Gatelli D., Saisana M., Tarantola S.", 2008, "Global Sensitivity Analysis: The Primer", "Wiley", "from memory; the shares follow from the functions by integration"},

	// Head types and other species, see science/crops.
	{"USDASR2018", "US Department of Agriculture, Agricultural Research Service", 2018, "National Nutrient Database for Standard Reference, Legacy Release: water in 100 g of the edible part", "entries 11250 to 11253 and 11257 (lettuces), 11233 (kale), 11116, 11959, 02044", "the entries of lettuces in an open copy, those of green leaf and kale with number of samples and standard error; pak choi, rocket and basil from memory"},
	{"USDASR2001", "US Department of Agriculture, as quoted by a university", 2001, "A comparison of the nutrient content of spinach and lettuce types", "page of the National Spinach Conference 2001, University of Arkansas; an older release than USDASR2018, with other samples", full},
	{"LeafyKorea2025", "authors not shown on the page read", 2025, "", "Food Engineering Progress 29(1):43, table 2 (butterhead and Batavia of four farms; year from the volume)", "the table"},
	{"TunnelLettuce2022", "authors not shown on the page read", 2022, "", "head mass, dry matter and bioactive substances of lettuce types in an unheated tunnel, Hungarian bibliography 33118379 (year about)", abstract},
	{"FieldTipburn1974", "authors not shown on the page read", 1974, "", "susceptibility of eight lettuce cultivars to tipburn in the field in 1973 and 1974 (the head types of the cultivars from memory)", abstract},
	{"EU1543", "Commission of the European Communities", 2001, "Marketing standard for lettuces and curled-leaved and broad-leaved endives", "Regulation (EC) No 1543/2001, sizing", "the definitions; the least masses from memory"},
	{"EU1580", "Commission of the European Communities", 2007, "Marketing standard for lettuces: hearts by type and class", "Regulation (EC) No 1580/2007, annex I, part 4", "the section on classes"},
	{"ButterheadThermal2022", "authors not shown on the page read", 2022, "Morphological, biochemical, and physiological response of butterhead lettuce to photo-thermal environments", "Horticulturae 8(6):515", abstract},
	{"RomaineThesis", "author not shown on the page read", 0, "Controlled environment production of romaine lettuce (Lactuca sativa)", "thesis, University of Guelph", abstract},
	{"KoontzPrince1986", "Koontz H. V., Prince R. P.", 1986, "Effect of 16 and 24 hours daily radiation (light) on lettuce growth", "HortScience 21(1):123-124", abstract},
	{"WaltersCurrey2019", "Walters K. J., Currey C. J.", 2019, "Growth and development of basil species in response to temperature", "HortScience 54 (authors, title and year from memory)", "second-hand, one paragraph as an index of citations quotes it"},
	{"Mortensen2014", "Mortensen L. M.", 2014, "The effect of air temperature on growth of eight herb species", "American Journal of Plant Sciences, doi 10.4236/ajps.2014.511168", abstract},
	{"Lefsrud2005", "Lefsrud M. G. and others (names from memory)", 2005, "Air temperature affects biomass and carotenoid pigment accumulation in kale and spinach grown in a controlled environment", "HortScience 40 (journal from memory)", abstract},
	{"GagneMattson2019", "Gagne C., Mattson N.", 2019, "Increasing yields of baby leaf vegetables", "trade article of Cornell University, table 1", "the table"},
	{"Jayalath2021", "Jayalath T. C., van Iersel M. W.", 2021, "Canopy size and light use efficiency explain growth differences between lettuce and mizuna in vertical farms", "Plants 10(4):704", abstract},
	{"MiniCabbage2025", "authors not shown on the page read", 2025, "Quality response of two mini Chinese cabbage cultivars to different calcium levels", "Foods 14(5):872", abstract},
	{"PakChoy2023", "authors not shown on the page read", 2023, "Temperature and light spectrum differently affect growth, morphology, and leaf mineral content of two indoor-grown leafy vegetables", "Horticulturae 9(3):331", abstract},
	{"Ashenafi2022", "Ashenafi E. L., Nyman M. C., Holley J. M., Mattson N. S., Rangarajan A.", 2022, "Phenotypic plasticity and nutritional quality of three kale cultivars under field, greenhouse, and growth chamber environments", "Environmental and Experimental Botany 199:104895", abstract},
	{"Chowdhury2021", "Chowdhury M. and others", 2021, "Effects of temperature, relative humidity, and carbon dioxide concentration on growth and glucosinolate content of kale grown in a plant factory", "Foods 10(7):1524", abstract},
	// statistics of trials
	{"AndersonNelson1975", "Anderson R. L., Nelson L. A.", 1975, "A family of models involving intersecting straight lines and concomitant experimental designs useful in evaluating response to fertilizer nutrients", "Biometrics 31:303-318", "from memory; held by a test against R 4.2.2"},
	{"BatesWatts1988", "Bates D. M., Watts D. G.", 1988, "Nonlinear Regression Analysis and Its Applications", "Wiley", "from memory; held by a test against R 4.2.2"},
	{"BenjaminiHochberg1995", "Benjamini Y., Hochberg Y.", 1995, "Controlling the false discovery rate: a practical and powerful approach to multiple testing", "Journal of the Royal Statistical Society B 57:289-300", "from memory; held by a test against R 4.2.2"},
	{"Brent1973", "Brent R. P.", 1973, "Algorithms for Minimization without Derivatives, chapter 4", "Prentice-Hall", "from memory"},
	{"BrownForsythe1974", "Brown M. B., Forsythe A. B.", 1974, "Robust tests for the equality of variances", "Journal of the American Statistical Association 69:364-367", "from memory; held by a test against R 4.2.2"},
	{"BrunnerMunzel2000", "Brunner E., Munzel U.", 2000, "The nonparametric Behrens-Fisher problem: asymptotic theory and a small-sample approximation", "Biometrical Journal 42:17-25", "from memory; held by a test against R 4.2.2"},
	{"ClopperPearson1934", "Clopper C. J., Pearson E. S.", 1934, "The use of confidence or fiducial limits illustrated in the case of the binomial", "Biometrika 26:404-413", "from memory; held by a test against R 4.2.2"},
	{"CochranCox1957", "Cochran W. G., Cox G. M.", 1957, "Experimental Designs, 2nd edition", "Wiley", "from memory"},
	{"Dunnett1955", "Dunnett C. W.", 1955, "A multiple comparison procedure for comparing several treatments with a control", "Journal of the American Statistical Association 50:1096-1121", "from memory; held by a test against R 4.2.2"},
	{"FayShaw2010", "Fay M. P., Shaw P. A.", 2010, "Exact and asymptotic weighted logrank tests for interval censored data: the interval R package", "Journal of Statistical Software 36(2)", "the printed tests"},
	{"Fieller1954", "Fieller E. C.", 1954, "Some problems in interval estimation", "Journal of the Royal Statistical Society B 16:175-185", "from memory; held by a test that the limits are those of the test"},
	{"Finkelstein1986", "Finkelstein D. M.", 1986, "A proportional hazards model for interval-censored failure time data", "Biometrics 42:845-854", "from memory; held by a test against R 4.2.2"},
	{"FinkelsteinWolfe1985", "Finkelstein D. M., Wolfe R. A.", 1985, "A semiparametric model for regression analysis of interval-censored failure time data", "Biometrics 41:933-945", "the data, as they reproduce the printed tests"},
	{"Firth1993", "Firth D.", 1993, "Bias reduction of maximum likelihood estimates", "Biometrika 80:27-38", "from memory; held by a test against R 4.2.2"},
	{"Fisher1935", "Fisher R. A.", 1935, "The Design of Experiments, chapter 3", "Oliver and Boyd", "the printed count of sign assignments"},
	{"Fleiss1969", "Fleiss J. L., Cohen J., Everitt B. S.", 1969, "Large sample standard errors of kappa and weighted kappa", "Psychological Bulletin 72:323-327", "from memory; held by a test against R package vcd"},
	{"GamesHowell1976", "Games P. A., Howell J. F.", 1976, "Pairwise multiple comparison procedures with unequal N's and/or variances: a Monte Carlo study", "Journal of Educational Statistics 1:113-125", "from memory; held by a test against R 4.2.2"},
	{"GomezGomez1984", "Gomez K. A., Gomez A. A.", 1984, "Statistical Procedures for Agricultural Research, 2nd edition, table 2.5, sections 2.2 and 5.1", "Wiley", "the figures of the table, which reproduce the printed sums of squares"},
	{"Hayter1984", "Hayter A. J.", 1984, "A proof of the conjecture that the Tukey-Kramer multiple comparisons procedure is conservative", "Annals of Statistics 12:61-75", "from memory"},
	{"HeinzeSchemper2002", "Heinze G., Schemper M.", 2002, "A solution to the problem of separation in logistic regression", "Statistics in Medicine 21:2409-2419", "the printed coefficients and limits of the endometrial data"},
	{"Holm1979", "Holm S.", 1979, "A simple sequentially rejective multiple test procedure", "Scandinavian Journal of Statistics 6:65-70", "from memory; held by a test against R 4.2.2"},
	{"Hurlbert1984", "Hurlbert S. H.", 1984, "Pseudoreplication and the design of ecological field experiments", "Ecological Monographs 54:187-211", "from memory"},
	{"HurvichTsai1989", "Hurvich C. M., Tsai C.-L.", 1989, "Regression and time series model selection in small samples", "Biometrika 76:297-307", "from memory; held by a test against R 4.2.2"},
	{"JacobsonMatthews1996", "Jacobson M. T., Matthews P.", 1996, "Generating uniformly distributed random Latin squares", "Journal of Combinatorial Designs 4:405-437", "from memory; the squares are checked to be Latin and even"},
	{"KenwardRoger1997", "Kenward M. G., Roger J. H.", 1997, "Small sample inference for fixed effects from restricted maximum likelihood", "Biometrics 53:983-997", "from memory; held by a test against R packages lme4 and pbkrtest"},
	{"Kramer1956", "Kramer C. Y.", 1956, "Extension of multiple range tests to group means with unequal numbers of replications", "Biometrics 12:307-310", "from memory; held by a test against R 4.2.2"},
	{"KruskalWallis1952", "Kruskal W. H., Wallis W. A.", 1952, "Use of ranks in one-criterion variance analysis", "Journal of the American Statistical Association 47:583-621", "from memory; held by a test against R 4.2.2"},
	{"LawsonHanson1974", "Lawson C. L., Hanson R. J.", 1974, "Solving Least Squares Problems, chapter 23", "Prentice-Hall", "from memory; held by a test against a rule for one column"},
	{"Lenth2001", "Lenth R. V.", 2001, "Some practical guidelines for effective sample size determination", "The American Statistician 55:187-193", "from memory"},
	{"MarsagliaTsang2000", "Marsaglia G., Tsang W. W.", 2000, "A simple method for generating gamma variables", "ACM Transactions on Mathematical Software 26:363-372", "from memory"},
	{"MarshallBiscoe1980", "Marshall B., Biscoe P. V.", 1980, "A model for C3 leaves describing the dependence of net photosynthesis on irradiance", "Journal of Experimental Botany 31:29-39", "from memory"},
	{"McCullagh1980", "McCullagh P.", 1980, "Regression models for ordinal data", "Journal of the Royal Statistical Society B 42:109-142", "from memory; held by a test against R 4.2.2"},
	{"McKayWanless2005", "McKay B. D., Wanless I. M.", 2005, "On the number of Latin squares", "Annals of Combinatorics 9:335-344", "from memory"},
	{"Mitscherlich1909", "Mitscherlich E. A.", 1909, "Das Gesetz des Minimums und das Gesetz des abnehmenden Bodenertrages", "Landwirtschaftliche Jahrbücher 38:537-552", "from memory"},
	{"Murray1998", "Murray D. M.", 1998, "Design and Analysis of Group-Randomized Trials", "Oxford University Press", "from memory"},
	{"NISTStRD", "National Institute of Standards and Technology", 2003, "Statistical Reference Datasets: analysis of variance, nonlinear regression", "NIST (year about)", "the files with their certified values, from mirrors"},
	{"PattersonThompson1971", "Patterson H. D., Thompson R.", 1971, "Recovery of inter-block information when block sizes are unequal", "Biometrika 58:545-554", "from memory"},
	{"PhipsonSmyth2010", "Phipson B., Smyth G. K.", 2010, "Permutation P-values should never be zero: calculating exact P-values when permutations are randomly drawn", "Statistical Applications in Genetics and Molecular Biology 9:39", abstract},
	{"Schuirmann1987", "Schuirmann D. J.", 1987, "A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability", "Journal of Pharmacokinetics and Biopharmaceutics 15:657-680", "from memory; held by a test against R 4.2.2"},
	{"Searle1992", "Searle S. R., Casella G., McCulloch C. E.", 1992, "Variance Components", "Wiley", "from memory"},
	{"Sidak1967", "Šidák Z.", 1967, "Rectangular confidence regions for the means of multivariate normal distributions", "Journal of the American Statistical Association 62:626-633", "from memory"},
	{"Sun1996", "Sun J.", 1996, "A non-parametric test for interval-censored failure time data with application to AIDS studies", "Statistics in Medicine 15:1387-1395", "from memory; held by a test against R 4.2.2"},
	{"Tukey1953", "Tukey J. W.", 1953, "The problem of multiple comparisons", "Princeton University, memorandum", "from memory; held by a test against R 4.2.2"},
	{"Turnbull1976", "Turnbull B. W.", 1976, "The empirical distribution function with arbitrarily grouped, censored and truncated data", "Journal of the Royal Statistical Society B 38:290-295", "from memory; held by a test against R 4.2.2"},
	{"Welch1947", "Welch B. L.", 1947, "The generalization of Student's problem when several different population variances are involved", "Biometrika 34:28-35", "from memory; held by a test against R 4.2.2"},
	{"Welch1951", "Welch B. L.", 1951, "On the comparison of several mean values: an alternative approach", "Biometrika 38:330-336", "from memory; held by a test against R 4.2.2"},
	{"Williams1949", "Williams E. J.", 1949, "Experimental designs balanced for the estimation of residual effects of treatments", "Australian Journal of Scientific Research A 2:149-168", "from memory; held by a test of the balance"},
	{"Williams1982", "Williams D. A.", 1982, "Extra-binomial variation in logistic linear models", "Applied Statistics 31:144-148", "from memory"},
	{"Wilson1927", "Wilson E. B.", 1927, "Probable inference, the law of succession, and statistical inference", "Journal of the American Statistical Association 22:209-212", "from memory; held by a test against R 4.2.2"},
	{"Yates1937", "Yates F.", 1937, "The Design and Analysis of Factorial Experiments", "Imperial Bureau of Soil Science, technical communication 35", "the data, with R 4.2.2"},
}
