package app

import (
	"bytes"
	"context"
	"io"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/all"
)

// text is what a job writes while a test looks on.
type text struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (t *text) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.b.Write(b)
}

func (t *text) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.b.String()
}

// Every wire that the practice rig speaks on is read by the source whose address
// it prints: a pull to more than 60 kPa comes through each.
func TestPractiseSpeaksEveryTransport(t *testing.T) {
	wires := []string{"tcp", "http", "mqtt", "modbus", "udp:127.0.0.1:48731"}
	if runtime.GOOS == "linux" {
		wires = append(wires, "serial", "modbus-rtu")
	}
	ctx, stop := context.WithCancel(t.Context())
	var out text
	a := &App{Stdout: io.Discard, Stderr: &out}
	ended := make(chan Exit, 1)
	go func() {
		ended <- a.Practise(ctx, PractiseJob{On: wires, Head: "1x2", Speed: 4, Rate: 50, Seed: 1, Hold: 60, Writes: "named", Stdin: strings.NewReader("")})
	}()
	addresses := func() (all []string) {
		for line := range strings.Lines(out.String()) {
			if _, at, ok := strings.Cut(strings.TrimSpace(line), "make-believe rig at "); ok {
				all = append(all, at)
			}
		}
		return all
	}
	for range 200 {
		if len(addresses()) == len(wires) {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	var reading sync.WaitGroup
	for i, at := range addresses() {
		src, err := all.Open(at)
		if err != nil {
			t.Errorf("%s: %v", wires[i], err)
			continue
		}
		reading.Go(func() {
			ctx, done := context.WithTimeout(ctx, 30*time.Second)
			defer done()
			var got source.Memory
			failed := make(chan error, 1)
			go func() { failed <- src.Run(ctx, &got) }()
			deep := got.Wait(25*time.Second, func(s []source.Sample, _ []source.Notice) bool {
				return len(s) > 0 && s[len(s)-1].Value > 60e3 && s[len(s)-1].Value < 80e3
			})
			done()
			if err := <-failed; !deep {
				t.Errorf("%s: no pull came through %s: %d samples, %v, %v", wires[i], at, len(got.Samples()), got.Notices(), err)
			}
		})
	}
	reading.Wait()
	stop()
	if code := <-ended; code != Answered || len(addresses()) != len(wires) {
		t.Errorf("the practice rig ended with %d: %s", code, out.String())
	}
}
