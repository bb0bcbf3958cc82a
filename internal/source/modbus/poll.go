package modbus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"time"

	"seatproof/internal/source"
)

// How patiently a line is tried again.
const (
	soonest   = 200 * time.Millisecond // first wait before a line is opened anew
	latest    = 5 * time.Second        // longest
	enough    = 3                      // silences or refusals in a row that are no accident
	tooMuddly = 10                     // answers in a row without sense before the line is opened anew
)

// poll asks one device in one goroutine.
type poll struct {
	d    *Device
	sink source.Sink
	tell *source.Teller
	c    *Client
	time source.Timeline

	there   bool // it is told to be there
	some    bool // a figure came, at any time
	silent  int  // silences in a row
	muddled int
	refused int
	wait    time.Duration
}

func (p *poll) run(ctx context.Context) error {
	defer p.tell.Rest()
	tick := time.NewTicker(p.d.every)
	defer tick.Stop()
	for ctx.Err() == nil {
		p.tell.Due(time.Now())
		if p.c == nil {
			if !p.open(ctx) {
				continue
			}
			tick.Reset(p.d.every)
		}
		if err := p.ask(ctx); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
		case <-tick.C:
		}
	}
	return nil
}

// open opens the line or waits.
func (p *poll) open(ctx context.Context) bool {
	c, err := Dial(ctx, p.d.line)
	if err == nil {
		p.c = c
		return true
	}
	if ctx.Err() != nil {
		return false
	}
	p.lost(wordsOfOpening(err))
	p.pause(ctx)
	return false
}

func wordsOfOpening(err error) string {
	if errors.Is(err, fs.ErrPermission) {
		return err.Error() + ": you may not open it; on Linux it needs the group dialout"
	}
	return err.Error()
}

// pause waits before the next try, longer each time.
func (p *poll) pause(ctx context.Context) {
	p.wait = min(max(2*p.wait, soonest), latest)
	sleep(ctx, p.wait)
}

func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}

// ask asks once.
func (p *poll) ask(ctx context.Context) error {
	registers, err := p.c.read(p.d.register, p.d.layout.words())
	now := time.Now()
	if err == nil {
		p.silent, p.muddled, p.refused, p.wait = 0, 0, 0, 0
		p.connected(now)
		p.give(now, registers)
		return nil
	}
	words := Words(err, p.d.line.ID, p.d.register.String())
	switch SortOf(err) {
	case Refusing:
		p.connected(now)
		p.silent, p.muddled = 0, 0
		p.notice(now, source.Stalled, words)
		if p.refused++; p.refused >= enough && !p.some {
			return &source.Fault{Source: p.d.line.Shown, Key: "register", What: words, Hint: "compare register, table and type with the device's data sheet"}
		}
	case Busy:
		p.silent, p.muddled = 0, 0
		p.notice(now, source.Stalled, words)
	case Muddled:
		p.silent = 0
		p.notice(now, source.Garbage, words)
		if p.muddled++; p.muddled >= tooMuddly {
			p.muddled = 0
			p.close()
			p.pause(ctx)
		}
	case Silent:
		p.notice(now, source.Stalled, words)
		if p.silent++; p.silent >= enough {
			p.lost(words)
		}
		if p.d.line.serial() {
			// Its answer may still come, and nothing in a serial frame says to
			// which question it belongs: every figure from then on would be one
			// question old. With the line closed it goes nowhere.
			p.close()
			sleep(ctx, p.d.line.Timeout)
			if p.silent >= enough {
				p.pause(ctx)
			}
		} else if p.silent >= enough {
			p.close()
			p.pause(ctx)
		}
	default:
		p.lost(err.Error())
		p.close()
		p.pause(ctx)
	}
	return nil
}

func (p *poll) give(now time.Time, registers []uint16) {
	x := p.d.layout.figure(registers)
	pa, err := p.d.scale.Pascal(x)
	if err != nil {
		p.notice(now, source.OutOfRange, fmt.Sprintf("%s says %.6g: %s", p.d.register, x, err))
		return
	}
	clock, notices := p.time.Stamp(now, math.NaN())
	for _, n := range notices {
		p.notice(now, n.Code, n.Detail)
	}
	p.some = true
	p.sink.Take([]source.Sample{{At: now, Clock: clock, Value: pa}})
}

func (p *poll) notice(now time.Time, code source.Code, detail string) {
	p.tell.Tell(source.Notice{At: now, Code: code, Detail: detail})
}

// connected tells once that the device answers: that a port could be opened
// says nothing of a device.
func (p *poll) connected(now time.Time) {
	if !p.there {
		p.there = true
		p.notice(now, source.Connected, p.d.line.Shown)
	}
}

func (p *poll) lost(detail string) {
	p.there = false
	p.time.Break()
	p.notice(time.Now(), source.Lost, detail)
}

func (p *poll) close() {
	if p.c != nil {
		_ = p.c.Close() // nothing was written that could be lost
		p.c = nil
	}
}
