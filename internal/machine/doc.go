// Package machine says what the system knows of a place on a disk.
package machine
