package web

import (
	"fmt"
	"net/http"
	"strings"

	"underlamp/access"
	"underlamp/app/round"
	"underlamp/formats/photofile"
	"underlamp/web/door"
)

// A Route is an address of the site, and who it is for. Nobody else gets an answer from it.
type Route struct {
	Pattern string // as [http.ServeMux] takes it
	Who     access.Who
	Body    int64 // most bytes of what is sent; 0: nothing is

	handle http.HandlerFunc
}

// form is room for a form.
const form = 8 << 10

// Routes are all addresses. What is for whom is said here and nowhere else.
func (s *Site) Routes() []Route {
	all := []Route{
		{"GET /{$}", access.Members, 0, s.list},
		{"GET /bench/{id}", access.Readers, 0, s.bench},
		{"GET /bench/{id}/light", access.Readers, 0, s.lightPart},
		{"GET /bench/{id}/outlook", access.Readers, 0, s.outlookPart},
		{"GET /bench/{id}/best", access.Readers, 0, s.bestPart},
		{"GET /bench/{id}/match", access.Readers, 0, s.match},
		{"GET /bench/{id}/raise", access.Readers, 0, s.raise},
		{"POST /bench/{id}/best", access.Owners, form, s.bestDo},
		{"GET /bench/{id}/plan", access.Readers, 0, s.plan},
		{"POST /bench/{id}/plan", access.Owners, form, s.planDo},
		{"GET /bench/{id}/doubt", access.Readers, 0, s.doubtPart},
		{"GET /bench/{id}/lamps", access.Readers, 0, s.lamps},
		{"GET /bench/{id}/aim", access.Readers, 0, s.aim},
		{"GET /bench/{id}/feed", access.Readers, 0, s.feedPage},
		{"POST /bench/{id}/feed", access.Owners, 16 << 10, s.feedNew},
		{"POST /bench/{id}/feed/file", access.Owners, mostFeed, s.feedSave},
		{"POST /bench/{id}/feed/log", access.Walkers, form, s.feedLog},
		{"GET /bench/{id}/air", access.Readers, 0, s.airPage},
		{"GET /bench/{id}/air/part", access.Readers, 0, s.airPart},
		{"GET /bench/{id}/air/hearts", access.Readers, 0, s.airHearts},
		{"GET /bench/{id}/report", access.Readers, 0, s.benchReport},
		{"POST /bench/{id}/report", access.Owners, form, s.benchReportDo},
		{"GET /bench/{id}/report/{file}", access.Readers, 0, s.benchPaper},
		{"POST /bench/{id}/learn", access.Owners, form, s.learnDo},
		{"GET /bench/{id}/profile", access.Readers, 0, s.profile},
		{"GET /bench/{id}/trouble", access.Readers, 0, s.troublePage},
		{"GET /bench/{id}/labels.pdf", access.Readers, 0, s.labelsPDF},
		{"GET /trial/{id}/labels.pdf", access.Readers, 0, s.trialLabels},
		{"GET /trials", access.Members, 0, s.trialsPage},
		{"GET /trials/new", access.Owners, 0, s.trialNew},
		{"POST /trials/new", access.Owners, mostQuestion, s.trialNew},
		{"GET /trial/{id}", access.Readers, 0, s.trialPage},
		{"POST /trial/{id}", access.Owners, form, s.findingsDo},
		{"GET /trial/{id}/report", access.Readers, 0, s.trialReport},
		{"POST /trial/{id}/report", access.Owners, form, s.trialReportDo},
		{"GET /trial/{id}/report/{file}", access.Readers, 0, s.trialPaper},
		{"GET /trial/{id}/package.zip", access.Readers, 0, s.trialPackage},
		{"GET /trial/{id}/tables.xlsx", access.Readers, 0, s.trialTables},
		{"GET /trial/{id}/plan", access.Readers, 0, s.trialPlan},
		{"GET /trial/{id}/sheet", access.Readers, 0, s.trialSheet},
		{"GET /trial/{id}/sheet.pdf", access.Readers, 0, s.sheetPDF},
		{"GET /trial/{id}/record", access.Walkers, 0, s.trialRecord},
		{"POST /trial/{id}/record", access.Walkers, mostRecord, s.trialRecordDo},
		{"GET /trial/{id}/record/look", access.Walkers, 0, s.trialLook},
		{"GET /trial/{id}/import", access.Owners, 0, s.trialImport},
		{"POST /trial/{id}/import", access.Owners, mostUpload + 64<<10, s.trialUpload},
		{"GET /trial/{id}/import/{token}", access.Owners, 0, s.trialPreview},
		{"POST /trial/{id}/import/{token}", access.Owners, mostRecord, s.trialImportDo},
		{"POST /trial/{id}/undo", access.Owners, 4 << 10, s.trialUndo},
		{"GET /import", access.Owners, 0, s.importPage},
		{"POST /import", access.Owners, mostUpload + 64<<10, s.importUpload},
		{"GET /import/{token}", access.Owners, 0, s.importLook},
		{"POST /import/{token}", access.Owners, mostNotesForm, s.importTake},
		{"POST /import/undo", access.Owners, 4 << 10, s.importUndo},
		{"GET /about", access.Owners, 0, s.aboutPage},
		{"POST /about", access.Owners, mostAboutForm, s.aboutSave},
		{"GET /work", access.Readers, 0, s.workPage},
		{"GET /work/{id}", access.Readers, 0, s.workOne},
		{"POST /work/{id}", access.Owners, form, s.workDo},
		{"GET /work/{id}/events", access.Readers, 0, s.workEvents},
		{"GET /static/{name}", access.Everyone, 0, s.static},
		{"GET /help", access.Everyone, 0, s.helpTop},
		{"GET /help/{path...}", access.Everyone, 0, s.help},
		{"GET /settings", access.Owners, 0, s.settingsPage},
		{"GET /", access.Members, 0, s.nothing},
	}
	if s.live != nil {
		all = append(all, []Route{
			{"GET /bench/{id}/live", access.Members, 0, s.livePage},
			{"GET /bench/{id}/live/now", access.Members, 0, s.livePart},
			{"GET /bench/{id}/live/chart", access.Members, 0, s.liveChart},
			{"POST /bench/{id}/live/known", access.Walkers, form, s.liveKnown},
		}...)
	}
	if s.desk != nil {
		all = append(all, []Route{
			{"GET /bench/{id}/edit", access.Owners, 0, s.editPage},
			{"POST /bench/{id}/edit", access.Owners, mostEdit, s.editSave},
			{"POST /bench/{id}/edit/try", access.Owners, mostEdit, s.editTry},
			{"POST /bench/{id}/edit/merge", access.Owners, mostEdit, s.editMerge},
			{"GET /bench/{id}/history", access.Readers, 0, s.historyPage},
			{"POST /bench/{id}/history", access.Owners, 16 << 10, s.historyCorrect},
			{"GET /new", access.Owners, 0, s.newPage},
			{"POST /new", access.Owners, 16 << 10, s.newSave},
			{"POST /demo", access.Owners, form, s.demoAdd},
			{"POST /demo/remove", access.Owners, form, s.demoRemove},
		}...)
	}
	if s.rounds != nil {
		all = append(all, []Route{
			{"GET /bench/{id}/rounds", access.Walkers, 0, s.roundsPage},
			{"GET /bench/{id}/rounds/last", access.Walkers, 0, s.roundsLast},
			{"GET /bench/{id}/rounds/manifest.webmanifest", access.Walkers, 0, s.roundsManifest},
			{"POST /bench/{id}/rounds/send", access.Walkers, round.MaxPacket, s.roundsSend},
			{"POST /bench/{id}/rounds/photo", access.Walkers, photofile.MaxBytes, s.roundsPhoto},
			{"GET /" + workerFile, access.Walkers, 0, s.roundsWorker},
			{"GET /bench/{id}/seen", access.Members, 0, s.seenPage},
			{"POST /bench/{id}/seen/enter", access.Walkers, 64 << 10, s.seenEnter},
			{"POST /bench/{id}/seen/decide", access.Walkers, 64 << 10, s.seenDecide},
			{"GET /bench/{id}/seen/table.csv", access.Members, 0, s.seenTable},
			{"GET /bench/{id}/seen/entries.json", access.Members, 0, s.seenExport},
			{"GET /bench/{id}/package.zip", access.Members, 0, s.benchPackage},
			{"GET /bench/{id}/tables.xlsx", access.Members, 0, s.benchTables},
			{"GET /bench/{id}/seen/cycle.yaml", access.Members, 0, s.seenCycle},
			{"GET /bench/{id}/photo/{photo}", access.Members, 0, s.seenPhoto},
			{"GET /bench/{id}/photos", access.Members, 0, s.photosPage},
			{"GET /bench/{id}/photos/strip.png", access.Members, 0, s.photoStrip},
			{"GET /bench/{id}/photos/strip.jpg", access.Members, 0, s.photoStrip},
			{"GET /bench/{id}/photos/strip.gif", access.Members, 0, s.photoStrip},
			{"GET /bench/{id}/photos/table.csv", access.Members, 0, s.photoTable},
			{"GET /bench/{id}/photos/{photo}", access.Members, 0, s.photoPage},
			{"GET /bench/{id}/photos/{photo}/{name}", access.Members, 0, s.photoPicture},
			{"POST /bench/{id}/photos/{photo}/verdict", access.Walkers, form, s.photoVerdict},
			{"POST /bench/{id}/rounds/label", access.Walkers, photofile.MaxBytes, s.roundsLabel},
			{"GET /bench/{id}/rounds/code", access.Walkers, 0, s.roundsCode},
			{"GET /bench/{id}/rounds/photo", access.Walkers, 0, s.roundsPhotoState},
		}...)
	}
	if s.rounds != nil {
		all = append(all, []Route{
			{"GET /trial/{id}/rounds", access.Owners, 0, s.trialRounds},
			{"POST /trial/{id}/rounds", access.Owners, 64 << 10, s.trialRoundsDo},
		}...)
	}
	if s.cases != nil {
		all = append(all, []Route{
			{"POST /bench/{id}/trouble", access.Walkers, form, s.troubleKeep},
			{"GET /bench/{id}/trouble/{case}", access.Readers, 0, s.troubleCase},
			{"POST /bench/{id}/trouble/{case}", access.Walkers, form, s.troubleOutcome},
		}...)
	}
	if s.settings != nil {
		all = append(all, Route{"POST /settings", access.Owners, form, s.settingsPut})
	}
	if s.here.Backup != nil {
		all = append(all, Route{"POST /settings/backup", access.Owners, form, s.backup})
	}
	if s.tokens != nil {
		all = append(all, []Route{
			{"POST /settings/token", access.Owners, form, s.tokenMake},
			{"POST /settings/token/revoke", access.Owners, form, s.tokenRevoke},
		}...)
	}
	if s.people != nil {
		all = append(all, []Route{
			{"GET /pair", access.Everyone, 0, s.pairPage},
			{"POST /pair", access.Everyone, form, s.pair},
			{"POST /leave", access.Members, form, s.leave},
			{"POST /settings/invite", access.Owners, form, s.invite},
			{"POST /settings/end", access.Owners, form, s.endSession},
			{"POST /settings/remove", access.Owners, form, s.removePerson},
		}...)
	}
	if s.here.Authority != nil {
		all = append(all, []Route{
			{"GET /secure", access.Everyone, 0, s.securePage},
			{"GET /secure/authority.crt", access.Everyone, 0, s.authority},
		}...)
	}
	return all
}

func (s *Site) nothing(w http.ResponseWriter, _ *http.Request) {
	s.fail(w, http.StatusNotFound, "There is no page at this address.", "The benches are listed on the first page.")
}

// mux holds each address to who it is for.
func (s *Site) mux() *http.ServeMux {
	mux := http.NewServeMux()
	for _, r := range s.Routes() {
		mux.HandleFunc(r.Pattern, s.only(r))
	}
	return mux
}

// only refuses whom a route is not for.
func (s *Site) only(route Route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := access.From(r.Context())
		if !v.Here {
			w.Header().Set("Cache-Control", "private, no-cache") // after a revocation nothing is shown again
		}
		if route.Who.Has(v) {
			r.Body = http.MaxBytesReader(w, r.Body, route.Body)
			a := s.answerTo(w, r)
			route.handle(visited{a, v, chapters[route.Pattern]}, r)
			a.close()
			return
		}
		page := strings.Contains(r.Header.Get("Accept"), "text/html")
		switch {
		case v.Role == "" && page && r.Method == http.MethodGet:
			http.Redirect(w, r, "/pair", http.StatusSeeOther)
		case v.Role == "":
			http.Error(w, "This browser is not let in, or no more. Load the page again.", http.StatusForbidden)
		case page:
			s.page(w, http.StatusForbidden, "wrong.tmpl", struct{ Title, What, Advice string }{"Not for you", "This page is not for you.", fmt.Sprintf("You are here as %s (%s). An owner can invite you as another.", v.Role, v.Role.Says())})
		default:
			http.Error(w, fmt.Sprintf("This is not for you: you are here as %s (%s).", v.Role, v.Role.Says()), http.StatusForbidden)
		}
	}
}

// Handler answers this machine, on which whoever asks is taken for the owner. It must be
// reachable from nowhere else.
func (s *Site) Handler() http.Handler {
	next := s.guard(s.all())
	return OnHosts(s.hosts, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r.WithContext(access.With(r.Context(), access.Local())))
	}))
}

// Elsewhere answers other machines of the network, whom a guard lets through.
func (s *Site) Elsewhere(g *door.Guard) http.Handler { return g.Handler(s.guard(s.all())) }
