package main

import (
	"context"
	"os"

	"seatproof/internal/app"
)

// practiseCmd runs a make-believe rig.
type practiseCmd struct {
	On     []string `default:"tcp" placeholder:"WIRE" help:"What it speaks on: tcp, tcp:ADDRESS, udp:ADDRESS, http, serial, mqtt, mqtt:BROKER, modbus, modbus-rtu, out; may be given several times (${default})."`
	Head   string   `default:"4x4" placeholder:"HEAD" help:"Cylinders and valves a cylinder (${default}), with words of its layout behind it: 3x2,vee,exhaust=pairs; or a file that an export wrote. docs/practise.md."`
	Fault  []string `sep:"none" placeholder:"NAME[=STRENGTH][@PORT]" help:"What is wrong: leaking-valve, tired-pump, sticking-gauge, plate-not-seated, cold-gas, wet-port, oiled-seat, moving-seat, valve-passes, narrow-hose, gauge-at-pump, noisy-line, unplugged-cable, board-restarts; may be given several times."`
	Speed  float64  `default:"1" help:"How many times as fast as real (${default})."`
	Rate   float64  `default:"50" help:"Samples a second (${default})."`
	Seed   uint64   `default:"1" help:"Another seed is another head (${default})."`
	Writes string   `default:"named" help:"How lines are written: plain, named, timed, csv, json, signed (${default})."`
	Hold   float64  `default:"20" help:"Seconds each hold lasts (${default})."`
	ByHand bool     `help:"Run it by keys instead of a make-believe person."`
	RunsOn bool     `help:"The pump runs on behind the shut valve in every hold."`
	Once   bool     `help:"End after the last port."`
	Rig    string   `placeholder:"FILE" help:"Write what the rig's owner knows of it to a rig file."`
}

// Run does the job.
func (c *practiseCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.Practise(ctx, app.PractiseJob{
		On: c.On, Head: c.Head, Faults: c.Fault, Speed: c.Speed, Rate: c.Rate, Seed: c.Seed, Writes: c.Writes, Hold: c.Hold,
		ByHand: c.ByHand, RunsOn: c.RunsOn, Once: c.Once, Rig: c.Rig, Stdin: os.Stdin,
	}))
}
