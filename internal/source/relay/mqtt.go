package relay

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"seatproof/internal/source"
	"seatproof/internal/source/mqtt"
)

func mqttKind() Kind {
	return Kind{
		Name: "relay-mqtt", Words: "a relay that listens to MQTT topics", Page: page,
		Example: "relay-mqtt://192.168.4.2:1883#pump=bench/pump/set,pump_on=ON,pump_off=OFF,pump_state=bench/pump/state",
		Options: slices.Concat([]source.Option{
			{Key: "pump", Words: "topic that switches the pump", Hint: "as in pump=bench/pump/set"},
			{Key: "valve", Words: "topic that switches the shut-off valve", Hint: "left out: it is not switched"},
			{Key: "pump_state", Words: "topic where the pump's relay says what it did", Hint: "the same words as are sent; left out: nothing confirms"},
			{Key: "valve_state", Words: "topic where the valve's relay says what it did", Hint: "the same words as are sent; left out: nothing confirms"},
		}, outputOptions("{seconds} is the longest time the pump may run", map[string]string{
			"_on": "what is sent to switch on %s", "_off": "what is sent to switch off %s",
		}), mqtt.ServerOptions(), common),
		Open: func(a source.Address, s Settings) (Driver, error) { return openMQTT(a, s, false) },
	}
}

func mqttsKind() Kind {
	k := mqttKind()
	k.Name, k.Words = "relay-mqtts", k.Words+", by TLS"
	k.Example = strings.Replace(k.Example, "relay-mqtt://192.168.4.2:1883", "relay-mqtts://broker.local:8883", 1)
	k.Open = func(a source.Address, s Settings) (Driver, error) { return openMQTT(a, s, true) }
	return k
}

// mqttDriver has a connection for each output, whose will is that output's off:
// if this machine dies, the broker switches off.
type mqttDriver struct {
	commands map[Order][]byte
	lines    map[Output]*mqttLine
}

type mqttLine struct {
	server mqtt.Server
	topic  string
	state  string
	conn   *mqtt.Conn
	said   chan []byte
}

func openMQTT(a source.Address, s Settings, secure bool) (Driver, error) {
	commands, err := commandsOf(a, s)
	if err != nil {
		return nil, err
	}
	d := &mqttDriver{commands: commands, lines: map[Output]*mqttLine{}}
	for o, key := range map[Output]string{Pump: "pump", Valve: "valve"} {
		if o == Valve && s.NoValve {
			continue
		}
		l := &mqttLine{topic: a.Options[key], state: a.Options[key+"_state"], said: make(chan []byte, 16)}
		for k, t := range map[string]string{key: l.topic, key + "_state": l.state} {
			if strings.ContainsAny(t, "+#") || k == key && t == "" {
				return nil, &source.Fault{Source: a.Bare(), Key: k, What: "names no topic", Hint: "as in " + key + "=bench/" + key + "/set, without + and #"}
			}
		}
		if l.server, _, err = mqtt.ServerOf(a, secure); err != nil {
			return nil, err
		}
		l.server.Client += "-" + key
		l.server.Will = &mqtt.Will{Topic: l.topic, Payload: commands[Order{o, false}]}
		d.lines[o] = l
	}
	return d, nil
}

// Set publishes. That the broker has it is no more than Sent; the relay's own
// word, on its state topic, confirms.
func (d *mqttDriver) Set(ctx context.Context, o Order) (Result, error) {
	l := d.lines[o.Output]
	if err := l.connect(ctx); err != nil {
		return Failed, err
	}
	for len(l.said) > 0 {
		<-l.said // from before
	}
	want := d.commands[o]
	if err := l.conn.Publish(ctx, l.topic, want); err != nil {
		l.close()
		return Failed, err
	}
	if l.state == "" {
		return Sent, nil
	}
	for {
		select {
		case got := <-l.said:
			if bytes.EqualFold(bytes.TrimSpace(got), bytes.TrimSpace(want)) {
				return Confirmed, nil
			}
		case <-ctx.Done():
			return Failed, fmt.Errorf("the relay does not say on %s that it did", l.state)
		}
	}
}

func (l *mqttLine) connect(ctx context.Context) error {
	if l.conn != nil {
		select {
		case <-l.conn.Done():
			l.close()
		default:
			return nil
		}
	}
	within, cancel := context.WithTimeout(ctx, orderTime-orderTime/4)
	defer cancel()
	c, err := l.server.Connect(within, l.state, 1, func(m mqtt.Message) {
		if m.Retained {
			return
		}
		for {
			select {
			case l.said <- m.Payload:
				return
			case <-l.said: // nobody asked for the oldest
			}
		}
	})
	if err != nil {
		return err
	}
	l.conn = c
	return nil
}

func (l *mqttLine) close() {
	if l.conn != nil {
		l.conn.Close()
		l.conn = nil
	}
}

func (d *mqttDriver) Close() error {
	for _, l := range d.lines {
		l.close()
	}
	return nil
}
