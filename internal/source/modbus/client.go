package modbus

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"time"

	bus "github.com/simonvetter/modbus"
)

// Line is how a device is reached.
type Line struct {
	URL     string // tcp://host:port, rtu:///dev/ttyUSB0 or rtuovertcp://host:port
	Shown   string // what a person calls it
	ID      uint8  // of the device on the line
	Baud    uint
	Parity  uint // as the library has it
	Stop    uint
	Timeout time.Duration
}

// serial says whether answers have no number: a late one is then taken for the
// answer to a later question.
func (l Line) serial() bool { return l.URL[:3] == "rtu" }

// Client asks one device. It is for one goroutine.
type Client struct {
	line Line
	c    *bus.ModbusClient
}

// Dial opens the line. Opening can't be broken off, so that after the end of
// ctx Dial may still take the five seconds that a host has for an answer.
func Dial(ctx context.Context, line Line) (*Client, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c, err := bus.NewClient(&bus.ClientConfiguration{
		URL: line.URL, Speed: line.Baud, DataBits: 8, Parity: line.Parity, StopBits: line.Stop, Timeout: line.Timeout,
		Logger: log.New(io.Discard, "", 0), // without one it writes to standard output
	})
	if err != nil {
		return nil, err
	}
	if err := c.SetUnitId(line.ID); err != nil {
		return nil, err
	}
	if err := c.Open(); err != nil {
		return nil, err
	}
	return &Client{line: line, c: c}, nil
}

// Close closes the line.
func (c *Client) Close() error { return c.c.Close() }

// read reads n registers from r on.
func (c *Client) read(r register, n uint16) ([]uint16, error) {
	kind := bus.HOLDING_REGISTER
	if r.table == input {
		kind = bus.INPUT_REGISTER
	}
	return c.c.ReadRegisters(r.address, n, kind)
}

// SetCoil switches a coil; the device's answer repeats what it did (function
// 5), and nil says that it came.
func (c *Client) SetCoil(address uint16, on bool) error { return c.c.WriteCoil(address, on) }

// Coil reads a coil back.
func (c *Client) Coil(address uint16) (bool, error) { return c.c.ReadCoil(address) }

// Sort says what kind of failure an error of a [Client] is.
type Sort int

// The sorts of failure.
const (
	Broken   Sort = iota // the line is gone
	Silent               // no answer in time
	Muddled              // an answer that makes no sense
	Busy                 // the device refuses for now
	Refusing             // the device refuses what is asked
)

// SortOf sorts an error.
func SortOf(err error) Sort {
	var e bus.Error
	if !errors.As(err, &e) {
		return Broken
	}
	switch e {
	case bus.ErrRequestTimedOut:
		return Silent
	case bus.ErrIllegalFunction, bus.ErrIllegalDataAddress, bus.ErrIllegalDataValue:
		return Refusing
	case bus.ErrServerDeviceFailure, bus.ErrAcknowledge, bus.ErrServerDeviceBusy, bus.ErrMemoryParityError, bus.ErrGWPathUnavailable, bus.ErrGWTargetFailedToRespond:
		return Busy
	}
	return Muddled
}

// Words says an error of a [Client] in words, with the likely cause. The
// exceptions are those of the Modbus application protocol V1.1b3, 7.
func Words(err error, id uint8, what string) string {
	device := fmt.Sprintf("device %d", id)
	var e bus.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	switch e {
	case bus.ErrRequestTimedOut:
		return fmt.Sprintf("%s does not answer: is it supplied, is its number right, are A and B the right way round, do baud rate and parity match", device)
	case bus.ErrIllegalFunction:
		return fmt.Sprintf("%s does not know this way of asking for %s (exception 1): try the other table", device, what)
	case bus.ErrIllegalDataAddress:
		return fmt.Sprintf("%s has no %s (exception 2): some data sheets count from 0, some from 1", device, what)
	case bus.ErrIllegalDataValue:
		return fmt.Sprintf("%s refuses the number of registers or the value for %s (exception 3): is the type right", device, what)
	case bus.ErrServerDeviceFailure:
		return fmt.Sprintf("%s failed while it read %s (exception 4)", device, what)
	case bus.ErrAcknowledge:
		return fmt.Sprintf("%s needs long to answer (exception 5)", device)
	case bus.ErrServerDeviceBusy:
		return fmt.Sprintf("%s is busy (exception 6)", device)
	case bus.ErrMemoryParityError:
		return fmt.Sprintf("%s has a fault in its memory (exception 8)", device)
	case bus.ErrGWPathUnavailable:
		return fmt.Sprintf("the gateway has no way to %s (exception 10)", device)
	case bus.ErrGWTargetFailedToRespond:
		return fmt.Sprintf("the gateway is there, %s behind it does not answer (exception 11)", device)
	case bus.ErrBadCRC:
		return "an answer with a wrong checksum: noise on the line, or another baud rate or parity"
	case bus.ErrShortFrame:
		return "an answer that broke off"
	case bus.ErrBadUnitId:
		return fmt.Sprintf("an answer of another device than %d", id)
	}
	return "an answer that makes no sense: " + err.Error()
}
