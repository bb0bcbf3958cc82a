package main

import (
	"context"

	"seatproof/internal/app"
)

// captureCmd records a sensor.
type captureCmd struct {
	Source string `arg:"" optional:"" help:"Address of the sensor, as in serial:/dev/ttyUSB0 or tcp://192.168.4.1:4000; see docs/sources."`
	To     string `placeholder:"FILE.csv" help:"File to write; one that is there is never written over."`
	For    string `placeholder:"60s" help:"How long to record; left out: until Ctrl-C."`
	Beside string `placeholder:"SOURCE" help:"A second sensor at the same time, to FILE-2.csv."`
	List   bool   `help:"Say which kinds of sources there are and what is found on this machine."`
	Unit   string `placeholder:"kPa" help:"Unit of the vacuum shown: kPa, mbar, inHg, mmHg, psi."`
	Port   string `placeholder:"\"cylinder 1 intake\"" help:"The port, for the file."`
	Held   string `placeholder:"own-spring" help:"What holds the valves, for the file: nothing, thumb, light-spring, own-spring."`
	Rig    string `placeholder:"NAME" help:"The rig, for the file."`
}

// Run does the job.
func (c *captureCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Capture(ctx, app.CaptureJob{
		Source: c.Source, Beside: c.Beside, To: c.To, For: c.For, List: c.List, Unit: c.Unit,
		Port: c.Port, Held: c.Held, Rig: c.Rig,
	}))
}
