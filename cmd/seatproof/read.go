package main

import (
	"context"
	"time"

	"seatproof/internal/app"
)

// readCmd reads traces.
type readCmd struct {
	Traces       []string `arg:"" name:"trace" help:"Files of vacuum against time, as loggers write them."`
	Rig          string   `placeholder:"FILE" help:"Rig file (TOML): volume, pump, hose, gauge, air."`
	JSON         bool     `name:"json" help:"Write JSON: one object for one trace, an array for several."`
	Plot         string   `placeholder:"FILE.svg" help:"Draw each trace; of several, FILE-1.svg and so on, or one each in FOLDER/."`
	Seat         string   `placeholder:"\"27 mm x 0.3 mm\"" help:"Seat diameter and width of contact, for the mean gap."`
	PortVolume   string   `placeholder:"\"95 ± 30 cm3\"" help:"Volume of the port, instead of the rig file's."`
	Limit        string   `placeholder:"\"20 cm3/min\"" help:"Largest leak accepted, at 50 kPa; or workmanship, which goes by --seat."`
	Bore         string   `placeholder:"\"39 mm\"" help:"Bore of the engine: what it can spare of its cranking pressure is a limit beside workmanship, the stricter decides."`
	Stroke       string   `placeholder:"\"41.4 mm\"" help:"Its stroke, with --bore."`
	Ratio        string   `placeholder:"9.5" help:"Its compression ratio, with --bore."`
	Valves       string   `placeholder:"\"intake 27, 27 mm; exhaust 23, 23 mm\"" help:"Heads of the valves of one cylinder, port by port, with --bore."`
	Strict       bool     `help:"Ask 97.5 % of a verdict instead of 95 %."`
	Held         string   `placeholder:"own-spring" help:"What held the valves: nothing, thumb, light-spring, own-spring."`
	Unit         string   `placeholder:"kPa" help:"Unit of vacuums shown: kPa, mbar, inHg, mmHg, psi."`
	Column       string   `placeholder:"NAME" help:"Pressure column, by name or number, where there are several."`
	Columns      string   `placeholder:"\"s, kPa vacuum\"" help:"What the columns are, where the file has no header."`
	BlankedTrace string   `placeholder:"FILE" help:"Trace of the rig on a blank, for the blanked reading."`
	ShutOff      string   `placeholder:"\"12.3 s\"" help:"When the pump was shut off, in the trace's own time, where the samples can't tell."`
	SamePort     bool     `help:"The traces are tests of one port: read them together."`
	Repeats      string   `placeholder:"FOLDER" help:"Folder of your own repeats, a sub-folder a port: how tests scatter in this shop."`
	Full         bool     `help:"More digits, and every line."`
}

// Run does the job.
func (c *readCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Read(ctx, app.ReadJob{
		Files: c.Traces, Rig: c.Rig, BlankedTrace: c.BlankedTrace,
		JSON: c.JSON, Full: c.Full, Strict: c.Strict, Plot: c.Plot,
		Bore: c.Bore, Stroke: c.Stroke, Ratio: c.Ratio, Valves: c.Valves,
		Seat: c.Seat, PortVolume: c.PortVolume, Limit: c.Limit, Held: c.Held,
		Column: c.Column, Columns: c.Columns, Unit: c.Unit, ShutOff: c.ShutOff,
		SamePort: c.SamePort, Repeats: c.Repeats, Now: time.Now(),
	}))
}
