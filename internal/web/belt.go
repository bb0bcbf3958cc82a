package web

import (
	"bytes"
	"io"
)

// belt carries bytes from who writes to who reads, some MB at most under way, so
// that a file can be kept and read side by side. One writes, and calls end; one
// reads, and calls drain when it has seen enough.
type belt struct {
	pieces chan []byte
	err    error // set before pieces is closed
	left   []byte
}

// mostPieces of some 32 kB are under way at most.
const mostPieces = 64

func newBelt() *belt { return &belt{pieces: make(chan []byte, mostPieces)} }

// Write never fails: who reads drains the belt in the end.
func (b *belt) Write(p []byte) (int, error) {
	if len(p) > 0 {
		b.pieces <- bytes.Clone(p)
	}
	return len(p), nil
}

// end says that no more comes, and why.
func (b *belt) end(err error) {
	if b.err = err; err == nil {
		b.err = io.EOF
	}
	close(b.pieces)
}

func (b *belt) Read(p []byte) (int, error) {
	for len(b.left) == 0 {
		piece, more := <-b.pieces
		if !more {
			return 0, b.err
		}
		b.left = piece
	}
	n := copy(p, b.left)
	b.left = b.left[n:]
	return n, nil
}

// drain throws away what still comes.
func (b *belt) drain() {
	for range b.pieces {
	}
}
