package source

import (
	"context"
	"fmt"
	"math"
	"time"
)

// Watching is what a watched source may do.
type Watching struct {
	// Silent is how many usual intervals without a sample are a stall; 0: 10.
	// A stall takes a second at least.
	Silent float64
	// First is how long the first sample may take; 0: 5 s.
	First time.Duration
	// Most is how many samples a second can be used; 0: 5,000.
	Most float64
}

// Watch returns src with an eye on it: it tells when src falls silent, says
// more than can be used, or gives figures that no vacuum can be (which are left
// out), and sees to it that notices of one code come at most once a second.
// Nothing else is left out, however much comes.
func Watch(src Source, w Watching) Source {
	if w.Silent <= 0 {
		w.Silent = 10
	}
	if w.First <= 0 {
		w.First = 5 * time.Second
	}
	if w.Most <= 0 {
		w.Most = 5000
	}
	return &watched{Source: src, w: w}
}

type watched struct {
	Source
	w Watching
}

// Unwrap returns the source that is watched.
func (s *watched) Unwrap() Source { return s.Source }

// Run runs the source in a goroutine of its own, which it waits for, and all
// of the sink in this one.
func (s *watched) Run(ctx context.Context, sink Sink) error {
	in := handover{take: make(chan []Sample), tell: make(chan Notice), done: make(chan struct{})}
	ended := make(chan error, 1)
	go func() { ended <- s.Source.Run(ctx, in) }()

	g := guard{w: s.w, sink: sink, tell: NewTeller(sink), about: s.About}
	g.interval = s.About().Interval
	g.begin(time.Now())
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case samples := <-in.take:
			g.samples(time.Now(), samples)
			in.done <- struct{}{}
		case n := <-in.tell:
			g.notice(n)
			in.done <- struct{}{}
		case now := <-tick.C:
			g.look(now)
		case err := <-ended:
			g.tell.Rest()
			return err
		}
	}
}

// handover brings what a source gives to another goroutine, one piece at a
// time; the source waits for it to be taken.
type handover struct {
	take chan []Sample
	tell chan Notice
	done chan struct{}
}

func (h handover) Take(s []Sample) { h.take <- s; <-h.done }
func (h handover) Tell(n Notice)   { h.tell <- n; <-h.done }

// guard judges what a source gives.
type guard struct {
	w        Watching
	sink     Sink
	tell     *Teller
	about    func() About
	interval float64   // s, usual between samples; 0: not yet known
	heard    time.Time // when the last sample came
	some     bool
	away     bool // it said that it went
	stalled  bool
	slow     int       // samples in a row that came after a stall
	told     time.Time // the silence, last
	from     time.Time // of the second in which is counted
	count    float64
	good     []Sample
}

func (g *guard) begin(now time.Time) { g.heard, g.from = now, now }

// samples hands on what can be a vacuum.
func (g *guard) samples(now time.Time, samples []Sample) {
	if len(samples) == 0 {
		return
	}
	kind := g.about().Reads
	g.good = g.good[:0]
	for _, s := range samples {
		if err := credible(kind, s.Value); err != nil {
			g.tell.Tell(Notice{At: s.At, Code: OutOfRange, Detail: err.Error()})
			continue
		}
		g.good = append(g.good, s)
	}
	passed := now.Sub(g.heard).Seconds() / float64(len(samples))
	if g.some && !g.away {
		g.learn(passed)
	}
	g.heard, g.some, g.stalled, g.away = now, true, false, false
	g.count += float64(len(samples))
	if d := now.Sub(g.from); d >= time.Second {
		if rate := g.count / d.Seconds(); rate > g.w.Most {
			g.tell.Tell(Notice{At: now, Code: Flooded, Detail: fmt.Sprintf("%.0f samples a second, more than the %.0f that are of use", rate, g.w.Most)})
		}
		g.from, g.count = now, 0
	}
	if len(g.good) > 0 {
		g.sink.Take(g.good)
	}
}

// learn takes an interval into the usual one. One that was a stall says
// nothing, two of them in a row that the source is slower than was thought.
func (g *guard) learn(passed float64) {
	if g.stalled {
		g.slow++
	} else {
		g.slow = 0
	}
	switch {
	case g.interval == 0 || g.slow >= 2:
		g.interval = passed
	case g.slow == 0:
		g.interval += (passed - g.interval) / 16
	}
}

// notice hands on what the source says itself.
func (g *guard) notice(n Notice) {
	switch n.Code {
	case Lost:
		g.away = true
	case Connected:
		g.away = false
		g.heard = n.At // its first sample has the time that a first one has
		g.some = false
	}
	g.tell.Tell(n)
}

// look tells a silence, once a second as long as it lasts.
func (g *guard) look(now time.Time) {
	g.tell.Due(now)
	limit := g.w.First.Seconds()
	if g.some && g.interval > 0 {
		limit = math.Max(1, g.w.Silent*g.interval)
	}
	if silent := now.Sub(g.heard).Seconds(); silent > limit && !g.away && (!g.stalled || now.Sub(g.told) >= time.Second) {
		g.stalled, g.told = true, now
		g.tell.Tell(Notice{At: now, Code: Stalled, Detail: fmt.Sprintf("nothing for %.1f s", silent)})
	}
}
