// Package door answers other machines of the network over HTTP: it lets through whom package
// access knows, by a cookie, under the names and addresses of this machine alone.
//
//   - Connections come from the network at home; one that comes from the internet is closed.
//     There are so many at most, of one address and in all.
//   - A request names the address that it came to, or a name of this machine: a page elsewhere
//     cannot reach it through a name of its own that it has made to point here.
//   - Who asks is put into the context of the request ([access.From]). What they may is not
//     the business of this package: package web holds its pages to it, in one place.
//   - A session that is revoked is refused at its next request; an answer to it that still
//     runs is cut within two seconds.
//   - What was asked is written down without queries, cookies and codes.
package door
