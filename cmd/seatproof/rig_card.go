package main

import (
	"context"
	"time"

	"seatproof/internal/app"
)

// rigCardCmd makes the wall card.
type rigCardCmd struct {
	Rig        string `placeholder:"FILE" help:"Rig file (TOML); left out: the head's own rig in the records."`
	Head       string `placeholder:"NUMBER|FILE" help:"The head: its number in the records, or a file that export wrote."`
	Valves     string `placeholder:"\"27, 27 mm\"" help:"Instead of a head, the valves of a port; of several kinds: \"intake 27, 27 mm; exhaust 23, 23 mm\"."`
	PortVolume string `placeholder:"\"95 ± 6 cm3\"" help:"Volume of a port, with --valves; left out: the rig file's, else a guess."`
	Bore       string `placeholder:"\"39 mm\"" help:"Bore of the engine, with --valves: what it can spare of its cranking pressure is a limit too."`
	Stroke     string `placeholder:"\"41.4 mm\"" help:"Its stroke, with --bore."`
	Ratio      string `placeholder:"9.5" help:"Its compression ratio, with --bore."`
	Blanked    string `placeholder:"\"22.9 ± 0.2 inHg\"" help:"Blanked reading of today, instead of the rig file's."`
	Held       string `placeholder:"light-spring" help:"What will hold the valves: nothing, thumb, light-spring, own-spring."`
	Unit       string `placeholder:"inHg" help:"Unit of the card; left out: the gauge's own."`
	Strict     bool   `help:"Ask 97.5 % of a verdict instead of 95 %."`
	To         string `default:"wall-card.pdf" placeholder:"FILE.pdf" help:"What to write (${default})."`
	Data       string `placeholder:"FOLDER" help:"Where the records are; left out: the system's place for data."`
}

// Run does the job.
func (c *rigCardCmd) Run(ctx context.Context, a *app.App) error {
	return result(a.RigCard(ctx, app.RigCardJob{
		Rig: c.Rig, Head: c.Head, Valves: c.Valves, PortVolume: c.PortVolume, Bore: c.Bore, Stroke: c.Stroke, Ratio: c.Ratio, Blanked: c.Blanked,
		Held: c.Held, Unit: c.Unit, Strict: c.Strict, To: c.To, Data: c.Data, Now: time.Now(),
	}))
}
