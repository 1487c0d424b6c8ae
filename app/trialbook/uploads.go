package trialbook

import (
	"crypto/rand"
	"strings"
	"sync"
	"time"
)

// Bounds of tables that wait to be looked at.
const (
	MostUpload  = 8 << 20 // bytes of one
	mostUploads = 8
	mostWaiting = 32 << 20 // bytes of all together
	waits       = 2 * time.Hour
)

// Uploads are tables that were sent and not kept yet, in memory: they are gone when the server
// ends. The zero value is ready; it is safe for many goroutines.
type Uploads struct {
	mu  sync.Mutex
	all []*Upload // the oldest first
}

// An Upload is a table that waits.
type Upload struct {
	Token, Trial, Name string
	Raw                []byte
	at                 time.Time
}

// Put takes a table in and returns the token that it is asked for with.
func (u *Uploads) Put(trial, name string, raw []byte) string {
	u.mu.Lock()
	defer u.mu.Unlock()
	now := time.Now()
	bytes := len(raw)
	for _, x := range u.all {
		bytes += len(x.Raw)
	}
	for len(u.all) > 0 && (len(u.all) >= mostUploads || bytes > mostWaiting || now.Sub(u.all[0].at) > waits) {
		bytes -= len(u.all[0].Raw)
		u.all = u.all[1:]
	}
	x := &Upload{strings.ToLower(rand.Text()), trial, name, raw, now}
	u.all = append(u.all, x)
	return x.Token
}

// Get is the table of a token that was sent for a trial; nil if it is here no more.
func (u *Uploads) Get(trial, token string) *Upload {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, x := range u.all {
		if x.Token == token && x.Trial == trial && time.Since(x.at) <= waits {
			return x
		}
	}
	return nil
}
