package wire

import "time"

// Reports are those that there are of a bench.
type Reports struct {
	Items []Report `json:"items"`
	Not   []string `json:"not_written" doc:"what could not be reported, and why"`
}

// A Report is one that can be asked for, whole or short.
type Report struct {
	Of   string `json:"of" doc:"what it is asked for with" example:"bench"`
	Says string `json:"says" doc:"what it is"`
}

// A NotesPreview is what taking a sheet in would do. Nothing is written by it.
type NotesPreview struct {
	Upload   string         `json:"upload" doc:"names the sheet that was sent, for two hours or until the server ends"`
	File     string         `json:"file,omitempty" doc:"what it is called"`
	SHA256   string         `json:"sha256" doc:"of its bytes, in hexadecimal"`
	Bench    string         `json:"bench"`
	Kind     string         `json:"kind" enum:"plants|cycles|readings" doc:"what its rows are: what was seen of plants, finished crops, readings of light"`
	KindWhy  string         `json:"kind_why" doc:"why it is taken for that"`
	Sheet    string         `json:"sheet,omitempty"`
	Sheets   []string       `json:"sheets" doc:"of the file, with anything in them"`
	Heading  int            `json:"heading" doc:"row of the heading; 0: there is none"`
	Headings []int          `json:"headings" doc:"rows that may be it"`
	Columns  []NotesColumn  `json:"columns"`
	Meanings []NotesMeaning `json:"meanings" doc:"that a column can have"`
	From     string         `json:"columns_from,omitempty" doc:"the import whose columns were taken over"`
	Wrong    string         `json:"wrong,omitempty" doc:"why it cannot be read as was said; the rest is of the sheet by itself"`

	Rows          int             `json:"rows" doc:"below the heading"`
	New           int             `json:"new" doc:"what would be kept"`
	Items         []NotesItem     `json:"items" doc:"the first 200 of them"`
	Same          int             `json:"there_already"`
	Empty         int             `json:"empty" doc:"cells of measures without a value"`
	ConflictCount int             `json:"conflict_count"`
	Conflicts     []NotesConflict `json:"conflicts" doc:"the first 200 of what is there and the sheet says otherwise"`
	FaultCount    int             `json:"fault_count"`
	Faults        []NotesFault    `json:"faults" doc:"the first 200 of the cells that cannot be read"`
	Left          []string        `json:"left_out" doc:"rows that are none of the table, and why"`
	Asked         []string        `json:"asked" doc:"what must be said before anything can be kept"`
	Notes         []string        `json:"assumed" doc:"what was assumed of how it is written"`
	Doubts        []string        `json:"doubts" doc:"what can hardly be meant"`
	Ready         bool            `json:"ready" doc:"there is something to keep, and nothing in the way"`
}

// A NotesColumn is a column of a sheet.
type NotesColumn struct {
	Heading string   `json:"heading"`
	Is      string   `json:"is" doc:"what it is taken for"`
	Why     string   `json:"why" doc:"how that was found"`
	Unit    string   `json:"unit,omitempty" doc:"that the heading names"`
	Day     string   `json:"day,omitempty" doc:"that the heading names"`
	Sample  []string `json:"sample" doc:"its first values"`
	Filled  int      `json:"filled" doc:"cells with something in them"`
}

// A NotesMeaning is what a column can be.
type NotesMeaning struct {
	Is   string `json:"is"`
	Says string `json:"says"`
}

// A NotesItem is one thing that an import would bring.
type NotesItem struct {
	Place string `json:"place" doc:"of the cell, or of the row"`
	About string `json:"about" doc:"plant, crop or reading"`
	What  string `json:"what"`
	Text  string `json:"text" doc:"the value with its unit"`
	Day   string `json:"day,omitempty"`
	Note  string `json:"note,omitempty"`
	Over  string `json:"instead_of,omitempty" doc:"what it would stand in place of"`
}

// A NotesConflict is something that is there and that the sheet says otherwise.
type NotesConflict struct {
	Place string `json:"place" doc:"of the cell; the choice names it"`
	About string `json:"about"`
	What  string `json:"what"`
	Day   string `json:"day,omitempty"`
	Has   string `json:"there" doc:"what is there"`
	Says  string `json:"sheet" doc:"what the sheet says"`
	Take  bool   `json:"take" doc:"the sheet would count"`
}

// A NotesFault is a cell that cannot be read.
type NotesFault struct {
	Place   string `json:"place"`
	Heading string `json:"heading,omitempty"`
	Says    string `json:"says" doc:"what stands there"`
	Want    string `json:"want" doc:"what is expected"`
}

// NotesTake keeps what a preview showed: what is said of the sheet must be said again.
type NotesTake struct {
	Upload    string            `json:"upload" maxlen:"64"`
	Kind      string            `json:"kind,omitempty" enum:"plants|cycles|readings" doc:"what rows are; found out if it is not said"`
	Sheet     string            `json:"sheet,omitempty" maxlen:"200" doc:"the likeliest if it is not said"`
	Heading   int               `json:"heading,omitempty" min:"-1" doc:"row of the heading; -1: there is none; found out if it is not said"`
	Columns   map[string]string `json:"columns,omitempty" doc:"what headings are" example:"{\"Head\":\"plant\",\"Weight\":\"mass\"}"`
	Day       string            `json:"day,omitempty" maxlen:"10" doc:"of rows without one" example:"2026-10-01"`
	By        string            `json:"by,omitempty" maxlen:"80" doc:"who saw it, of rows that do not say, and who takes it in; the name of the token if it is not said"`
	Height    string            `json:"height,omitempty" maxlen:"40" doc:"of the sensor, of readings without one" example:"5 cm"`
	Seedlings int               `json:"seedling_days,omitempty" min:"0" max:"200" unit:"d" doc:"from sowing to transplanting, of crops without that day"`
	DayFirst  *bool             `json:"day_first,omitempty" doc:"3/4 is the third of April; found out if it is not said"`
	Comma     *bool             `json:"decimal_comma,omitempty" doc:"found out if it is not said"`
	Year      int               `json:"year,omitempty" min:"1970" max:"9999" doc:"of days without one"`
	Skip      bool              `json:"skip,omitempty" doc:"leave out what cannot be read"`
	Choices   map[string]bool   `json:"choices,omitempty" doc:"by place of a conflict: true: the sheet counts; false: what is there stays"`
	Take      bool              `json:"take,omitempty" doc:"the sheet counts in all other conflicts"`
}

// NotesTaken is what was kept.
type NotesTaken struct {
	Import string `json:"import,omitempty" doc:"by which it can be taken back; missing: all was there already, and nothing was written"`
	New    int    `json:"new" doc:"what was kept"`
	Over   int    `json:"instead_of_others" doc:"of these, what stands in place of something else"`
	Same   int    `json:"there_already"`
}

// A PackagePreview is what taking a data package in would do.
type PackagePreview struct {
	Upload      string   `json:"upload" doc:"names the package that was sent, for two hours or until the server ends"`
	File        string   `json:"file,omitempty"`
	SHA256      string   `json:"sha256" doc:"of its bytes, in hexadecimal"`
	Title       string   `json:"title,omitempty"`
	Kind        string   `json:"kind" doc:"what it is of"`
	Begin       string   `json:"begin,omitempty" doc:"the file to begin with"`
	New         []string `json:"new" doc:"files that would be kept"`
	Same        []string `json:"there_already"`
	Conflicts   []string `json:"conflicts" doc:"files that are there with another content; nothing is kept then"`
	Entries     int      `json:"entries" doc:"of rounds, that would be kept; of packages of a bench, where the server has a store"`
	SameEntries int      `json:"entries_there_already"`
	Notes       []string `json:"notes"`
	Ready       bool     `json:"ready" doc:"there is something to keep, and nothing in the way"`
}

// PackageTake keeps the files of a package.
type PackageTake struct {
	Upload string `json:"upload" maxlen:"64"`
	By     string `json:"by,omitempty" maxlen:"80" doc:"who takes it in; the name of the token if it is not said"`
}

// A NotesImport is an import of the past.
type NotesImport struct {
	ID     string    `json:"id"`
	At     time.Time `json:"at"`
	By     string    `json:"by,omitempty"`
	File   string    `json:"file"`
	SHA256 string    `json:"sha256"`
	Bench  string    `json:"bench,omitempty"`
	Kind   string    `json:"kind" enum:"plants|cycles|readings|package"`
	Sheet  string    `json:"sheet,omitempty"`
	Rows   int       `json:"rows"`
	New    int       `json:"new"`
	Over   int       `json:"instead_of_others"`
	Done   bool      `json:"done" doc:"false: it was stopped midway; take it back, and in again"`

	Undone   *time.Time `json:"taken_back,omitempty" doc:"when it was"`
	UndoneBy string     `json:"taken_back_by,omitempty"`
	Stays    []string   `json:"stays" doc:"what of it stays though it was taken back, and why"`
}
