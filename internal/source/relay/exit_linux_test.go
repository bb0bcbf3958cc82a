package relay

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"seatproof/internal/source"
)

const child = "RELAY_TEST_ADDRESS"

// TestMain is, with an address in the environment, the program that a test
// ends: it pulls, says so, and goes on until a signal.
func TestMain(m *testing.M) {
	text := os.Getenv(child)
	if text == "" {
		os.Exit(m.Run())
	}
	if err := pullUntilSignal(text); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

func pullUntilSignal(text string) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a, err := source.ParseAddress(text)
	if err != nil {
		return err
	}
	d, s, err := Open(a)
	if err != nil {
		return err
	}
	r := New(d, s, slog.New(slog.DiscardHandler))
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	r.Sink(ctx).Take([]source.Sample{{}})
	if err := r.Beat(ctx); err != nil {
		return err
	}
	for r.Status().State != Off {
		time.Sleep(time.Millisecond)
	}
	if err := r.Pull(ctx); err != nil {
		return err
	}
	return <-done
}

// TestSignal ends a program in the middle of a pull and wants the pump off.
func TestSignal(t *testing.T) {
	for _, sig := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		var mu sync.Mutex
		pump, changed := "", make(chan string, 100)
		s := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			mu.Lock()
			defer mu.Unlock()
			pump = r.URL.Path
			changed <- pump
		}))
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), child+"=relay-"+s.URL+"#pump_on=/on,pump_off=/off")
		stderr, err := cmd.StderrPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for got := ""; got != "/on"; {
			select {
			case got = <-changed:
			case <-time.After(20 * time.Second):
				_ = cmd.Process.Kill()
				said, _ := io.ReadAll(bufio.NewReader(stderr))
				t.Fatalf("the pump was not switched on: %s", said)
			}
		}
		if err := cmd.Process.Signal(sig); err != nil {
			t.Fatal(err)
		}
		said, _ := io.ReadAll(stderr)
		if err := cmd.Wait(); err != nil {
			t.Errorf("%v: %v: %s", sig, err, said)
		}
		if mu.Lock(); pump != "/off" {
			t.Errorf("%v: the pump is %q when the program has ended", sig, pump)
		}
		mu.Unlock()
		s.Close()
	}
}

// TestSerial switches over a pseudo-terminal, with a relay that repeats the
// command and with one that says nothing.
func TestSerial(t *testing.T) {
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Skip("no pseudo-terminals here:", err)
	}
	end := os.NewFile(uintptr(fd), "ptmx")
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	name := "/dev/pts/" + strconv.Itoa(n)
	// held open, it outlives a driver that closes and opens it
	far, err := unix.Open(name, unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = unix.Close(far) }()

	var mu sync.Mutex
	echo := true
	got := make(chan string, 100)
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 64)
		have := ""
		for {
			n, err := end.Read(buf)
			if err != nil {
				return
			}
			for have += string(buf[:n]); len(have) >= 4; have = have[4:] {
				got <- have[:4]
				mu.Lock()
				if echo {
					_, _ = end.WriteString(have[:4])
				}
				mu.Unlock()
			}
		}
	}()
	defer func() { _ = end.Close(); <-done }()

	where := "relay-serial:" + name + "#pump_on=hex:A00101A2,pump_off=hex:A0 01 00 A1,valve_on=ON2%0A,valve_off=OF2%0A"
	for _, c := range []struct {
		more string
		want Result
	}{{"", Sent}, {",answer=echo", Confirmed}} {
		d, _ := openText(t, where+c.more)
		switches(t, d, c.want, func(o Order) {
			want := map[Order]string{{Pump, true}: "\xA0\x01\x01\xA2", {Pump, false}: "\xA0\x01\x00\xA1", {Valve, true}: "ON2\n", {Valve, false}: "OF2\n"}[o]
			if s := <-got; s != want {
				t.Errorf("%s: got %q", o, s)
			}
		})
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	}
	d, _ := openText(t, where+",answer=done")
	fails(t, d, "and not \"done\"")
	mu.Lock()
	echo = false
	mu.Unlock()
	d, _ = openText(t, where+",answer=echo")
	fails(t, d, `answered ""`)
	d, _ = openText(t, "relay-serial:/dev/none#pump_on=1,pump_off=0")
	fails(t, d, "")
}
