//go:build !linux

package pgtest

import "syscall"

// asUser leaves the server to whoever runs the test.
func asUser(string) (*syscall.SysProcAttr, error) { return &syscall.SysProcAttr{}, nil }
