package app

import (
	"log/slog"
	"os"
	"strings"

	"seatproof/internal/source/broker"
)

// startBroker starts the built-in MQTT broker that a person asked for, so that a
// sensor on Wi-Fi needs no other software.
func startBroker(job ServeJob, log *slog.Logger) (broker.Broker, error) {
	s := broker.Settings{Listen: job.Broker, Log: log}
	if job.BrokerPassword != "" {
		b, err := os.ReadFile(job.BrokerPassword)
		if err != nil {
			return nil, err
		}
		line, _, _ := strings.Cut(string(b), "\n")
		s.Password = strings.TrimSpace(line)
	}
	return broker.Start(s)
}
