package practise

import (
	"bufio"
	"context"
	"encoding/binary"
	"encoding/hex"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// runFeed runs a make-believe rig, standing at a port that is pulled down.
func runFeed(t *testing.T, faults ...Fault) (*Feed, Setup) {
	t.Helper()
	j := eightPorts(t)
	set := Setup{Ports: HeadOf(&j, 1), Seed: 1, Rate: 100, Faults: faults}
	b, err := New(set)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Put(0, "p1"); err != nil {
		t.Fatal(err)
	}
	if err := b.Pump(0); err != nil {
		t.Fatal(err)
	}
	return &Feed{Bench: b, Speed: 4}, set
}

// serve runs the feed and a wire until the test ends.
func serve(t *testing.T, f *Feed, w Wire) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 2)
	c := f.Open()
	go func() { ended <- f.Run(ctx) }()
	go func() { ended <- w.Serve(ctx, c) }()
	t.Cleanup(func() {
		cancel()
		for range 2 {
			select {
			case err := <-ended:
				if err != nil {
					t.Error(err)
				}
			case <-time.After(5 * time.Second):
				t.Fatal("a wire does not end")
			}
		}
	})
}

func speech(t *testing.T, name string) Speech {
	t.Helper()
	s, err := SpeechNamed(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// deep reads lines until one shows a vacuum that only a pull makes.
func deep(t *testing.T, r io.Reader, figure func(line string) float64) {
	t.Helper()
	in := bufio.NewScanner(r)
	for n := 0; in.Scan() && n < 5000; n++ {
		if v := figure(in.Text()); v > 60 && v < 80 {
			return
		}
	}
	t.Error("no pull was seen:", in.Err())
}

func TestTCPWire(t *testing.T) {
	f, _ := runFeed(t)
	w, err := ListenTCP("127.0.0.1:0", speech(t, "named"), nil, f)
	if err != nil {
		t.Fatal(err)
	}
	serve(t, f, w)
	c, err := net.Dial("tcp", strings.TrimPrefix(w.Address(), "tcp://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	deep(t, c, func(line string) float64 {
		line = strings.TrimSuffix(strings.TrimPrefix(line, "vacuum="), " kPa")
		v, err := strconv.ParseFloat(line, 64)
		if err != nil {
			t.Error(err)
		}
		return v
	})
}

func TestUDPWire(t *testing.T) {
	l, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	f, _ := runFeed(t)
	serve(t, f, SendUDP(l.LocalAddr().String(), speech(t, "plain"), nil))
	buf := make([]byte, 100)
	for range 5000 {
		n, _, err := l.ReadFrom(buf)
		if err != nil {
			t.Fatal(err)
		}
		if v, err := strconv.ParseFloat(strings.TrimSpace(string(buf[:n])), 64); err != nil {
			t.Fatal(err)
		} else if v > 60 {
			return
		}
	}
	t.Error("no pull was seen")
}

func TestHTTPWire(t *testing.T) {
	f, _ := runFeed(t)
	w, err := ListenHTTP("127.0.0.1:0", speech(t, "json"), nil, f)
	if err != nil {
		t.Fatal(err)
	}
	serve(t, f, w)
	for range 400 {
		res, err := http.Get(strings.TrimSuffix(w.Address(), "#every=20ms"))
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(res.Body)
		res.Body.Close()
		_, after, _ := strings.Cut(string(body), `"vacuum_kPa":`)
		if v, _ := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(after), "}"), 64); v > 60 {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Error("no pull was seen")
}

func TestTerminalWire(t *testing.T) {
	end, path, err := OpenTerminal()
	if err != nil {
		t.Fatal(err)
	}
	f, _ := runFeed(t)
	serve(t, f, WriteTo(end, "serial:"+path, speech(t, "plain"), nil))
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	deep(t, in, func(line string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSpace(line), 64)
		if err != nil {
			t.Errorf("%q: %v", line, err)
		}
		return v
	})
}

// The frame 01 03 00 00 00 0A is checked by C5 CD: the usual example of
// tutorials on Modbus RTU, from memory.
func TestModbusFrame(t *testing.T) {
	b, _ := hex.DecodeString("01030000000a")
	if got := binary.LittleEndian.AppendUint16(nil, crc(b)); hex.EncodeToString(got) != "c5cd" {
		t.Errorf("check %x, want c5cd", got)
	}
	r := Reading{Vacuum: 76540}
	if got := r.answer([]byte{3, 0, 0, 0, 1}); hex.EncodeToString(got) != "03021de6" { // 7654
		t.Errorf("got %x", got)
	}
	if got := r.answer([]byte{4, 0, 1, 0, 2}); math.Float32frombits(binary.BigEndian.Uint32(got[2:])) != 76.54 {
		t.Errorf("got %x", got)
	}
	for _, c := range []struct {
		ask  string
		want string
	}{{"0500000001", "8501"}, {"0300040001", "8302"}, {"0300000000", "8303"}, {"03", "8303"}} {
		b, _ := hex.DecodeString(c.ask)
		if got := r.answer(b); hex.EncodeToString(got) != c.want {
			t.Errorf("%s: got %x, want %s", c.ask, got, c.want)
		}
	}
}

func TestModbusRTUWire(t *testing.T) {
	end, path, err := OpenTerminal()
	if err != nil {
		t.Fatal(err)
	}
	f, _ := runFeed(t)
	serve(t, f, ServeModbusRTU(end, path, nil, f))
	master, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	ask, _ := hex.DecodeString("010400000001")
	ask = binary.LittleEndian.AppendUint16(ask, crc(ask))
	for range 200 {
		if _, err := master.Write(append([]byte{0x55}, ask...)); err != nil { // a stray byte before
			t.Fatal(err)
		}
		got := make([]byte, 7)
		if _, err := io.ReadFull(master, got); err != nil {
			t.Fatal(err)
		}
		if crc(got[:5]) != binary.LittleEndian.Uint16(got[5:]) {
			t.Fatalf("%x: wrong check", got)
		}
		if v := int(got[3])<<8 | int(got[4]); v > 6000 && v < 8000 {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Error("no pull was seen")
}

// A noisy line changes some bytes and leaves the rest.
func TestGarble(t *testing.T) {
	_, set := runFeed(t, Fault{NoisyLine, "", 0.01})
	l := LineOf(set)
	changed, n := 0, 100_000
	for _, x := range l.Garble(make([]byte, n)) {
		if x != 0 {
			changed++
		}
	}
	// binomial: 1,000 ± 31.5, five standard deviations
	if changed < 840 || changed > 1160 {
		t.Errorf("%d of %d bytes changed, want about 1,000", changed, n)
	}
}
