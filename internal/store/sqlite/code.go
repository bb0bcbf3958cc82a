package sqlite

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"

	"seatproof/internal/store"
)

// stands returns the error of package store that an SQLite error stands for, or
// nil.
func stands(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return nil
	}
	if e.Code() == lib.SQLITE_IOERR_SHMSIZE { // its index of the log could not grow
		return store.ErrFull
	}
	switch e.Code() & 0xff {
	case lib.SQLITE_FULL:
		return store.ErrFull
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return store.ErrLocked
	case lib.SQLITE_READONLY, lib.SQLITE_PERM, lib.SQLITE_CANTOPEN:
		return store.ErrReadOnly
	case lib.SQLITE_CORRUPT:
		return store.ErrDamaged
	case lib.SQLITE_NOTADB:
		return store.ErrDamaged
	}
	return nil
}

func wrap(err error) error {
	known := stands(err)
	if known == nil || errors.Is(err, known) {
		return err
	}
	return fmt.Errorf("%w (%w)", known, err)
}
