package mqtt

import (
	"context"
	"errors"
	"math"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/broker"
)

// TestPayloads reads each form of payload by each version of the protocol.
func TestPayloads(t *testing.T) {
	host, _ := bench(t, broker.Settings{})
	pub := publisher(t, host, "")
	for _, version := range []string{"5", "3.1.1"} {
		for _, c := range []struct {
			name, options string
			payloads      []string
			want          []float64
			clocks        []float64
		}{
			{"bare", "unit=kPa,reads=vacuum", []string{"42.1", " 42.2\n"}, []float64{42100, 42200}, nil},
			{"its own unit", "unit=kPa,reads=gauge", []string{"-421 mbar", "-42.2"}, []float64{42100, 42200}, nil},
			{"json", "value=p.vac,time=ms,time_unit=ms,unit=kPa,reads=vacuum", []string{`{"p":{"vac":42.1},"ms":1000}`, `{"p":{"vac":42.2},"ms":1010}`}, []float64{42100, 42200}, []float64{1, 1.01}},
			{"pretty json", "value=p[1],unit=mbar,reads=absolute", []string{"{\n \"p\": [1,\n 421]\n}", `{"p":[2,422]}`}, []float64{42100, 42200}, nil},
			{"line", "value=2,time=1,time_unit=s,unit=kPa,reads=vacuum", []string{"1.0 42.1", "1.5 42.2"}, []float64{42100, 42200}, []float64{1, 1.5}},
			{"lines", "value=2,time=1,time_unit=s,unit=kPa,reads=vacuum", []string{"1.0,42.1\n1.1,42.15\n", "1.2,42.2\r\n1.3,42.25"}, []float64{42100, 42150, 42200, 42250}, []float64{1, 1.1, 1.2, 1.3}},
			{"volts", "table=0.5 V = 0 kPa; 4.5 V = -100 kPa", []string{"2.184", "2.188"}, []float64{42100, 42200}, nil},
		} {
			t.Run(version+" "+c.name, func(t *testing.T) {
				topic := "bench/" + version + "/" + c.name
				s := openText(t, "mqtt://"+host+"#topic="+topic+",version="+version+","+c.options)
				m, stop := run(t, s)
				if !m.Wait(patience, told(source.Connected, "MQTT "+version)) {
					t.Fatalf("told %v", m.Notices())
				}
				publish(t, pub, topic, c.payloads...)
				if !m.Wait(patience, samples(len(c.want))) {
					t.Fatalf("got %v, told %v", m.Samples(), m.Notices())
				}
				if err := stop(); err != nil {
					t.Error(err)
				}
				for i, x := range m.Samples() {
					if math.Abs(x.Value-c.want[i]) > 1e-6 {
						t.Errorf("sample %d is %g Pa, want %g", i, x.Value, c.want[i])
					}
					if c.clocks == nil != math.IsNaN(x.Clock) || c.clocks != nil && math.Abs(x.Clock-c.clocks[i]) > 1e-9 {
						t.Errorf("sample %d has clock %g, want %v", i, x.Clock, c.clocks)
					}
				}
				if n := m.Notices(); len(n) != 1 {
					t.Errorf("told %v", n)
				}
			})
		}
	}
}

func TestFallsBack(t *testing.T) {
	host, _ := bench(t, broker.Settings{})
	for _, answer := range []bool{true, false} {
		m, stop := run(t, openText(t, "mqtt://"+old(t, host, answer)+"/a#unit=kPa,reads=vacuum"))
		if !m.Wait(patience, told(source.Connected, "MQTT 3.1.1")) {
			t.Fatalf("answer %v: told %v", answer, m.Notices())
		}
		publish(t, publisher(t, host, ""), "a", "42.1")
		if !m.Wait(patience, samples(1)) {
			t.Errorf("answer %v: told %v", answer, m.Notices())
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
		// asked for 5 alone it must not
		m, _ = run(t, openText(t, "mqtt://"+old(t, host, answer)+"/a#version=5,unit=kPa,reads=vacuum"))
		if !m.Wait(patience, told(source.Lost, "")) || m.Count(source.Connected) != 0 {
			t.Errorf("answer %v: told %v", answer, m.Notices())
		}
	}
}

// TestRetained wants the broker's old value left out, with every version and
// broker; and taken what the sensor publishes as retained while we listen.
func TestRetained(t *testing.T) {
	own, _ := bench(t, broker.Settings{})
	for name, host := range map[string]string{"built in": own, "mosquitto": mosquitto(t)} {
		for _, version := range []string{"5", "3.1.1"} {
			pub := retaining(t, host)
			pub("a", "10")
			time.Sleep(200 * time.Millisecond) // the broker passes it on by itself: one that it still held back would come as new
			m, _ := run(t, openText(t, "mqtt://"+host+"/a#version="+version+",unit=kPa,reads=vacuum"))
			if !m.Wait(patience, told(source.Connected, "")) {
				t.Fatalf("%s %s: told %v", name, version, m.Notices())
			}
			time.Sleep(100 * time.Millisecond) // an old value would be here by then
			pub("a", "20")
			if !m.Wait(patience, samples(1)) {
				t.Fatalf("%s %s: told %v", name, version, m.Notices())
			}
			if got := m.Samples()[0].Value; got != 20e3 {
				t.Errorf("%s %s: took %g Pa", name, version, got)
			}
		}
	}
}

func TestPassword(t *testing.T) {
	host, _ := bench(t, broker.Settings{User: "bench", Password: "sesame, 7%"})
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("sesame, 7%\r\nmore\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("BENCH_PASSWORD", "sesame, 7%")
	for _, version := range []string{"auto", "5", "3.1.1"} {
		for _, how := range []string{"password=sesame%2C 7%25", "password_file=" + file, "password_env=BENCH_PASSWORD"} {
			m, _ := run(t, openText(t, "mqtt://"+host+"/a#unit=kPa,reads=vacuum,user=bench,version="+version+","+how))
			if !m.Wait(patience, told(source.Connected, "")) {
				t.Errorf("%s, %s: told %v", version, how, m.Notices())
			}
		}
		for _, how := range []string{"user=bench", "user=bench,password=other", "user=other,password=sesame%2C 7%25"} {
			err := openText(t, "mqtt://"+host+"/a#unit=kPa,reads=vacuum,version="+version+","+how).Run(context.Background(), &source.Memory{})
			var f *source.Fault
			if !errors.As(err, &f) || f.Key != "password" || strings.Contains(err.Error(), "other") {
				t.Errorf("%s, %q: got %v", version, how, err)
			}
		}
	}
	a := parse(t, "mqtt://bench:sesame@"+host+"/a#unit=kPa,reads=vacuum,password=open")
	if s := a.Shown(Kinds()[0]); strings.Contains(s, "sesame") || strings.Contains(s, "open") {
		t.Errorf("a secret is shown: %s", s)
	}
	if _, err := open(a, false); err == nil || strings.Contains(err.Error(), "sesame") || strings.Contains(err.Error(), "open") {
		t.Errorf("got %v", err)
	}
}

func TestTLS(t *testing.T) {
	cert, key := certificate(t)
	host, _ := bench(t, broker.Settings{Certificate: cert, Key: key})
	_, port, _ := net.SplitHostPort(host)
	for _, version := range []string{"5", "3.1.1"} {
		options := "/a#unit=kPa,reads=vacuum,version=" + version
		m, stop := run(t, openText(t, "mqtts://localhost:"+port+options+",ca="+cert))
		if !m.Wait(patience, told(source.Connected, "")) {
			t.Fatalf("told %v", m.Notices())
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
		m, _ = run(t, openText(t, "mqtts://127.0.0.1:"+port+options+",server_name=localhost,ca="+cert))
		if !m.Wait(patience, told(source.Connected, "")) {
			t.Fatalf("told %v", m.Notices())
		}
		for _, wrong := range []string{"", ",server_name=other,ca=" + cert, ",ca=" + key, ",ca=none.pem"} {
			err := openText(t, "mqtts://localhost:"+port+options+wrong).Run(context.Background(), &source.Memory{})
			var f *source.Fault
			if !errors.As(err, &f) || f.Key != "ca" {
				t.Errorf("%q: got %v", wrong, err)
			}
		}
	}
}

func TestReconnects(t *testing.T) {
	for _, version := range []string{"5", "3.1.1"} {
		host, b := bench(t, broker.Settings{})
		m, stop := run(t, openText(t, "mqtt://"+host+"/a#unit=kPa,reads=vacuum,version="+version))
		if !m.Wait(patience, told(source.Connected, "")) {
			t.Fatalf("told %v", m.Notices())
		}
		publish(t, publisher(t, host, ""), "a", "42.1")
		if !m.Wait(patience, samples(1)) {
			t.Fatalf("told %v", m.Notices())
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if !m.Wait(patience, told(source.Lost, "ended")) {
			t.Fatalf("told %v", m.Notices())
		}
		bench(t, broker.Settings{Listen: host})
		if !m.Wait(patience, func(_ []source.Sample, n []source.Notice) bool { return n[len(n)-1].Code == source.Connected }) {
			t.Fatalf("told %v", m.Notices())
		}
		publish(t, publisher(t, host, ""), "a", "42.2")
		if !m.Wait(patience, samples(2)) {
			t.Fatalf("told %v", m.Notices())
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
	}
}

func TestBadPayloads(t *testing.T) {
	host, _ := bench(t, broker.Settings{})
	pub := publisher(t, host, "")
	m, stop := run(t, openText(t, "mqtt://"+host+"/a#value=vac,unit=kPa,reads=vacuum"))
	if !m.Wait(patience, told(source.Connected, "")) {
		t.Fatalf("told %v", m.Notices())
	}
	publish(t, pub, "a", "offline", `{"vac":`, "", `{"vac":812}`, `{"vac":null}`, "\x00\x01\xff", `{"vac":1}`)
	if !m.Wait(patience, samples(1)) || m.Samples()[0].Value != 1000 {
		t.Fatalf("got %v, told %v", m.Samples(), m.Notices())
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
	if m.Count(source.Garbage) != 3 || m.Count(source.OutOfRange) != 2 {
		t.Errorf("told %v", m.Notices())
	}

	// nothing says which figure
	s := openText(t, "mqtt://"+host+"/b#unit=kPa,reads=vacuum")
	done := make(chan error)
	m = &source.Memory{}
	go func() { done <- s.Run(context.Background(), m) }()
	if !m.Wait(patience, told(source.Connected, "")) {
		t.Fatalf("told %v", m.Notices())
	}
	publish(t, pub, "b", `{"vac":1,"t":20}`, `{"vac":1,"t":20}`, `{"vac":1,"t":20}`)
	var f *source.Fault
	if err := <-done; !errors.As(err, &f) || f.Key != "value" {
		t.Errorf("got %v", err)
	}
}

func TestFaults(t *testing.T) {
	const good = "unit=kPa,reads=vacuum"
	for text, key := range map[string]string{
		"mqtt://h#" + good:                                         "topic",
		"mqtt://h/bench/#" + good:                                  "topic",
		"mqtt://h/bench/+/vac#" + good:                             "topic",
		"mqtt://h#topic=bench/#," + good:                           "topic",
		"mqtt://h/$share/g/bench#" + good:                          "topic",
		"mqtt://h/a#topic=b," + good:                               "topic",
		"mqtt://h/a#qos=2," + good:                                 "qos",
		"mqtt://h/a#version=4," + good:                             "version",
		"mqtt://h/a#counter=," + good:                              "counter",
		"mqtt://h/a#password=x," + good:                            "user",
		"mqtt://h/a#user=u,password=x,password_env=Y," + good:      "password",
		"mqtt://u@h/a#user=u," + good:                              "user",
		"mqtt://h/a#ca=ca.pem," + good:                             "ca",
		"mqtt:h/a#" + good:                                         "",
		"mqtt:///a#" + good:                                        "",
		"mqtt://h/a#unit=kPa":                                      "reads",
		"mqtt://h/a#user=u,password_file=none.file,value=," + good: "value",
	} {
		a := parse(t, text)
		_, err := open(a, false)
		var f *source.Fault
		if !errors.As(err, &f) || f.Key != key || f.Hint == "" {
			t.Errorf("%s: got %v, want a fault of %q", text, err, key)
		}
	}
	// what is read when it runs
	for text, key := range map[string]string{
		"mqtt://127.0.0.1/a#user=u,password_file=none.file," + good: "password_file",
		"mqtt://127.0.0.1/a#user=u,password_env=NOT_SET_9," + good:  "password_env",
	} {
		err := openText(t, text).Run(context.Background(), &source.Memory{})
		var f *source.Fault
		if !errors.As(err, &f) || f.Key != key {
			t.Errorf("%s: got %v, want a fault of %q", text, err, key)
		}
	}
}

func TestKinds(t *testing.T) {
	for _, k := range Kinds() {
		a := parse(t, k.Example)
		if err := a.Unknown(k, func(string, []string) string { return "" }); err != nil || a.Kind != k.Name {
			t.Errorf("%s: %v", k.Example, err)
		}
		if _, err := k.Open(a); err != nil {
			t.Errorf("%s: %v", k.Example, err)
		}
		seen := map[string]bool{}
		for _, o := range k.Options {
			if o.Words == "" || seen[o.Key] {
				t.Errorf("%s: option %s has no words or is there twice", k.Name, o.Key)
			}
			seen[o.Key] = true
		}
	}
}
