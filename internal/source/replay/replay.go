// Package replay plays a recorded trace back as if it came from a sensor.
//
// Start with [Kind].
package replay

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"seatproof/internal/source"
	"seatproof/trace"
)

// Kind is a trace file.
func Kind() source.Kind {
	return source.Kind{
		Name:    "replay",
		Words:   "a recorded trace, played back",
		Page:    "docs/sources/replay.md",
		Example: "replay:port-1-intake.csv#speed=4",
		Options: []source.Option{
			{Key: "speed", Words: "how many times as fast", Default: "1", Hint: "0 is as fast as can be"},
			{Key: "loop", Words: "begin again at the end", Default: "no", Choice: []string{"no", "yes"}},
			{Key: "column", Words: "pressure column, by name or number, where there are several"},
			{Key: "columns", Words: "what the columns are, where the file has no header", Hint: "as in columns=s; kPa vacuum"},
			{Key: "name", Words: "what you call it"},
		},
		Open: open,
	}
}

// mostPoints is how many samples are played one by one; of a longer trace
// neighbours are averaged.
const mostPoints = 1 << 21

func open(a source.Address) (source.Source, error) {
	fault := func(key, what, hint string) (source.Source, error) {
		return nil, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint}
	}
	s := &player{bare: a.Bare(), file: strings.ReplaceAll(strings.TrimSpace(a.Place), "%23", "#"), speed: 1}
	if s.file == "" {
		return fault("", "names no file", "as in replay:port-1-intake.csv")
	}
	if text, ok := a.Options["speed"]; ok {
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(text), "x"), 64)
		if err != nil || !(v >= 0 && v <= 1e6) {
			return fault("speed", fmt.Sprintf("%q is no speed", text), "as in speed=4; 0 is as fast as can be")
		}
		s.speed = v
	}
	switch text := strings.ToLower(a.Options["loop"]); text {
	case "", "no":
	case "yes":
		s.loop = true
	default:
		return fault("loop", "is neither yes nor no", "say one of them")
	}
	s.read = trace.ReadOptions{Column: a.Options["column"], Columns: a.Options["columns"], MaxPoints: mostPoints}
	s.about = source.About{Kind: a.Kind, Name: a.Options["name"], Unit: "kPa"}
	if s.about.Name == "" {
		s.about.Name = a.Bare()
	}
	return s, nil
}

// player plays one trace.
type player struct {
	bare  string
	file  string
	speed float64
	loop  bool
	read  trace.ReadOptions

	mu    sync.Mutex
	about source.About
}

// About says what the file says; before Run has read it, that is little.
func (p *player) About() source.About {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.about
}

// batch is how many samples are given at once at most.
const batch = 256

// Run reads the file and plays it to its end.
func (p *player) Run(ctx context.Context, sink source.Sink) error {
	f, err := os.Open(p.file)
	if err != nil {
		return &source.Fault{Source: p.bare, What: "can't be opened", Err: errors.Unwrap(err)}
	}
	t, err := trace.Read(f, p.read)
	f.Close()
	switch {
	case err != nil:
		return &source.Fault{Source: p.bare, What: "is no trace", Err: err}
	case t.Hand != nil:
		return &source.Fault{Source: p.bare, What: "holds readings by eye, which can't be played back", Hint: "play a logger's recording"}
	}
	p.mu.Lock()
	p.about.Reads, p.about.Resolution, p.about.Interval = t.Kind, t.Step, t.Faults.Interval
	if p.speed > 0 {
		p.about.Interval /= p.speed
	}
	p.mu.Unlock()
	sink.Tell(source.Notice{At: time.Now(), Code: source.Connected, Detail: fmt.Sprintf("%d samples of %s", t.Len(), p.file), Count: 1})
	from := 0.0
	for ctx.Err() == nil {
		if !p.play(ctx, t, from, sink) || !p.loop {
			break
		}
		// the next round begins one interval after the last sample
		from += t.Time[t.Len()-1] + math.Max(t.Faults.Interval, 0.01)
	}
	return nil
}

// play gives each sample at its moment; false: ctx ended.
func (p *player) play(ctx context.Context, t *trace.Trace, from float64, sink source.Sink) bool {
	start := time.Now()
	due := func(i int) time.Time {
		return start.Add(time.Duration(t.Time[i] / p.speed * float64(time.Second)))
	}
	out := make([]source.Sample, 0, batch)
	timer := time.NewTimer(0)
	defer timer.Stop()
	for i := 0; i < t.Len(); {
		if ctx.Err() != nil {
			return false
		}
		now := time.Now()
		out = out[:0]
		for i < t.Len() && len(out) < batch && (p.speed == 0 || !due(i).After(now)) {
			at := now
			if p.speed > 0 {
				at = due(i)
			}
			out = append(out, source.Sample{At: at, Clock: from + t.Time[i], Value: t.Value[i]})
			i++
		}
		if len(out) > 0 {
			sink.Take(out)
			continue
		}
		timer.Reset(time.Until(due(i)))
		select {
		case <-ctx.Done():
			return false
		case <-timer.C:
		}
	}
	return true
}
