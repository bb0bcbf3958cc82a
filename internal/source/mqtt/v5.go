package mqtt

import (
	"context"
	"fmt"
	"net"
	"sync"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// alive is how often the broker hears from us at least, in s.
const alive = 10

type client5 struct {
	c    *paho.Client
	mu   sync.Mutex
	lost error
}

// connect5 logs in by MQTT 5 over a connection, which is closed when it
// returns an error.
func connect5(ctx context.Context, s Server, l login, conn net.Conn, topic string, qos byte, got func(Message)) (client, error) {
	c := &client5{}
	c.c = paho.NewClient(paho.ClientConfig{
		Conn: packets.NewThreadSafeConn(conn), PacketTimeout: slow,
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			got(Message{At: time.Now(), Payload: p.Packet.Payload, Retained: p.Packet.Retain})
			return true, nil
		}},
		OnClientError: c.went,
		OnServerDisconnect: func(d *paho.Disconnect) {
			c.went(fmt.Errorf("the broker ended the connection (code %d)", d.ReasonCode))
		},
	})
	connect := &paho.Connect{
		ClientID: s.Client, KeepAlive: alive, CleanStart: true,
		Username: l.user, UsernameFlag: l.user != "", Password: []byte(l.password), PasswordFlag: l.password != "",
		// No ReceiveMaximum: past it the built-in broker's library hands on
		// messages out of order and loses some. What is too much for us waits
		// in the network's own buffers instead.
		Properties: &paho.ConnectProperties{RequestProblemInfo: true},
	}
	if s.Will != nil {
		connect.WillMessage = &paho.WillMessage{Topic: s.Will.Topic, Payload: s.Will.Payload, QoS: 1}
	}
	ack, err := c.c.Connect(ctx, connect)
	if err != nil {
		_ = conn.Close() // the library has closed it, but for some failures
		if ack != nil {
			switch ack.ReasonCode {
			case packets.ConnackBadUsernameOrPassword, packets.ConnackNotAuthorized, packets.ConnackBanned:
				return nil, ErrRefused
			}
			return nil, fmt.Errorf("the broker refuses the connection (code %d): %w", ack.ReasonCode, err)
		}
		return nil, err
	}
	if topic == "" {
		return c, nil
	}
	sub := &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: topic, QoS: qos, RetainHandling: 2}}}
	if ack, err := c.c.Subscribe(ctx, sub); err != nil {
		c.close()
		if ack != nil && len(ack.Reasons) > 0 {
			return nil, refusedTopic(topic, ack.Reasons[0])
		}
		return nil, err
	}
	return c, nil
}

func (c *client5) went(err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.lost == nil {
		c.lost = err
	}
}

func (c *client5) publish(ctx context.Context, topic string, payload []byte) error {
	_, err := c.c.Publish(ctx, &paho.Publish{Topic: topic, QoS: 1, Payload: payload})
	return err
}

func (c *client5) done() <-chan struct{} { return c.c.Done() }

func (c *client5) why() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.lost
}

func (c *client5) close() {
	_ = c.c.Disconnect(&paho.Disconnect{}) // a courtesy: the connection is closed either way
}
