package main

import (
	"context"

	"seatproof/internal/app"
)

// exportCmd writes a head to a file.
type exportCmd struct {
	Job  string `arg:"" help:"The head, by its number or its identity."`
	Data string `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
	To   string `placeholder:"FILE" help:"What to write; left out: the number with .zip."`

	Table string `placeholder:"FILE" help:"Write the table of its ports to a file that ends in .csv or .xlsx; the head itself only if --to is given too."`
}

// Run does the job.
func (c *exportCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Export(ctx, app.ExportJob{Job: c.Job, Data: c.Data, To: c.To, Table: c.Table}))
}

// importCmd takes a head in from a file.
type importCmd struct {
	File string `arg:"" help:"A file that an export wrote."`
	Data string `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
	Copy bool   `help:"Take it in beside the same head that is here already."`
}

// Run does the job.
func (c *importCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Import(ctx, app.ImportJob{File: c.File, Data: c.Data, Copy: c.Copy}))
}
