package machine

import "syscall"

// networks are the file systems of a network, by the number that Linux gives them
// (linux/magic.h).
var networks = map[int64]string{
	0x6969: "NFS", 0x517B: "SMB", 0xFF534D42: "CIFS", 0xFE534D42: "SMB2", 0x01021997: "9p",
	0x65735546: "FUSE", 0x73757245: "Coda", 0x5346414F: "AFS", 0x00C36400: "Ceph",
}

// Room is how many bytes are free at a path for this user, and of which network its file
// system is, empty for none. Room is −1 if it is not known.
func Room(path string) (free int64, network string) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(path, &s); err != nil {
		return -1, ""
	}
	return int64(s.Bavail) * int64(s.Bsize), networks[int64(uint32(s.Type))]
}
