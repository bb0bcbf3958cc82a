//go:build linux

package serial

import (
	"fmt"
	"os"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// pty is a pair of ends: the program opens path as a serial port, the test
// holds the other end and is the device.
type pty struct {
	*os.File
	path string
}

func openPTY(t *testing.T) *pty {
	t.Helper()
	// the file is not set to non-blocking before the ioctls, which is all
	// right: it is read by nobody until then
	f, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatalf("open a pair of terminals: %v", err)
	}
	t.Cleanup(func() { f.Close() })
	if err := unix.IoctlSetPointerInt(int(f.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(f.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	return &pty{f, fmt.Sprintf("/dev/pts/%d", n)}
}

// rates that termios numbers stand for.
var speeds = map[uint32]int{
	unix.B1200: 1200, unix.B2400: 2400, unix.B4800: 4800, unix.B9600: 9600, unix.B19200: 19200, unix.B38400: 38400,
	unix.B57600: 57600, unix.B115200: 115200, unix.B230400: 230400, unix.B460800: 460800, unix.B921600: 921600,
}

// rate returns the rate that the program has set.
func (p *pty) rate() int {
	t, err := unix.IoctlGetTermios(int(p.Fd()), unix.TCGETS)
	if err != nil {
		return 0
	}
	if r := speeds[t.Cflag&unix.CBAUD]; r > 0 {
		return r
	}
	return int(t.Ispeed)
}

// device sends lines at a rate of its own: what the program gets is what a UART
// set to another rate makes of the bits.
type device struct {
	pty  *pty
	rate int
	line func(i int) string
	gap  time.Duration

	stop chan struct{}
	done sync.WaitGroup
}

func (d *device) start(t *testing.T) {
	d.stop = make(chan struct{})
	d.done.Go(func() {
		tick := time.NewTicker(d.gap)
		defer tick.Stop()
		for i := 0; ; i++ {
			select {
			case <-d.stop:
				return
			case <-tick.C:
			}
			// what nobody reads fills the terminal; a wire has no such memory
			d.pty.SetWriteDeadline(time.Now().Add(d.gap))
			d.pty.Write(asHeard([]byte(d.line(i)), d.rate, d.pty.rate()))
		}
	})
	t.Cleanup(d.end)
}

func (d *device) end() {
	if d.stop != nil {
		close(d.stop)
		d.done.Wait()
		d.stop = nil
	}
}

// asHeard returns what a UART at rate heard makes of bytes sent at rate sent,
// 8N1: a start bit of 0, eight bits with the lowest first, a stop bit of 1.
func asHeard(b []byte, sent, heard int) []byte {
	if sent == heard || heard == 0 {
		return b
	}
	var wire []bool
	for _, c := range b {
		wire = append(wire, false)
		for k := range 8 {
			wire = append(wire, c>>k&1 == 1)
		}
		wire = append(wire, true)
	}
	level := func(t float64) bool { // t in bits of the sender
		if i := int(t); i >= 0 && i < len(wire) {
			return wire[i]
		}
		return true
	}
	step := float64(sent) / float64(heard) // bits of the sender in one of the hearer
	var out []byte
	end := float64(len(wire))
	for t := 0.0; t < end; {
		if level(t) {
			t += step / 16
			continue
		}
		var c byte
		for k := range 8 {
			if level(t + step*(1.5+float64(k))) {
				c |= 1 << k
			}
		}
		out = append(out, c)
		t += step * 9.5
		for t < end && !level(t) { // a framing error: wait for the line to rest
			t += step / 16
		}
	}
	return out
}
