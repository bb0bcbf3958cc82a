package source

import (
	"errors"
	"maps"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseAddress(t *testing.T) {
	for _, c := range []struct {
		text, kind, place string
		options           map[string]string
		fault             string
	}{
		{text: "serial:/dev/ttyUSB0#baud=115200,unit=kPa", kind: "serial", place: "/dev/ttyUSB0", options: map[string]string{"baud": "115200", "unit": "kPa"}},
		{text: "http://sensor.local/now?ch=2&x=%2C#path=a.b", kind: "http", place: "//sensor.local/now?ch=2&x=%2C", options: map[string]string{"path": "a.b"}},
		{text: "stdin:", kind: "stdin", options: map[string]string{}},
		{text: " TCP://h:1# UNIT = inHg ", kind: "tcp", place: "//h:1", options: map[string]string{"unit": "inHg"}},
		{text: "serial:COM3#table=0.5 V%2C4.5 V", kind: "serial", place: "COM3", options: map[string]string{"table": "0.5 V,4.5 V"}},
		{text: "/dev/ttyUSB0", fault: "does not begin with a kind"},
		{text: "", fault: "does not begin with a kind"},
		{text: "tcp://h:1#unit", fault: "is no option"},
		{text: "tcp://h:1#unit=kPa,UNIT=bar", fault: "said twice"},
		{text: "tcp://h:1#unit=%4", fault: "percent sign"},
	} {
		a, err := ParseAddress(c.text)
		if c.fault != "" {
			var f *Fault
			if !errors.As(err, &f) || !strings.Contains(err.Error(), c.fault) {
				t.Errorf("%q: got %v, want a fault with %q", c.text, err, c.fault)
			}
			continue
		}
		if err != nil || a.Kind != c.kind || a.Place != c.place || !maps.Equal(a.Options, c.options) {
			t.Errorf("%q: got %+v, %v", c.text, a, err)
		}
	}
}

// What is written is read back the same, whatever stands in a value.
func TestAddressRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Address{Kind: rapid.StringMatching(`[a-z][a-z0-9-]{0,8}`).Draw(t, "kind"), Place: rapid.StringMatching(`[!-"$-~]{0,20}`).Draw(t, "place"), Options: map[string]string{}}
		for range rapid.IntRange(0, 4).Draw(t, "n") {
			a.Options[rapid.StringMatching(`[a-z][a-z_]{0,8}`).Draw(t, "key")] = rapid.String().Draw(t, "value")
		}
		b, err := ParseAddress(a.String())
		if err != nil || b.Kind != a.Kind || b.Place != a.Place || !maps.Equal(a.Options, b.Options) {
			t.Fatalf("%q came back as %+v, %v", a.String(), b, err)
		}
	})
}

// Whatever is typed: an address that is taken is written back as one that is
// taken and says the same.
func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"serial:/dev/ttyUSB0#baud=115200,unit=kPa", "http://u:p@h/now?ch=2#path=a.b", "a:#b=%2C,c= x ", ":", "#", "a:b#c=%"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseAddress(text)
		if err != nil {
			return
		}
		b, err := ParseAddress(a.String())
		if err != nil || b.Kind != a.Kind || strings.Trim(b.Place, " \t\r\n") != strings.Trim(a.Place, " \t\r\n") || !maps.Equal(a.Options, b.Options) {
			t.Fatalf("%q is %+v, written %q, which is %+v, %v", text, a, a.String(), b, err)
		}
	})
}

func TestShownKeepsSecrets(t *testing.T) {
	k := Kind{Options: []Option{{Key: "password", Secret: true}, {Key: "user"}}}
	a, err := ParseAddress("mqtt://h/t#user=bench,password=open%2Csesame")
	if err != nil {
		t.Fatal(err)
	}
	if s := a.Shown(k); strings.Contains(s, "sesame") || !strings.Contains(s, "user=bench") {
		t.Error("shown as", s)
	}
}
