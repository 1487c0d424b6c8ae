//go:build !linux

package machine

// Room is not known here.
func Room(string) (free int64, network string) { return -1, "" }
