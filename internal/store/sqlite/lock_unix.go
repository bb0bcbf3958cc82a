//go:build unix && !solaris && !illumos && !aix

package sqlite

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"syscall"

	"seatproof/internal/store"
)

// lock is an open lock file with flock(2) on it: the system drops it with the
// process, so a lock file that lies about is no lock.
type lock struct{ f *os.File }

// acquire takes the lock, store.ErrLocked where another has it.
func acquire(path string) (*lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		who, _ := io.ReadAll(io.LimitReader(f, 300)) // for the message only
		pid, at, _ := strings.Cut(strings.TrimSpace(string(who)), "\n")
		err = store.ErrLocked
		if n, perr := strconv.Atoi(pid); perr == nil {
			err = &InUse{Process: n, Address: at}
		}
	}
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
	if errors.Is(err, syscall.ENOSPC) {
		err = nil // the number is a courtesy
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &lock{f}, nil
}

// say writes behind the number of the process where it can be reached.
func (l *lock) say(address string) error {
	if l.f == nil {
		return store.ErrClosed
	}
	_, err := l.f.WriteAt(fmt.Appendf(nil, "%d\n%.200s\n", os.Getpid(), address), 0)
	return err
}

// release drops the lock. The file stays: who removes it may remove the one that
// another has just locked.
func (l *lock) release() error {
	if l.f == nil {
		return nil
	}
	f := l.f
	l.f = nil
	return errors.Join(f.Truncate(0), f.Close())
}

// syncFolder makes a new file's name last.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
