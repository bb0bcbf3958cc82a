package lines

import (
	"context"
	"time"

	"seatproof/internal/source"
)

// Wire brings what a device sends: a serial port, a connection, a pipe. It
// knows nothing of lines.
type Wire interface {
	// Carry reads until ctx ends, the stream is over, or nothing can mend it,
	// and gives what it reads to the inlet. What may mend itself it tells and
	// tries again. When it returns it has closed all it opened. The end of a
	// stream that has one is no error.
	Carry(ctx context.Context, in *Inlet) error
}

// Asker is a Wire that asks for each figure, so that it is known how often they
// come; 0: it listens.
type Asker interface{ Asks() time.Duration }

// Inlet takes what a wire reads. It may block while the reader of the lines is
// busy, so that nothing is dropped here; a piece is copied. It is for one
// goroutine.
type Inlet struct {
	ctx    context.Context
	events chan event
}

type event struct {
	at     time.Time
	bytes  []byte
	what   eventKind
	notice source.Notice
}

type eventKind uint8

const (
	isBytes eventKind = iota
	isPacket
	isOpened
	isNotice
)

// queue is how many pieces may wait: some seconds of a fast port, while a disk
// is slow.
const queue = 1024

func (in *Inlet) give(e event) {
	if e.at.IsZero() {
		e.at = time.Now()
	}
	select {
	case in.events <- e:
	case <-in.ctx.Done():
	}
}

// Opened says that a connection was made; whole says that it begins with the
// beginning of a line, as a file does and a port that was sending already does
// not.
func (in *Inlet) Opened(detail string, whole bool) {
	e := event{what: isOpened, notice: source.Notice{Code: source.Connected, Detail: detail}}
	if whole {
		e.bytes = []byte{1}
	}
	in.give(e)
}

// Bytes takes the next piece of a stream.
func (in *Inlet) Bytes(b []byte) {
	if len(b) > 0 {
		in.give(event{what: isBytes, bytes: append([]byte(nil), b...)})
	}
}

// Packet takes a whole record: a datagram, the body of an answer.
func (in *Inlet) Packet(b []byte) {
	if len(b) > 0 {
		in.give(event{what: isPacket, bytes: append([]byte(nil), b...)})
	}
}

// Tell takes a notice of the wire's own.
func (in *Inlet) Tell(code source.Code, detail string) {
	in.give(event{what: isNotice, notice: source.Notice{Code: code, Detail: detail}})
}
