// Package stdin reads lines of text that another program pipes in.
//
// Start with [Kind].
package stdin

import (
	"context"
	"io"
	"os"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

// Kind is the program's standard input.
func Kind() source.Kind { return KindOf(os.Stdin) }

// KindOf is the kind that reads r instead, for tests.
func KindOf(r io.Reader) source.Kind {
	return source.Kind{
		Name:    "stdin",
		Words:   "lines of text that another program pipes in",
		Page:    "docs/sources/stdin.md",
		Example: "stdin:#value=2,unit=kPa,reads=gauge",
		Options: lines.Options(),
		Open: func(a source.Address) (source.Source, error) {
			if a.Place != "" {
				return nil, &source.Fault{Source: a.Bare(), What: "has a place, but there is only one standard input", Hint: "write stdin: alone; replay: plays a file"}
			}
			return lines.New(a, wire{r})
		},
	}
}

type wire struct{ r io.Reader }

// Carry reads to the end. A read that waits can't be called off on every
// system; where ctx ends during one, the goroutine that waits is left behind
// and gives nothing more.
func (w wire) Carry(ctx context.Context, in *lines.Inlet) error {
	type piece struct {
		b   []byte
		err error
	}
	pieces := make(chan piece)
	go func() {
		defer close(pieces)
		for {
			b := make([]byte, 16<<10)
			n, err := w.r.Read(b)
			select {
			case pieces <- piece{b[:n], err}:
			case <-ctx.Done():
				return
			}
			if err != nil {
				return
			}
		}
	}()
	in.Opened("standard input", true)
	for {
		select {
		case <-ctx.Done():
			return nil
		case p := <-pieces:
			in.Bytes(p.b)
			switch {
			case p.err == io.EOF:
				return nil
			case p.err != nil:
				return &source.Fault{Source: "stdin:", What: "can't be read", Err: p.err}
			}
		}
	}
}
