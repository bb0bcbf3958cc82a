package lines

import (
	"fmt"
	"strings"
	"time"

	"seatproof/internal/source"
	"seatproof/unit"
)

// Asking reads the options send and every, for a device that must be asked for
// each figure. In send, \r, \n, \t and \xHH stand for what can't be typed.
func Asking(a source.Address) (send []byte, every time.Duration, err error) {
	every, err = Every(a, 500*time.Millisecond)
	if err != nil {
		return nil, 0, err
	}
	text, ok := a.Options["send"]
	if !ok {
		return nil, every, nil
	}
	for i := 0; i < len(text); i++ {
		if text[i] != '\\' {
			send = append(send, text[i])
			continue
		}
		i++
		rest := text[min(i, len(text)):]
		switch {
		case strings.HasPrefix(rest, "r"):
			send = append(send, '\r')
		case strings.HasPrefix(rest, "n"):
			send = append(send, '\n')
		case strings.HasPrefix(rest, "t"):
			send = append(send, '\t')
		case strings.HasPrefix(rest, `\`):
			send = append(send, '\\')
		case strings.HasPrefix(rest, "x") && len(rest) >= 3 && isHex(rest[1]) && isHex(rest[2]):
			var c byte
			fmt.Sscanf(rest[1:3], "%x", &c)
			send = append(send, c)
			i += 2
		default:
			return nil, 0, &source.Fault{Source: a.Bare(), Key: "send", What: `has a backslash before what it does not go with`, Hint: `known are \r, \n, \t, \\ and \xHH`}
		}
	}
	return send, every, nil
}

// Every reads the option every, which is def where it is not said.
func Every(a source.Address, def time.Duration) (time.Duration, error) {
	text, ok := a.Options["every"]
	if !ok {
		return def, nil
	}
	q, err := unit.ParseIn(text, unit.TimeDim, "s")
	if err == nil && !(q.Value >= 0.01 && q.Value <= 3600) {
		err = fmt.Errorf("it must lie between 10 ms and an hour")
	}
	if err != nil {
		return 0, &source.Fault{Source: a.Bare(), Key: "every", What: "no time between two readings", Err: err, Hint: "as in every=200 ms"}
	}
	return time.Duration(q.Value * float64(time.Second)), nil
}
