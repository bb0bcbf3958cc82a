package main

import (
	"context"
	"os"

	"seatproof/internal/app"
)

// sessionCmd runs a head's tests in a terminal.
type sessionCmd struct {
	Job      string   `arg:"" help:"The head: its number, or its identity."`
	Data     string   `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
	Source   []string `sep:"none" placeholder:"ADDRESS" help:"Where the vacuum comes from, as in serial:/dev/ttyUSB0#unit=kPa,reads=vacuum; the first is judged, others are recorded beside it."`
	Practise bool     `help:"On a make-believe rig."`
	Speed    float64  `default:"1" help:"How many times as fast as real the make-believe rig is (${default})."`
	Fault    []string `placeholder:"NAME" help:"What is wrong with the make-believe rig; see seatproof practise --help."`
	Known    string   `placeholder:"FLOW" help:"A known leak that is at hand, as in '60 ± 5 cm³/min'."`
	By       string   `placeholder:"INITIALS" help:"Who works."`
}

// Run does the job.
func (c *sessionCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Session(ctx, app.SessionJob{
		Job: c.Job, Data: c.Data, Sources: c.Source, Practise: c.Practise, Speed: c.Speed, Faults: c.Fault, Known: c.Known, By: c.By, Stdin: os.Stdin,
	}))
}
