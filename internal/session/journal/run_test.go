package journal

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"seatproof/internal/session"
)

// While a writer runs, every sample is on disk within a second of its coming
// in, with less than one sync in half a second; a full disk is told once, and
// once that it takes again; when it is stopped, what is left is written.
func TestRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := rand.New(rand.NewPCG(1, 1))
		f := &small{limit: 1 << 30}
		w := newWriter(f, 0)
		w.waiting = append(w.waiting, magic...)
		if err := w.Append(session.Begin{Plan: plan(1)}); err != nil {
			t.Fatal(err)
		}
		full := false
		var told []Status
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- w.Run(ctx, func(s Status) { told = append(told, s) }) }()
		onDisk := func() int {
			past, _, err := Replay(bytes.NewReader(f.bytes()))
			if err != nil || past.Torn != nil {
				t.Fatal(err, past.Torn)
			}
			if past.Events == 0 {
				return 0
			}
			return past.State.View().Gauges[0].Samples
		}
		taken := []int{}
		give := func(tenths int) {
			for range tenths {
				if err := w.Append(samples(r, 0, float64(len(taken))*0.1, 0.01, 10, false)); err != nil {
					t.Fatal(err)
				}
				taken = append(taken, 10*(len(taken)+1))
				time.Sleep(100 * time.Millisecond)
				synctest.Wait()
				if due := len(taken) - 10; due > 0 && !full {
					if got := onDisk(); got < taken[due-1] {
						t.Fatalf("%d samples on disk, %d came in a second ago and before", got, taken[due-1])
					}
				}
			}
		}
		give(50)
		f.mu.Lock()
		if f.syncs > 10 {
			t.Errorf("%d syncs in 5 s", f.syncs)
		}
		f.mu.Unlock()
		full = true
		f.setLimit(len(f.bytes()))
		give(30)
		if len(told) != 1 || !errors.Is(told[0].Err, syscall.ENOSPC) || told[0].Waiting == 0 {
			t.Fatalf("full: told %+v", told)
		}
		f.setLimit(1 << 30)
		time.Sleep(time.Second)
		synctest.Wait()
		if len(told) != 2 || told[1].Err != nil || told[1].Waiting != 0 {
			t.Fatalf("room again: told %+v", told)
		}
		give(3)
		stop()
		if err := <-ended; err != nil || onDisk() != 830 {
			t.Errorf("stopped: %v, %d samples on disk", err, onDisk())
		}
	})
}
