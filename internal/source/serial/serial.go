// Package serial reads lines of text from a serial port: a board or meter on
// USB or RS-232.
//
// Start with [Kind]. The port is opened when the source runs; when the cable is
// pulled it is looked for again until it is back.
package serial

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"time"

	port "go.bug.st/serial"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

// Kind is the serial port.
func Kind() source.Kind {
	return source.Kind{
		Name:    "serial",
		Words:   "a board or meter on a serial port (USB or RS-232) that sends lines of text",
		Page:    "docs/sources/serial.md",
		Example: "serial:/dev/ttyUSB0#baud=115200,value=2,unit=kPa,reads=gauge",
		Options: lines.Options(
			source.Option{Key: "baud", Words: "rate of the line", Hint: "as in baud=115200; auto tries the usual ones", Default: "auto"},
			source.Option{Key: "bits", Words: "data bits", Default: "8", Choice: []string{"8", "7"}},
			source.Option{Key: "parity", Words: "parity", Default: "none", Choice: []string{"none", "even", "odd"}},
			source.Option{Key: "stop", Words: "stop bits", Default: "1", Choice: []string{"1", "2"}},
			source.Option{Key: "dtr", Words: "the line DTR when the port opens", Hint: "dtr=off keeps some boards from starting again", Choice: []string{"on", "off"}},
			source.Option{Key: "usb", Words: "serial number of the USB adapter", Hint: "finds it again wherever it is plugged in; the place may then be left out"},
			source.Option{Key: "send", Words: "what asks the device for a figure", Hint: "as in send=READ?\\r\\n, where it does not send by itself"},
			source.Option{Key: "every", Words: "how often to ask", Hint: "as in every=200 ms", Default: "500 ms"},
		),
		Open: Open,
		Find: Find,
	}
}

// settings are the options of a port.
type settings struct {
	path  string
	usb   string
	mode  port.Mode
	auto  bool // the rate is to be found
	fixed bool // bits or parity were said
	send  []byte
	every time.Duration
}

// Open checks an address and returns its source; the port is opened by Run.
func Open(a source.Address) (source.Source, error) {
	s, err := read(a)
	if err != nil {
		return nil, err
	}
	return lines.New(a, &wire{settings: s, bare: a.Bare(), open: openPort, find: findUSB})
}

func read(a source.Address) (settings, error) {
	s := settings{path: strings.TrimSpace(a.Place), usb: strings.TrimSpace(a.Options["usb"]), mode: port.Mode{BaudRate: 9600, DataBits: 8}, auto: true}
	fault := func(key, what, hint string) (settings, error) {
		return settings{}, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint}
	}
	if s.path == "" && s.usb == "" {
		return fault("", "says no port", "as in serial:/dev/ttyUSB0, serial:COM3, or serial:#usb=SERIAL-NUMBER; seatproof capture --list shows what is there")
	}
	if text := a.Options["baud"]; text != "" && !strings.EqualFold(text, "auto") {
		n, err := strconv.Atoi(text)
		if err != nil || n < 50 || n > 4_000_000 {
			return fault("baud", fmt.Sprintf("%q is no rate", text), "as in baud=9600, or leave it out")
		}
		s.mode.BaudRate, s.auto = n, false
	}
	for _, c := range []struct {
		key     string
		choices map[string]func()
	}{
		{"bits", map[string]func(){"8": func() { s.mode.DataBits = 8 }, "7": func() { s.mode.DataBits = 7 }}},
		{"parity", map[string]func(){
			"none": func() { s.mode.Parity = port.NoParity }, "even": func() { s.mode.Parity = port.EvenParity }, "odd": func() { s.mode.Parity = port.OddParity },
		}},
		{"stop", map[string]func(){"1": func() { s.mode.StopBits = port.OneStopBit }, "2": func() { s.mode.StopBits = port.TwoStopBits }}},
		{"dtr", map[string]func(){
			"on":  func() { s.mode.InitialStatusBits = &port.ModemOutputBits{DTR: true, RTS: true} },
			"off": func() { s.mode.InitialStatusBits = &port.ModemOutputBits{} },
		}},
	} {
		text, ok := a.Options[c.key]
		if !ok {
			continue
		}
		set := c.choices[strings.ToLower(text)]
		if set == nil {
			return fault(c.key, fmt.Sprintf("%q is not known", text), "see docs/sources/serial.md")
		}
		set()
		s.fixed = s.fixed || c.key == "bits" || c.key == "parity"
	}
	var err error
	if s.send, s.every, err = lines.Asking(a); err != nil {
		return settings{}, err
	}
	return s, nil
}

// conn is what is used of a port.
type conn interface {
	Read(p []byte) (int, error)
	Write(p []byte) (int, error)
	SetMode(*port.Mode) error
	ResetInputBuffer() error
	Close() error
}

// readFor is how long a read waits for a byte; then it returns 0, nil, which
// means wait.
const readFor = 50 * time.Millisecond

func openPort(path string, m *port.Mode) (conn, error) {
	p, err := port.Open(path, m)
	if err != nil {
		return nil, err
	}
	if err := p.SetReadTimeout(readFor); err != nil {
		p.Close()
		return nil, err
	}
	return p, nil
}

// again is how long to wait before a port is looked for again.
const again = 300 * time.Millisecond

// wire is a port, opened again and again.
type wire struct {
	settings
	bare  string
	open  func(path string, m *port.Mode) (conn, error)
	find  func(usb string) (path string)
	found int // the rate that was found; 0: not yet
	been  bool
}

// Asks says how often the device is asked.
func (w *wire) Asks() time.Duration {
	if len(w.send) == 0 {
		return 0
	}
	return w.every
}

// Carry reads the port until ctx ends. Only what opening it again can't mend is
// an error.
func (w *wire) Carry(ctx context.Context, in *lines.Inlet) error {
	told := false
	for ctx.Err() == nil {
		path := w.path
		if w.usb != "" {
			if at := w.find(w.usb); at != "" {
				path = at
			} else if path == "" {
				path = "?"
			}
		}
		mode := w.mode
		if w.found > 0 {
			mode.BaudRate = w.found
		}
		p, err := w.open(path, &mode)
		if err != nil {
			if fault := w.hopeless(path, err); fault != nil {
				return fault
			}
			if !told {
				in.Tell(source.Lost, why(path, err))
				told = true
			}
			wait(ctx, again)
			continue
		}
		told = false
		err = w.use(ctx, p, path, mode, in)
		p.Close()
		if ctx.Err() != nil {
			return nil
		}
		in.Tell(source.Lost, why(path, err))
		told = true
		wait(ctx, again)
	}
	return nil
}

// use reads an open port until it fails or ctx ends.
func (w *wire) use(ctx context.Context, p conn, path string, mode port.Mode, in *lines.Inlet) error {
	if w.usb == "" && !w.been {
		w.usb = serialOf(path) // so that it is found again under another name
	}
	var begun []byte
	if w.auto && w.found == 0 && len(w.send) == 0 {
		m, seen, err := detect(ctx, p, mode, w.fixed, in)
		if err != nil || ctx.Err() != nil {
			return err
		}
		mode, begun = m, seen
		w.mode, w.found = m, m.BaudRate
	}
	w.been = true
	in.Opened(fmt.Sprintf("%s at %d Bd", path, mode.BaudRate), false)
	in.Bytes(begun)
	asked := time.Time{}
	buf := make([]byte, 4096)
	for ctx.Err() == nil {
		if len(w.send) > 0 && time.Since(asked) >= w.every {
			if _, err := p.Write(w.send); err != nil {
				return err
			}
			asked = time.Now()
		}
		n, err := p.Read(buf)
		if err != nil {
			return err
		}
		in.Bytes(buf[:n]) // none: nothing came for a while
	}
	return nil
}

// hopeless returns the fault of what opening again won't mend; nil where it may.
func (w *wire) hopeless(path string, err error) error {
	var e *port.PortError
	if !errors.As(err, &e) {
		return nil // it may be mended by plugging it in
	}
	switch e.Code() {
	case port.InvalidSpeed, port.InvalidDataBits, port.InvalidParity, port.InvalidStopBits, port.InvalidSerialPort:
		return &source.Fault{Source: w.bare, What: "the port refuses these settings", Err: err, Hint: "use another rate, or another adapter"}
	case port.PermissionDenied:
		if w.been {
			return nil // just plugged in, the system gives the rights a little later
		}
		return &source.Fault{Source: w.bare, What: "the system lets this user not open " + path, Err: err, Hint: "on Linux the user must be in the group dialout (log in again after), elsewhere close what else uses the port"}
	}
	return nil
}

func why(path string, err error) string {
	var e *port.PortError
	switch {
	case path == "?":
		return "no USB adapter with that serial number is plugged in"
	case err == nil:
		return path + " ended"
	case errors.As(err, &e) && e.Code() == port.PortNotFound, errors.Is(err, fs.ErrNotExist):
		return path + " is not there: is it plugged in?"
	case errors.As(err, &e) && e.Code() == port.PortBusy:
		return path + " is in use by another program"
	case errors.As(err, &e) && e.Code() == port.PortClosed:
		return path + " went away"
	}
	return path + ": " + err.Error()
}

func wait(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}
