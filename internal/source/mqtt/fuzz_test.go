package mqtt

import (
	"bytes"
	"math"
	"testing"
	"time"

	"seatproof/internal/source"
)

// FuzzPayload gives any payload to a listener: whatever comes, it must stand,
// and what it gives must be figures, in the order of their clock, no more than
// the payload has lines.
func FuzzPayload(f *testing.F) {
	for _, s := range []string{
		`{"vac":42.1,"n":7,"ms":1000}`, `{"p":{"vac":-1e308},"n":"3"}`, `[1,2,{"vac":3}]`, "{\n\"vac\":\n1}", "42.1 kPa", "1,2\n3,4\r\n",
		`{"vac":`, "", "\x00\xff", `{"vac":1,"vac":2,"n":1e999}`, `{"":{"":{"":1}}}`, "NaN", "vac=1 n=2 ms=3", `{"vac":1,"n":-1,"ms":-5}`,
	} {
		f.Add([]byte(s), "vac", "n", "ms")
		f.Add([]byte(s), "1", "2", "1")
		f.Add([]byte(s), `p[0]."vac"`, "a..b", "[")
	}
	f.Fuzz(func(t *testing.T, payload []byte, value, counter, clock string) {
		options := map[string]string{"value": value, "counter": counter, "time": clock, "time_unit": "ms", "unit": "kPa", "reads": "vacuum"}
		s, err := open(source.Address{Kind: "mqtt", Place: "//h/a", Options: options}, false)
		if err != nil {
			return
		}
		m := &source.Memory{}
		l := newListener(s.(*Topic), m)
		// twice, as a second one meets what the first one left
		for i := range 2 {
			before := bytes.Clone(payload)
			if err := l.take(Message{At: time.Unix(1000+int64(i), 0), Payload: payload}); err != nil {
				return
			}
			if !bytes.Equal(before, payload) {
				t.Fatal("the payload was changed")
			}
		}
		got := m.Samples()
		if most := 2 * (1 + bytes.Count(payload, []byte("\n"))); len(got) > most {
			t.Fatalf("%d samples of %d lines", len(got), most)
		}
		last := math.Inf(-1)
		for _, x := range got {
			if math.IsNaN(x.Value) || math.IsInf(x.Value, 0) || x.At.IsZero() {
				t.Fatalf("%+v", x)
			}
			if x.Clock < last {
				t.Fatalf("the clock goes back: %g after %g", x.Clock, last)
			}
			if !math.IsNaN(x.Clock) {
				last = x.Clock
			}
		}
	})
}
