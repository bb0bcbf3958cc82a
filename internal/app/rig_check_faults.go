package app

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"seatproof/check"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/unit"
)

// faults names what is likely wrong with the rig by the recordings of a day, each
// WHAT=FILE in the order in which they were made: blank, running (a blank with the
// pump running on), known (a known leak), port or port:NAME. Those of an earlier,
// sound day come first, each with "before:" ahead of it.
func (c *checking) faults() error {
	c.way = &checkWay{word: "faults"}
	today, earlier := check.Day{Rig: c.rig}, check.Day{Rig: c.rig}
	for _, text := range c.job.Readings {
		what, file, ok := strings.Cut(text, "=")
		if !ok {
			return &fault{"rig check faults", fmt.Errorf("%q says not what the plate was on", text), "write blank=FILE, running=FILE, known=FILE or port=FILE; those of an earlier, sound day as before:blank=FILE"}
		}
		day := &today
		if rest, was := strings.CutPrefix(what, "before:"); was {
			what, day = rest, &earlier
		}
		p := check.Pulled{At: float64(120 * len(day.Pulls))} // a pull each two minutes, where nobody says
		what, name, _ := strings.Cut(what, ":")
		switch what {
		case "blank":
			p.On, p.Name = check.OnABlank, "blank"
		case "running":
			p.On, p.Name, p.Pump = check.OnABlank, "blank, pump running on", rig.PumpRunning
		case "known":
			p.On, p.Name = check.OnAKnownLeak, "known leak"
		case "port":
			p.On, p.Name, p.Volume = check.OnAPort, name, c.rig.Port.Volume
		default:
			return &fault{"rig check faults", fmt.Errorf("%q is nothing that a plate is on", what), "blank, running, known or port"}
		}
		t, err := c.trace(file)
		if err != nil {
			return err
		}
		p.Trace = t
		day.Pulls = append(day.Pulls, p)
	}
	if len(today.Pulls) == 0 {
		return &fault{"rig check faults", errors.New("no recording was named"), "name those of the day: blank=FILE running=FILE known=FILE port=FILE"}
	}
	if len(earlier.Pulls) > 0 {
		if today.Before = check.Remember(earlier); today.Before == nil {
			return &fault{"rig check faults", errors.New("the earlier day holds no blank that was vented, pulled and held"), "name one, or leave the earlier day out"}
		}
	}
	found := check.FindFault(today)
	if c.job.JSON {
		return json.NewEncoder(c.app.Stdout).Encode(append([]check.Fault{}, found...))
	}
	if len(found) == 0 {
		fmt.Fprintln(c.app.Stdout, "Nothing stands out: none of the faults that recordings show.")
		return nil
	}
	for i, f := range found {
		if i > 0 {
			fmt.Fprintln(c.app.Stdout)
		}
		fmt.Fprintf(c.app.Stdout, "Likely: %s.\n", f.Name)
		for _, e := range f.Evidence {
			fmt.Fprintf(c.app.Stdout, "  %s\n", e.In(c.figureOfFault))
		}
		fmt.Fprintf(c.app.Stdout, "  To do: %s\n", f.Do)
	}
	return nil
}

// figureOfFault writes a figure of the evidence in two digits: it was measured to
// no more.
func (c *checking) figureOfFault(x check.Figure) string {
	switch x.Dim {
	case 0:
		return report.Figure(x.Is.Value, 2)
	case unit.TimeDim:
		return report.Figure(x.Is.Value, 2) + " s"
	case unit.FlowDim:
		return report.Figure(x.Is.Value*6e7, 2) + " cm³/min"
	}
	return c.show(x)
}
