package relay

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/internal/source"
)

// Kind is one way to switch.
type Kind struct {
	Name    string
	Words   string
	Page    string
	Example string
	Options []source.Option
	Open    func(source.Address, Settings) (Driver, error)
}

const page = "docs/sources/relay.md"

var common = []source.Option{
	{Key: "longest", Words: "longest time the pump may run", Hint: "as in longest=60s", Default: "60s"},
	{Key: "rest", Words: "time it then stands", Hint: "as in rest=10s", Default: "0s"},
	{Key: "heartbeat", Words: "time without a sign of life before all goes off", Hint: "as in heartbeat=3s", Default: "3s"},
	{Key: "settle", Words: "time the valve takes", Hint: "as in settle=200ms", Default: "200ms"},
}

// Kinds lists the ways to switch there are.
func Kinds() []Kind {
	return []Kind{serialKind(), modbusKind(), modbusRTUKind(), mqttKind(), mqttsKind(), httpKind(), httpsKind()}
}

// Open opens the driver of an address and reads its settings; nothing is
// switched yet. The error is a *source.Fault.
func Open(a source.Address) (Driver, Settings, error) {
	var names []string
	for _, k := range Kinds() {
		names = append(names, k.Name)
		if k.Name != a.Kind {
			continue
		}
		if err := a.Unknown(source.Kind{Name: k.Name, Options: k.Options}, func(string, []string) string { return "" }); err != nil {
			return nil, Settings{}, err
		}
		s, err := settingsOf(a)
		if err != nil {
			return nil, Settings{}, err
		}
		d, err := k.Open(a, s)
		return d, s, err
	}
	return nil, Settings{}, &source.Fault{Source: a.Bare(), What: "is no way to switch", Hint: "known are " + strings.Join(names, ", ")}
}

// settingsOf reads the options that every kind has.
func settingsOf(a source.Address) (Settings, error) {
	s := Settings{Retry: 500 * time.Millisecond, Repeats: 2, NoValve: true}
	for key := range a.Options {
		if key == "valve" || strings.HasPrefix(key, "valve_") {
			s.NoValve = false
		}
	}
	for _, f := range []struct {
		key                    string
		into                   *time.Duration
		otherwise, least, most time.Duration
	}{
		{"longest", &s.Longest, time.Minute, time.Second, 15 * time.Minute},
		{"rest", &s.Rest, 0, 0, time.Hour},
		{"heartbeat", &s.Heartbeat, 3 * time.Second, time.Second, 30 * time.Second},
		{"settle", &s.Settle, 200 * time.Millisecond, 20 * time.Millisecond, 10 * time.Second},
	} {
		*f.into = f.otherwise
		text, ok := a.Options[f.key]
		if !ok {
			continue
		}
		d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
		if err != nil || d < f.least || d > f.most {
			return s, &source.Fault{Source: a.Bare(), Key: f.key, What: fmt.Sprintf("%q is no time from %s to %s", text, f.least, f.most), Hint: "as in " + f.key + "=" + f.most.String()}
		}
		*f.into = d
	}
	return s, nil
}

// outputOptions are options that each output has, key_on and key_off and more.
func outputOptions(what string, suffixes map[string]string) []source.Option {
	var out []source.Option
	for _, o := range []string{"pump", "valve"} {
		for _, suffix := range slices.Sorted(keys(suffixes)) {
			words := "the pump"
			if o == "valve" {
				words = "the shut-off valve; left out: it is not switched"
			}
			out = append(out, source.Option{Key: o + suffix, Words: fmt.Sprintf(suffixes[suffix], words), Hint: what})
		}
	}
	return out
}

func keys(m map[string]string) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// commandsOf reads the commands of an address, key_on and key_off of each
// output that is switched. {seconds} in one is the longest time that the pump
// may run, for relays that go off by themselves.
func commandsOf(a source.Address, s Settings) (map[Order][]byte, error) {
	out := map[Order][]byte{}
	for o, name := range map[Output]string{Pump: "pump", Valve: "valve"} {
		if o == Valve && s.NoValve {
			continue
		}
		for on, suffix := range map[bool]string{true: "_on", false: "_off"} {
			key := name + suffix
			text, ok := a.Options[key]
			if !ok || text == "" {
				return nil, &source.Fault{Source: a.Bare(), Key: key, What: "is not said", Hint: "say what is sent to switch it"}
			}
			text = strings.ReplaceAll(text, "{seconds}", strconv.Itoa(int((s.Longest+time.Second-1)/time.Second)))
			b := []byte(text)
			if digits, is := strings.CutPrefix(text, "hex:"); is {
				var err error
				if b, err = hex.DecodeString(strings.ReplaceAll(digits, " ", "")); err != nil || len(b) == 0 {
					return nil, &source.Fault{Source: a.Bare(), Key: key, What: "is no row of bytes", Hint: "as in hex:A0 01 01 A2"}
				}
			}
			out[Order{o, on}] = b
		}
		if string(out[Order{o, true}]) == string(out[Order{o, false}]) {
			return nil, &source.Fault{Source: a.Bare(), Key: name + "_off", What: "is the same as on", Hint: "a toggle can't be switched off for certain: take another command or another relay"}
		}
	}
	return out, nil
}
