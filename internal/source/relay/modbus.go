package relay

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/modbus"
)

func modbusKind() Kind {
	return Kind{
		Name: "relay-modbus", Words: "coils of a Modbus device on the network", Page: page,
		Example: "relay-modbus://192.168.4.21:502#id=1,pump=0,valve=1",
		Options: coilOptions(), Open: openModbus,
	}
}

func modbusRTUKind() Kind {
	return Kind{
		Name: "relay-modbus-rtu", Words: "coils of a Modbus device on a serial line", Page: page,
		Example: "relay-modbus-rtu:/dev/ttyUSB1#id=2,baud=9600,pump=0,valve=1,longest=45s",
		Options: append(coilOptions(),
			source.Option{Key: "baud", Words: "speed of the line", Default: "9600"},
			source.Option{Key: "parity", Words: "parity", Default: "none", Choice: []string{"none", "even", "odd"}},
			source.Option{Key: "stop", Words: "stop bits", Default: "1", Choice: []string{"1", "2"}}),
		Open: openModbus,
	}
}

func coilOptions() []source.Option {
	return slices.Concat([]source.Option{
		{Key: "pump", Words: "coil of the pump", Hint: "its address from 0"},
		{Key: "valve", Words: "coil of the shut-off valve", Hint: "its address from 0; left out: it is not switched"},
		{Key: "id", Words: "number of the device", Default: "1"},
		{Key: "frame", Words: "how frames are written on a network", Default: "tcp", Choice: []string{"tcp", "rtu"}},
		{Key: "timeout", Words: "how long an answer may take", Default: "500ms"},
	}, common)
}

type modbusDriver struct {
	line  modbus.Line
	coils map[Output]uint16
	c     *modbus.Client
}

func openModbus(a source.Address, s Settings) (Driver, error) {
	line, err := modbus.LineOf(a)
	if err != nil {
		return nil, err
	}
	// an order has time for being written and read back
	line.Timeout = min(line.Timeout, orderTime/3)
	d := &modbusDriver{line: line, coils: map[Output]uint16{}}
	for o, key := range map[Output]string{Pump: "pump", Valve: "valve"} {
		if o == Valve && s.NoValve {
			continue
		}
		n, err := strconv.ParseUint(a.Options[key], 10, 16)
		if err != nil {
			return nil, &source.Fault{Source: a.Bare(), Key: key, What: "is no coil's address", Hint: "from 0 to 65535, as in " + key + "=0"}
		}
		d.coils[o] = uint16(n)
	}
	if !s.NoValve && d.coils[Pump] == d.coils[Valve] {
		return nil, &source.Fault{Source: a.Bare(), Key: "valve", What: "is the pump's coil", Hint: "each has its own"}
	}
	return d, nil
}

// Set writes the coil and reads it back.
func (d *modbusDriver) Set(ctx context.Context, o Order) (Result, error) {
	err := d.set(ctx, o)
	if err == nil {
		return Confirmed, nil
	}
	// A late answer must not be taken for the next one's.
	_ = d.Close()
	var words error = err
	if modbus.SortOf(err) != modbus.Broken {
		words = errors.New(modbus.Words(err, d.line.ID, fmt.Sprintf("coil %d", d.coils[o.Output])))
	}
	if ctx.Err() == nil && modbus.SortOf(err) == modbus.Silent {
		t := time.NewTimer(d.line.Timeout)
		defer t.Stop()
		select {
		case <-ctx.Done():
		case <-t.C:
		}
	}
	return Failed, words
}

func (d *modbusDriver) set(ctx context.Context, o Order) error {
	if d.c == nil {
		c, err := modbus.Dial(ctx, d.line)
		if err != nil {
			return err
		}
		d.c = c
	}
	if err := d.c.SetCoil(d.coils[o.Output], o.On); err != nil {
		return err
	}
	is, err := d.c.Coil(d.coils[o.Output])
	if err == nil && is != o.On {
		err = fmt.Errorf("coil %d was written and reads back as before", d.coils[o.Output])
	}
	return err
}

func (d *modbusDriver) Close() error {
	if d.c == nil {
		return nil
	}
	c := d.c
	d.c = nil
	return c.Close()
}
