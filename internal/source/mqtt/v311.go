package mqtt

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

type client311 struct {
	c    paho.Client
	gone chan struct{}
	once sync.Once
	lost error // set before gone is closed
}

// connect311 logs in by MQTT 3.1.1 over a connection, which is closed when it
// returns an error.
func connect311(ctx context.Context, s Server, l login, conn net.Conn, topic string, qos byte, got func(Message)) (client, error) {
	c := &client311{gone: make(chan struct{})}
	o := paho.NewClientOptions()
	o.AddBroker("tcp://" + s.Host) // only named: the connection is there
	o.SetCustomOpenConnectionFn(func(*url.URL, paho.ClientOptions) (net.Conn, error) { return conn, nil })
	o.SetProtocolVersion(4) // 3.1.1
	o.SetClientID(s.Client).SetUsername(l.user).SetPassword(l.password).SetCleanSession(true)
	if s.Will != nil {
		o.SetBinaryWill(s.Will.Topic, s.Will.Payload, 1, false)
	}
	o.SetAutoReconnect(false).SetConnectRetry(false)
	o.SetOrderMatters(true)
	o.SetKeepAlive(alive * time.Second).SetPingTimeout(slow).SetWriteTimeout(slow).SetConnectTimeout(slow)
	o.SetConnectionLostHandler(func(_ paho.Client, err error) { c.went(err) })
	c.c = paho.NewClient(o)
	if err := wait(ctx, c.c.Connect()); err != nil {
		_ = conn.Close() // the library has closed it, but for some failures
		c.c.Disconnect(0)
		if errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword) || errors.Is(err, packets.ErrorRefusedNotAuthorised) {
			return nil, ErrRefused
		}
		return nil, err
	}
	if topic == "" {
		return c, nil
	}
	sub := c.c.Subscribe(topic, qos, func(_ paho.Client, m paho.Message) {
		got(Message{At: time.Now(), Payload: m.Payload(), Retained: m.Retained()})
	})
	err := wait(ctx, sub)
	if t, ok := sub.(*paho.SubscribeToken); ok {
		if code, ok := t.Result()[topic]; ok && code >= 0x80 {
			err = refusedTopic(topic, code)
		}
	}
	if err != nil {
		c.close()
		return nil, err
	}
	return c, nil
}

// wait waits for what was begun.
func wait(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return fmt.Errorf("the broker does not answer: %w", ctx.Err())
	}
}

func (c *client311) went(err error) {
	c.once.Do(func() {
		c.lost = err
		close(c.gone)
	})
}

func (c *client311) publish(ctx context.Context, topic string, payload []byte) error {
	return wait(ctx, c.c.Publish(topic, 1, false, payload))
}

func (c *client311) done() <-chan struct{} { return c.gone }

func (c *client311) why() error {
	select {
	case <-c.gone:
		return c.lost
	default:
		return nil
	}
}

// close ends the connection; the broker has a tenth of a second to hear of it.
func (c *client311) close() {
	c.c.Disconnect(100)
	c.went(net.ErrClosed)
}
