package store

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
)

// NewToken is a token for a device, 192 bits by chance, and the hash that is kept of
// it. A hash without salt will do: nobody can try out so many.
func NewToken() (token string, hash [32]byte) {
	var b [24]byte
	rand.Read(b[:]) // never fails
	token = "ul_" + base64.RawURLEncoding.EncodeToString(b[:])
	return token, TokenHash(token)
}

// TokenHash is the hash of a token.
func TokenHash(token string) [32]byte { return sha256.Sum256([]byte(token)) }
