// Package access says who may see the pages from another machine of the network, and what:
// roles, invites by a code, sessions by a token. It knows nothing of HTTP; package
// web/door carries its answers out.
//
// # Roles
//
// An owner may all, a viewer reads, a helper walks the rounds. Which page is for whom is
// said once, where its address is (package web), as a [Who].
//
// # Codes
//
// A person is invited with a code of 50 bits by chance, which lets one browser in within
// ten minutes, once. Guessing is bounded for each address and in all ([Door.Redeem]). A hash
// without salt will do for so short a life: at 10¹⁰ tries a second half of all codes take
// 15 hours.
//
// # Sessions
//
// A browser that was let in has a token of 256 bits by chance, of which only the SHA-256 is
// kept. It is renewed each day of use, and the one before stays good beside it: an answer
// that is lost in a cellar, or a browser that is killed before it has written down its
// cookies, signs nobody out. Who comes with the one before gets another one, and the newest
// ends; so two that use one session part, and its owner notices. A session ends 60 days
// after it was last used, 400 days after it was made, or when it is revoked.
package access
