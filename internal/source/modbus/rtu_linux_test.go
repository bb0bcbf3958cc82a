package modbus

import (
	"encoding/binary"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"seatproof/internal/source"
)

// pair opens a pseudo-terminal: what a slave on the line holds, and the name of
// the port for whoever asks it.
func pair(t *testing.T) (*os.File, string) {
	t.Helper()
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Skip("no pseudo-terminals here:", err)
	}
	end := os.NewFile(uintptr(fd), "ptmx")
	t.Cleanup(func() { _ = end.Close() })
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	name := "/dev/pts/" + strconv.Itoa(n)
	// With the other end held open by us the pair outlives a port that is
	// closed and opened anew; it also sets the line to raw bytes.
	far, err := unix.Open(name, unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(far) })
	tio, err := unix.IoctlGetTermios(far, unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	tio.Iflag, tio.Oflag, tio.Lflag = 0, 0, 0
	tio.Cflag = tio.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	tio.Cc[unix.VMIN], tio.Cc[unix.VTIME] = 1, 0
	if err := unix.IoctlSetTermios(far, unix.TCSETS, tio); err != nil {
		t.Fatal(err)
	}
	return end, name
}

// crc is the checksum of a serial frame, low byte first on the line. Source:
// Modbus over serial line V1.02, 6.2.2: polynomial A001, start FFFF.
func crc(frame []byte) uint16 {
	sum := uint16(0xFFFF)
	for _, b := range frame {
		sum ^= uint16(b)
		for range 8 {
			if sum&1 != 0 {
				sum = sum>>1 ^ 0xA001
			} else {
				sum >>= 1
			}
		}
	}
	return sum
}

// TestCRC checks the slave's checksum with a frame of the textbooks: 01 04 02
// FF FF ends in B8 80 (from memory).
func TestCRC(t *testing.T) {
	if got := crc([]byte{0x01, 0x04, 0x02, 0xFF, 0xFF}); got != 0x80B8 {
		t.Errorf("got %04X", got)
	}
}

// slave answers questions for one input register. Its figure is the number of
// the question, so that an answer shows to which it belongs.
type slave struct {
	end *os.File
	mu  sync.Mutex
	do  func(n uint16, answer []byte) (send []byte, late time.Duration) // nil: as it is
	n   uint16
	wg  sync.WaitGroup
	bad int // questions that are none
}

func (s *slave) as(do func(n uint16, answer []byte) ([]byte, time.Duration)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.do = do
}

func (s *slave) asked() uint16 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.n
}

func (s *slave) serve() {
	var have []byte
	buf := make([]byte, 256)
	for {
		n, err := s.end.Read(buf)
		if err != nil {
			return
		}
		have = append(have, buf[:n]...)
		for len(have) >= 8 {
			q := have[:8]
			if binary.LittleEndian.Uint16(q[6:]) != crc(q[:6]) || q[0] != 3 || q[1] != 4 {
				s.mu.Lock()
				s.bad++
				s.mu.Unlock()
			}
			have = have[8:]
			s.mu.Lock()
			s.n++
			number, do := s.n, s.do
			s.mu.Unlock()
			a := []byte{3, 4, 2, byte(number >> 8), byte(number)}
			a = binary.LittleEndian.AppendUint16(a, crc(a))
			late := time.Duration(0)
			if do != nil {
				a, late = do(number, a)
			}
			s.wg.Add(1)
			send := func() { defer s.wg.Done(); _, _ = s.end.Write(a) }
			if late > 0 {
				time.AfterFunc(late, send)
			} else {
				send()
			}
		}
	}
}

// rtu starts a slave and a source that asks it.
func rtu(t *testing.T, options string) (*slave, *source.Memory, func() error) {
	t.Helper()
	end, name := pair(t)
	s := &slave{end: end}
	done := make(chan struct{})
	go func() { defer close(done); s.serve() }()
	t.Cleanup(func() {
		s.wg.Wait()
		_ = end.Close()
		<-done
		if s.bad != 0 {
			t.Errorf("%d questions were none", s.bad)
		}
	})
	m, stop := run(t, open(t, "modbus-rtu:"+name+"#id=3,register=input 0,type=u16,factor=0.001,unit=kPa,reads=vacuum,baud=19200,every=5ms,"+options))
	return s, m, stop
}

func TestRTU(t *testing.T) {
	s, m, stop := rtu(t, "timeout=100ms")
	if !m.Wait(patience, samples(20)) {
		t.Fatalf("nothing came: %v", m.Notices())
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
	for i, x := range m.Samples() {
		if want := float64(i + 1); x.Value < want-1e-9 || x.Value > want+1e-9 {
			t.Fatalf("sample %d is %g Pa, want %g", i, x.Value, want)
		}
	}
	if n := len(m.Samples()); int(s.asked())-n > 1 {
		t.Errorf("%d answers of %d", n, s.asked())
	}
}

func TestWrongChecksum(t *testing.T) {
	s, m, _ := rtu(t, "timeout=100ms")
	s.as(func(n uint16, a []byte) ([]byte, time.Duration) {
		if n%3 == 0 {
			a[4] ^= 0x40
		}
		return a, 0
	})
	if !m.Wait(patience, samples(10)) || !m.Wait(patience, told(source.Garbage, "wrong checksum")) {
		t.Fatalf("%d samples, told %v", len(m.Samples()), m.Notices())
	}
	for _, x := range m.Samples() {
		if n := int(x.Value + 0.5); n%3 == 0 || n > int(s.asked()) {
			t.Errorf("%g Pa was taken from an answer with a wrong checksum", x.Value)
		}
	}
}

func TestNoAnswer(t *testing.T) {
	s, m, stop := rtu(t, "timeout=30ms")
	if !m.Wait(patience, samples(3)) {
		t.Fatal("nothing came")
	}
	s.as(func(uint16, []byte) ([]byte, time.Duration) { return nil, 0 })
	if !m.Wait(patience, told(source.Stalled, "device 3 does not answer")) || !m.Wait(patience, told(source.Lost, "device 3 does not answer")) {
		t.Fatalf("told %v", m.Notices())
	}
	n := len(m.Samples())
	s.as(nil)
	if !m.Wait(patience, samples(n+3)) {
		t.Fatalf("nothing came once it answered again: %v", m.Notices())
	}
	// told a second after the first at the soonest, and maybe before what was
	// held back of the silence
	if !m.Wait(patience, func(_ []source.Sample, n []source.Notice) bool {
		connected := 0
		for _, x := range n {
			if x.Code == source.Connected {
				connected++
			}
		}
		return connected == 2
	}) {
		t.Errorf("told %v", m.Notices())
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

// TestLateAnswer wants an answer that comes after its time thrown away: taken
// for the next one's, it and all after it would be one question old.
func TestLateAnswer(t *testing.T) {
	s, m, _ := rtu(t, "timeout=40ms")
	if !m.Wait(patience, samples(3)) {
		t.Fatal("nothing came")
	}
	var late uint16
	s.as(func(n uint16, a []byte) ([]byte, time.Duration) {
		if late == 0 {
			late = n
			return a, 60 * time.Millisecond
		}
		return a, 0
	})
	if !m.Wait(patience, told(source.Stalled, "does not answer")) {
		t.Fatal("the silence was not told")
	}
	n := len(m.Samples())
	if !m.Wait(patience, samples(n+10)) {
		t.Fatalf("nothing came after it: %v", m.Notices())
	}
	s.as(nil)
	got := m.Samples()
	for i, x := range got {
		if uint16(x.Value+0.5) == late {
			t.Errorf("the late answer was taken for another's")
		}
		if i > 0 && x.Value <= got[i-1].Value {
			t.Errorf("sample %d is %g Pa after %g", i, x.Value, got[i-1].Value)
		}
	}
	if m.Count(source.Lost) != 0 {
		t.Errorf("one late answer was told as lost: %v", m.Notices())
	}
}

func TestUnplugged(t *testing.T) {
	s, m, stop := rtu(t, "timeout=30ms")
	if !m.Wait(patience, samples(1)) {
		t.Fatal("nothing came")
	}
	if err := s.end.Close(); err != nil {
		t.Fatal(err)
	}
	if !m.Wait(patience, told(source.Lost, "")) {
		t.Errorf("told %v", m.Notices())
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
	m, _ = run(t, open(t, "modbus-rtu:/dev/none#register=input 0,unit=kPa,reads=vacuum"))
	if !m.Wait(patience, told(source.Lost, "no such file")) {
		t.Errorf("told %v", m.Notices())
	}
}
