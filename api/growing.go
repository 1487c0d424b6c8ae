package api

import (
	"slices"
	"sync"
	"time"

	"underlamp/app/photo"
	"underlamp/app/trialbook"
	"underlamp/formats/evidencefile"
)

// growing are the operations about plants: trials, rounds, photos, feed, air, trouble, reports,
// people and settings.
func (a *API) growing() []Operation {
	return slices.Concat(a.trialOps(), a.recordOps(), a.importOps(), a.roundOps(), a.photoOps(), a.feedOps(), a.airOps(), a.troubleOps(), a.learnOps(), a.reportOps(), a.dataOps(), a.noteOps(), a.peopleOps())
}

// A grower is what these operations remember.
type grower struct {
	grown    sync.Mutex
	placed   map[string][]trialbook.Plot // places of the plants of trials, by plan and version of the bench
	labels   photo.Register
	labelsAt time.Time

	uploads  trialbook.Uploads
	evidence evidencefile.Folder
	copying  sync.Mutex    // one copy of the store at a time
	large    chan struct{} // one large picture in memory at a time
}
