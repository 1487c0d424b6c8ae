//go:build !windows

package main

import (
	"os"

	"golang.org/x/term"
)

// showsCodes says whether a stream is a terminal, which all understand codes here.
func showsCodes(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }

// environment is a variable of the environment.
func environment(name string) string { return os.Getenv(name) }
