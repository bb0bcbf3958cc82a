//go:build !linux

package practise

import "errors"

// OpenTerminal opens a pseudo terminal, where the system has them as Linux does.
func OpenTerminal() (*Terminal, string, error) {
	return nil, "", errors.New("practice rig: a make-believe serial port needs Linux: use TCP instead")
}
