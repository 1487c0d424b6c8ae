package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"strings"
)

// letters are those of Crockford's Base32: no I, L, O and U, so that none is taken for
// another.
const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// codeLetters are the letters of a code.
const codeLetters = 10

// errCode is what is said of a code, whatever is wrong with it.
var errCode = errors.New("this code lets nobody in: it is mistyped, was used already, or is more than ten minutes old")

// newCode is a code by chance, without its dash.
func newCode() string {
	var b [codeLetters]byte
	rand.Read(b[:]) // never fails
	for i := range b {
		b[i] = letters[b[i]%32] // 256 is a multiple of 32: all letters alike
	}
	return string(b[:])
}

// showCode parts a code for people.
func showCode(code string) string { return code[:codeLetters/2] + "-" + code[codeLetters/2:] }

// parseCode reads a code as people type it.
func parseCode(text string) (string, bool) {
	if len(text) > 64 {
		return "", false
	}
	var out strings.Builder
	for _, c := range strings.ToUpper(text) {
		switch c {
		case ' ', '-', '\t', '\u00a0', '–':
			continue
		case 'O':
			c = '0'
		case 'I', 'L':
			c = '1'
		}
		if !strings.ContainsRune(letters, c) {
			return "", false
		}
		out.WriteRune(c)
	}
	return out.String(), out.Len() == codeLetters
}

func codeHash(code string) [32]byte { return sha256.Sum256([]byte("underlamp code " + code)) }

const tokenBytes = 32

func newToken() (string, [32]byte) {
	var b [tokenBytes]byte
	rand.Read(b[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(b[:]), sha256.Sum256(b[:])
}

// parseToken reads a token and gives its hash.
func parseToken(text string) ([32]byte, bool) {
	if len(text) != base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return [32]byte{}, false
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if err != nil || len(b) != tokenBytes { // a line break is skipped in decoding
		return [32]byte{}, false
	}
	return sha256.Sum256(b), true
}

// newID names what is no secret.
func newID() string {
	var b [6]byte
	rand.Read(b[:])
	return hex.EncodeToString(b[:]) // no dash in front: people type it after a command
}
