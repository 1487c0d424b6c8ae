package store

import "context"

// A Token lets a program ask. Of its text only the hash is kept.
type Token struct {
	ID      string // of its own; no secret
	Hash    [32]byte
	Name    string // what people call it
	Scopes  string // what it may; words of package access, parted by spaces
	Made    int64
	Expires int64
	Used    int64 // when it was used last, to the minute or so; 0: never
	Revoked int64 // since when it may not be used; 0 while it may
}

// Tokens keep what programs ask with.
type Tokens interface {
	// AddToken enters one. An id or a hash that is there gives [ErrDiffers].
	AddToken(ctx context.Context, t Token) error
	// TokenBy finds the one with the hash, also if it has ended.
	TokenBy(ctx context.Context, hash [32]byte) (Token, error)
	// UseToken notes that it was used.
	UseToken(ctx context.Context, id string, at int64) error
	// Tokens are all, the oldest first.
	Tokens(ctx context.Context) ([]Token, error)
	// EndToken revokes one; [ErrNotFound] if it is not there or has been revoked.
	EndToken(ctx context.Context, id string, at int64) error
}

// An Answer is what was answered to a request that may come again.
type Answer struct {
	Key     string   // of the request, with who asked
	Request [32]byte // hash of all of it
	Made    int64
	Expires int64 // when it is forgotten; of one that is being worked at: until when others wait
	Status  int64 // 0: it is being worked at
	Head    []byte
	Body    []byte
}

// Answers keep answers, so that a request that is sent again does nothing twice, whichever
// server of the store it reaches.
type Answers interface {
	// ClaimAnswer enters an answer that is being worked at. If there is one of its key that has
	// not expired at a.Made, that is returned, and false. What has expired is dropped.
	ClaimAnswer(ctx context.Context, a Answer) (Answer, bool, error)
	// PutAnswer puts what was answered in place of the claim with its key and the same Made;
	// [ErrNotFound] if another has it by now.
	PutAnswer(ctx context.Context, a Answer) error
	// DropAnswer gives a claim up, so that the request can be sent again.
	DropAnswer(ctx context.Context, a Answer) error
}
