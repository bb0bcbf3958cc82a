package practise

import (
	"errors"
	"os"
)

// Terminal is our end of a pseudo terminal. It holds the other one too, so that
// the line stays up while nobody has its path open.
type Terminal struct{ ours, theirs *os.File }

func (t *Terminal) Read(b []byte) (int, error)  { return t.ours.Read(b) }
func (t *Terminal) Write(b []byte) (int, error) { return t.ours.Write(b) }

// Close closes both ends.
func (t *Terminal) Close() error { return errors.Join(t.ours.Close(), t.theirs.Close()) }
