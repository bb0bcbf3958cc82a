// Package all lists the kinds of sources there are, and opens any of them by
// its address.
//
// Start with [Open]. To add a kind, write its package beside the others and one
// line in [Kinds].
package all

import (
	"context"
	"slices"
	"strings"

	"seatproof/internal/source"
	"seatproof/internal/source/modbus"
	"seatproof/internal/source/mqtt"
	"seatproof/internal/source/poll"
	"seatproof/internal/source/replay"
	"seatproof/internal/source/serial"
	"seatproof/internal/source/socket"
	"seatproof/internal/source/stdin"
	"seatproof/unit"
)

// Kinds returns every kind of source, those that most benches have first.
func Kinds() []source.Kind {
	return slices.Concat([]source.Kind{
		serial.Kind(),
		socket.TCP(),
		socket.UDP(),
		poll.HTTP(),
		poll.HTTPS(),
		stdin.Kind(),
		replay.Kind(),
	}, modbus.Kinds(), mqtt.Kinds())
}

// Kind returns the kind of an address, and the address; the error is a
// *source.Fault.
func Kind(text string) (source.Kind, source.Address, error) {
	a, err := source.ParseAddress(text)
	if err != nil {
		return source.Kind{}, a, err
	}
	var names []string
	for _, k := range Kinds() {
		if k.Name == a.Kind {
			return k, a, a.Unknown(k, unit.Nearest)
		}
		names = append(names, k.Name)
	}
	hint := "known are " + strings.Join(names, ", ")
	if n := unit.Nearest(a.Kind, names); n != "" {
		hint = "did you mean " + n + "?"
	}
	return source.Kind{}, a, &source.Fault{Source: a.Bare(), What: "is no kind of source that is known", Hint: hint}
}

// Open checks an address and returns its source, watched (see [source.Watch]).
// Nothing is opened before it runs. The error is a *source.Fault.
func Open(text string) (source.Source, error) {
	s, err := open(text)
	if err != nil {
		return nil, err
	}
	return source.Watch(s, source.Watching{}), nil
}

func open(text string) (source.Source, error) {
	k, a, err := Kind(text)
	if err != nil {
		return nil, err
	}
	return k.Open(a)
}

// Learn reads a source for a while and returns the ways to read what it sends,
// best first; none where its kind needs no learning. The error is a
// *source.Fault, or ctx's.
func Learn(ctx context.Context, text string) ([]source.Learned, error) {
	s, err := open(text)
	if err != nil {
		return nil, err
	}
	l, ok := s.(source.Learner)
	if !ok {
		return nil, nil
	}
	return l.Learn(ctx)
}

// Find looks for sources of every kind that can be looked for.
func Find(ctx context.Context) []source.Found {
	var found []source.Found
	for _, k := range Kinds() {
		if k.Find != nil {
			found = append(found, k.Find(ctx)...)
		}
	}
	return found
}
