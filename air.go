package underlamp

import "underlamp/science/quantity"

// Air is the climate around the plants.
type Air struct {
	Day   Climate // while the lamps are on
	Night Climate // while they are off
	CO2   Given[quantity.PPM]
	Speed Given[quantity.MetrePerSecond] // among the plants, free of the leaves
	Fan   Given[FanAim]
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
