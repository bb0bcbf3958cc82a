package practise

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"time"
)

// Reading is one sample on its way to a wire.
type Reading struct {
	Clock  float64 // s, by the board's own clock, which a restart sets to 0
	Vacuum float64 // Pa, as the gauge shows it
}

// Feed gives the readings of a bench to any number of wires, at real speed or
// faster, and lets whoever is at it act in between.
type Feed struct {
	Bench *Bench
	Act   func(t float64) error // lets whoever is at it act before each reading; nil: nobody is
	Speed float64               // 0: real speed; 10: ten times as fast

	mu    sync.Mutex
	wires []chan Reading
	last  Reading
}

// Open returns the readings from now on. A wire that does not keep up misses
// some, as a real one does.
func (f *Feed) Open() <-chan Reading {
	c := make(chan Reading, 4096)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wires = append(f.wires, c)
	return c
}

// Last returns the latest reading.
func (f *Feed) Last() Reading {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.last
}

// Run drives the bench until ctx ends.
func (f *Feed) Run(ctx context.Context) error {
	speed := f.Speed
	if speed <= 0 {
		speed = 1
	}
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	began := time.Now()
	restart := f.restarts()
	sent, booted := 0, 0.0
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		until := time.Since(began).Seconds() * speed
		for ; float64(sent)/f.Bench.Rate() <= until; sent++ {
			t := float64(sent) / f.Bench.Rate()
			if restart > 0 && t-booted > restart {
				booted = t
			}
			if f.Act != nil {
				if err := f.Act(t); err != nil {
					return err
				}
			}
			f.give(Reading{Clock: t - booted, Vacuum: f.Bench.Shown(t)})
			if sent%256 == 0 && ctx.Err() != nil {
				return nil
			}
		}
	}
}

func (f *Feed) give(r Reading) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.last = r
	for _, w := range f.wires {
		select {
		case w <- r:
		default:
		}
	}
}

// restarts returns the time between restarts of the board [s]; 0: it does not.
func (f *Feed) restarts() float64 {
	for _, x := range f.Bench.set.Faults {
		if x.Name == BoardRestarts {
			return x.Strength
		}
	}
	return 0
}

// Line is what is wrong with the line to a sensor.
type Line struct {
	Noise   float64       // part of the bytes that are changed
	Pulled  time.Duration // between the moments at which the cable is pulled; 0: never
	Away    time.Duration // for which it is
	r       *rand.Rand
	started time.Time
}

// LineOf returns the faults of a setup that are the line's.
func LineOf(s Setup) *Line {
	l := &Line{Away: 2 * time.Second, r: rand.New(rand.NewPCG(s.Seed, 0x11e)), started: time.Now()}
	for _, f := range s.Faults {
		switch f.Name {
		case NoisyLine:
			l.Noise = f.Strength
		case UnpluggedCable:
			l.Pulled = time.Duration(f.Strength * float64(time.Second))
		}
	}
	return l
}

// Unplugged says whether the cable is out now.
func (l *Line) Unplugged() bool {
	if l == nil || l.Pulled <= 0 {
		return false
	}
	in := time.Since(l.started) % (l.Pulled + l.Away)
	return in >= l.Pulled
}

// Garble changes bytes as a noisy line does; b is changed in place.
func (l *Line) Garble(b []byte) []byte {
	if l == nil || l.Noise <= 0 {
		return b
	}
	for i := range b {
		if l.r.Float64() < l.Noise {
			b[i] ^= byte(1 << l.r.IntN(8))
		}
	}
	return b
}

// kPa writes a vacuum as most boards do.
func kPa(v float64) float64 { return math.Round(v) / 1000 }
