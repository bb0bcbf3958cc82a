package study

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
)

// Stopped is a practice port that was held until the session said that will do,
// and what would have come of a fixed hold of the same test.
type Stopped struct {
	Truth  Truth
	Reason session.Reason // why it was said; "": never before the fixed hold was over
	Held   float64        // s of hold until it was said and the person had moved
	Early  One            // of the trace cut there
	Fixed  One            // of the whole hold
	Err    error
}

// One is a trace read and judged by itself.
type One struct {
	Leak    *leak.Interval // nil: refused
	Over    float64        // chance that the test's own leak is over the limit
	Verdict limit.Verdict
}

const (
	stoppedHold  = 30.0 // s, the fixed hold
	stopReaction = 1.0  // s in which a person opens the fitting once told to
)

// RunStopped makes n practice ports: leaks log-uniform from a fifth to five
// times the limit [m³/s], openings, seeps and both, the usual noise. Each test
// goes through a session, sample by sample, which is told of the shut-off as by
// a key 0.3 s late, and ends a second after the session says that will do. Port
// i depends on the seed and i alone.
func RunStopped(n int, limitFlow float64, seed uint64) []Stopped {
	out := make([]Stopped, n)
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		wg.Go(func() {
			for i := range next {
				out[i] = stopOne(rand.New(rand.NewPCG(seed, uint64(i))), limitFlow)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

func stopOne(r *rand.Rand, limitFlow float64) (s Stopped) {
	f := Family{Low: limitFlow / 5 / cm3min, High: limitFlow * 5 / cm3min, Hold: stoppedHold}
	t, g, tr, err := Draw(r, f)
	s.Truth = t
	if err != nil {
		s.Err = err
		return s
	}
	reason, held := follow(tr, g, t.ShutOff, limitFlow)
	s.Reason, s.Held = reason, stoppedHold
	s.Fixed = judgeTrace(tr, g, t.ShutOff, limitFlow)
	s.Early = s.Fixed
	if reason != "" && held+stopReaction < stoppedHold {
		s.Held = held + stopReaction
		s.Early = judgeTrace(cutAt(tr, t.ShutOff+s.Held), g, t.ShutOff, limitFlow)
	}
	return s
}

// follow brings a trace to a session, and returns when it says that will do [s
// after the shut-off].
func follow(tr *trace.Trace, g rig.Rig, shutOff, limitFlow float64) (session.Reason, float64) {
	s, _ := session.Step(session.State{}, session.Begin{Plan: session.Plan{
		Rig: g, Held: g.Port.Held, Sources: []session.SourcePlan{{Name: "gauge", Reads: tr.Kind, Step: tr.Step}},
		Ports: []session.Port{{ID: "port", Limit: limitFlow}}, Manner: session.Manner{Hold: stoppedHold},
	}})
	s, _ = session.Step(s, session.Key{Do: session.Skip})
	s, _ = session.Step(s, session.Key{Do: session.Skip})
	pressed := false
	for i := range tr.Time {
		events := []session.Event{session.Samples{At: tr.Time[i : i+1], Value: tr.Value[i : i+1]}}
		if !pressed && tr.Time[i] > shutOff+0.3 {
			pressed = true
			events = append(events, session.Key{At: tr.Time[i], Do: session.ShutOff})
		}
		for len(events) > 0 {
			var out []session.Action
			s, out = session.Step(s, events[0])
			events = events[1:]
			for _, a := range out {
				switch a := a.(type) {
				case session.Look:
					if !a.Final {
						events = append(events, session.Looked{At: tr.Time[i], Test: a.Test, Estimate: session.Read(a, leak.Options{})})
					}
				case session.Say:
					if a.Code == session.SayThatWillDo {
						return session.Reason(a.Detail), tr.Time[i] - shutOff
					}
				}
			}
		}
	}
	return "", 0
}

// cutAt is a trace until a time; what follows is not looked at.
func cutAt(tr *trace.Trace, end float64) *trace.Trace {
	n, _ := slices.BinarySearch(tr.Time, end)
	c := *tr
	c.Time, c.Value = tr.Time[:n:n], tr.Value[:n:n]
	c.Faults.Rows = n
	return &c
}

// judgeTrace reads a whole trace with the ordinary estimator and judges the
// leak of this very test, by the guard band of a verdict.
func judgeTrace(tr *trace.Trace, g rig.Rig, shutOff, limitFlow float64) (o One) {
	e := session.Read(session.Look{Trace: tr, Rig: g, Limit: limitFlow, ShutAt: &shutOff}, leak.Options{})
	if e.Leak == nil {
		o.Verdict = limit.CantTellYet
		return o
	}
	o.Leak, o.Over = e.Leak, e.Over
	o.Verdict = limit.Judge(e.Over, false)
	if e.UpperOnly && o.Verdict == limit.Leaks {
		o.Verdict = limit.CantTellYet
	}
	return o
}

// StopTally is what stopped ports come to.
type StopTally struct {
	Ports, Stopped, Answered int
	Covered                  int // of the stopped: this trace's interval holds the test's own leak
	Decided, Wrong           int // of the stopped
	FixedAnswered            int // of all ports, held in full
	FixedCovered             int
	FixedDecided, FixedWrong int
	MeanHold                 float64 // s, all ports: stopped ones with the person's second
	Width, FixedWidth        float64 // medians of the interval over the leak, of the stopped ports
	Reasons                  map[session.Reason]int
}

// CountStopped tallies stopped ports.
func CountStopped(all []Stopped, limitFlow float64) StopTally {
	t := StopTally{Reasons: map[session.Reason]int{}}
	var width, fixedWidth []float64
	for _, s := range all {
		if s.Err != nil {
			continue
		}
		t.Ports++
		t.MeanHold += s.Held
		over := s.Truth.Flow > limitFlow
		holds := func(l *leak.Interval) bool { return l.Low <= s.Truth.Flow && s.Truth.Flow <= l.High }
		wrong := func(v limit.Verdict) bool { return v == limit.Holds && over || v == limit.Leaks && !over }
		if l := s.Fixed.Leak; l != nil {
			t.FixedAnswered++
			t.FixedCovered += count(holds(l))
			t.FixedDecided += count(s.Fixed.Verdict != limit.CantTellYet)
			t.FixedWrong += count(wrong(s.Fixed.Verdict))
		}
		t.Reasons[s.Reason]++
		if s.Held >= stoppedHold {
			continue
		}
		t.Stopped++
		l := s.Early.Leak
		if l == nil {
			continue
		}
		t.Answered++
		t.Covered += count(holds(l))
		t.Decided += count(s.Early.Verdict != limit.CantTellYet)
		t.Wrong += count(wrong(s.Early.Verdict))
		if f := s.Fixed.Leak; f != nil {
			width, fixedWidth = append(width, (l.High-l.Low)/s.Truth.Flow), append(fixedWidth, (f.High-f.Low)/s.Truth.Flow)
		}
	}
	t.MeanHold /= math.Max(1, float64(t.Ports))
	t.Width, t.FixedWidth = Middle(width), Middle(fixedWidth)
	return t
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}
