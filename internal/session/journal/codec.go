package journal

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"seatproof/internal/session"
)

// Kinds of record.
const (
	kindBegin   = 'B'
	kindSamples = 'S'
	kindNotice  = 'N'
	kindKey     = 'K'
	kindLooked  = 'L'
	kindTick    = 'T' // eight bytes: the time as a float64
	kindResumed = 'R'
	kindMissing = 'M' // eight bytes: samples that could not be kept, since there was no room
)

// Missing is in a journal where the disk was full for so long that memory ran
// out as well: so many samples came in and are gone. It is no event of a
// session.
type Missing struct{ Samples int64 }

// Flags of a record of samples. Its body: source, number of samples, flags,
// then times, clocks and values as columns.
const (
	flagClock     = 1 << iota // the source has a clock of its own
	flagTimeGrid              // times are whole microseconds
	flagClockGrid             // clocks are
	flagValueGrid             // values are whole thousandths of a pascal
	flagsAll      = flagClock | flagTimeGrid | flagClockGrid | flagValueGrid

	timeScale  = 1e6
	valueScale = 1e3
)

// appendEvent appends the kind and the body of an event.
func appendEvent(b []byte, e session.Event) ([]byte, error) {
	var kind byte
	switch e := e.(type) {
	case session.Samples:
		return appendSamples(append(b, kindSamples), e)
	case session.Tick:
		return binary.LittleEndian.AppendUint64(append(b, kindTick), math.Float64bits(e.At)), nil
	case session.Begin:
		kind = kindBegin
	case session.Notice:
		kind = kindNotice
	case session.Key:
		kind = kindKey
	case session.Looked:
		kind = kindLooked
	case session.Resumed:
		kind = kindResumed
	default:
		return b, fmt.Errorf("write journal: an event of no known kind: %T", e)
	}
	j, err := json.Marshal(e)
	if err != nil {
		return b, fmt.Errorf("write journal: %w", err)
	}
	return append(append(b, kind), j...), nil
}

func appendSamples(b []byte, e session.Samples) ([]byte, error) {
	if len(e.At) != len(e.Value) || e.Clock != nil && len(e.Clock) != len(e.Value) || e.Source < 0 {
		return b, errors.New("write journal: times, clocks and values of samples differ in number")
	}
	flags := byte(0)
	if e.Clock != nil {
		flags |= flagClock
	}
	if onGrid(e.At, timeScale) {
		flags |= flagTimeGrid
	}
	if e.Clock != nil && onGrid(e.Clock, timeScale) {
		flags |= flagClockGrid
	}
	if onGrid(e.Value, valueScale) {
		flags |= flagValueGrid
	}
	b = binary.AppendUvarint(b, uint64(e.Source))
	b = binary.AppendUvarint(b, uint64(len(e.Value)))
	b = append(b, flags)
	column := func(x []float64, grid bool, scale float64, twice bool) {
		if grid {
			b = appendGrid(b, x, scale, twice)
		} else {
			b = appendBits(b, x)
		}
	}
	column(e.At, flags&flagTimeGrid != 0, timeScale, true)
	if e.Clock != nil {
		column(e.Clock, flags&flagClockGrid != 0, timeScale, true)
	}
	column(e.Value, flags&flagValueGrid != 0, valueScale, false)
	return b, nil
}

// decode reads a record's kind and body: a session.Event or a Missing.
func decode(rec []byte) (any, error) {
	if len(rec) == 0 {
		return nil, errors.New("a record of nothing")
	}
	body := rec[1:]
	switch rec[0] {
	case kindSamples:
		return decodeSamples(body)
	case kindTick, kindMissing:
		if len(body) != 8 {
			return nil, errShort
		}
		u := binary.LittleEndian.Uint64(body)
		if rec[0] == kindMissing {
			return Missing{int64(u)}, nil
		}
		at := math.Float64frombits(u)
		if math.IsNaN(at) {
			return nil, errors.New("a time that is no number")
		}
		return session.Tick{At: at}, nil
	case kindBegin:
		return fromJSON[session.Begin](body)
	case kindNotice:
		return fromJSON[session.Notice](body)
	case kindKey:
		return fromJSON[session.Key](body)
	case kindLooked:
		return fromJSON[session.Looked](body)
	case kindResumed:
		return fromJSON[session.Resumed](body)
	}
	return nil, fmt.Errorf("a record of unknown kind %q", rec[0])
}

func fromJSON[E session.Event](body []byte) (any, error) {
	var e E
	if err := json.Unmarshal(body, &e); err != nil {
		return nil, err
	}
	return e, nil
}

func decodeSamples(b []byte) (any, error) {
	source, k := binary.Uvarint(b)
	if k <= 0 || source > 1<<16 {
		return nil, errShort
	}
	b = b[k:]
	count, k := binary.Uvarint(b)
	if k <= 0 || len(b) < k+1 || count > uint64(len(b)) { // a sample takes a byte at least
		return nil, errShort
	}
	flags := b[k]
	b = b[k+1:]
	if flags&^flagsAll != 0 {
		return nil, errors.New("samples with unknown flags")
	}
	n := int(count)
	var err error
	column := func(grid bool, scale float64, twice bool) (x []float64) {
		switch {
		case err != nil:
		case grid:
			x, b, err = readGrid(b, n, scale, twice)
		default:
			x, b, err = readBits(b, n)
		}
		return x
	}
	e := session.Samples{Source: int(source)}
	e.At = column(flags&flagTimeGrid != 0, timeScale, true)
	if flags&flagClock != 0 {
		e.Clock = column(flags&flagClockGrid != 0, timeScale, true)
	}
	e.Value = column(flags&flagValueGrid != 0, valueScale, false)
	if err == nil && len(b) > 0 {
		err = errors.New("samples with bytes left over")
	}
	if err != nil {
		return nil, err
	}
	return e, nil
}
