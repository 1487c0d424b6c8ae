package environment

import "underlamp"

// A Group is a heading of the guidelines.
type Group string

// The groups, in the order of the guidelines.
const (
	Radiation Group = "Radiation"
	Warmth    Group = "Temperature"
	Moisture  Group = "Moisture of the air"
	Carbon    Group = "Carbon dioxide"
	Movement  Group = "Air movement"
	Water     Group = "Watering"
	Ground    Group = "Substrate"
	Nutrition Group = "Nutrition"
	Place     Group = "Room"
)

// Groups lists the groups.
func Groups() []Group {
	return []Group{Radiation, Warmth, Moisture, Carbon, Movement, Water, Ground, Nutrition, Place}
}

// A Key names an item.
type Key string

// The items.
const (
	PPFD          Key = "ppfd"
	DLI           Key = "dli"
	Evenness      Key = "evenness"
	OverTime      Key = "light over time"
	Photoperiod   Key = "photoperiod"
	Lamps         Key = "lamps"
	Spectrum      Key = "spectrum"
	AirDay        Key = "air by day"
	AirNight      Key = "air by night"
	Leaf          Key = "leaf"
	Root          Key = "root"
	HumidityDay   Key = "humidity by day"
	HumidityNight Key = "humidity by night"
	VPDDay        Key = "vpd by day"
	VPDNight      Key = "vpd by night"
	CO2           Key = "co2"
	AirSpeed      Key = "air speed"
	AirFlow       Key = "air flow"
	Watering      Key = "watering"
	Substrate     Key = "substrate"
	Container     Key = "container"
	Composition   Key = "composition"
	EC            Key = "ec"
	PH            Key = "ph"
	Oxygen        Key = "oxygen"
	Space         Key = "space"
	Room          Key = "room"
	Seedlings     Key = "seedlings"
)

// An Item is one thing that the guidelines ask to be told.
type Item struct {
	Key   Key
	Group Group
	Name  string
	Asks  string             // what is to be told and where it is to be read, in our words
	Reads underlamp.Observed // what an instrument reads for it; empty: nothing is read
	Over  bool               // it moves over the crop, so that one value is not enough
	By    []string           // the guidelines that ask for it, keys of the bibliography
}

// Guidelines that ask for an item.
var (
	all     = []string{"EP411", "TibbittsSagerKrizek2000", "ICCEG2004"}
	chamber = []string{"EP411", "TibbittsSagerKrizek2000"}
)

const (
	atTop   = "at the top of the plants"
	hourly  = "hourly means over the crop, apart for light and dark"
	startTo = "at the start and the end, and every two weeks if it lasts longer"
)

// items is the list. What each guideline asks is told in our words.
var items = []Item{
	{PPFD, Radiation, "PPFD, 400 to 700 nm", "mean and range over the plants, " + atTop + ", " + startTo, underlamp.ObservedLight, false, with(all, "Krizek2000", "Poorter2012")},
	{DLI, Radiation, "Daily light integral", "mean over the plants", "", false, with(nil, "ICCEG2004", "Poorter2012")},
	{Evenness, Radiation, "Evenness over the plants", "range or spread over the growing area, best as a map", "", false, with(all, "Poorter2012")},
	{OverTime, Radiation, "Change of light over the crop", "readings of the same places " + startTo, "", false, all},
	{Photoperiod, Radiation, "Photoperiod", "hours of light a day", "", false, with(all, "Poorter2012")},
	{Lamps, Radiation, "Lamps", "kind, make, number", "", false, with(all, "Poorter2012")},
	{Spectrum, Radiation, "Spectrum", "photons by wavelength in the middle of the growing area at the start, with the red to far-red ratio", underlamp.ObservedSpectrum, false, with(all, "Krizek2000", "Poorter2012")},
	{AirDay, Warmth, "Air, lamps on", hourly + ", " + atTop + ", shaded and with moving air", underlamp.ObservedAir, true, with(all, "Krizek2000", "Poorter2012")},
	{AirNight, Warmth, "Air, lamps off", hourly + ", " + atTop, underlamp.ObservedAir, true, with(all, "Krizek2000", "Poorter2012")},
	{Leaf, Warmth, "Leaves", "temperature of the plant itself, where it matters", underlamp.ObservedLeaf, true, []string{"Poorter2012"}},
	{Root, Warmth, "Substrate or solution", "mean and range, in the middle of a container", underlamp.ObservedRoot, true, with(all, "Krizek2000", "Poorter2012")},
	{HumidityDay, Moisture, "Relative humidity, lamps on", hourly + ", " + atTop, underlamp.ObservedHumidity, true, with(all, "Krizek2000", "Poorter2012")},
	{HumidityNight, Moisture, "Relative humidity, lamps off", hourly + ", " + atTop, underlamp.ObservedHumidity, true, with(all, "Krizek2000", "Poorter2012")},
	{VPDDay, Moisture, "Vapour pressure deficit, lamps on", "from temperature and humidity of the same hours", "", true, with(all, "Poorter2012")},
	{VPDNight, Moisture, "Vapour pressure deficit, lamps off", "from temperature and humidity of the same hours", "", true, with(all, "Poorter2012")},
	{CO2, Carbon, "CO2", "hourly means and the range of the daily means, " + atTop, underlamp.ObservedCO2, true, with(all, "Krizek2000")},
	{AirSpeed, Movement, "Air speed", "mean and range over the plants, " + atTop + ", at the start and the end", underlamp.ObservedSpeed, false, with(all, "Krizek2000")},
	{AirFlow, Movement, "Direction of the air", "from where to where it goes, and how much fresh air comes in", "", false, []string{"ICCEG2004"}},
	{Watering, Water, "Watering", "how often, how much, what water", "", false, with(all, "Poorter2012")},
	{Substrate, Ground, "Substrate", "kind, additions, and how much for each plant", "", false, all},
	{Container, Ground, "Container", "kind and size", "", false, all},
	{Composition, Nutrition, "Composition of the feed", "each ion in the solution at the start, and what was added", "", false, all},
	{EC, Nutrition, "EC", "in liquid culture daily, else at the start and the end", underlamp.ObservedEC, true, with(all, "Krizek2000")},
	{PH, Nutrition, "pH", "in liquid culture daily and before each correction; the usual value and the range", underlamp.ObservedPH, true, with(all, "Krizek2000")},
	{Oxygen, Nutrition, "Dissolved oxygen or aeration", "in liquid culture", underlamp.ObservedOxygen, true, with(chamber, "Krizek2000")},
	{Space, Place, "Growing area", "floor area and height of the space with the plants", "", false, with(chamber, "ICCEG2004")},
	{Room, Place, "Room or cabinet", "what it is, make and kind of a cabinet, a barrier between lamps and plants", "", false, with(chamber, "ICCEG2004")},
	{Seedlings, Place, "Plants until then", "cultivar, how they were raised, their age and mass when they were set there", "", false, []string{"ICCEG2004"}},
}

func with(first []string, more ...string) []string {
	return append(append([]string(nil), first...), more...)
}

// Items is all that the guidelines ask, in their order.
func Items() []Item { return append([]Item(nil), items...) }
