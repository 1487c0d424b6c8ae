package store

import "context"

// A Session is a browser elsewhere in the network that was let in. Of its token only the
// hash is kept.
type Session struct {
	ID      string // of its own; no secret
	Person  string // whose it is
	Role    string // what they may; a word of package access
	Device  string // what they call it
	Made    int64
	Seen    int64 // when it last asked for something, to the minute or so
	Expires int64
	Revoked int64 // since when it may not ask any more; 0 while it may

	Hash   [32]byte // of its newest token
	Issued int64    // when that was made
}

// An Invite lets one browser in, once. Of its code only the hash is kept.
type Invite struct {
	ID      string // of its own; no secret
	Hash    [32]byte
	Person  string
	Role    string
	Made    int64
	Expires int64
	Used    int64 // when it was used or withdrawn; 0 while it can be used
}

// People keep who may see the pages from elsewhere in the network.
type People interface {
	// PutInvite enters an invite. An id or a hash that is there gives [ErrDiffers].
	PutInvite(ctx context.Context, i Invite) error
	// Invites are those that can be used at an instant, the oldest first.
	Invites(ctx context.Context, now int64) ([]Invite, error)
	// Redeem uses an invite for a session, both or nothing. An invite that
	// was used, is over at s.Made or is not there gives [ErrNotFound]. Sessions that ended
	// a year ago are dropped.
	Redeem(ctx context.Context, invite string, s Session) error
	// SessionBy finds the session whose newest token, or the one before, has the hash.
	// Revoked and expired sessions are found too.
	SessionBy(ctx context.Context, hash [32]byte) (Session, error)
	// Renew gives a session a newer token, of hash, if was is the hash of its newest, and
	// has earlier as the hash of the one before. False: another call was faster, or the
	// session has ended.
	Renew(ctx context.Context, id string, was, earlier, hash [32]byte, at int64) (bool, error)
	// See notes that a session asked for something, and until when it now lives.
	See(ctx context.Context, id string, at, expires int64) error
	// Sessions are all, the oldest first, with those that ended.
	Sessions(ctx context.Context) ([]Session, error)
	// EndSession ends one; [ErrNotFound] if it is not there or has been revoked.
	EndSession(ctx context.Context, id string, at int64) error
	// EndPerson revokes all sessions of a person and withdraws their invites, and says how
	// many sessions and invites there were.
	EndPerson(ctx context.Context, person string, at int64) (int64, error)
}
