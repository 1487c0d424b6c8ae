package web

// A Cover says what of the API does the same as an address of the pages, or why nothing has to.
type Cover struct {
	Pattern string   // of the [Route]
	Ops     []string // operations of the API, by id
	Why     string   // where there are none: why
}

const (
	shell   = "the page around what other addresses answer"
	browser = "of use to a browser alone"
)

// Covers tells of every address of the pages which operations of the API do the same. A test
// holds it against [Site.Routes] and the table of operations, and prints it into docs/api.md.
func Covers() []Cover {
	does := func(pattern string, ops ...string) Cover { return Cover{Pattern: pattern, Ops: ops} }
	none := func(pattern, why string) Cover { return Cover{Pattern: pattern, Why: why} }
	return []Cover{
		does("GET /{$}", "listBenches"),
		does("GET /new", "createBench"),
		does("POST /new", "createBench"),
		does("POST /demo", "addDemo"),
		does("POST /demo/remove", "removeDemo"),

		does("GET /bench/{id}", "getBench", "getLight", "getOutlook"),
		does("GET /bench/{id}/light", "getLight"),
		does("GET /bench/{id}/outlook", "getOutlook"),
		does("GET /bench/{id}/best", "beginBest", "beginSettingsMap", "getTask"),
		does("POST /bench/{id}/best", "beginBest", "beginSettingsMap", "stopTask"),
		does("GET /bench/{id}/match", "match"),
		does("GET /bench/{id}/raise", "raise"),
		does("GET /bench/{id}/plan", "beginPlan", "getTask"),
		does("POST /bench/{id}/plan", "beginPlan", "stopTask"),
		does("GET /bench/{id}/doubt", "beginDoubts", "getTask"),
		does("GET /bench/{id}/lamps", "getLamps"),
		does("GET /bench/{id}/aim", "aim"),
		does("GET /bench/{id}/report", "listReports", "getReport"),
		does("POST /bench/{id}/report", "listReports", "stopTask"),
		does("GET /bench/{id}/report/{file}", "getReport"),
		does("GET /bench/{id}/package.zip", "getBenchPackage"),
		does("GET /bench/{id}/tables.xlsx", "getBenchWorkbook"),
		does("GET /bench/{id}/edit", "getBenchFile", "getBench"),
		does("POST /bench/{id}/edit", "putBenchFile", "patchBench"),
		does("POST /bench/{id}/edit/try", "checkBenchFile"),
		none("POST /bench/{id}/edit/merge", "two texts of a person are put together in the browser; a program reads again after 412 and makes its change anew"),
		does("GET /bench/{id}/history", "listBenchVersions"),
		does("POST /bench/{id}/history", "correctBenchVersion"),
		does("POST /bench/{id}/learn", "listCycles", "beginLesson", "stopTask"),
		does("GET /bench/{id}/profile", "beginLesson", "getTask"),

		does("GET /bench/{id}/live", "getBoard"),
		does("GET /bench/{id}/live/now", "getBoard"),
		does("GET /bench/{id}/live/chart", "getChart"),
		does("POST /bench/{id}/live/known", "acknowledgeMessage"),

		does("GET /bench/{id}/feed", "listFeedFiles", "getFeed", "getFeedCorrection", "getFeedLog", "listRecipes", "listSubstances"),
		does("POST /bench/{id}/feed", "beginFeed"),
		does("POST /bench/{id}/feed/file", "getFeedFile", "putFeedFile"),
		does("POST /bench/{id}/feed/log", "addFeedLog"),

		does("GET /bench/{id}/air", "getAir", "getFan", "surveyAir", "getAirRecord"),
		does("GET /bench/{id}/air/part", "getAir"),
		does("GET /bench/{id}/air/hearts", "beginHearts", "getTask"),

		does("GET /bench/{id}/trouble", "listSymptoms", "assessTrouble", "listCases"),
		does("POST /bench/{id}/trouble", "openCase"),
		does("GET /bench/{id}/trouble/{case}", "getCase"),
		does("POST /bench/{id}/trouble/{case}", "concludeCase"),

		none("GET /bench/{id}/rounds", shell),
		does("GET /bench/{id}/rounds/last", "listRoundPlants", "listConflicts"),
		none("GET /bench/{id}/rounds/manifest.webmanifest", browser),
		does("POST /bench/{id}/rounds/send", "sendPacket"),
		does("POST /bench/{id}/rounds/photo", "sendPhoto"),
		does("GET /bench/{id}/rounds/photo", "getPhoto"),
		does("POST /bench/{id}/rounds/label", "readLabel"),
		does("GET /bench/{id}/rounds/code", "findLabel"),
		none("GET /rounds-worker.js", browser),
		does("GET /bench/{id}/seen", "listEntries", "getEntry", "listRoundPlants", "listConflicts"),
		does("POST /bench/{id}/seen/enter", "enterEntry", "correctEntry"),
		does("POST /bench/{id}/seen/decide", "decideConflict"),
		does("GET /bench/{id}/seen/table.csv", "getRoundTable"),
		does("GET /bench/{id}/seen/entries.json", "exportRounds"),
		does("GET /bench/{id}/seen/cycle.yaml", "getRoundCycle"),
		does("GET /bench/{id}/photo/{photo}", "getPhotoPicture"),

		does("GET /bench/{id}/photos", "listPhotos"),
		does("GET /bench/{id}/photos/strip.png", "getPhotoStrip"),
		does("GET /bench/{id}/photos/strip.jpg", "getPhotoStrip"),
		does("GET /bench/{id}/photos/strip.gif", "getPhotoStrip"),
		does("GET /bench/{id}/photos/table.csv", "getPhotoTable"),
		does("GET /bench/{id}/photos/{photo}", "getPhoto"),
		does("GET /bench/{id}/photos/{photo}/{name}", "getPhotoMade"),
		does("POST /bench/{id}/photos/{photo}/verdict", "judgeSpot"),
		does("GET /bench/{id}/labels.pdf", "getLabels"),

		does("GET /trials", "listTrials"),
		does("GET /trials/new", "beginProposals", "getTask"),
		does("POST /trials/new", "createTrial"),
		does("GET /trial/{id}", "beginFindings", "getTask", "getTrialReport"),
		does("POST /trial/{id}", "beginFindings", "stopTask"),
		does("GET /trial/{id}/plan", "getTrial", "getTrialFile", "getTrialLayout", "listTrialJobs", "getTrialCalendar"),
		does("GET /trial/{id}/report", "getTrialReport"),
		does("POST /trial/{id}/report", "getTrialReport", "stopTask"),
		does("GET /trial/{id}/report/{file}", "getTrialReport"),
		does("GET /trial/{id}/package.zip", "getTrialPackage"),
		does("GET /trial/{id}/tables.xlsx", "getTrialWorkbook"),
		does("GET /trial/{id}/sheet", "getTrialSheet"),
		does("GET /trial/{id}/sheet.pdf", "getTrialSheet"),
		does("GET /trial/{id}/labels.pdf", "getTrialLabels"),
		does("GET /trial/{id}/record", "getTrial", "listTrialRecords", "getTrialTable"),
		does("POST /trial/{id}/record", "recordTrial", "putTrialDay"),
		does("GET /trial/{id}/record/look", "lookAtRecord"),
		does("GET /trial/{id}/import", "listTrialImports"),
		does("POST /trial/{id}/import", "sendTrialTable"),
		does("GET /trial/{id}/import/{token}", "previewTrialImport"),
		does("POST /trial/{id}/import/{token}", "importTrialTable"),
		does("POST /trial/{id}/undo", "undoTrialImport"),
		does("GET /trial/{id}/rounds", "getTrialTaking"),
		does("POST /trial/{id}/rounds", "takeOverRounds"),

		does("GET /import", "listImports"),
		does("POST /import", "sendNotes", "sendPackage", "sendTrialTable"),
		does("GET /import/{token}", "previewNotes", "previewPackage"),
		does("POST /import/{token}", "takeNotes", "takePackage"),
		does("POST /import/undo", "undoImport"),

		does("GET /about", "getAbout"),
		does("POST /about", "putAbout"),

		does("GET /work", "listTasks"),
		does("GET /work/{id}", "getTask"),
		does("POST /work/{id}", "stopTask"),
		does("GET /work/{id}/events", "watchTask"),

		does("GET /settings", "getSettings", "getPeople"),
		does("POST /settings", "putSettings"),
		does("POST /settings/backup", "makeBackup"),
		does("POST /settings/invite", "invite"),
		does("POST /settings/end", "endSession"),
		does("POST /settings/remove", "removePerson"),
		none("POST /settings/token", "no program makes tokens for programs: a person at the page of settings, or underlamp token, does"),
		none("POST /settings/token/revoke", "the same"),

		none("GET /pair", "lets a browser in; a program shows a token"),
		none("POST /pair", "the same"),
		none("POST /leave", "the same"),
		does("GET /secure", "getCertificate"),
		does("GET /secure/authority.crt", "getCertificateFile"),
		none("GET /help", "the book, for people to read; openapi.json describes the API to programs"),
		none("GET /help/{path...}", "the same"),
		none("GET /static/{name}", browser),
		none("GET /", "says that there is no such page; the API answers 404"),
	}
}
