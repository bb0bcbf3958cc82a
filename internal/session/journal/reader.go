package journal

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

const (
	magic   = "SPJRNL1\n"
	headLen = 8       // of a record: length and check
	longest = 4 << 20 // bytes of a record
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Torn says that a journal ends in the middle of a record, as after a crash, or
// that a record does not check. What came before is whole.
type Torn struct {
	At  int64 // offset of the first byte that is not whole
	Why string
}

func (t *Torn) Error() string {
	return fmt.Sprintf("read journal: torn at byte %d: %s", t.At, t.Why)
}

// ErrNotJournal says that a file does not begin as a journal does.
var ErrNotJournal = errors.New("read journal: this file is no journal")

// Reader reads the records of a journal in order.
type Reader struct {
	r   *bufio.Reader
	at  int64 // offset after the last whole record
	buf []byte
	err error
}

// NewReader returns a reader; the error is ErrNotJournal, a *Torn for a file
// cut off in its first bytes, or what reading gave.
func NewReader(r io.Reader) (*Reader, error) {
	b := bufio.NewReaderSize(r, 1<<16)
	head := make([]byte, len(magic))
	switch n, err := io.ReadFull(b, head); {
	case string(head[:n]) != magic[:n]:
		return nil, ErrNotJournal
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		return nil, &Torn{Why: "it ends within its first line"}
	case err != nil:
		return nil, fmt.Errorf("read journal: %w", err)
	}
	return &Reader{r: b, at: int64(len(magic))}, nil
}

// At returns the offset after the last whole record.
func (r *Reader) At() int64 { return r.at }

// Next returns the next event (a session.Event) or a [Missing]; io.EOF at the
// end of a whole journal, a *Torn where it is torn, and from then on the same.
func (r *Reader) Next() (any, error) {
	if r.err != nil {
		return nil, r.err
	}
	e, err := r.next()
	r.err = err
	return e, err
}

func (r *Reader) next() (any, error) {
	var head [headLen]byte
	switch _, err := io.ReadFull(r.r, head[:]); {
	case errors.Is(err, io.EOF):
		return nil, io.EOF
	case errors.Is(err, io.ErrUnexpectedEOF):
		return nil, r.torn("it ends within the head of a record")
	case err != nil:
		return nil, fmt.Errorf("read journal: %w", err)
	}
	n := binary.LittleEndian.Uint32(head[:])
	if n == 0 || n > longest {
		return nil, r.torn(fmt.Sprintf("a record of %d bytes can't be", n))
	}
	if cap(r.buf) < int(n) {
		r.buf = make([]byte, n)
	}
	rec := r.buf[:n]
	switch _, err := io.ReadFull(r.r, rec); {
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		return nil, r.torn("it ends within a record")
	case err != nil:
		return nil, fmt.Errorf("read journal: %w", err)
	}
	if crc32.Checksum(rec, castagnoli) != binary.LittleEndian.Uint32(head[4:]) {
		return nil, r.torn("a record does not check")
	}
	e, err := decode(rec)
	if err != nil {
		return nil, r.torn(err.Error())
	}
	r.at += headLen + int64(n)
	return e, nil
}

func (r *Reader) torn(why string) error { return &Torn{At: r.at, Why: why} }

// appendRecord appends a whole record; body appends its kind and its body.
func appendRecord(b []byte, body func([]byte) ([]byte, error)) ([]byte, error) {
	start := len(b)
	b = append(b, 0, 0, 0, 0, 0, 0, 0, 0)
	b, err := body(b)
	if err != nil {
		return b[:start], err
	}
	rec := b[start+headLen:]
	if len(rec) > longest {
		return b[:start], fmt.Errorf("write journal: a record of %d bytes is too long", len(rec))
	}
	binary.LittleEndian.PutUint32(b[start:], uint32(len(rec)))
	binary.LittleEndian.PutUint32(b[start+4:], crc32.Checksum(rec, castagnoli))
	return b, nil
}
