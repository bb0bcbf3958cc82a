package app

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The broker takes the first line of a file for its password, and stays off where
// others could reach it without one.
func TestStartBroker(t *testing.T) {
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("open sesame\r\nnot this\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.DiscardHandler)
	for _, c := range []struct {
		job ServeJob
		bad string
	}{
		{ServeJob{Broker: "127.0.0.1:0"}, ""},
		{ServeJob{Broker: "0.0.0.0:0", BrokerPassword: file}, ""},
		{ServeJob{Broker: "0.0.0.0:0"}, "password"},
		{ServeJob{Broker: "127.0.0.1:0", BrokerPassword: file + ".missing"}, "no such file"},
	} {
		b, err := startBroker(c.job, log)
		if err == nil {
			if err := b.Close(); err != nil {
				t.Error(err)
			}
		}
		switch {
		case c.bad == "" && err != nil:
			t.Errorf("%+v: %v", c.job, err)
		case c.bad != "" && (err == nil || !strings.Contains(err.Error(), c.bad)):
			t.Errorf("%+v: got %v, want an error with %q", c.job, err, c.bad)
		}
	}
}
