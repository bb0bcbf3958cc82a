package mqtt

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/broker"
)

const patience = 20 * time.Second

// bench starts the built-in broker and returns where it listens.
func bench(t testing.TB, s broker.Settings) (host string, b broker.Broker) {
	t.Helper()
	if s.Listen == "" {
		s.Listen = "127.0.0.1:0"
	}
	b, err := broker.Start(s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b.Addr().String(), b
}

// mosquitto starts Debian's broker with the lines of a configuration.
func mosquitto(t testing.TB, lines ...string) (host string) {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto" // which is in no user's path
	}
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("mosquitto is missing: tools/need.sh mosquitto mosquitto")
		}
		t.Skip("mosquitto is missing: tools/need.sh mosquitto mosquitto")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	host = l.Addr().String()
	_ = l.Close()
	_, port, _ := net.SplitHostPort(host)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	text := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\npersistence false\nlog_type error\nlog_type warning\n%s\n", port, strings.Join(lines, "\n"))
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	cmd := exec.Command(path, "-c", conf)
	cmd.Stderr, cmd.Stdout = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Signal(os.Interrupt) // it may have ended
		_ = cmd.Wait()
		if t.Failed() {
			t.Log(said.String())
		}
	})
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		c, err := net.Dial("tcp", host)
		if err == nil {
			_ = c.Close()
			return host
		}
		if time.Now().After(end) {
			t.Fatal(err, said.String())
		}
	}
}

// publisher logs in to a broker to publish.
func publisher(t testing.TB, host, options string) *Conn {
	t.Helper()
	a := parse(t, "mqtt://"+host+"#"+options)
	s, _, err := ServerOf(a, false)
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Connect(context.Background(), "", 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(c.Close)
	return c
}

// publish publishes payloads one after the other.
func publish(t testing.TB, c *Conn, topic string, payloads ...string) {
	t.Helper()
	for _, p := range payloads {
		if err := c.Publish(context.Background(), topic, []byte(p)); err != nil {
			t.Fatal(err)
		}
	}
}

func parse(t testing.TB, text string) source.Address {
	t.Helper()
	a, err := source.ParseAddress(text)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func openText(t testing.TB, text string) source.Source {
	t.Helper()
	a := parse(t, text)
	s, err := open(a, a.Kind == "mqtts")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// run runs s into a memory until the test ends; stop ends it and returns its
// error.
func run(t testing.TB, s source.Source) (*source.Memory, func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	m, done := &source.Memory{}, make(chan error, 1)
	go func() { done <- s.Run(ctx, m) }()
	stop := sync.OnceValue(func() error { cancel(); return <-done })
	t.Cleanup(func() { _ = stop() })
	return m, stop
}

func samples(n int) func([]source.Sample, []source.Notice) bool {
	return func(s []source.Sample, _ []source.Notice) bool { return len(s) >= n }
}

func told(code source.Code, part string) func([]source.Sample, []source.Notice) bool {
	return func(_ []source.Sample, notices []source.Notice) bool {
		for _, n := range notices {
			if n.Code == code && strings.Contains(n.Detail, part) {
				return true
			}
		}
		return false
	}
}

// old is a relay before a broker that plays a broker of 3.1.1 only: to another
// version it answers as MQTT 3.1.1, 3.1.2.2 has it, or hangs up.
func old(t *testing.T, host string, answer bool) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	t.Cleanup(func() { _ = l.Close(); wg.Wait() })
	wg.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			wg.Go(func() {
				defer func() { _ = c.Close() }()
				head := make([]byte, 9) // CONNECT, length of one byte, "MQTT", version
				if _, err := io.ReadFull(c, head); err != nil {
					return
				}
				if head[8] != 4 {
					if answer {
						_, _ = c.Write([]byte{0x20, 2, 0, 1})
					}
					return
				}
				b, err := net.Dial("tcp", host)
				if err != nil {
					return
				}
				defer func() { _ = b.Close() }()
				_, _ = b.Write(head)
				wg.Go(func() { _, _ = io.Copy(b, c); _ = b.Close() })
				_, _ = io.Copy(c, b)
			})
		}
	})
	return l.Addr().String()
}

// certificate writes a certificate for localhost that vouches for itself.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "bench"}, DNSNames: []string{"localhost"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature,
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	der2, err := x509.MarshalECPrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name, kind string, b []byte) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: b}), 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	return write("cert.pem", "CERTIFICATE", der), write("key.pem", "EC PRIVATE KEY", der2)
}
