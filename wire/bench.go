package wire

import (
	"encoding/json"
	"time"
)

// A BenchCard is a bench in a list.
type BenchCard struct {
	ID       string `json:"id" doc:"the name of its file, without the ending" example:"tier-1-top"`
	Name     string `json:"name" doc:"as people call it" example:"Cellar rack, top tier"`
	Species  string `json:"species,omitempty" example:"lettuce"`
	Type     string `json:"head_type,omitempty" doc:"of lettuce"`
	Cultivar string `json:"cultivar,omitempty"`
	Plants   int    `json:"plants"`
	Lamps    int    `json:"lamps"`
	Wrong    string `json:"wrong,omitempty" doc:"what is wrong with the file, so that nothing is computed"`
}

// A Bench is one as it is described, in SI units.
type Bench struct {
	BenchCard
	Units    string          `json:"units" enum:"metric|us" doc:"in which people are shown it"`
	Space    Space           `json:"space"`
	Setting  Setting         `json:"setting"`
	Origins  SettingOrigins  `json:"setting_origins" doc:"where each part of the setting comes from"`
	LampList []BenchLamp     `json:"lamp_list"`
	Places   []BenchPlant    `json:"plant_list"`
	Readings []MeterReading  `json:"readings" doc:"of a meter, at the planting surface or above"`
	Limits   BenchLimits     `json:"limits"`
	Days     int             `json:"days" unit:"d" doc:"from transplanting to harvest"`
	Remarks  string          `json:"remarks,omitempty" doc:"what is to be said of the file"`
	Document json.RawMessage `json:"document" doc:"the bench file itself, as JSON; amounts are written as in the file, with their units"`
}

// A Space is what is around the plants.
type Space struct {
	Width  float64 `json:"width_m" unit:"m"`
	Depth  float64 `json:"depth_m" unit:"m"`
	Height float64 `json:"height_m" unit:"m" doc:"from the planting surface to what is above"`
}

// SettingOrigins say where the parts of a setting come from.
type SettingOrigins struct {
	Dimming string `json:"dimming" doc:"said in the file, or default"`
	Hours   string `json:"hours"`
}

// A BenchLamp is a lamp of a bench.
type BenchLamp struct {
	Name    string  `json:"name"`
	Kind    string  `json:"kind"`
	X       float64 `json:"x_m" unit:"m" doc:"from the left"`
	Y       float64 `json:"y_m" unit:"m" doc:"from the front"`
	Height  float64 `json:"height_m" unit:"m" doc:"over the planting surface"`
	Dimming float64 `json:"dimming" min:"0" max:"1"`
	Power   float64 `json:"power_w" unit:"W" doc:"at full power"`
	Flux    float64 `json:"photon_flux_umol_s" unit:"µmol s⁻¹" doc:"at full power"`
}

// A BenchPlant is where a plant stands.
type BenchPlant struct {
	Name string  `json:"name"`
	X    float64 `json:"x_m" unit:"m"`
	Y    float64 `json:"y_m" unit:"m"`
}

// A MeterReading is what a meter read.
type MeterReading struct {
	Name string  `json:"name"`
	X    float64 `json:"x_m" unit:"m"`
	Y    float64 `json:"y_m" unit:"m"`
	Z    float64 `json:"z_m" unit:"m"`
	PPFD float64 `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
}

// BenchLimits are what a plan may not go beyond.
type BenchLimits struct {
	Burn   float64 `json:"chance_of_burn" min:"0" max:"1"`
	Target float64 `json:"target_ppfd_umol_m2_s,omitempty" unit:"µmol m⁻² s⁻¹" doc:"missing if none is set"`
}

// A NewBench is a bench that is to be made: by the text of its file, or by answers to the five
// questions of the page (what is not answered is assumed, and marked so in the file).
type NewBench struct {
	ID     string `json:"id,omitempty" maxlen:"100" pattern:"^[A-Za-z0-9_][A-Za-z0-9_-]*$" doc:"name of its file; made of the name if it is not said"`
	Name   string `json:"name" minlen:"1" maxlen:"200" example:"Shelf by the window"`
	Text   string `json:"text,omitempty" maxlen:"1000000" doc:"of the bench file, in YAML"`
	Units  string `json:"units,omitempty" enum:"metric|us"`
	Space  string `json:"space,omitempty" maxlen:"200" doc:"width x depth x height" example:"120 x 60 x 45 cm"`
	Lamps  string `json:"lamps,omitempty" maxlen:"200" doc:"how many, watts or photon flux of each, height over the planting surface" example:"2, 48 W, 32 cm"`
	Plants string `json:"plants,omitempty" maxlen:"200" doc:"how many, and what type" example:"18 butterhead"`
	Fan    string `json:"fan,omitempty" maxlen:"200" doc:"none, across the heads, or down onto the hearts" example:"across"`
	Price  string `json:"price,omitempty" maxlen:"200" doc:"of electricity" example:"0.31 EUR/kWh"`
	By     string `json:"by,omitempty" maxlen:"500" doc:"who says so; the name of the token if nobody does"`
	Why    string `json:"why,omitempty" maxlen:"500"`
}

// A BenchPatch changes a bench where it says so, and leaves every other byte of its file.
type BenchPatch struct {
	Height  *float64      `json:"height_m,omitempty" unit:"m" above:"0" max:"20" doc:"of all lamps over the planting surface" example:"0.36"`
	Dimming *float64      `json:"dimming,omitempty" min:"0" max:"1" doc:"of all lamps" example:"0.7"`
	Hours   *float64      `json:"hours,omitempty" unit:"h" above:"0" max:"24" doc:"of light a day" example:"16"`
	Changes []BenchChange `json:"changes,omitempty" maxlen:"400" doc:"any other, made after those"`
	Moved   bool          `json:"lamps_moved,omitempty" doc:"changes move lamps: they keep what readings of a meter taught of them, and the readings go"`
	From    *time.Time    `json:"from,omitempty" doc:"since when it is so; now if it is not said. A time before corrects the past"`
	By      string        `json:"by,omitempty" maxlen:"500"`
	Why     string        `json:"why,omitempty" maxlen:"500"`
}

// A BenchChange is one change of a bench file.
type BenchChange struct {
	Do   string `json:"do" enum:"set|put|add|remove" doc:"set writes a single value, put a whole part or list, add an item at the end of a list; remove takes away"`
	Path string `json:"path" minlen:"1" maxlen:"300" doc:"of the key in the file; items with a name may be called by it" example:"lamps[\"left panel\"].height"`
	Text string `json:"text,omitempty" maxlen:"20000" doc:"as it is written in the file: 34 cm" example:"34 cm"`
}

// A BenchText is the text of a bench file to look at.
type BenchText struct {
	Text string `json:"text" maxlen:"1000000"`
}

// A BenchLook says what is wrong with the text of a bench file.
type BenchLook struct {
	Usable   bool           `json:"usable" doc:"there are remarks at most"`
	Problems []BenchProblem `json:"problems"`
}

// A BenchProblem is a place of a bench file and what is wrong there.
type BenchProblem struct {
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Path     string `json:"path,omitempty"`
	Severity string `json:"severity" enum:"error|warning"`
	Text     string `json:"text" doc:"what is wrong, and what is wanted"`
}

// A BenchVersion is a stretch of time in which a bench was as one version says.
type BenchVersion struct {
	From     time.Time  `json:"from"`
	To       *time.Time `json:"to" doc:"null: it holds"`
	Recorded time.Time  `json:"recorded" doc:"when it was entered"`
	By       string     `json:"by,omitempty"`
	Why      string     `json:"why,omitempty"`
	Changes  []string   `json:"changes" doc:"what became otherwise, in words"`
	Text     string     `json:"text" doc:"of the file; empty: the bench was taken away"`
}

// A BenchCorrection puts the begin of a version right.
type BenchCorrection struct {
	Begin time.Time `json:"begin" doc:"from of the version, as it is listed"`
	From  time.Time `json:"from" doc:"since when it really was so"`
	By    string    `json:"by,omitempty" maxlen:"500"`
	Why   string    `json:"why,omitempty" maxlen:"500"`
}

// Demo says what became of the files of the demo.
type Demo struct {
	Files []string `json:"files" doc:"added, or left since somebody has changed them"`
}
