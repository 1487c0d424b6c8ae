package wire

import "time"

// Air is the air of a bench: what water and warmth must go as the crop grows, and how.
type Air struct {
	Bench    string    `json:"bench" doc:"its name"`
	WhatIf   bool      `json:"what_if" doc:"something was turned"`
	Day      int       `json:"day_shown" unit:"d" doc:"of the crop; 0 without a forecast"`
	Worst    int       `json:"day_of_most_water" unit:"d"`
	Figures  []Figure  `json:"figures"`
	Before   []Figure  `json:"figures_now" doc:"as the bench is, where something was turned"`
	Days     []AirDay  `json:"days" doc:"of the crop; empty if no water is forecast"`
	Ways     []AirWay  `json:"ways" doc:"of getting rid of the water, on the day shown"`
	Cheapest string    `json:"cheapest_way,omitempty"`
	Knobs    []AirKnob `json:"knobs" doc:"what can be turned, and where it stands"`
	Fan      string    `json:"fan" doc:"where the air is blown: none, across, down"`
	Refused  string    `json:"no_forecast_because,omitempty"`
}

// An AirKnob is something of air or room that can be turned.
type AirKnob struct {
	Name    string `json:"name" doc:"that of its parameter begins so, and has _ for -" example:"night-humidity"`
	Label   string `json:"label"`
	Value   Number `json:"value" doc:"in unit"`
	Unit    string `json:"unit"`
	Low     Number `json:"low"`
	High    Number `json:"high"`
	Default bool   `json:"default,omitempty" doc:"nobody gave the value"`
}

// An AirDay is what one day of the crop puts into the room.
type AirDay struct {
	Day   int     `json:"day" unit:"d"`
	Light AirLoad `json:"by_day" doc:"while the lamps are on"`
	Dark  AirLoad `json:"by_night"`
	CO2   Number  `json:"co2_uptake_g_d" unit:"g/d"`
}

// An AirLoad is one part of a day, of the whole bench.
type AirLoad struct {
	Hours    Number `json:"hours" unit:"h"`
	Water    Band   `json:"water_g_h" unit:"g/h" doc:"that the crop breathes out"`
	Remove   Band   `json:"water_to_remove_g_h" unit:"g/h"`
	Add      Number `json:"water_to_add_g_h" unit:"g/h"`
	Electric Number `json:"electricity_w" unit:"W"`
	Envelope Number `json:"envelope_w" unit:"W" doc:"through walls and chinks, into the room"`
	Sensible Band   `json:"warmth_w" unit:"W" doc:"to remove; negative if the room must be warmed"`
	Latent   Number `json:"latent_w" unit:"W" doc:"that the water to remove carries"`
}

// An AirWay is one way of getting rid of the water.
type AirWay struct {
	Key      string `json:"key"`
	Name     string `json:"name"`
	Possible bool   `json:"possible"`
	Why      string `json:"why,omitempty" doc:"why it cannot, or what it rests on"`
	Flow     Number `json:"air_by_day_m3_h" unit:"m³/h"`
	Dark     Number `json:"air_by_night_m3_h" unit:"m³/h"`
	KWh      Number `json:"kwh_d" unit:"kWh/d"`
	CO2      Number `json:"co2_lost_g_d" unit:"g/d"`
	Money    Number `json:"money_d" doc:"a day, in the currency of the bench"`
	Cycle    Number `json:"kwh_cycle" unit:"kWh"`
	Costs    Number `json:"money_cycle"`
}

// AirHearts are what moving air and drier nights do for the youngest leaves.
type AirHearts struct {
	Limit  Number       `json:"limit" min:"0" max:"1" doc:"of the chance of burn"`
	Now    Number       `json:"chance_now" min:"0" max:"1"`
	Draws  int          `json:"draws"`
	Speeds []HeartSpeed `json:"speeds"`
	Across Number       `json:"needed_across_m_s" unit:"m/s" doc:"least speed that keeps the limit, blown across the heads; null: none of those tried does; 0: any does"`
	Down   Number       `json:"needed_down_m_s" unit:"m/s" doc:"the same, blown down onto the hearts"`
	Nights []HeartNight `json:"nights"`
}

// A HeartSpeed is what air of a speed would do.
type HeartSpeed struct {
	Speed  Number `json:"speed_m_s" unit:"m/s"`
	Across Number `json:"burn_across" min:"0" max:"1" doc:"chance of burn"`
	Down   Number `json:"burn_down" min:"0" max:"1"`
}

// A HeartNight is what a night would do.
type HeartNight struct {
	Humidity Number `json:"humidity" min:"0" max:"1"`
	VPD      Number `json:"vpd_kpa" unit:"kPa"`
	Root     Number `json:"root_pressure_left" min:"0" max:"1" doc:"share of the flow by root pressure"`
	Margin   Number `json:"over_dew_point_k" unit:"K" doc:"of the coldest leaf"`
	Chance   Number `json:"chance_of_burn" min:"0" max:"1"`
	Now      bool   `json:"now,omitempty" doc:"the humidity of the bench"`
}

// AirBlown is the air of a fan at the heads.
type AirBlown struct {
	Outlet Number   `json:"outlet_m_s" unit:"m/s"`
	From   string   `json:"outlet_from" doc:"what that rests on"`
	Mean   Number   `json:"mean_m_s" unit:"m/s" doc:"over the plants"`
	Low    Number   `json:"low_m_s" unit:"m/s" doc:"90 % of the mean lie between low and high"`
	High   Number   `json:"high_m_s" unit:"m/s"`
	Least  Number   `json:"least_m_s" unit:"m/s"`
	Most   Number   `json:"most_m_s" unit:"m/s"`
	Plants []Number `json:"plants_m_s" unit:"m/s" doc:"in the order of the bench"`
	Says   []string `json:"says"`
}

// AirReadings are readings of an anemometer.
type AirReadings struct {
	Readings []AirReading `json:"readings" minlen:"1" maxlen:"200"`
}

// An AirReading is one of them.
type AirReading struct {
	Speed float64  `json:"speed_m_s" min:"0" max:"40" unit:"m/s"`
	Depth *float64 `json:"depth,omitempty" min:"0" max:"1" doc:"1 at the top of the crop, 0 at the ground; 1 if it is not said"`
}

// An AirSurvey is what the readings mean.
type AirSurvey struct {
	N      int      `json:"readings"`
	Mean   Number   `json:"mean_m_s" unit:"m/s" doc:"at the top of the crop"`
	Low    Number   `json:"low_m_s" unit:"m/s"`
	High   Number   `json:"high_m_s" unit:"m/s"`
	Least  Number   `json:"least_m_s" unit:"m/s"`
	Most   Number   `json:"most_m_s" unit:"m/s"`
	Uneven Number   `json:"unevenness" doc:"standard deviation of the places over the mean"`
	Says   []string `json:"says"`
}

// AirRecord is what the hours recorded by sensors say of dew.
type AirRecord struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Hours  int       `json:"hours" unit:"h"`
	Wet    int       `json:"hours_of_dew" unit:"h" doc:"with a leaf at or under the dew point"`
	Near   int       `json:"hours_near_dew" unit:"h" doc:"less than 1 K over it"`
	Worst  time.Time `json:"nearest_at"`
	Margin Number    `json:"nearest_over_dew_point_k" unit:"K"`
	VPDDay Number    `json:"vpd_by_day_kpa" unit:"kPa"`
	VPD    Number    `json:"vpd_by_night_kpa" unit:"kPa"`
	Says   []string  `json:"says"`
}
