package main

import (
	"context"

	"seatproof/internal/app"
)

// demoCmd reads the example head.
type demoCmd struct {
	Out  string `default:"out" placeholder:"FOLDER" help:"Where to write pages, drawings and JSON (${default})."`
	From string `default:"examples/inline-three" placeholder:"FOLDER" help:"Folder of the example head (${default})."`
}

// Run does the job.
func (c *demoCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Demo(ctx, app.DemoJob{Out: c.Out, From: c.From}))
}
