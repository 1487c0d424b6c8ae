package access

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// mostKeys bounds how many addresses a [Limit] remembers.
const mostKeys = 4096

// A Limit lets each address do something so many times at once, and again every while. It
// is safe for many goroutines.
type Limit struct {
	every time.Duration
	burst int
	mu    sync.Mutex
	known map[netip.Addr]*bucket
}

type bucket struct {
	l    *rate.Limiter
	last time.Time
}

// NewLimit makes a limit.
func NewLimit(burst int, every time.Duration) *Limit {
	return &Limit{every: every, burst: burst, known: map[netip.Addr]*bucket{}}
}

// Take counts one more of an address, or says how long it has to wait.
func (l *Limit) Take(from netip.Addr, now time.Time) (wait time.Duration, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	key := Source(from)
	b := l.known[key]
	if b == nil {
		l.room(now)
		b = &bucket{l: rate.NewLimiter(rate.Every(l.every), l.burst)}
		l.known[key] = b
	}
	b.last = now
	r := b.l.ReserveN(now, 1)
	if wait := r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
		return wait, false
	}
	return 0, true
}

// room forgets those who are as good as new; if there are none, whoever was quiet longest.
func (l *Limit) room(now time.Time) {
	if len(l.known) < mostKeys {
		return
	}
	var oldest netip.Addr
	var at time.Time
	for k, b := range l.known {
		if now.Sub(b.last) > time.Duration(l.burst)*l.every {
			delete(l.known, k)
		} else if at.IsZero() || b.last.Before(at) {
			oldest, at = k, b.last
		}
	}
	if len(l.known) >= mostKeys {
		delete(l.known, oldest)
	}
}

// Source is what counts as one address: of IPv6 the /64, which a single machine has whole.
func Source(from netip.Addr) netip.Addr {
	from = from.Unmap().WithZone("")
	if from.Is6() {
		if p, err := from.Prefix(64); err == nil {
			return p.Addr()
		}
	}
	return from
}
