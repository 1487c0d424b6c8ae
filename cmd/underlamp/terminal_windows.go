package main

import (
	"os"

	"golang.org/x/sys/windows"
)

// showsCodes says whether a stream is a console that understands codes of colour and
// place. Those of Windows 10 do once they are asked to; older ones are taken for a file.
func showsCodes(f *os.File) bool {
	console := windows.Handle(f.Fd())
	var mode uint32
	if windows.GetConsoleMode(console, &mode) != nil {
		return false
	}
	return windows.SetConsoleMode(console, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}

// environment is a variable of the environment. Consoles of Windows that understand codes
// show all colours and say nothing of it.
func environment(name string) string {
	v := os.Getenv(name)
	if v == "" && os.Getenv("TERM") == "" {
		switch name {
		case "TERM":
			return "windows"
		case "COLORTERM":
			return "truecolor"
		}
	}
	return v
}
