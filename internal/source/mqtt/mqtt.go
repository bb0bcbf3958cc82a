// Package mqtt reads samples that a sensor publishes to a broker, by MQTT 5 or
// 3.1.1.
//
// [Kinds] lists the two kinds of source: mqtt, and mqtts for TLS. A board that
// publishes {"vac":42.1,"n":7} is
//
//	mqtt://192.168.4.2:1883/bench/vacuum#value=vac,counter=n,unit=kPa,reads=vacuum
//
// A broker hands on what it can and drops what it can't, and says so to nobody;
// a counter or a clock in the payload is the only way to know.
package mqtt

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

const page = "docs/sources/mqtt.md"

// Kinds returns the two kinds of source.
func Kinds() []source.Kind {
	options := slices.Concat([]source.Option{
		{Key: "topic", Words: "topic, where it can't stand in the address", Hint: "left out: the address's path"},
		{Key: "qos", Words: "how sure the broker makes of each message", Hint: "0 once at most, 1 once at least", Default: "1", Choice: []string{"0", "1"}},
		{Key: "counter", Words: "which figure counts the messages", Hint: "as in counter=n; it goes up by one a message, and tells those that never came"},
	}, ServerOptions(), lines.PatternOptions(), source.ScaleOptions())
	return []source.Kind{
		{
			Name: "mqtt", Words: "a sensor that publishes to an MQTT broker", Page: page,
			Example: "mqtt://192.168.4.2:1883/bench/vacuum#value=vac,time=ms,time_unit=ms,unit=kPa,reads=vacuum",
			Options: options, Open: func(a source.Address) (source.Source, error) { return open(a, false) },
		},
		{
			Name: "mqtts", Words: "a sensor that publishes to an MQTT broker, by TLS", Page: page,
			Example: "mqtts://broker.local:8883/bench/vacuum#user=bench,password_file=/etc/seatproof/broker,ca=/etc/seatproof/ca.pem,unit=mbar,reads=absolute",
			Options: options, Open: func(a source.Address) (source.Source, error) { return open(a, true) },
		},
	}
}

// Topic is one topic of a broker.
type Topic struct {
	about   source.About
	server  Server
	topic   string
	qos     byte
	pattern lines.Pattern
	said    bool // which figure it is
	counter lines.Pattern
	counts  bool
	scale   source.Scale
}

func open(a source.Address, secure bool) (source.Source, error) {
	t := &Topic{qos: 1}
	fault := func(key, what, hint string) (source.Source, error) {
		return nil, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint}
	}
	var err error
	if t.server, t.topic, err = ServerOf(a, secure); err != nil {
		return nil, err
	}
	if other := a.Options["topic"]; other != "" {
		if t.topic != "" {
			return fault("topic", "is said twice", "keep the path of the address or this one")
		}
		t.topic = other
	}
	if what, hint := wrongTopic(t.topic); what != "" {
		return fault("topic", what, hint)
	}
	if text, ok := a.Options["qos"]; ok {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > 1 {
			return fault("qos", "is neither 0 nor 1", "leave it out")
		}
		t.qos = byte(n)
	}
	if t.pattern, t.said, err = lines.PatternOf(a); err != nil {
		return nil, err
	}
	if !t.said {
		// a payload that is one figure needs no more words
		t.pattern.Value, t.pattern.Of = lines.Pick{Number: 1}, 1
	}
	if text, ok := a.Options["counter"]; ok {
		// read as a pressure would be, whose pick it is then
		t.counter, t.counts, err = lines.PatternOf(source.Address{Kind: a.Kind, Place: a.Place, Options: map[string]string{"value": text, "starts": t.pattern.Starts}})
		if err != nil || !t.counts {
			return fault("counter", "is no figure's name or number", "as in counter=n")
		}
		t.counter.Comma, t.counter.Glued = t.pattern.Comma, t.pattern.Glued
	}
	if t.scale, err = source.ScaleOf(a, source.Scale{}); err != nil {
		return nil, err
	}
	if err := t.scale.Describe(a, &t.about); err != nil {
		return nil, err
	}
	return t, nil
}

// wrongTopic says what is wrong with a topic that is to be one sensor's, and
// what to do; "" nothing. Source of the signs: MQTT 5.0, 4.7.
func wrongTopic(topic string) (what, hint string) {
	switch {
	case topic == "":
		return "is not said", "as in mqtt://192.168.4.2:1883/bench/vacuum"
	case strings.HasPrefix(topic, "$share/"):
		return "is shared: the broker would give each message to one listener only, and others' would be missing here", "leave out what stands before the sensor's own topic"
	case strings.ContainsAny(topic, "+#"):
		return "has a sign for many topics: samples of several sensors would make one trace", "name the one topic the sensor publishes to"
	case strings.HasSuffix(topic, "/"):
		return "ends with a slash", "name the one topic the sensor publishes to; # for all below it is not taken, as samples of several sensors would make one trace"
	case len(topic) > 65535 || !utf8.ValidString(topic) || strings.ContainsRune(topic, 0):
		return "is no text that a topic may be", "name the topic the sensor publishes to"
	}
	return "", ""
}

// About says what the source is.
func (t *Topic) About() source.About { return t.about }

// Run listens until ctx ends. A broker that refuses user, password, certificate
// or topic at the first try is a *source.Fault, and so are payloads of which
// nothing says which figure is meant.
func (t *Topic) Run(ctx context.Context, sink source.Sink) error {
	l := newListener(t, sink)
	return l.run(ctx)
}

// shortly shortens a payload for a notice.
func shortly(payload []byte) string {
	const most = 60
	s := strings.ToValidUTF8(string(payload[:min(len(payload), most)]), "?")
	if len(payload) > most {
		s += " and more"
	}
	return fmt.Sprintf("%q", s)
}
