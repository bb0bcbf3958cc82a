package practise

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"net"
	"syscall"
	"time"
)

// Registers of the make-believe transmitter: holding and input registers alike.
// 0: vacuum in 10 Pa, unsigned; 1 and 2: vacuum in kPa, a 32-bit float, high
// word first; 3: gauge pressure in 10 Pa, signed.
const registers = 4

func (r Reading) registers() [registers]uint16 {
	f := math.Float32bits(float32(kPa(r.Vacuum)))
	ten := math.Round(r.Vacuum / 10)
	return [registers]uint16{uint16(math.Max(0, ten)), uint16(f >> 16), uint16(f), uint16(int16(-ten))}
}

// answer answers a request of the application layer (function and data), as a
// slave that knows functions 3 and 4. Source: Modbus Application Protocol
// Specification V1.1b3, 6.3, 6.4 and 7, from memory.
func (r Reading) answer(pdu []byte) []byte {
	exception := func(code byte) []byte { return []byte{pdu[0] | 0x80, code} }
	if len(pdu) == 0 {
		return nil
	}
	if pdu[0] != 3 && pdu[0] != 4 {
		return exception(1) // illegal function
	}
	if len(pdu) != 5 {
		return exception(3) // illegal data value
	}
	from, n := int(binary.BigEndian.Uint16(pdu[1:])), int(binary.BigEndian.Uint16(pdu[3:]))
	if n < 1 || n > 125 {
		return exception(3)
	}
	if from+n > registers {
		return exception(2) // illegal data address
	}
	all := r.registers()
	out := []byte{pdu[0], byte(2 * n)}
	for _, w := range all[from : from+n] {
		out = binary.BigEndian.AppendUint16(out, w)
	}
	return out
}

// crc is the check of a frame on a serial line: CRC-16, polynomial 0xA001
// reflected, from 0xFFFF. Source: Modbus over Serial Line V1.02, 6.2.2, from
// memory; checked against the frame of TestModbusFrame.
func crc(b []byte) uint16 {
	c := uint16(0xffff)
	for _, x := range b {
		c ^= uint16(x)
		for range 8 {
			if c&1 == 1 {
				c = c>>1 ^ 0xa001
			} else {
				c >>= 1
			}
		}
	}
	return c
}

const unitID = 1 // of the make-believe transmitter

type modbusTCP struct {
	l    net.Listener
	line *Line
	feed *Feed
}

// ListenModbus opens a Modbus TCP transmitter.
func ListenModbus(at string, line *Line, feed *Feed) (Wire, error) {
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, err
	}
	return &modbusTCP{l, line, feed}, nil
}

func (w *modbusTCP) Address() string {
	return "modbus://" + w.l.Addr().String() + "#register=input 1,type=f32,every=20ms,reads=vacuum,unit=kPa"
}

func (w *modbusTCP) Serve(ctx context.Context, _ <-chan Reading) error {
	stop := context.AfterFunc(ctx, func() { w.l.Close() })
	defer stop()
	done, n := make(chan struct{}), 0
	defer func() {
		for range n {
			<-done
		}
	}()
	for {
		c, err := w.l.Accept()
		if err != nil {
			if ctx.Err() != nil || errors.Is(err, net.ErrClosed) {
				return nil
			}
			return err
		}
		n++
		go func() {
			defer func() { done <- struct{}{} }()
			stop := context.AfterFunc(ctx, func() { c.Close() })
			defer stop()
			defer c.Close()
			head := make([]byte, 7) // transaction, protocol, length, unit
			for {
				if _, err := io.ReadFull(c, head); err != nil {
					return
				}
				size := int(binary.BigEndian.Uint16(head[4:])) - 1
				if size < 1 || size > 253 || binary.BigEndian.Uint16(head[2:]) != 0 {
					return
				}
				pdu := make([]byte, size)
				if _, err := io.ReadFull(c, pdu); err != nil {
					return
				}
				if w.line.Unplugged() {
					return
				}
				out := w.feed.Last().answer(pdu)
				frame := append([]byte(nil), head[:4]...)
				frame = binary.BigEndian.AppendUint16(frame, uint16(len(out)+1))
				frame = append(append(frame, head[6]), out...)
				if _, err := c.Write(w.line.Garble(frame)); err != nil {
					return
				}
			}
		}()
	}
}

type modbusRTU struct {
	f    io.ReadWriteCloser
	path string
	line *Line
	feed *Feed
}

// ServeModbusRTU opens a Modbus RTU transmitter, unit 1, on a serial line that is
// open; Serve closes it.
func ServeModbusRTU(f io.ReadWriteCloser, path string, line *Line, feed *Feed) Wire {
	return &modbusRTU{f, path, line, feed}
}

func (w *modbusRTU) Address() string {
	return "modbus-rtu:" + w.path + "#register=input 1,type=f32,every=20ms,reads=vacuum,unit=kPa"
}

func (w *modbusRTU) Serve(ctx context.Context, _ <-chan Reading) error {
	stop := context.AfterFunc(ctx, func() { w.f.Close() })
	defer stop()
	defer w.f.Close()
	var frame []byte
	buf := make([]byte, 256)
	last := time.Now()
	for {
		n, err := w.f.Read(buf)
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			if errors.Is(err, syscall.EIO) { // nobody has the line open
				time.Sleep(20 * time.Millisecond)
				continue
			}
			return err
		}
		if time.Since(last) > 50*time.Millisecond {
			frame = nil // a new request: silence parts frames
		}
		last = time.Now()
		frame = append(frame, buf[:n]...)
		// every request that is known has 8 bytes
		for len(frame) >= 8 {
			ask := frame[:8]
			if binary.LittleEndian.Uint16(ask[6:]) != crc(ask[:6]) {
				frame = frame[1:] // out of step
				continue
			}
			frame = frame[8:]
			if ask[0] != unitID || w.line.Unplugged() {
				continue
			}
			out := append([]byte{unitID}, w.feed.Last().answer(ask[1:6])...)
			out = binary.LittleEndian.AppendUint16(out, crc(out))
			if _, err := w.f.Write(w.line.Garble(out)); err != nil && ctx.Err() == nil {
				return err
			}
		}
		if len(frame) > 256 {
			frame = nil
		}
	}
}
