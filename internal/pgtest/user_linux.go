package pgtest

import (
	"os"
	"os/user"
	"strconv"
	"syscall"
)

// asUser makes the server end with the test, and run as its own user where the test is
// root: PostgreSQL refuses to. The folder becomes that user's.
func asUser(folder string) (*syscall.SysProcAttr, error) {
	as := &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if os.Getuid() != 0 {
		return as, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, err
	}
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return nil, err
	}
	as.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return as, os.Chown(folder, uid, gid)
}
