// Package storetest is the suite that every store passes, and what measures them.
package storetest
