package dataset

import (
	"underlamp"
	"underlamp/formats/tables"
)

// Units, as they are printed in schemas.
const (
	uDLI  = "mol m⁻² d⁻¹"
	uPPFD = "µmol m⁻² s⁻¹"
	uC    = "°C"
	uKPa  = "kPa"
	uPPM  = "µmol mol⁻¹"
)

var zero, one = 0.0, 1.0

// A schema is a table without rows.
type schema struct {
	name, title, about string
	key                []string
	refs               []tables.Reference
	columns            []tables.Column
}

func text(name, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Text, About: about}
}
func must(c tables.Column) tables.Column { c.Required = true; return c }
func number(name, unit, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Number, Unit: unit, About: about}
}
func positive(c tables.Column) tables.Column { c.Min = &zero; return c }
func share(name, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Number, Unit: "1", About: about, Min: &zero, Max: &one}
}
func whole(name, unit, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Whole, Unit: unit, About: about}
}
func yes(name, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Yes, About: about}
}
func date(name, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Date, About: about}
}
func instant(name, about string) tables.Column {
	return tables.Column{Name: name, Kind: tables.Time, About: about}
}

func words[S ~string](all []S) (out []string) {
	for _, s := range all {
		out = append(out, string(s))
	}
	return out
}

func to(table string, column, their string) tables.Reference {
	return tables.Reference{Columns: []string{column}, Table: table, Their: []string{their}}
}

// responses are columns of what is seen of plants, in the order of underlamp.Responses.
func responses() []tables.Column {
	about := map[underlamp.Response]string{
		underlamp.ResponseMass: "Fresh mass of the shoot.", underlamp.ResponseHeight: "Height of the plant above the planting surface.",
		underlamp.ResponseLeaves: "Number of leaves.", underlamp.ResponseBurn: "Inner tipburn: 0 none seen, 1 seen.",
		underlamp.ResponseSeverity: "Grade of inner tipburn by the share of burnt leaves: 0 none, 1 under 5 %, 2 from 5 %, 3 from 15 %, 4 from 30 %, 5 from 50 %.",
		underlamp.ResponseClear:    "Last day after transplanting on which a look saw no burn.", underlamp.ResponseFirst: "First day after transplanting on which a look saw burn.",
		underlamp.ResponseWidth: "Width across the widest leaves.", underlamp.ResponseArea: "Area of the leaves as seen from above.",
	}
	var out []tables.Column
	for _, r := range underlamp.Responses() {
		out = append(out, positive(number(string(r), r.Unit(), about[r])))
	}
	return out
}

var (
	treatments = schema{"treatments", "Treatments", "What is compared; one row for each treatment.", []string{"treatment"}, nil, []tables.Column{
		must(text("treatment", "Name of the treatment.")), must(yes("control", "The present setting, against which others are compared.")),
		positive(number("dli", uDLI, "Daily light that the treatment shall give; missing if it is no level of light.")), text("note", "Words of who planned it."),
	}}
	factors = schema{"factors", "Levels of the factors", "What a treatment combines; one row for each treatment and factor. Trials without factors lack this table.", []string{"treatment", "factor"},
		[]tables.Reference{to("treatments", "treatment", "treatment")}, []tables.Column{
			must(text("treatment", "Name of the treatment.")), must(text("factor", "Name of the factor.")), must(text("level", "Level of the factor, as it is called.")), text("level_unit", "Unit of the level, if it has one."),
		}}
	units = schema{"units", "Units", "What a treatment was given to at random, mostly one lamp in one cycle; the repeats of the trial. One row for each unit.", []string{"unit"},
		[]tables.Reference{to("treatments", "treatment", "treatment")}, []tables.Column{
			must(text("unit", "Name of the unit.")), must(text("treatment", "Its treatment.")), text("block", "Cycle, or another group that holds treatments together."),
			text("place", "Column of a Latin square, or the place that goes through a sequence."), text("whole", "Whole unit of a split plot."), text("part", "What grows in this part of a split plot."),
			text("lamp", "Lamp of the bench."), positive(number("dli_aimed", uDLI, "Daily light that the treatment shall give.")),
			positive(number("dli_given", uDLI, "Daily light that the plants of the unit really got, as the plan says.")), whole("plants", "1", "Plants that were planned; missing if the plan does not say."),
			date("transplanted", "Day of transplanting of its block; day 0."), date("harvested", "Day of harvest of its block."),
			positive(number("start_mass", "g", "Fresh mass of a shoot at transplanting.")), text("start_mass_origin", "Where that is from: measured, stated, label, default."),
		}}
	lightSchema = schema{"light", "Light by unit", "Light of each unit by the field of the bench, all lamps included, mean over the plants that count at the planting surface. One row for each unit, or whole unit of a split plot.", []string{"unit"}, nil, []tables.Column{
		must(text("unit", "Unit, or whole unit of a split plot.")), text("block", "Its block."), text("lamp", "Its lamp."), positive(number("dli_aimed", uDLI, "Daily light that the treatment shall give.")),
		positive(number("dli_as_set", uDLI, "Computed, with the dimmings of the bench file.")), positive(number("dli_proposed", uDLI, "Computed, with the dimmings that come nearest to what the treatments claim.")),
		positive(number("ppfd_proposed", uPPFD, "The same as PPFD.")), positive(number("hours", "h d⁻¹", "Hours of light.")), share("dimming_proposed", "Dimming of the lamp that was proposed."),
		positive(number("power_proposed", "W", "Power of the lamp with it.")), positive(number("spread_as_set", "1", "Coefficient of variation of the light over the plants of the unit, as set.")),
		positive(number("spread_proposed", "1", "The same, as proposed.")), share("from_other_units", "Share of the light that lamps of other units give."), share("at_edge", "Share of the plants at the edge of the planting."),
	}}
	plots = schema{"plots", "Places of the plants", "Where each plant of the trial stands on its bench; one row for each plant.", []string{"unit", "plant"},
		[]tables.Reference{to("units", "unit", "unit")}, []tables.Column{
			must(text("unit", "Unit of the plant.")), must(text("plant", "Plant within the unit.")), text("block", "Its block."), text("bench_plant", "Name of the plant on the bench."), text("code", "Code of its label."),
			number("x", "m", "Place from the left."), number("y", "m", "Place from the front."), positive(number("ppfd", uPPFD, "Computed light at the planting surface, as proposed.")),
			positive(number("dli", uDLI, "The same over the day.")), must(yes("at_edge", "It stands at the edge of the planting.")), text("guard", "Why it does not count; missing if it counts."),
		}}
	observations = schema{"observations", "Observations", "Everything that was seen, one thing seen of one plant in a row, corrected and struck rows too. Analyses take the rows whose column counts is true.", []string{"id"},
		[]tables.Reference{to("units", "unit", "unit")}, []tables.Column{
			{Name: "id", Kind: tables.Text, About: "Name of the row.", Required: true, Unique: true}, text("time", "When it was seen, as written: a day, or a day with the time of day."), date("date", "Day of it."),
			must(text("unit", "Unit of the plant.")), must(text("plant", "Plant within the unit.")),
			{Name: "what", Kind: tables.Text, About: "What was seen.", Required: true, Enum: words(underlamp.Responses())},
			number("value", "", "What was seen, in the unit of value_unit."), text("value_unit", "Unit of the value; missing for counts, grades and yes or no."), text("missing", "Why there is no value."),
			text("by", "Who saw it."), text("with", "The instrument."), text("note", "Words of who saw it."), text("corrects", "Id of the row that this one stands for."),
			must(yes("struck", "The row under corrects does not count, and nothing stands for it.")), must(yes("counts", "The row counts: no later one corrects or strikes it.")),
		}}
	plantDays = schema{"plant_days", "Plants by day", "One row for each plant and day, with all that was seen of it on that day and counts, and what the plant was given: the table to analyse. Of two values of one day the later row counts, and burn stays once it was seen.", []string{"unit", "plant", "date"},
		[]tables.Reference{to("units", "unit", "unit"), to("treatments", "treatment", "treatment")}, append([]tables.Column{
			must(text("unit", "Unit of the plant.")), must(text("plant", "Plant within the unit.")), date("date", "Day of the look."), whole("day", "d", "Days after transplanting."),
			must(text("treatment", "Its treatment.")), text("block", "Its block."), text("place", "Place of the unit."), text("whole", "Whole unit of a split plot."), text("part", "Part of a split plot."), text("lamp", "Lamp of the unit."),
			positive(number("dli", uDLI, "Daily light of the unit: what it got if the plan says so, else what was aimed at.")),
		}, responses()...)}
	figures = schema{"figures", "Figures of the findings", "Each figure of the findings with its interval; one row for each.", nil, nil, []tables.Column{
		must(text("part", "Question that it answers.")), must(text("figure", "What it is.")), number("value", "", "The figure, in value_unit."), text("word", "What stands instead of a number, for grades."),
		text("value_unit", "Unit of the figure."), number("low", "", "Lower end of its interval."), number("high", "", "Upper end of its interval."), share("level", "Probability meant to lie inside; missing if the interval is none of probability."), text("over", "What the interval spans, if not a probability."),
		text("formula", "How it was reached."), text("sources", "Keys of the bibliography of the program."),
	}}
	lamps = schema{"lamps", "Lamps", "One row for each lamp of the bench.", []string{"lamp"}, nil, []tables.Column{
		must(text("lamp", "Name of the lamp.")), text("kind", "Make, or what lamps of one kind are called."), number("x", "m", "Middle of the luminous opening, from the left."), number("y", "m", "The same, from the front."),
		positive(number("height", "m", "Of the luminous opening above the planting surface.")), positive(number("flux", "µmol s⁻¹", "Photons at full power, when new.")), text("flux_origin", "Where that is from: measured, label, stated, fitted to readings, default."),
		positive(number("power", "W", "Drawn at full power, driver included.")), text("power_origin", "Where that is from."), share("dimming", "Position of the dimmer."), positive(number("hours", "h d⁻¹", "Hours of light.")),
		text("photometric_file", "File of its distribution, under files/."), text("spectrum_file", "File of its spectrum, under files/."), date("new_on", "Day on which it was first lit."),
	}}
	benchPlants = schema{"plants", "Plants of the bench", "Where plants stand and what light they get as the bench is set; one row for each plant.", []string{"plant"}, nil, []tables.Column{
		must(text("plant", "Name of the plant.")), number("x", "m", "Place from the left."), number("y", "m", "Place from the front."), positive(number("height", "m", "How tall it stands, if somebody said.")),
		positive(number("ppfd", uPPFD, "Computed at the planting surface, mean over its crown.")), positive(number("ppfd_sd", uPPFD, "Standard deviation of that.")), positive(number("dli", uDLI, "The same over the day.")), positive(number("dli_sd", uDLI, "Standard deviation of that.")),
	}}
	readings = schema{"light_readings", "Meter readings of light", "Readings of a quantum meter, as the bench file has them; one row for each.", nil, nil, []tables.Column{
		text("reading", "Name of the reading."), number("x", "m", "Place from the left."), number("y", "m", "Place from the front."), number("height", "m", "Of the sensor above the planting surface."),
		positive(number("ppfd", uPPFD, "What the meter read.")), text("lamps_on", "Lamps that were on, parted by semicolons; missing: all."), share("dimming", "Dimming at the reading."), text("when", "Day, as written."),
	}}
	rounds = schema{"rounds", "Entries of the rounds", "Everything that people entered on their walks past the plants, corrected and struck entries too; one thing seen of one plant in a row.", []string{"id"}, nil, []tables.Column{
		{Name: "id", Kind: tables.Text, About: "Name of the entry.", Required: true, Unique: true}, must(instant("time", "When it was seen, by the corrected clock of the phone.")), date("date", "Day of it, in the zone of the bench."),
		text("plant", "Name of the plant."), must(text("what", "What was seen: a measure, note, photo, or cut.")), number("value", "", "In the unit of value_unit."), text("value_unit", "Unit of the value."), text("typed", "What was typed."), text("missing", "Why there is no value."),
		text("by", "Who saw it."), text("with", "The instrument."), text("note", "Words."), text("corrects", "Id of the entry that this one stands for."), must(yes("struck", "The entry under corrects does not count.")), must(yes("counts", "It counts.")),
		must(instant("recorded", "When it was entered.")), text("photo", "Id of the picture."), text("clock", "State of the phone's clock: right, corrected, changed."), text("beside", "Ids of entries that somebody said are right too, parted by semicolons."),
	}}
	photos = schema{"photos", "Figures of photos", "What was measured in photos of plants; one row for each plant, photo and figure.", nil, nil, []tables.Column{
		must(text("photo", "Id of the photo: the sha256 of its bytes.")), must(instant("time", "When it was taken.")), date("date", "Day of it, in the zone of the bench."), text("plant", "Name of the plant on the bench."), text("unit", "Unit of a trial, if the label is of one."), text("code", "Code of the label."),
		must(text("what", "What was measured.")), number("value", "", "The figure, in value_unit."), number("sd", "", "Its standard deviation."), text("value_unit", "Unit of the figure."), text("method", "Method that read it, with its version."), text("refused", "Why nothing was measured."),
	}}
	environment = schema{"environment", "Environment by day", "What sensors read, by day while the lamps were on, while they were off, and over the day; means weighed by time. Days are those of the zone that the README names.", []string{"date", "part"}, nil, []tables.Column{
		must(date("date", "The day.")), {Name: "part", Kind: tables.Text, About: "Part of the day.", Required: true, Enum: []string{"light", "dark", "day"}}, positive(number("hours", "h", "Hours with readings.")),
		number("air_temperature", uC, "Mean."), share("humidity", "Mean relative humidity, as a share."), positive(number("vpd", uKPa, "Mean of vapour pressure deficits, not the deficit of means.")), positive(number("co2", uPPM, "Mean.")),
		positive(number("dli", uDLI, "Daily light where the sensor is; in rows of the day.")), positive(number("light_hours", "h", "Hours of light; in rows of the day.")), share("covered", "Share of the day with readings; in rows of the day."), yes("whole", "Enough readings for the means; in rows of the day."),
	}}
	sensors = schema{"sensors", "Sensors", "What reads; one row for each sensor of the bench.", []string{"sensor"}, nil, []tables.Column{
		must(text("sensor", "Name of the sensor.")), text("quantity", "What it reads."), text("unit", "Unit of what it sends."), number("x", "m", "Place from the left."), number("y", "m", "Place from the front."), number("height", "m", "Above the planting surface."),
		positive(number("every", "s", "Time between readings, as expected.")), text("note", "Words."), whole("calibrations", "1", "How many calibrations are known."),
	}}
	sensorHours = schema{"sensor_hours", "Sensors by hour", "Readings summed up by hour, after calibration; one row for each sensor and hour with readings.", []string{"sensor", "hour"},
		[]tables.Reference{to("sensors", "sensor", "sensor")}, []tables.Column{
			must(text("sensor", "Name of the sensor.")), must(instant("hour", "Begin of the hour, in UTC.")), must(whole("readings", "1", "How many there were.")), number("mean", "", "Mean, in the unit of the sensor."), number("min", "", "Least."), number("max", "", "Greatest."),
		}}
	sensorReadings = schema{"sensor_readings", "Readings of sensors", "Every reading; one row for each.", nil,
		[]tables.Reference{to("sensors", "sensor", "sensor")}, []tables.Column{
			must(text("sensor", "Name of the sensor.")), must(instant("time", "When, in UTC.")), number("value", "", "As it was sent, in the unit of the sensor."), number("calibrated", "", "After calibration."),
		}}
	changes = schema{"changes", "What was changed", "Changes of the bench and what was done with its crops, in time; one row for each.", nil, nil, []tables.Column{
		must(date("date", "Day of it.")), instant("time", "Instant of it, if it is known."), must(text("event", "Kind: transplanting, harvest, setting.")), text("block", "Block or cycle that it concerns; missing: the bench."), must(text("what", "In words.")), text("by", "Who."), text("why", "Why, as they said."), instant("recorded", "When it was entered, if that is kept."),
	}}
	cycles = schema{"cycles", "Cycles", "Crops of the bench by their cycle files; one row for each.", []string{"cycle"}, nil, []tables.Column{
		must(text("cycle", "Name of the cycle file, under files/.")), text("name", "What people call it."), text("cultivar", "What grew."), date("transplanted", "Day 0."), date("harvested", "Day of harvest."), whole("days", "d", "From transplanting to harvest."),
		positive(number("start_mass", "g", "Fresh mass of a shoot at transplanting.")), text("note", "Words."),
	}}
	cycleLooks = schema{"cycle_observations", "Observations of cycles", "What was seen, by the cycle files; one row for each look.", nil,
		[]tables.Reference{to("cycles", "cycle", "cycle")}, []tables.Column{
			must(text("cycle", "Name of the cycle file.")), text("observation", "Name of the look."), date("date", "Day of it."), whole("day", "d", "Days after transplanting."), text("plant", "Name of the plant; missing for counts over the bench."),
			positive(number("mass", "g", "Fresh mass of the shoot.")), positive(number("mass_sd", "g", "Standard deviation of the scale, if it was said.")), positive(number("height", "m", "Above the planting surface.")), whole("leaves", "1", "Number of leaves."),
			yes("burn", "Inner tipburn was seen; missing if nobody looked."), whole("burnt_leaves", "1", "Burnt leaves, where they were counted."), whole("severity", "1", "Grade of burn, where it was graded."), whole("burnt_heads", "1", "Burnt heads, of a count."), whole("heads", "1", "Heads looked at, of a count."),
			must(yes("cut", "The plant was taken.")), must(yes("counts", "It counts; corrected and withdrawn looks do not.")), text("by", "Who."), text("with", "The instrument."), text("note", "Words."),
		}}
)

// ofTrial and ofBench are the tables that a package can hold, in their order.
var (
	ofTrial = []schema{treatments, factors, units, lightSchema, plots, observations, plantDays, figures, readings, photos, environment, sensors, sensorHours, sensorReadings, changes}
	ofBench = []schema{lamps, benchPlants, readings, cycles, cycleLooks, rounds, photos, environment, sensors, sensorHours, sensorReadings, changes}
)

// Schemas are all tables that packages of a kind, "trial" or "bench", can hold, without rows.
func Schemas(kind string) (out []*tables.Table) {
	all := ofTrial
	if kind == KindBench {
		all = ofBench
	}
	for _, s := range all {
		out = append(out, s.table(nil))
	}
	return out
}

// Kinds of packages.
const (
	KindTrial = "trial"
	KindBench = "bench"
)

func (s schema) table(rows [][]any) *tables.Table {
	return &tables.Table{Name: s.name, Title: s.title, About: s.about, Key: s.key, Refs: s.refs, Columns: s.columns, Rows: tables.Of(rows)}
}
