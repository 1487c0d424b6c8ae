// Package api answers programs over HTTP: all that the pages do, as JSON under /api/v1/. It is
// beside package web, as the command line is: another face of the answers of app, in the types of
// package wire, which the command line prints too. The site mounts it, so that one guard and one
// port stand before both, and what was computed of a bench is computed once.
//
// # One table
//
// [API.Operations] is the table of what can be asked. From it come the addresses, who may what,
// how large a body may be, what is checked before a handler sees it, the OpenAPI document and the
// table in the docs.
//
// # Who asks
//
// A program shows a token with scopes (package access). On the machine of the server whoever
// asks without one is the owner, as on the pages. A browser that was let in may read as its role
// reads there, and changes nothing: a page that somebody else wrote cannot have it do so.
//
// # Another resource
//
// A file with a method that returns its operations, made by op of a handler that takes typed
// parameters and a typed body; a line in [New]; types in package wire, with tags that say what
// fields mean; how answers of app become them in package app/aswire; and steps in a list of the
// tests, whose walk fails for an operation that is not done once and refused once.
package api
