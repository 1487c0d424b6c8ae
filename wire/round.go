package wire

import "time"

// A RoundEntry is one thing that somebody saw of one plant. It is never changed: a correction is
// an entry of its own.
type RoundEntry struct {
	ID       string     `json:"id"`
	At       time.Time  `json:"at" doc:"when it was seen; a correction counts with the time of what it corrects"`
	Recorded time.Time  `json:"recorded"`
	Plant    string     `json:"plant"`
	What     string     `json:"what" doc:"mass, height, leaves, burn, severity, clear, first, width, area, note, photo or cut"`
	Value    Number     `json:"value" doc:"in measure; null for notes, photos, and what is missing"`
	Measure  string     `json:"measure,omitempty" doc:"unit of the value"`
	Text     string     `json:"text" doc:"what it says, as people read it"`
	Typed    string     `json:"typed,omitempty" doc:"as it was typed"`
	Missing  string     `json:"missing,omitempty" doc:"why there is no value"`
	Photo    string     `json:"photo,omitempty" doc:"id of the picture"`
	By       string     `json:"by,omitempty"`
	With     string     `json:"with,omitempty" doc:"the instrument"`
	Note     string     `json:"note,omitempty"`
	Beside   []string   `json:"beside,omitempty" doc:"entries that somebody said are right too"`
	Clock    string     `json:"clock,omitempty" enum:"right|corrected|changed" doc:"how the instant was reached from the clock of a phone: it was right, it was off and the time is corrected, or it was changed meanwhile and the time is unsure"`
	Day      *int       `json:"day,omitempty" unit:"d" doc:"after transplanting; missing if the bench does not say when that was"`
	Corrects string     `json:"corrects,omitempty"`
	Struck   bool       `json:"struck,omitempty" doc:"it takes what it corrects out, and nothing stands for that"`
	Counts   bool       `json:"counts" doc:"nothing corrects it, and it strikes nothing"`
	After    []string   `json:"corrected_by,omitempty" doc:"ids of the entries that correct it"`
	Doubts   []string   `json:"doubts,omitempty" doc:"what can hardly be meant of it"`
	Dated    *time.Time `json:"counts_for,omitempty" doc:"the instant that it is about, where that is another than at"`
}

// A RoundHistory is an entry with all that was entered in its place.
type RoundHistory struct {
	Entry   RoundEntry   `json:"entry"`
	History []RoundEntry `json:"history" doc:"from the first on, in the order of entering; the entry is among them"`
}

// A RoundPlant is what is known of a plant of a bench.
type RoundPlant struct {
	Plant      string       `json:"plant"`
	Entries    int          `json:"entries"`
	Last       []RoundEntry `json:"last" doc:"the latest of each measure that counts"`
	BurnClear  string       `json:"burn_clear,omitempty" doc:"day of the last look before burn that saw none"`
	BurnFirst  string       `json:"burn_first,omitempty" doc:"day of the first look that saw some"`
	Undecided  []string     `json:"undecided" doc:"measures of which two people saw different things"`
	OnTheBench bool         `json:"on_the_bench" doc:"the bench has a plant of this name"`
}

// A RoundPacket is what a phone sends at once.
type RoundPacket struct {
	Version int           `json:"underlamp rounds" min:"1" max:"1" doc:"version of the packet" example:"1"`
	Phone   string        `json:"phone" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"id of the phone or program, made by it" example:"scale-by-the-door"`
	Now     int64         `json:"now_ms" min:"0" unit:"ms" doc:"its clock at sending, since 1970-01-01 UTC: by it the times of the entries are put right"`
	Entries []RoundPacked `json:"entries" maxlen:"500"`
}

// RoundPacked is an entry as a phone sends it. It is the same however often it is sent.
type RoundPacked struct {
	ID       string `json:"id" maxlen:"64" doc:"8 to 64 letters, digits, - or _, made by the sender, so that sending twice enters once"`
	Plant    string `json:"plant" maxlen:"100"`
	What     string `json:"what" maxlen:"20"`
	Typed    string `json:"typed,omitempty" maxlen:"60" doc:"the value as a person types it: 141, 4.97 oz, yes" example:"141 g"`
	Missing  string `json:"missing,omitempty" maxlen:"100" doc:"why there is no value"`
	Photo    string `json:"photo,omitempty" maxlen:"64" doc:"id of the picture, which is sent by itself"`
	By       string `json:"by,omitempty" maxlen:"100"`
	With     string `json:"with,omitempty" maxlen:"100" doc:"the instrument"`
	Note     string `json:"note,omitempty" maxlen:"2000"`
	At       int64  `json:"typed_ms" unit:"ms" doc:"the clock at typing, since 1970-01-01 UTC"`
	Before   *int64 `json:"before_ms,omitempty" unit:"ms" doc:"the offset from the clock of the server that was known at typing"`
	Jump     int64  `json:"jump_ms,omitempty" unit:"ms" doc:"what the clock had gained on a steady one since then"`
	Corrects string `json:"corrects,omitempty" maxlen:"64"`
	Struck   bool   `json:"struck,omitempty" doc:"the entry under corrects shall not count"`
}

// RoundReceived is what became of a packet.
type RoundReceived struct {
	Now     int64          `json:"now_ms" unit:"ms" doc:"the clock of the server"`
	Kept    []string       `json:"kept" doc:"ids that are on the disk; also of those that came before"`
	Refused []RoundRefused `json:"refused"`
	Doubts  []RoundDoubt   `json:"doubts" doc:"what can hardly be meant of what was kept"`
}

// RoundRefused is an entry that was not kept.
type RoundRefused struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

// A RoundDoubt is what can hardly be meant.
type RoundDoubt struct {
	ID    string `json:"id"`
	Plant string `json:"plant"`
	Text  string `json:"text"`
}

// RoundNew is an entry that is written at the server.
type RoundNew struct {
	ID    string `json:"id,omitempty" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"made by the sender, so that sending twice enters once; made here if it is not said"`
	Plant string `json:"plant" maxlen:"100"`
	What  string `json:"what" enum:"mass|height|leaves|burn|severity|clear|first|width|area|note|cut"`
	Value string `json:"value,omitempty" maxlen:"60" doc:"as a person types it: 141 g, 4.97 oz, yes; of a note nothing" example:"141 g"`
	Day   string `json:"day,omitempty" format:"date" doc:"on which it was seen; now if it is not said"`
	By    string `json:"by,omitempty" maxlen:"100" doc:"who says so; the name of the token if it is not said"`
	Note  string `json:"note,omitempty" maxlen:"2000"`
}

// RoundCorrection corrects an entry.
type RoundCorrection struct {
	ID    string `json:"id,omitempty" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"of the correction, made by the sender, so that sending twice enters once; made here if it is not said"`
	Do    string `json:"do" enum:"correct|strike|back" doc:"another value stands for it; it does not count; what stood before it counts again"`
	Value string `json:"value,omitempty" maxlen:"2000" doc:"the right one, to correct; of a note its text"`
	By    string `json:"by,omitempty" maxlen:"100" doc:"who says so; the name of the token if it is not said"`
	Note  string `json:"note,omitempty" maxlen:"2000" doc:"why"`
}

// A RoundConflict is entries that count, of one plant, measure and day, and say different things.
type RoundConflict struct {
	Plant   string       `json:"plant"`
	What    string       `json:"what"`
	Day     string       `json:"day"`
	Entries []RoundEntry `json:"entries"`
}

// RoundDecision ends a conflict.
type RoundDecision struct {
	ID   string   `json:"id,omitempty" pattern:"^[A-Za-z0-9_-]{8,60}$" doc:"of the decision, made by the sender, so that sending twice decides once; made here if it is not said"`
	Of   []string `json:"of" minlen:"2" maxlen:"40" doc:"ids of all the entries that disagree"`
	Keep string   `json:"keep" maxlen:"64" doc:"id of the one that counts; all: they are right side by side"`
	By   string   `json:"by,omitempty" maxlen:"100" doc:"who decides; the name of the token if it is not said"`
}

// RoundDecided is what a decision entered.
type RoundDecided struct {
	Entries []RoundEntry `json:"entries" doc:"empty if it was decided before"`
}

// A PhotoCard is a photo in a list.
type PhotoCard struct {
	ID     string    `json:"id"`
	Taken  time.Time `json:"taken"`
	Named  string    `json:"named,omitempty" doc:"the plant that whoever took it named"`
	State  string    `json:"state" enum:"waiting|measured|refused"`
	Says   string    `json:"says,omitempty" doc:"what was read in it, or why nothing was"`
	Plants []string  `json:"plants" doc:"of the bench, that were measured in it"`
	Open   int       `json:"spots_open" doc:"spots that nobody has judged"`
}

// A Photo is one with what was read in it.
type Photo struct {
	PhotoCard
	Method string      `json:"method,omitempty" doc:"that read it"`
	SHA256 string      `json:"sha256,omitempty" doc:"of the original"`
	Width  int         `json:"width,omitempty" unit:"px"`
	Height int         `json:"height,omitempty" unit:"px"`
	Notes  []string    `json:"notes"`
	Looks  []PhotoLook `json:"looks" doc:"one for each label in it"`
}

// A PhotoLook is one plant in one photo.
type PhotoLook struct {
	Code      string        `json:"code" doc:"of its label"`
	Bench     string        `json:"bench,omitempty"`
	Plant     string        `json:"plant,omitempty"`
	Trial     string        `json:"trial,omitempty" doc:"if the label is of a trial"`
	Unit      string        `json:"unit,omitempty" doc:"code of unit and plant in the trial"`
	Day       *int          `json:"day,omitempty" unit:"d" doc:"after transplanting"`
	Refused   string        `json:"refused,omitempty" doc:"why it was not measured, and what to do"`
	Figures   []PhotoFigure `json:"figures"`
	Mass      *PhotoMass    `json:"mass,omitempty" doc:"what its leaf area weighs by the weighings so far"`
	NoMass    string        `json:"no_mass_because,omitempty"`
	Spots     []PhotoSpot   `json:"spots" doc:"that may be burn"`
	Doubts    []string      `json:"doubts"`
	Picture   string        `json:"picture,omitempty" doc:"name of the picture of this plant alone"`
	TiltDeg   Number        `json:"tilt_deg" unit:"°" doc:"of the camera against the label"`
	MMPerPixl Number        `json:"mm_per_pixel" unit:"mm" doc:"of its picture"`
}

// A PhotoFigure is a figure of a plant with its standard deviation.
type PhotoFigure struct {
	What  string `json:"what" example:"area"`
	Name  string `json:"name" example:"leaf area seen from above"`
	Value Number `json:"value"`
	SD    Number `json:"sd" doc:"one standard deviation"`
	Unit  string `json:"unit,omitempty" example:"cm²"`
}

// A PhotoMass is a mass that a photo tells.
type PhotoMass struct {
	Grams Number `json:"fresh_g" unit:"g"`
	Low   Number `json:"low_g" unit:"g"`
	High  Number `json:"high_g" unit:"g"`
}

// A PhotoSpot is a spot that may be burn.
type PhotoSpot struct {
	ID     string  `json:"id" doc:"within the photo"`
	Inner  bool    `json:"inner" doc:"on the inner leaves"`
	Area   Number  `json:"area_mm2" unit:"mm²"`
	X      Number  `json:"x" doc:"its middle, as a share of the width of the photo"`
	Y      Number  `json:"y" doc:"the same from above, as a share of the width too"`
	Radius Number  `json:"radius" doc:"of a circle that holds it, as a share of the width"`
	Chance *Number `json:"chance_of_burn,omitempty" min:"0" max:"1" doc:"that a person would call it burnt, by the verdicts so far"`
	Said   *bool   `json:"burnt,omitempty" doc:"what a person said of it"`
}

// PhotoVerdict is what a person says of a spot.
type PhotoVerdict struct {
	ID    string `json:"id,omitempty" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"made by the sender, so that sending twice enters once; made here if it is not said"`
	Spot  string `json:"spot" maxlen:"80"`
	Burnt bool   `json:"burnt"`
	By    string `json:"by,omitempty" maxlen:"100" doc:"who says so; the name of the token if it is not said"`
}

// PhotoKept says that a picture is kept.
type PhotoKept struct {
	ID    string `json:"id"`
	State string `json:"state" enum:"waiting|measured|refused"`
}

// LabelRead is the plant of a label.
type LabelRead struct {
	Plant string `json:"plant"`
	Code  string `json:"code"`
}
