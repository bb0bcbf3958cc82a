package main

import (
	"context"

	"seatproof/internal/app"
)

// serveFlags are those of both ways to start the sheets.
type serveFlags struct {
	Listen         string `default:"127.0.0.1:8470" placeholder:"ADDRESS" help:"Where to serve (${default}). Other machines that reach it have to pair."`
	Data           string `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
	Example        string `placeholder:"FOLDER" help:"Book in an example head where it is not there yet, such as examples/inline-three."`
	Broker         string `placeholder:"ADDRESS" help:"Run an MQTT broker for sensors on Wi-Fi too, such as 127.0.0.1:1883 or 192.168.4.2:1883."`
	BrokerPassword string `placeholder:"FILE" help:"File whose first line is the password the broker asks for; needed where other machines reach it."`
	Verbose        bool   `help:"Log more."`
}

func (f serveFlags) job(browser bool) app.ServeJob {
	return app.ServeJob{Listen: f.Listen, Data: f.Data, Example: f.Example, Broker: f.Broker, BrokerPassword: f.BrokerPassword, Verbose: f.Verbose, Browser: browser}
}

// openCmd starts the sheets and opens them.
type openCmd struct {
	serveFlags `embed:""`
}

// Run does the job.
func (c *openCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Serve(ctx, c.job(true)))
}

// serveCmd starts the sheets.
type serveCmd struct {
	serveFlags `embed:""`
}

// Run does the job.
func (c *serveCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Serve(ctx, c.job(false)))
}
