package practise

import (
	"fmt"
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// OpenTerminal opens a pseudo terminal, whose path is a serial port to whoever
// opens it.
func OpenTerminal() (*Terminal, string, error) {
	ours, theirs, path, err := openTerminal()
	if err != nil {
		return nil, "", err
	}
	return &Terminal{ours, theirs}, path, nil
}

func openTerminal() (ours, theirs *os.File, path string, err error) {
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, nil, "", fmt.Errorf("practice rig: open a pseudo terminal: %w", err)
	}
	ours = os.NewFile(uintptr(fd), "/dev/ptmx")
	fail := func(err error) (*os.File, *os.File, string, error) {
		ours.Close()
		return nil, nil, "", fmt.Errorf("practice rig: open a pseudo terminal: %w", err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		return fail(err)
	}
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		return fail(err)
	}
	path = "/dev/pts/" + strconv.Itoa(n)
	theirs, err = os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		return fail(err)
	}
	// raw, as a serial port is: no echo, no editing of lines
	t, err := unix.IoctlGetTermios(int(theirs.Fd()), unix.TCGETS)
	if err == nil {
		t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
		t.Oflag &^= unix.OPOST
		t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
		t.Cflag = t.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
		err = unix.IoctlSetTermios(int(theirs.Fd()), unix.TCSETS, t)
	}
	if err != nil {
		theirs.Close()
		return fail(err)
	}
	return ours, theirs, path, nil
}
