// Package folder writes files into a folder that people work in too: whole or not at all, and
// never over what somebody else has changed meanwhile. It never leaves the folder.
package folder
