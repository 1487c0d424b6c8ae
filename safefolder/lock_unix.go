//go:build unix && !solaris && !aix

package safefolder

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"
)

// lockFolder keeps other programs of ours from changing files of a folder. A file system
// that knows no locks is no hindrance: the bytes are compared all the same.
func lockFolder(dir string, patience time.Duration) (unlock func(), err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be opened: %w", err)
	}
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case err == nil || !errors.Is(err, syscall.EWOULDBLOCK) && !errors.Is(err, syscall.EINTR):
			return func() { d.Close() }, nil
		case time.Now().After(end):
			d.Close()
			return nil, fmt.Errorf("another program keeps the folder locked: %w", ErrBusy)
		}
	}
}

func isInvalid(err error) bool { return errors.Is(err, syscall.EINVAL) }
