package relay

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"go.bug.st/serial"

	"seatproof/internal/source"
)

func serialKind() Kind {
	return Kind{
		Name: "relay-serial", Words: "a relay on a serial port that takes commands", Page: page,
		Example: "relay-serial:/dev/ttyUSB1#baud=9600,pump_on=hex:A0 01 01 A2,pump_off=hex:A0 01 00 A1,valve_on=hex:A0 02 01 A3,valve_off=hex:A0 02 00 A2",
		Options: slices.Concat(outputOptions("text, with %0D and %0A for line ends, or bytes as in hex:A0 01 01 A2", map[string]string{
			"_on": "what is sent to switch on %s", "_off": "what is sent to switch off %s",
		}), []source.Option{
			{Key: "baud", Words: "speed of the port", Default: "9600"},
			{Key: "answer", Words: "what the relay answers", Hint: "a text that its answer contains, or echo where it repeats the command; left out: nothing confirms"},
		}, common),
		Open: openSerial,
	}
}

type serialDriver struct {
	name     string
	baud     int
	commands map[Order][]byte
	answer   string
	port     serial.Port
}

func openSerial(a source.Address, s Settings) (Driver, error) {
	d := &serialDriver{name: a.Place, baud: 9600, answer: a.Options["answer"]}
	if d.name == "" {
		return nil, &source.Fault{Source: a.Bare(), What: "names no serial port", Hint: "as in relay-serial:/dev/ttyUSB1"}
	}
	if text, ok := a.Options["baud"]; ok {
		n, err := strconv.Atoi(text)
		if err != nil || n < 300 || n > 4_000_000 {
			return nil, &source.Fault{Source: a.Bare(), Key: "baud", What: fmt.Sprintf("%q is no speed of a port", text), Hint: "as in baud=9600"}
		}
		d.baud = n
	}
	var err error
	d.commands, err = commandsOf(a, s)
	return d, err
}

// Set sends the command and, where an answer is known, waits for it.
func (d *serialDriver) Set(ctx context.Context, o Order) (Result, error) {
	r, err := d.set(ctx, d.commands[o])
	if err != nil {
		_ = d.Close() // it may have been unplugged; the next order opens it anew
	}
	return r, err
}

func (d *serialDriver) set(ctx context.Context, command []byte) (Result, error) {
	if d.port == nil {
		p, err := serial.Open(d.name, &serial.Mode{BaudRate: d.baud})
		if err != nil {
			return Failed, err
		}
		d.port = p
	}
	if err := d.port.ResetInputBuffer(); err != nil { // answers from before
		return Failed, err
	}
	if n, err := d.port.Write(command); err != nil || n != len(command) {
		return Failed, errors.Join(err, fmt.Errorf("%d of %d bytes went out", n, len(command)))
	}
	if d.answer == "" {
		return Sent, nil
	}
	want := []byte(d.answer)
	if d.answer == "echo" {
		want = command
	}
	if err := d.port.SetReadTimeout(50 * time.Millisecond); err != nil {
		return Failed, err
	}
	var got []byte
	buf := make([]byte, 256)
	for ctx.Err() == nil {
		n, err := d.port.Read(buf)
		if err != nil {
			return Failed, err
		}
		if got = append(got, buf[:n]...); bytes.Contains(got, want) {
			return Confirmed, nil
		}
		if n > 0 && len(got) > 4096 {
			break
		}
	}
	return Failed, fmt.Errorf("the relay answered %q and not %q", got, want)
}

func (d *serialDriver) Close() error {
	if d.port == nil {
		return nil
	}
	p := d.port
	d.port = nil
	return p.Close()
}
