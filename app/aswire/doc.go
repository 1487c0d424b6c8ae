// Package aswire puts answers of app into the types of package wire, for the HTTP API and for
// --json of the command line, so that the two cannot part.
package aswire
