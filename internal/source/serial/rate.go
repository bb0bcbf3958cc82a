package serial

import (
	"context"
	"fmt"
	"strings"
	"time"

	port "go.bug.st/serial"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

// rates are tried in this order: the two that most devices have, then the
// others by how common they are (common practice, no source).
var rates = []int{115200, 9600, 57600, 38400, 19200, 230400, 4800, 2400, 1200, 460800, 921600}

// Bounds of the search for a rate.
const (
	firstByte = 900 * time.Millisecond  // to wait for at each rate
	listenFor = 1100 * time.Millisecond // after it, at most
	enough    = 400                     // bytes that settle it
	sense     = 0.75                    // share that must make sense
)

// detect finds the rate at which what comes makes sense, and where neither
// bits nor parity were said, whether it is seven bits with parity. It goes on
// until one is found, and returns the mode and what was read at it.
func detect(ctx context.Context, p conn, mode port.Mode, fixed bool, in *lines.Inlet) (port.Mode, []byte, error) {
	for {
		heard := false
		for _, form := range forms(mode, fixed) {
			for _, rate := range rates {
				m := form
				m.BaudRate = rate
				if err := p.SetMode(&m); err != nil {
					if e, ok := err.(*port.PortError); ok && (e.Code() == port.InvalidSpeed || e.Code() == port.InvalidParity || e.Code() == port.InvalidDataBits) {
						continue // not every adapter has all of them
					}
					return mode, nil, err
				}
				if err := p.ResetInputBuffer(); err != nil {
					return mode, nil, err
				}
				seen, err := listen(ctx, p)
				if err != nil || ctx.Err() != nil {
					return mode, nil, err
				}
				heard = heard || len(seen) > 0
				if lines.Sense(seen) >= sense {
					return m, seen, nil
				}
				if len(seen) == 0 && !heard {
					break // it is silent: the rate can't be told yet
				}
			}
			if !heard {
				break
			}
		}
		if heard {
			in.Tell(source.Garbage, "what comes makes no sense at any of "+usual()+" Bd: say baud, bits and parity, or is the plug wired right?")
		}
	}
}

// forms returns what to try beside the rate.
func forms(mode port.Mode, fixed bool) []port.Mode {
	if fixed {
		return []port.Mode{mode}
	}
	even, odd := mode, mode
	even.DataBits, even.Parity = 7, port.EvenParity
	odd.DataBits, odd.Parity = 7, port.OddParity
	return []port.Mode{mode, even, odd}
}

func usual() string {
	var s []string
	for _, r := range rates {
		s = append(s, fmt.Sprint(r))
	}
	return strings.Join(s, ", ")
}

// listen reads for long enough to judge a rate.
func listen(ctx context.Context, p conn) ([]byte, error) {
	var seen []byte
	buf := make([]byte, 512)
	from := time.Now()
	limit := firstByte
	for ctx.Err() == nil && time.Since(from) < limit && len(seen) < enough {
		n, err := p.Read(buf)
		if err != nil {
			return nil, err
		}
		if n > 0 && len(seen) == 0 {
			from, limit = time.Now(), listenFor
		}
		seen = append(seen, buf[:n]...)
		if ends := strings.Count(string(seen), "\n") + strings.Count(string(seen), "\r"); ends >= 12 {
			break
		}
	}
	return seen, nil
}
