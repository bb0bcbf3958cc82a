// Package broker is an MQTT broker within the program, so that a sensor that
// publishes needs no other software. It is off unless asked for.
//
// [Start] starts one and [Broker] is all that others know of it. It speaks
// MQTT 3.1.1 and 5, keeps nothing on disk, and takes connections from this
// machine and its own networks only, unless told otherwise.
package broker

import (
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"sync"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"seatproof/internal/source"
)

// Settings say what a broker does. The zero Settings listen on this machine
// alone, without a password.
type Settings struct {
	Listen      string // host:port; "" is 127.0.0.1:1883, port 0 any free one
	Anywhere    bool   // takes connections from other networks than its own
	User        string // "" any name, with the password
	Password    string // "" none, which only a broker for this machine alone may have
	Certificate string // file, PEM; "" no TLS
	Key         string // file, PEM
	Log         *slog.Logger
}

// Broker is a broker that runs.
type Broker interface {
	// Addr is where it listens.
	Addr() net.Addr
	// Dropped is how many messages it could not hand on, because whoever wanted
	// them was too slow.
	Dropped() int64
	// Close ends it and closes every connection. It may be called again.
	Close() error
}

// Limits. A bench has a few sensors; what one sends in a burst must wait here
// for a program that is busy rather than be dropped.
const (
	clients = 100
	pending = 1 << 16 // messages that wait for one client
	unacked = 65535   // QoS 1 messages that a client has not acknowledged; the most there can be
	longest = 256 << 10
)

// Start starts a broker. The error is a *source.Fault.
func Start(s Settings) (Broker, error) {
	if s.Listen == "" {
		s.Listen = "127.0.0.1:1883"
	}
	if s.Log == nil {
		s.Log = discard()
	}
	fault := func(key, what, hint string, err error) (Broker, error) {
		return nil, &source.Fault{Source: "broker at " + s.Listen, Key: key, What: what, Hint: hint, Err: err}
	}
	host, _, err := net.SplitHostPort(s.Listen)
	if err != nil {
		return fault("listen", "is no host and port", "as in 192.168.4.2:1883, or :1883 for every network", err)
	}
	if s.Password == "" && !alone(host) {
		return fault("password", "is not set, though others on the network can reach the broker", "set one, or listen on 127.0.0.1", nil)
	}
	var config *tls.Config
	if s.Certificate != "" || s.Key != "" {
		pair, err := tls.LoadX509KeyPair(s.Certificate, s.Key)
		if err != nil {
			return fault("certificate", "can't be used", "both certificate and key are PEM files and belong together", err)
		}
		config = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	}
	l, err := net.Listen("tcp", s.Listen)
	if err != nil {
		return fault("listen", "can't be listened on", "another broker may run there: end it, use that one, or take another port", err)
	}
	n := &near{Listener: l, anywhere: s.Anywhere, log: s.Log}
	l = n
	if config != nil {
		l = tls.NewListener(l, config)
	}

	b := &broker{near: n}
	can := mqtt.NewDefaultServerCapabilities()
	can.MaximumClients, can.MaximumClientWritesPending, can.MaximumInflight, can.MaximumPacketSize = clients, pending, unacked, longest
	b.server = mqtt.New(&mqtt.Options{
		Capabilities: can, SysTopicResendInterval: 60,
		// what its library notes is of no use to a person at a bench
		Logger: discard(),
	})
	err = errors.Join(
		b.server.AddHook(&gate{user: s.User, password: s.Password, log: s.Log}, nil),
		b.server.AddListener(listeners.NewNet("bench", l)),
	)
	if err == nil {
		err = b.server.Serve()
	}
	if err != nil {
		_ = l.Close() // nothing was taken yet
		return fault("", "did not start", "", err)
	}
	return b, nil
}

func discard() *slog.Logger { return slog.New(slog.DiscardHandler) }

type broker struct {
	server *mqtt.Server
	near   *near
	once   sync.Once
	err    error
}

func (b *broker) Addr() net.Addr { return b.near.Addr() }

func (b *broker) Dropped() int64 {
	i := b.server.Info.Clone()
	return i.MessagesDropped + i.InflightDropped
}

func (b *broker) Close() error {
	b.once.Do(func() {
		_ = b.near.Close() // the server closes it again, and says what is wrong
		b.near.hangUp()
		b.err = b.server.Close()
	})
	return b.err
}

// gate lets in whoever knows the password, and notes what is dropped.
type gate struct {
	mqtt.HookBase
	user, password string
	log            *slog.Logger
}

func (g *gate) ID() string { return "gate" }

func (g *gate) Provides(b byte) bool {
	return b == mqtt.OnConnectAuthenticate || b == mqtt.OnACLCheck || b == mqtt.OnPublishDropped
}

func (g *gate) OnConnectAuthenticate(cl *mqtt.Client, pk packets.Packet) bool {
	ok := g.password == "" || subtle.ConstantTimeCompare(pk.Connect.Password, []byte(g.password)) == 1
	if g.user != "" {
		ok = subtle.ConstantTimeCompare(pk.Connect.Username, []byte(g.user)) == 1 && ok
	}
	if !ok {
		g.log.Warn("broker refused user or password", "from", cl.Net.Remote)
	}
	return ok
}

func (g *gate) OnACLCheck(*mqtt.Client, string, bool) bool { return true }

func (g *gate) OnPublishDropped(cl *mqtt.Client, pk packets.Packet) {
	g.log.Warn("broker dropped a message", "client", cl.ID, "topic", pk.TopicName)
}
