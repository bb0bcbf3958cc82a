package main

import (
	"context"
	"time"

	"seatproof/internal/app"
)

// rigCheckCmd checks one thing of the rig, or says where its checks stand.
type rigCheckCmd struct {
	Kind      string   `arg:"" optional:"" help:"What is checked; without it: where each check stands, or what can be checked."`
	Readings  []string `arg:"" optional:"" help:"What was read, or traces of it; a unit behind the last goes for all."`
	Rig       string   `placeholder:"FILE" help:"Rig file (TOML) that the check is of."`
	Write     bool     `help:"Put what was found into the rig file, and the check with its date into FILE.checks.jsonl beside it."`
	Limit     string   `placeholder:"\"23 cm3/min\"" help:"Smallest limit of the ports: the rig may leak a tenth of it."`
	Leak      string   `placeholder:"\"needle 30 x 13 mm\"" help:"Known leak, by its name in the catalogue, or by its flow: \"96 ± 6 cm3/min\" at 50 kPa."`
	Catalogue string   `placeholder:"FILE.csv" help:"Catalogue of your own known leaks, beside the one that comes with the program."`
	Second    string   `placeholder:"\"class 1, 0..100 kPa\"" help:"The second gauge: its class or accuracy, its span, its division."`
	Flow      string   `placeholder:"\"5 L/min\"" help:"What goes through the hose; left out: by the pump."`
	At        string   `placeholder:"\"50 kPa\"" help:"Vacuum at which two falls were taken, for the volume; left out: 50 kPa."`
	Room      string   `placeholder:"\"19 °C\"" help:"The room's temperature."`
	Water     string   `placeholder:"\"20 °C\"" help:"The water's temperature."`
	Soft      string   `placeholder:"\"0 cm3\"" help:"What hose and pad close up by under vacuum; left out: guessed."`
	Blank     string   `placeholder:"FILE" help:"Trace of a blank, for what is read on a known leak."`
	Vented    string   `placeholder:"\"0.2=0\"" help:"What both gauges showed open to the room."`
	Pump      string   `placeholder:"stopped" help:"The pump after the shut-off: stopped or running."`
	Days      int      `help:"Days this check is to be trusted, in the place of the usual; --days=-1: until a part is changed."`
	Unit      string   `placeholder:"kPa" help:"Unit of vacuums read and shown: kPa, mbar, inHg, mmHg, psi; left out: the gauge's."`
	Columns   string   `placeholder:"\"s, kPa vacuum\"" help:"What the columns of traces are, where they have no header."`
	Column    string   `placeholder:"NAME" help:"Pressure column of traces, by name or number."`
	JSON      bool     `name:"json" help:"Write JSON."`
}

// Run does the job.
func (c *rigCheckCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.RigCheck(ctx, app.RigCheckJob{
		Kind: c.Kind, Readings: c.Readings, Rig: c.Rig, Write: c.Write, Limit: c.Limit, Leak: c.Leak, Catalogue: c.Catalogue,
		Second: c.Second, Flow: c.Flow, At: c.At, Room: c.Room, Water: c.Water, Soft: c.Soft, Blank: c.Blank, Vented: c.Vented, Pump: c.Pump,
		Days: c.Days, Unit: c.Unit, Columns: c.Columns, Column: c.Column, JSON: c.JSON, Now: time.Now(),
	}))
}
