package practise

import (
	"context"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

type published struct {
	broker, topic string
	s             Speech
	line          *Line
}

// PublishMQTT opens a wire that publishes each reading to a broker
// ("127.0.0.1:1883"), by MQTT 3.1.1 and at most once, as a sensor on Wi-Fi does.
func PublishMQTT(broker, topic string, s Speech, line *Line) Wire {
	return &published{broker, topic, s, line}
}

func (w *published) Address() string {
	return "mqtt://" + w.broker + "/" + w.topic + "#value=1,unit=kPa,reads=vacuum"
}

// brokerPatience is how long a broker may take to answer.
const brokerPatience = 5 * time.Second

func (w *published) Serve(ctx context.Context, readings <-chan Reading) error {
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + w.broker).SetClientID("seatproof-practice-" + w.topic).
		SetConnectTimeout(brokerPatience).SetConnectRetry(false).SetAutoReconnect(true))
	if t := c.Connect(); !t.WaitTimeout(brokerPatience) || t.Error() != nil {
		return fmt.Errorf("practice rig, MQTT: no broker answers at %s: %w", w.broker, t.Error())
	}
	defer c.Disconnect(250)
	for {
		select {
		case <-ctx.Done():
			return nil
		case r := <-readings:
			if !w.line.Unplugged() {
				c.Publish(w.topic, 0, false, w.line.Garble([]byte(w.s.Write(r))))
			}
		}
	}
}
