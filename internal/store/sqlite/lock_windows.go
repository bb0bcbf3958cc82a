package sqlite

import (
	"errors"
	"syscall"

	"seatproof/internal/store"
)

// lock is a lock file opened so that nobody else can open it: the system closes
// it with the process, so a lock file that lies about is no lock.
type lock struct{ h syscall.Handle }

// sharing is ERROR_SHARING_VIOLATION, from memory.
const sharing = syscall.Errno(32)

// acquire takes the lock, store.ErrLocked where another has it.
func acquire(path string) (*lock, error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, err
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if errors.Is(err, sharing) {
		return nil, store.ErrLocked
	}
	if err != nil {
		return nil, err
	}
	return &lock{h}, nil
}

// say does nothing: nobody else can read the file.
func (l *lock) say(string) error { return nil }

// release drops the lock.
func (l *lock) release() error {
	if l.h == syscall.InvalidHandle {
		return nil
	}
	h := l.h
	l.h = syscall.InvalidHandle
	return syscall.CloseHandle(h)
}

// syncFolder does nothing: the system offers no such thing for folders.
func syncFolder(string) error { return nil }
