package main

import (
	"context"

	"seatproof/internal/app"
)

// rigChooseCmd weighs the rigs that a list of parts can make.
type rigChooseCmd struct {
	Parts  string `arg:"" name:"parts" help:"Parts list (TOML): pumps, gauges, hoses, ports. docs/rig.md."`
	JSON   bool   `name:"json" help:"Write JSON."`
	Chart  string `placeholder:"FILE.svg" help:"Draw reading against leak, a line for each pump."`
	Ranges string `placeholder:"FILE.svg" help:"Draw which leaks each pump tells apart; each gauge, where there is one pump; each hose, where there is one gauge too."`
	Sketch string `placeholder:"FILE.svg" help:"Draw the plumbing of the best rig."`
	Rig    string `placeholder:"FILE" help:"Write a rig file of the best, to begin with."`
	Head   string `placeholder:"FILE.zip" help:"Take the ports of a head that an export wrote, instead of the list's."`
	Unit   string `placeholder:"kPa" help:"Unit of vacuums shown: kPa, mbar, inHg, mmHg, psi."`
	Full   bool   `help:"More digits, and every rig."`
}

// Run does the job.
func (c *rigChooseCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.RigChoose(ctx, app.RigChooseJob{Parts: c.Parts, JSON: c.JSON, Chart: c.Chart, Ranges: c.Ranges, Sketch: c.Sketch, Head: c.Head, Rig: c.Rig, Unit: c.Unit, Full: c.Full}))
}
