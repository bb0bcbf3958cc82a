// Package modbus reads a pressure from a register of a Modbus device, over a
// serial line (RTU) or a network (TCP).
//
// [Kinds] lists the two kinds of source. A transmitter on an RS-485 adapter is
//
//	modbus-rtu:/dev/ttyUSB0#register=input 0,type=i16,factor=0.1,unit=kPa,reads=gauge
//
// Only whoever asks speaks on a Modbus line, so that this source polls: the
// device's own clock, if it has one, is unknown, and a sample bears the time
// at which its answer came.
package modbus

import (
	"context"
	"fmt"
	"math"
	"net"
	"slices"
	"strconv"
	"strings"
	"time"

	bus "github.com/simonvetter/modbus"

	"seatproof/internal/source"
)

// Bounds on what may be asked for.
const (
	fastest = time.Millisecond
	slowest = time.Minute
)

const page = "docs/sources/modbus.md"

// Kinds returns the two kinds of source.
func Kinds() []source.Kind {
	common := []source.Option{
		{Key: "register", Words: "register of the figure", Hint: "as in register=input 0 or register=holding 12 (from 0), or as data sheets number them: register=30001"},
		{Key: "id", Words: "number of the device", Hint: "1 to 247, as set on the device", Default: "1"},
		{Key: "type", Words: "how the figure is written", Hint: "u16 and i16 take one register, u32, i32 and f32 two, f64 four", Default: "i16", Choice: forms},
		{Key: "words", Words: "which word comes first", Hint: "of a figure in several registers", Default: "high", Choice: []string{"high", "low"}},
		{Key: "bytes", Words: "which byte comes first", Hint: "within a register; high by the standard", Default: "high", Choice: []string{"high", "low"}},
		{Key: "factor", Words: "what the figure is multiplied by", Hint: "as in factor=0.1 where 123 means 12.3", Default: "1"},
		{Key: "offset", Words: "what is added then", Hint: "as in offset=-100", Default: "0"},
		{Key: "every", Words: "time between questions", Hint: "as in every=100ms", Default: "100ms"},
		{Key: "timeout", Words: "how long an answer may take", Hint: "as in timeout=500ms", Default: "500ms"},
	}
	port := []source.Option{
		{Key: "baud", Words: "speed of the line", Hint: "as set on the device", Default: "9600"},
		{Key: "parity", Words: "parity", Hint: "as set on the device", Default: "none", Choice: []string{"none", "even", "odd"}},
		{Key: "stop", Words: "stop bits", Hint: "as set on the device", Default: "1", Choice: []string{"1", "2"}},
	}
	frame := source.Option{Key: "frame", Words: "how frames are written", Hint: "rtu for an adapter that passes the serial line through as it is", Default: "tcp", Choice: []string{"tcp", "rtu"}}
	return []source.Kind{
		{
			Name: "modbus-rtu", Words: "a Modbus device on a serial line", Page: page,
			Example: "modbus-rtu:/dev/ttyUSB0#id=1,register=input 0,type=i16,factor=0.1,unit=kPa,reads=gauge",
			Options: slices.Concat(common, port, source.ScaleOptions()), Open: Open,
		},
		{
			Name: "modbus", Words: "a Modbus device on the network", Page: page,
			Example: "modbus://192.168.4.20:502#id=1,register=holding 12,type=f32,unit=mbar,reads=absolute",
			Options: slices.Concat(common, []source.Option{frame}, source.ScaleOptions()), Open: Open,
		},
	}
}

// Device is a register of a device, read over and over.
type Device struct {
	about    source.About
	line     Line
	register register
	layout   layout
	scale    source.Scale
	every    time.Duration
}

// Open checks an address of either kind; nothing is opened yet. The error is a
// *source.Fault.
func Open(a source.Address) (source.Source, error) {
	line, err := LineOf(a)
	if err != nil {
		return nil, err
	}
	d := &Device{line: line}
	r := reader{a: a}
	if text, ok := a.Options["register"]; !ok {
		r.fault("register", "is not said", "as in register=input 0 or register=30001, from the data sheet", nil)
	} else if d.register, err = parseRegister(text); err != nil {
		r.fault("register", "is no register", "write input 0, holding 12 (from 0) or 30001, 40013 (from 1)", err)
	}
	d.layout = layout{
		form:     r.choice("type", "i16", forms...),
		lowWord:  r.choice("words", "high", "high", "low") == "low",
		lowByte:  r.choice("bytes", "high", "high", "low") == "low",
		factor:   r.number("factor", 1),
		constant: r.number("offset", 0),
	}
	if d.layout.factor == 0 {
		r.fault("factor", "is 0", "leave it out where the figure is as it is", nil)
	}
	d.every = r.duration("every", 100*time.Millisecond, fastest, slowest)
	if int(d.register.address)+int(d.layout.words()) > 1<<16 {
		r.fault("register", "is too near the end for a figure of this type", "look at the data sheet again", nil)
	}
	if r.err != nil {
		return nil, r.err
	}
	if d.scale, err = source.ScaleOf(a, source.Scale{}); err != nil {
		return nil, err
	}
	if err := d.scale.Describe(a, &d.about); err != nil {
		return nil, err
	}
	d.about.Interval = d.every.Seconds()
	if d.about.Resolution == 0 {
		d.about.Resolution = d.scale.Difference(d.layout.step())
	}
	return d, nil
}

// LineOf reads how the device of an address is reached, without which register.
// The error is a *source.Fault.
func LineOf(a source.Address) (Line, error) {
	r := reader{a: a}
	line := Line{Shown: a.Bare(), Baud: 9600, Stop: 1}
	line.ID = uint8(r.whole("id", 1, 1, 247))
	line.Timeout = r.duration("timeout", 500*time.Millisecond, 10*time.Millisecond, slowest)
	if strings.HasPrefix(a.Place, "//") {
		host := a.Place[2:]
		if _, _, err := net.SplitHostPort(host); err != nil {
			host = net.JoinHostPort(strings.Trim(host, "[]"), "502") // the port IANA has for it
		}
		name, port, err := net.SplitHostPort(host)
		if n, bad := strconv.Atoi(port); err != nil || bad != nil || name == "" || n < 1 || n > 65535 || strings.ContainsAny(host, "/@? ") {
			r.fault("", "has no host and port", "as in modbus://192.168.4.20:502", err)
		}
		line.URL = "tcp://" + host
		if r.choice("frame", "tcp", "tcp", "rtu") == "rtu" {
			line.URL = "rtuovertcp://" + host
		}
		return line, r.err
	}
	if a.Place == "" {
		r.fault("", "names no serial port", "as in modbus-rtu:/dev/ttyUSB0 or modbus-rtu:COM3", nil)
	}
	line.URL = "rtu://" + a.Place
	line.Baud = uint(r.whole("baud", 9600, 300, 4_000_000))
	line.Stop = uint(r.whole("stop", 1, 1, 2))
	line.Parity = map[string]uint{"none": bus.PARITY_NONE, "even": bus.PARITY_EVEN, "odd": bus.PARITY_ODD}[r.choice("parity", "none", "none", "even", "odd")]
	return line, r.err
}

// About says what the source is.
func (d *Device) About() source.About { return d.about }

// Run asks until ctx ends. A device that refuses what is asked from the first
// answer on is a *source.Fault: no waiting mends that.
func (d *Device) Run(ctx context.Context, sink source.Sink) error {
	p := poll{d: d, sink: sink, tell: source.NewTeller(sink)}
	defer p.close()
	return p.run(ctx)
}

// reader reads options and keeps the first fault.
type reader struct {
	a   source.Address
	err error
}

func (r *reader) fault(key, what, hint string, cause error) {
	if r.err == nil {
		r.err = &source.Fault{Source: r.a.Bare(), Key: key, What: what, Hint: hint, Err: cause}
	}
}

func (r *reader) choice(key, otherwise string, known ...string) string {
	text, ok := r.a.Options[key]
	if !ok {
		return otherwise
	}
	text = strings.ToLower(strings.TrimSpace(text))
	if !slices.Contains(known, text) {
		r.fault(key, fmt.Sprintf("%q is not known", text), "use one of "+strings.Join(known, ", "), nil)
		return otherwise
	}
	return text
}

func (r *reader) number(key string, otherwise float64) float64 {
	text, ok := r.a.Options[key]
	if !ok {
		return otherwise
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		r.fault(key, fmt.Sprintf("%q is no number", text), "as in "+key+"=0.1", nil)
		return otherwise
	}
	return x
}

func (r *reader) whole(key string, otherwise, least, most int) int {
	text, ok := r.a.Options[key]
	if !ok {
		return otherwise
	}
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || n < least || n > most {
		r.fault(key, fmt.Sprintf("%q is not from %d to %d", text, least, most), "see the device's data sheet", nil)
		return otherwise
	}
	return n
}

func (r *reader) duration(key string, otherwise, least, most time.Duration) time.Duration {
	text, ok := r.a.Options[key]
	if !ok {
		return otherwise
	}
	d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	if err != nil || d < least || d > most {
		r.fault(key, fmt.Sprintf("%q is no time from %s to %s", text, least, most), "as in "+key+"=100ms", nil)
		return otherwise
	}
	return d
}
