package journal

import (
	"bytes"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"seatproof/internal/session"
	"seatproof/leak"
)

// second is a second of 16 sources at 1,000 samples a second, in events of 20
// samples as they come off a wire.
func second(r *rand.Rand, from float64) (events []session.Event) {
	for part := range 50 {
		for source := range 16 {
			events = append(events, samples(r, source, from+float64(part)*0.02, 0.001, 20, false))
		}
	}
	return events
}

// One operation is one second of 16 sources at 1,000 samples a second, put on
// disk.
func BenchmarkAppendSecond(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	w, err := Create(filepath.Join(b.TempDir(), "run.journal"))
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	events := second(r, 0)
	for b.Loop() {
		for _, e := range events {
			if err := w.Append(e); err != nil {
				b.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(w.Status().Bytes)/float64(b.N)/16000, "bytes/sample")
}

// One operation is one sample through the state machine.
func BenchmarkStepSample(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	s, _ := session.Step(session.State{}, session.Begin{Plan: plan(1)})
	now, n := 0.0, 0
	var e session.Samples
	for b.Loop() {
		if n == 0 {
			b.StopTimer()
			e, n = samples(r, 0, now, 0.001, 20000, false), 20000
			now += 20
			b.StartTimer()
		}
		k := 20000 - n
		if k%20 == 0 {
			s, _ = session.Step(s, session.Samples{Source: 0, At: e.At[k : k+20], Value: e.Value[k : k+20]})
		}
		n--
	}
}

// One operation is a second of all of it: 16 sources at 1,000 samples a second
// through journal and session, with the readings that it asks for.
func BenchmarkSecondOfAll(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	w, err := Create(filepath.Join(b.TempDir(), "run.journal"))
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	var s session.State
	give := func(e session.Event) {
		queue := []session.Event{e}
		for len(queue) > 0 {
			e, queue = queue[0], queue[1:]
			if err := w.Append(e); err != nil {
				b.Fatal(err)
			}
			var out []session.Action
			s, out = session.Step(s, e)
			for _, a := range out {
				if l, ok := a.(session.Look); ok {
					queue = append(queue, session.Looked{At: s.Now(), Test: l.Test, Final: l.Final, Estimate: session.Read(l, leak.Options{})})
				}
			}
		}
	}
	give(session.Begin{Plan: plan(16)})
	give(session.Key{Do: session.Skip})
	give(session.Key{Do: session.Skip})
	now := 0.0
	for b.Loop() {
		b.StopTimer()
		events := second(r, now)
		now++
		b.StartTimer()
		for _, e := range events {
			give(e)
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
	}
}

// One operation is the replay of an hour of one source at 50 samples a second:
// a bench's usual sensor, 180 tests.
func BenchmarkReplayHour(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	file := []byte(magic)
	put := func(e session.Event) {
		var err error
		if file, err = appendRecord(file, func(out []byte) ([]byte, error) { return appendEvent(out, e) }); err != nil {
			b.Fatal(err)
		}
	}
	put(session.Begin{Plan: plan(1)})
	put(session.Key{Do: session.Skip})
	put(session.Key{Do: session.Skip})
	for t := 0.0; t < 3600; t += 0.1 {
		put(samples(r, 0, t, 0.02, 5, false))
		put(session.Tick{At: t})
	}
	for b.Loop() {
		p, _, err := Replay(bytes.NewReader(file))
		if err != nil || p.Torn != nil || len(p.State.View().Filed) < 170 {
			b.Fatal(err, p.Torn, len(p.State.View().Filed))
		}
	}
	b.ReportMetric(float64(len(file))/1e6, "MB")
}
