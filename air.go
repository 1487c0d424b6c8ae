package underlamp

import "underlamp/science/quantity"

// Air is the climate around the plants.
type Air struct {
	Day   Climate // while the lamps are on
	Night Climate // while they are off
	CO2   Given[quantity.PPM]
	Speed Given[quantity.MetrePerSecond] // among the plants, free of the leaves
	Fan   Given[FanAim]

	Altitude Given[quantity.Metre] // of the place above the sea
}

// A Room is where a bench stands, as far as it decides what becomes of water, heat and carbon
// dioxide.
type Room struct {
	Volume   Given[quantity.CubicMetre]
	Leak     Given[quantity.PerHour]       // changes of air an hour by chinks and doors
	HeatLoss Given[quantity.WattPerKelvin] // through the walls
	Others   Given[quantity.Watt]          // that run in the room besides the lamps, day and night

	Outside    Climate // the air beyond the room
	OutsideCO2 Given[quantity.PPM]

	Drier    Drier
	Cooling  Given[float64] // heat carried off for each unit of electricity
	CO2Price Given[float64] // for a kg, in the currency of the electricity; not said: 0
}

// A Drier is a dehumidifier by its label.
type Drier struct {
	Litres   Given[quantity.LitrePerDay] // 0: nobody named a machine
	PerKWh   Given[quantity.LitrePerKWh]
	RatedC   Given[quantity.Celsius]
	RatedRel Given[quantity.Fraction]
}

// A Climate is temperature and humidity of one part of the day.
type Climate struct {
	Temperature Given[quantity.Celsius]
	Humidity    Given[quantity.Fraction] // relative
}

// A FanAim says where moving air goes. It decides how much of it reaches the
// heart of a head.
type FanAim string

// The aims.
const (
	NoFan  FanAim = "none"   // air moves by chance only
	Across FanAim = "across" // horizontally over the heads
	Down   FanAim = "down"   // onto the hearts from above
)

// FanAims lists the aims from the weakest.
func FanAims() []FanAim { return []FanAim{NoFan, Across, Down} }
