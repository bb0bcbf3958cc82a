package main

import (
	"context"
	"time"

	"seatproof/internal/app"
)

// lossCmd says what a leak costs an engine.
type lossCmd struct {
	Traces       []string `arg:"" optional:"" name:"trace" help:"Traces of the cylinder's ports, one each, as for read; instead of --leak."`
	Leak         []string `sep:"none" placeholder:"\"60 ± 10 cm3/min\"" help:"Leak rate at 50 kPa vacuum; once more for each other port of the cylinder."`
	Kind         []string `sep:"none" placeholder:"opening" help:"How it flows: opening, seep, not-known, which it is where it is left out; one for all leaks, or one for each in their order."`
	Bore         string   `placeholder:"\"72 mm\"" help:"Bore."`
	Stroke       string   `placeholder:"\"73.7 mm\"" help:"Stroke; left out: guessed from the bore."`
	Swept        string   `placeholder:"\"300 cm3\"" help:"Instead of bore and stroke, what one piston sweeps."`
	Rod          string   `placeholder:"\"129 mm\"" help:"Connecting rod, eye to eye."`
	Ratio        string   `placeholder:"9.5" help:"Compression ratio."`
	Chamber      string   `placeholder:"\"35 cm3\"" help:"Or what is left above the piston at its top: chamber, gasket and piston crown together."`
	IntakeCloses string   `placeholder:"\"50 deg\"" help:"When the intake closes, after bottom dead centre."`
	Cranking     string   `placeholder:"\"250 rpm\"" help:"Speed on the starter."`
	Idle         string   `placeholder:"\"850 rpm\"" help:"Idle speed."`
	TopSpeed     string   `placeholder:"\"6000 rpm\"" help:"Highest speed."`
	Seat         string   `placeholder:"\"27 mm x 0.3 mm\"" help:"Seat diameter and width of contact: what caps a seep."`
	Share        string   `placeholder:"\"2 %\"" help:"What all valves of a cylinder may cost of its cranking pressure; left out: the head's, else 2 %."`
	Air          string   `placeholder:"\"101.3 kPa\"" help:"Air pressure here, not reduced to sea level; left out: the rig file's, else that of sea level."`
	Rig          string   `placeholder:"FILE" help:"Rig file (TOML) of the traces."`
	SamePort     bool     `help:"The traces are tests of one port: read them together."`
	Head         string   `placeholder:"NUMBER|FILE.zip" help:"A head: its number in the records, or a file that export wrote."`
	Cylinder     int      `placeholder:"2" help:"With --head, this cylinder alone."`
	Data         string   `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
	JSON         bool     `name:"json" help:"Write JSON."`
	Chart        string   `placeholder:"FILE.svg" help:"Draw what is lost against the leak."`
	Unit         string   `placeholder:"kPa" help:"Unit of pressures shown: kPa, mbar, inHg, mmHg, psi."`
	Full         bool     `help:"More digits."`
}

// Run does the job.
func (c *lossCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Loss(ctx, app.LossJob{
		Traces: c.Traces, Rig: c.Rig, SamePort: c.SamePort, Leaks: c.Leak, Kinds: c.Kind,
		Bore: c.Bore, Stroke: c.Stroke, Swept: c.Swept, Rod: c.Rod, Ratio: c.Ratio, Chamber: c.Chamber,
		IntakeCloses: c.IntakeCloses, Cranking: c.Cranking, Idle: c.Idle, TopSpeed: c.TopSpeed,
		Seat: c.Seat, Share: c.Share, Air: c.Air, Head: c.Head, Cylinder: c.Cylinder, Data: c.Data,
		JSON: c.JSON, Chart: c.Chart, Unit: c.Unit, Full: c.Full, Now: time.Now(),
	}))
}
