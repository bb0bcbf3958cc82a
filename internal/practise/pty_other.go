//go:build !linux

package practise

import (
	"errors"
	"os"
)

// OpenTerminal opens a pseudo terminal, where the system has them as Linux does.
func OpenTerminal() (ours, theirs *os.File, path string, err error) {
	return nil, nil, "", errors.New("practice rig: a make-believe serial port needs Linux: use TCP instead")
}
