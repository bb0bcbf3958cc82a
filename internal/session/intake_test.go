package session

import (
	"math"
	"testing"
	"time"

	"seatproof/internal/source"
)

// Samples of a source become an event with times in whole microseconds since
// the session began, by the machine's monotonic clock; a source without a clock
// gives none, one that loses it for a moment has no figure there.
func TestIntake(t *testing.T) {
	began := time.Now()
	in := Intake{Source: 2, Began: began}
	nan := math.NaN()
	e := in.Take([]source.Sample{{At: began.Add(1234567891 * time.Nanosecond), Clock: nan, Value: 76.1e3}, {At: began.Add(2 * time.Second), Clock: nan, Value: 76.2e3}})
	if e.Source != 2 || e.Clock != nil || e.At[0] != 1.234568 || e.At[1] != 2 || e.Value[1] != 76.2e3 {
		t.Errorf("without a clock: %+v", e)
	}
	e = in.Take([]source.Sample{{At: began, Clock: nan, Value: 1}, {At: began, Clock: 1e9 + 0.25, Value: 2}})
	if len(e.Clock) != 2 || !math.IsNaN(e.Clock[0]) || e.Clock[1] != 1e9+0.25 {
		t.Errorf("with a clock for a part: %+v", e)
	}
	n := in.Tell(source.Notice{At: began.Add(time.Second), Code: source.Garbage, Detail: "x", Count: 4})
	if n != (Notice{At: 1, Source: 2, Code: source.Garbage, Detail: "x", Count: 4}) {
		t.Errorf("notice: %+v", n)
	}
}
